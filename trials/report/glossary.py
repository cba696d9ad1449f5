"""The terms that Tallybed uses, each explained in one line."""

from __future__ import annotations

from collections.abc import Mapping

from trials.model.trial import MEASURES
from trials.report.grid import wrapped

FIELD: Mapping[str, str] = {
    "trial": "Varieties or treatments grown side by side in one season to compare them.",
    "variety": "What a seed packet names; one kind of plant within a crop.",
    "treatment": "What is done to a plot on purpose, such as pinching, netting or a spacing.",
    "entry": "A variety or treatment under test.",
    "check": "The variety you grow now, with which the others are compared.",
    "plot": "The piece of bed that one entry got at random. One plot gives one value.",
    "block": "A part of the field with one plot of each entry, alike in soil and light.",
    "whole plot": "A larger piece of bed that gets one treatment as a whole, such as netting.",
    "strip": "A treatment given along a whole row of plots, crossing another.",
    "guard plant": "A plant at the end of a plot, not counted because its neighbour differs.",
    "replicate": "One plot of an entry; three or four show how much plots differ by chance.",
    "randomised": "Placed at random, so that no entry is favoured by where it stands.",
    "randomisation number": "The number a layout was made with; the same one gives it again.",
    "harvest": "One visit to the plots to cut stems.",
    "flush": "Stems that grow again after a cut.",
    "stand count": "The number of living plants in a plot on a day.",
    "length grade": "A class of stem length, named by its shortest stem: 40 holds 40 to 49 cm.",
    "cull": "A stem that cannot be sold, with its reason.",
    "marketable stem": "A stem as long as you can sell, or longer, and not culled.",
    "share of saleable length": "Stems long enough to sell, as a share of all stems graded.",
    "minimum saleable length": "The shortest stem you can sell from a trial.",
    "seed lot": "Seed of one item from one packing, with its germination.",
    "packet": "A size of seed packet that a seed house sells.",
}
STATISTICS: Mapping[str, str] = {
    "chance variation": "How much plots differ even when they are treated alike.",
    "experimental unit": "What got its treatment at random: a plot, a whole plot or a strip.",
    "adjusted mean": "A mean as if every entry had stood in every block.",
    "standard error": "How far a mean or a difference may typically be off by chance.",
    "95% interval": "The values that fit the records; nineteen of twenty such intervals are right.",
    "p-value": "How often chance alone would give a difference at least this large.",
    "significance level": "Accepted risk of a false alarm; usually 0.05. Also called alpha.",
    "simultaneous": "Holding for all comparisons of a family together, not for each alone.",
    "equivalence margin": "A difference that does not matter to you.",
    "equivalence": "Showing that a difference is smaller than the equivalence margin.",
    "least significant difference": "Smallest difference between two means that a test calls real.",
    "detectable difference": "Difference that a trial has a good chance of finding.",
    "power": "The chance of finding a difference that is there.",
    "interaction": "A treatment that works differently on different varieties.",
    "main effect": "What a treatment does on average over all varieties.",
    "coefficient of variation": "Standard deviation between plots, as a percentage of the mean.",
    "relative efficiency": "How many plots without blocks tell as much as one with them.",
    "residual": "A plot's value minus what the model expects for it.",
    "diagnostics": "Checks on whether a plot's residuals fit the assumptions of the test.",
    "randomisation test": "A test that shuffles the plots as they could have been randomised.",
    "season-to-season variation": "How much an entry's lead changes from one season to another.",
    "expected loss": "What a choice would cost on average if another variety is better.",
    "covariate": "A number per plot, such as plants living, for which means are adjusted.",
    "degrees of freedom": "How many independent pieces of information an error is estimated from.",
    "F": "How much larger the differences are than chance makes them; about 1 if by chance alone.",
    "augmented blocks": "A layout with many entries planted once and checks in every block.",
    "incomplete blocks": "A layout whose blocks are too small for every entry.",
}
VERDICTS: Mapping[str, str] = {
    "more, less": "The difference is larger than chance could explain.",
    "the same for your purpose": "Any difference is smaller than the equivalence margin you set.",
    "cannot tell yet": "This trial cannot separate them. That does not show that they are alike.",
    "could be the best": "Nothing in the trial rules it out as the best of all.",
    "reorder": "Long enough, and expected to be the best or level with it.",
    "grow again": "It could still be the best, and another trial is worth its cost.",
    "drop": "Too short to sell, or another trial would cost more than it is worth.",
}
RECORDS: Mapping[str, str] = {
    "store": "The one file with all your records and their history.",
    "change": "One step in the history: what was stored, corrected or withdrawn, by whom and why.",
    "digest": "A short number for all records of a trial; the same records give the same one.",
    "backup": "A verified copy of the store that other programs can read too.",
    "data package": "A folder with a trial and its history as CSV files, to share.",
    "closed trial": "A trial whose season is over; its records can only be corrected.",
}
MEASURED = {measure.label: f"{measure.meaning}." for measure in MEASURES}
PARTS: Mapping[str, Mapping[str, str]] = {
    "In the field": FIELD,
    "Measures, one figure per plot": MEASURED,
    "In a comparison": STATISTICS,
    "Verdicts": VERDICTS,
    "In the records": RECORDS,
}


def glossary_page() -> str:
    """Every term under its heading, one line each."""
    parts = ["Terms"]
    for heading, terms in PARTS.items():
        lines = [wrapped(f"{term}: {meaning}") for term, meaning in terms.items()]
        parts.append("\n".join([heading, *lines]))
    return "\n\n".join(parts) + "\n"
