"""What a season is made of, as values: a trial's terms, rows, columns and units.

Nothing here reads a file, asks a database or computes a result; everything else may import it.
"""
