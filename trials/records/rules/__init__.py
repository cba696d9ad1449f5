"""What every record must be: the forms of our sheets, their cells, and rules across rows.

Each rule is declared once and says what is wrong, where, and what to do.
"""
