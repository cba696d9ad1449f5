"""Results in, charts out: nothing here knows the page or the store."""
