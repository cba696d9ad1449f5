"""The three ways to fit a linear model, side by side: one stratum, several exact ones, REML."""

from __future__ import annotations

from trials.stats.fit.least_squares import least_squares
from trials.stats.fit.reml import reml
from trials.stats.fit.strata import is_orthogonal, strata

__all__ = ["is_orthogonal", "least_squares", "reml", "strata"]
