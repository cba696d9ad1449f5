"""A plan's file: its keys, its text, and what it says."""
