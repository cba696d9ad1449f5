"""Lets ``python -m trials.cli`` do what ``tallybed`` does."""

from __future__ import annotations

from trials.cli import main

main()
