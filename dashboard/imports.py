"""Imports all that the pages may need before a thread begins: imports in two can deadlock."""

from __future__ import annotations

import gc
import pkgutil
from importlib import import_module

import trials

# What this program imports within its functions, so that a command need not wait for all of it.
LIBRARIES = (
    "argon2.exceptions",
    "duckdb",
    "PIL.Image",
    "PIL.ImageDraw",
    "PIL.ImageFont",
    "openpyxl.styles",
    "openpyxl.utils",
    "openpyxl.worksheet.datavalidation",
    "openpyxl.worksheet.worksheet",
    "pandas.api",
    "platformdirs",
    "pyarrow.compute",
    "pyarrow.csv",
    "pyarrow.parquet",
    "scipy.optimize",
    "scipy.sparse",
    "scipy.special",
    "statsmodels.genmod.families",
    "statsmodels.genmod.generalized_linear_model",
    "statsmodels.regression.linear_model",
    "statsmodels.tools.sm_exceptions",
)
COMMAND_LINE = "trials.cli"


def import_everything() -> None:
    """Import every module of this program but the command line, and the libraries they need.

    Streamlit collects garbage after each run of a page, and every page waits while it does. What
    was imported stays until the end, so the collections pass it over from here on.
    """
    for name in LIBRARIES:
        import_module(name)
    for found in pkgutil.walk_packages(trials.__path__, f"{trials.__name__}."):
        if not found.name.startswith(COMMAND_LINE):
            import_module(found.name)
    gc.collect()
    gc.freeze()
