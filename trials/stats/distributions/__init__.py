"""The distributions behind simultaneous comparisons, by deterministic quadrature."""
