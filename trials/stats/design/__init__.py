"""What a table's layout is and can answer: experimental units, terms, replication."""
