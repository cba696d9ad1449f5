"""Which treatment a plot gets: one module for each family of layouts, randomised from a number."""
