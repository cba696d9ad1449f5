"""Tallybed."""
