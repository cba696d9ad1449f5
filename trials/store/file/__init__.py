"""One process's turn at the store's file: its lock, its privacy, its place on the disk."""
