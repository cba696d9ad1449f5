"""Copies that can be trusted: backups, restoring them, and whether every block is as written."""
