"""Nothing is overwritten: changes, the rows they ended, and the records as they were known."""
