"""Adjusted means with their covariance: least squares, exact strata, or REML."""
