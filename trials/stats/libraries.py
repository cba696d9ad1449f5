"""The libraries that only fits and tests need: half a second that may be spent meanwhile."""

from __future__ import annotations

from importlib import import_module

# What ``fit.least_squares`` and ``checks.counts`` import within their functions.
TESTING = (
    "statsmodels.regression.linear_model",
    "statsmodels.genmod.families",
    "statsmodels.genmod.generalized_linear_model",
)


def import_testing() -> None:
    """Import them now, so that what needs them need not wait."""
    for name in TESTING:
        import_module(name)
