"""The pages in a browser: they call the front door, show what it says, and compute nothing."""
