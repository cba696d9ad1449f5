"""From bytes to cells: CSV, workbooks and Parquet, read as text with each cell's place.

What a cell means is not decided here.
"""
