"""What a pool of many farms did, and what it refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.model.trial import MEASURES, Better, Measure
from trials.report.figures import Figures, count, listed, per_cent
from trials.report.grid import Column, Table, grid

if TYPE_CHECKING:
    from trials.pool.contribute import Contributed
    from trials.pool.network import AcrossFarms
    from trials.pool.publication import Published, Subject
    from trials.pool.run import Pooled

_SHOWN = 20
_LEAD = Figures("", decimals=2)


def pooled_page(done: Pooled) -> str:
    """How much was compared, where the results are, and what could not be."""
    fresh = done.partitions - done.done_before
    trials, farms = count(done.trials, "trial"), count(done.farms, "farm")
    made = count(done.comparisons, "comparison")
    before = f", {done.done_before:,} done by an earlier run" if done.done_before else ""
    lines = [
        f"{trials} of {farms} compared: {made} in {done.seconds:.1f} s",
        "",
        f"{count(fresh, 'farm season')} compared now{before}.",
        f"Results: {done.results}, one folder per season and farm code.",
    ]
    if done.refusals:
        lines += ["", f"{count(len(done.refusals), 'refusal')}; everything else was compared:"]
        rows = [
            (each.partition, each.trial or "", each.measure or "", each.reason)
            for each in done.refusals[:_SHOWN]
        ]
        headings = ("From", "Trial", "Measure", "Reason")
        lines.append(grid([Column(heading) for heading in headings], rows))
        if len(done.refusals) > _SHOWN:
            lines.append(f"  and {len(done.refusals) - _SHOWN:,} more, in done.json of each folder")
    if done.published is not None:
        lines += ["", published_text(done.published)]
    return "\n".join(lines) + "\n"


def published_text(published: Published) -> str:
    """Each crop and measure as it was published, or why it waits."""
    parts = [
        f"Nothing was published: each figure needs at least {published.fewest_farms} farms."
        if published.folder is None
        else f"Published in {published.folder}. Fewest farms per figure: {published.fewest_farms}."
    ]
    parts += [_subject(each) for each in published.subjects]
    return "\n\n".join(parts)


def measure_of(subject: Subject) -> Measure:
    """The measure that a subject is about."""
    return next(each for each in MEASURES if each.key == subject.measure)


def best_first(subject: Subject) -> list[AcrossFarms]:
    """The varieties with the best lead first."""
    lower = measure_of(subject).better is Better.LOWER
    return sorted(subject.varieties, key=lambda each: each.lead if lower else -each.lead)


def trials_wanted(subject: Subject) -> Table:
    """The varieties whose limits one more trial would narrow most, first."""
    wanted = sorted(subject.varieties, key=lambda each: -each.narrower)[:_SHOWN]
    return Table(
        (
            Column("Variety"),
            Column("Farms", right=True),
            Column("Trials", right=True),
            Column("One more trial narrows its limits by", right=True),
        ),
        tuple(
            (each.variety, f"{each.farms:,}", f"{each.trials:,}", per_cent(each.narrower))
            for each in wanted
        ),
    )


def remarks(subject: Subject) -> list[str]:
    """What a reader must know of a subject's figures."""
    found = []
    if subject.heterogeneity:
        whole = subject.heterogeneity[-1]
        found.append(
            f"A variety's lead differs from trial to trial by about {whole.variance**0.5:.2f} "
            "(standard deviation)."
        )
    if subject.seasons == 1:
        found.append(
            "These trials are from one season. Another season may rank the varieties differently."
        )
    if subject.withheld:
        found.append(f"Withheld, as too few farms grew them: {listed(subject.withheld)}.")
    if subject.apart:
        found.append(f"Left out, as no trial links them with the others: {listed(subject.apart)}.")
    return found


def _subject(subject: Subject) -> str:
    measure = measure_of(subject)
    head = f"{subject.crop}, {measure.label}"
    if subject.waits:
        return f"{head}: not published. {subject.waits}"
    farms, trials = count(subject.farms, "farm"), count(subject.trials, "trial")
    lines = [
        f"{head}: {trials} of {farms} in {count(subject.seasons, 'season')}",
        f"  Lead over the mean of all varieties, {measure.unit}; 95% limits",
    ]
    ranked = best_first(subject)
    rows = [
        (
            each.variety,
            f"{each.farms:,}",
            _LEAD.signed(each.lead),
            f"{_LEAD.signed(each.low)} to {_LEAD.signed(each.high)}",
            ""
            if each.new_low is None or each.new_high is None
            else f"{_LEAD.signed(each.new_low)} to {_LEAD.signed(each.new_high)}",
        )
        for each in ranked[:_SHOWN]
    ]
    columns = [
        Column("Variety"),
        Column("Farms", right=True),
        Column("Lead", right=True),
        Column("Over farms like these", right=True),
        Column("At one new farm", right=True),
    ]
    lines.append(grid(columns, rows))
    if len(ranked) > _SHOWN:
        lines.append(f"  and {len(ranked) - _SHOWN:,} more in varieties.csv")
    lines += [f"  {remark}" for remark in remarks(subject)]
    return "\n".join(lines)


def contributed_page(done: Contributed) -> str:
    """What the network's folder holds of this farm, and under which codes."""
    if not done.trials:
        seasons = ", ".join(done.withdrawn) or "none was there"
        return (
            f"Your trials were removed from {done.folder} (seasons: {seasons}).\n"
            "The network's next publication leaves them out.\n"
        )
    rows = [*done.trials]
    return (
        f"{count(len(rows), 'trial')} written to {done.folder} as farm {done.farm}\n\n"
        f"{grid([Column('Your trial'), Column('Its code there')], rows)}\n\n"
        "The files contain plots, counts and varieties. Names of the farm, its sites, beds and\n"
        "people, notes and reasons stay here.\n"
    )
