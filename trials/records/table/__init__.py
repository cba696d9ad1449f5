"""Any table that is only compared: which columns it has, and what one row of it is."""
