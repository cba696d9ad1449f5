"""The pages in a browser: they call the season, show what it says, and compute nothing."""
