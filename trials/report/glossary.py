"""The terms that Tallybed uses, each explained in one line."""

from __future__ import annotations

from collections.abc import Mapping

from trials.model.trial import MEASURES
from trials.report.grid import wrapped

FIELD: Mapping[str, str] = {
    "trial": "Varieties or treatments grown side by side in one season to compare them.",
    "variety": "What a seed packet names; one kind of plant within a crop.",
    "treatment": "What is done to a plot on purpose, such as pinching, netting or a spacing.",
    "factor": "Something varied on purpose, such as the variety or the spacing.",
    "level": "One value of a factor, such as one variety, or 20 cm.",
    "entry": "A variety or treatment under test.",
    "check": "The variety you grow now, with which the others are compared.",
    "plot": "The piece of bed that one entry got at random. One plot gives one value.",
    "block": "A part of the field with one plot of each entry, alike in soil and light.",
    "whole plot": "A larger piece of bed that gets one treatment as a whole, such as netting.",
    "split plot": "A part of a whole plot that gets a treatment of its own.",
    "strip": "A treatment given along a whole row of plots, crossing another.",
    "guard plant": "A plant at the end of a plot, not counted because its neighbour differs.",
    "replicate": "One plot of an entry; three or four show how much plots differ by chance.",
    "randomised": "Placed at random, so that no entry is favoured by where it stands.",
    "randomisation number": "The number a layout was made with; the same one gives it again.",
    "pinch": "To cut out the tip of a young plant, so that it branches.",
    "netting": "A net across the bed that keeps stems straight.",
    "sowing, succession": "Seed sown on one day; several sowings spread the harvest.",
    "plug": "A young plant raised in a tray.",
    "germination": "The share of seeds that sprout, as tested or as the packet says.",
    "usable seedling": "A seedling fit to plant out.",
    "overage": "Extra seed sown to be safe, as a share.",
    "re-entry time": "Hours after a spray in which nobody may enter the plot; see its label.",
    "harvest": "One visit to the plots to cut stems.",
    "flush": "Stems that grow again after a cut.",
    "stand count": "The number of living plants in a plot on a day.",
    "length grade": "A class of stem length, named by its shortest stem: 40 means 40 to 49 cm.",
    "cull": "A stem that cannot be sold, with its reason.",
    "stem sample": "A few stems of a plot that are measured, taken as they come.",
    "marketable stem": "A stem as long as you can sell, or longer, and not culled.",
    "share of saleable length": "Stems long enough to sell, as a share of all stems graded.",
    "minimum saleable length": "The shortest stem you can sell from a trial.",
    "seed lot": "Seed of one item from one packing, with its germination.",
    "packet": "A size of seed packet that a seed house sells.",
}
STATISTICS: Mapping[str, str] = {
    "chance variation": "How much plots differ even when they are treated alike.",
    "experimental unit": "What got its treatment at random: a plot, a whole plot or a strip.",
    "adjusted mean": "A mean as if every entry had been in every block.",
    "standard deviation": "How far single figures typically are from their mean.",
    "variance": "The square of the standard deviation.",
    "median": "The figure in the middle: half are lower, half are higher.",
    "percentage points": "The difference between two shares: 70% is 40 points above 30%.",
    "standard error": "How far a mean or a difference may typically be off by chance.",
    "95% interval": "The values that fit the records; nineteen of twenty such intervals are right.",
    "bound, limit": "One end of an interval.",
    "p-value": "How often chance alone would give a difference at least this large.",
    "significance level": "Accepted risk of a false alarm; usually 0.05. Also called alpha.",
    "simultaneous": "Right for all comparisons of a family together, not for each alone.",
    "letters": "Marks of the means: entries with the same letter are too close to call.",
    "joint test": "One test of all levels of a factor together, before single pairs; also F-test.",
    "least squares": "The usual fit of means and blocks to the plot values.",
    "analysis of variance": "Splits the variation between plots by block, treatment and chance.",
    "strata": "Whole plots and the plots inside them, each with an error of its own.",
    "mixed model, REML": "A fit for trials in which larger units also vary by chance.",
    "Kenward-Roger": "A correction that makes small trials' errors of a mixed model honest.",
    "count model, share model": "A test made for counted stems or for shares of them.",
    "log scale": "Differences become ratios: 1.2 means 20% more.",
    "square-root scale": "A scale on which counts vary about equally, few or many.",
    "logit scale, odds ratio": "A scale for shares; odds are those that did to those that did not.",
    "equivalence margin": "A difference that does not matter to you.",
    "equivalence": "Showing that a difference is smaller than the equivalence margin.",
    "least significant difference, LSD": "Smallest difference of two means that counts as real.",
    "detectable difference": "Difference that a trial has a good chance of finding.",
    "power": "The chance of finding a difference that is there.",
    "interaction": "A treatment that works differently on different varieties.",
    "main effect": "What a treatment does on average over all varieties.",
    "coefficient of variation, CV": "Standard deviation between plots, as a share of the mean.",
    "relative efficiency": "How many plots without blocks show as much as one with them.",
    "efficiency": "Precision of incomplete blocks, where complete blocks of equal plots have 1.",
    "reliability": "The share of a difference seen that would show again on average.",
    "residual": "A plot's value minus what the model expects for it.",
    "outlier": "A plot whose residual is far larger than the others.",
    "diagnostics": "Tests of whether the residuals fit the assumptions of the comparison.",
    "randomisation test": "A test that shuffles the plots as they could have been randomised.",
    "season-to-season variation": "How much an entry's lead changes from one season to another.",
    "expected loss": "What a choice would cost on average if another variety is better.",
    "covariate": "A number per plot, such as plants living, for which means are adjusted.",
    "degrees of freedom": "How many independent pieces of information an error is estimated from.",
    "F, F-test": "How much larger the differences are than by chance alone, which gives about 1.",
    "completely randomised": "A layout without blocks.",
    "complete blocks": "A layout whose blocks each have every entry.",
    "incomplete blocks": "A layout whose blocks are too small for every entry.",
    "augmented blocks": "A layout with many entries planted once and checks in every block.",
    "Latin square": "A layout with each entry once in every row and every column.",
    "rows and columns": "A layout with rows of every entry, balanced over the columns too.",
    "split-plot": "A layout with one treatment on whole plots and another inside them.",
    "crossing strips": "A layout with one treatment along the beds and another across them.",
    "side by side": "One plot of each, without replication: described, not tested.",
}
VERDICTS: Mapping[str, str] = {
    "more, less": "The difference is larger than chance could explain.",
    "the same for your purpose": "Any difference is smaller than the equivalence margin you set.",
    "cannot tell yet": "This trial cannot separate them. That does not show that they are alike.",
    "could be the best": "Nothing in the trial rules it out as the best of all.",
    "standings": "The varieties in the order expected for next season.",
    "reorder": "Long enough, and expected to be the best or level with it.",
    "grow again": "It could still be the best, and another trial is worth its cost.",
    "drop": "Too short to sell, or another trial would cost more than it is worth.",
}
RECORDS: Mapping[str, str] = {
    "store": "The one file with all your records and their history.",
    "change": "One step in the history: what was stored, corrected or withdrawn, by whom and why.",
    "digest": "A short number for all records of a trial; the same records give the same one.",
    "file block": "A part of the store's file with a checksum of its own.",
    "backup": "A verified copy of the store that other programs can read too.",
    "data package": "A folder with a trial and its history as CSV files, to share.",
    "pool": "The trials of many farms, compared together.",
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
        lines = [wrapped(f"{term}: {meaning}", width=100) for term, meaning in terms.items()]
        parts.append("\n".join([heading, *lines]))
    return "\n\n".join(parts) + "\n"
