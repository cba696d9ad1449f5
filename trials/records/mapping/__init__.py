"""How somebody's own sheet is read: what it seems to say, what is asked, what was agreed.

Nothing is stored that was not shown and agreed to.
"""
