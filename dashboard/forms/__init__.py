"""Forms and grids for records: what is typed on page Records, checked and stored together."""
