"""The statistical methods, as the modules that calculate them describe them, with sources."""

from __future__ import annotations

import ast
import inspect
from pathlib import Path

from trials.report.grid import printable, wrapped
from trials.report.sources import SOURCES

ROOT = Path(__file__).parents[2]
METHODS = (
    "trials.stats.design.replication",
    "trials.stats.fit.least_squares",
    "trials.stats.fit.strata",
    "trials.stats.fit.reml",
    "trials.stats.fit.kenward_roger",
    "trials.stats.fit.unbalanced_strata",
    "trials.stats.fit.left_out",
    "trials.stats.fit.unequal_variances",
    "trials.stats.fit.prediction",
    "trials.stats.families.pairings",
    "trials.stats.families.pairs",
    "trials.stats.families.check",
    "trials.stats.families.best",
    "trials.stats.families.letters",
    "trials.stats.families.sameness",
    "trials.stats.distributions.multivariate_t",
    "trials.stats.distributions.largest_pair",
    "trials.stats.trends",
    "trials.stats.checks.diagnostics",
    "trials.stats.checks.randomisation",
    "trials.stats.checks.counts",
    "trials.stats.checks.share_model",
    "trials.stats.checks.zero_counts",
    "trials.stats.checks.efficiency",
    "trials.stats.seasons",
    "trials.layout.power.power",
    "trials.decide.two_stage",
    "trials.decide.predictions",
    "trials.decide.prospects",
    "trials.decide.trial_value",
    "trials.decide.plan_gain",
    "trials.decide.germination",
    "trials.decide.seed_age",
    "trials.decide.vase_life",
    "trials.decide.seeds",
    "trials.decide.programme",
    "trials.decide.curve",
    "trials.decide.winter_programme",
    "trials.decide.winter_if",
    "trials.decide.sold",
)


def methods_page() -> str:
    """The docstring of each module with a method under its name, then the sources."""
    found = [f"{module}\n\n{_indented(_docstring(module))}" for module in METHODS]
    sources = "\n".join(wrapped(f"{cited}. {where}") for cited, where in SOURCES.items())
    return "\n\n".join(["Statistical methods", *found, "Sources", sources]) + "\n"


def _docstring(module: str) -> str:
    """What a module says, then what its public functions say; read without running it."""
    file = (ROOT / module.replace(".", "/")).with_suffix(".py")
    tree = ast.parse(file.read_text(encoding="utf-8"))
    said = [
        f"{node.name}: {_without_parameters(ast.get_docstring(node) or '')}"
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]
    return "\n\n".join([ast.get_docstring(tree) or "", *said])


def _without_parameters(docstring: str) -> str:
    """Its summary and notes: formulas, sources and limits."""
    summary, _, rest = docstring.partition("\n\nParameters\n")
    notes = rest.partition("\nNotes\n-----\n")[2]
    return f"{summary}\n\n{notes}".strip()


def _indented(text: str) -> str:
    return "\n".join(
        f"  {printable(line)}".rstrip() for line in inspect.cleandoc(text).splitlines()
    )
