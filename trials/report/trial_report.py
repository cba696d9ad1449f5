"""A trial's report to take away: question, layout, methods, results, cautions, records, digest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trials.drawing.document import Document, Grid, Heading, Listing, Paragraph, Part, Photo, Photos
from trials.model.photo import ReducedPhoto, StoredPhoto
from trials.model.trial import MEASURES, Closing, Completeness, RecordsDigest, Trial
from trials.model.units import UnitSystem, cm_to_inches
from trials.report.answer import answer_words
from trials.report.comparison_tables import (
    caution_words,
    cells_table,
    crossed,
    how_lines,
    lettered_factors,
    letters_note,
    means_table,
    pair_rows,
    pairs_table,
    two_factor_terms,
    within_rows,
    without_mean_note,
)
from trials.report.diagnostics_words import solid_line
from trials.report.figures import (
    Figures,
    count,
    figures_of,
    listed,
    margin_words,
    measure_figures,
    named_in,
)
from trials.report.grid import Table
from trials.report.length_grades import length_words
from trials.report.pages import completeness_lines
from trials.report.photo_words import photo_alt, photo_shows
from trials.report.pictures.bed_map import Showing, bed_map_picture
from trials.report.pictures.frame import WIDE_PX, titled
from trials.report.pictures.of_trial import TrialViews, answer_drawable, drawables
from trials.report.rests_on import rests_on_lines
from trials.report.trends import trend_words
from trials.report.words import LAYOUT_WORDS, plain_words
from trials.stats.results import Comparison, Verdict
from trials.stats.season_views import PlotRecord

MOST_PAIRS = 30

HOW_TO_READ = (
    (
        "One plot gives one figure: stems and plants of a plot are added up or averaged first, "
        "because treatments were given to plots."
    ),
    (
        "Intervals, limits and verdicts on pairs hold for all levels of a factor together, so that "
        "looking at many of them does not make false alarms likelier."
    ),
    (
        "'Could be the best' compares each level with the best of the others. Only the levels that "
        "these limits rule out are left out."
    ),
)


@dataclass(frozen=True, slots=True)
class TrialFacts:
    """All that a trial's report is written from.

    ``views`` has one entry per factor of the trial's primary measure. ``others`` are the
    comparisons of its other measures. ``photos`` has one of each variety that has some, in small.
    """

    trial: Trial
    views: tuple[TrialViews, ...]
    others: tuple[Comparison, ...]
    completeness: Completeness
    closing: Closing | None
    records: tuple[PlotRecord, ...]
    digest: RecordsDigest
    photos: tuple[tuple[StoredPhoto, ReducedPhoto], ...] = ()


def trial_report(facts: TrialFacts, system: UnitSystem) -> Document:
    """The report of a trial as far as its records go; an open one says that figures may change."""
    trial = facts.trial
    facts = replace(
        facts,
        views=tuple(replace(v, comparison=named_in(v.comparison, system)) for v in facts.views),
        others=tuple(named_in(other, system) for other in facts.others),
    )
    stage = "still open: figures may change"
    if trial.closed_on is not None:
        stage = f"closed {trial.closed_on:%Y-%m-%d}"
    parts = [
        *_question(facts, system),
        *_answer(facts, system),
        *_layout(facts),
        *_methods(facts, system),
        *_results(facts, system),
        *_pictures(facts, system),
        *_photos(facts),
        *_cautions(facts, system),
        *_records(facts, system),
        *_digest(facts),
    ]
    return Document(
        f"{trial.code}: {trial.question}",
        (trial.crop, str(trial.season), trial.site, stage),
        tuple(parts),
    )


def _comparison(facts: TrialFacts) -> Comparison:
    return facts.views[0].comparison


def _question(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    trial = facts.trial
    measure = next(each for each in MEASURES if each.key == trial.primary_measure)
    yield Heading("Question")
    yield Paragraph(trial.question)
    compared = [f"{f.name} ({count(len(f.levels), 'level')})" for f in trial.factors]
    named = measure_figures(measure, system).named(measure.label)
    lines = [
        f"Compared: {listed(compared)}.",
        f"Main measure, fixed before the season: {named}: {measure.meaning}.",
        f"Minimum saleable length: {length_words(trial.minimum_length_cm, system)}.",
        f"Accepted risk of a false alarm: {100 * trial.alpha:g}%.",
    ]
    if trial.check is not None:
        lines.insert(1, f"Check variety, with which the others are compared: {trial.check}.")
    if trial.margin is not None:
        said = margin_words(trial.margin, measure, system)
        lines.append(f"A difference that does not matter to this grower: {said}.")
    yield Listing(tuple(lines))


def _answer(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    yield Heading("Answer")
    for views in facts.views:
        answer = answer_words(views.comparison, views.factor, figures_of(views.comparison, system))
        yield Paragraph(answer.sentence, strong=True)
        if answer.but:
            yield Listing(answer.but)
        drawn = answer_drawable(views.comparison, views.factor, system)
        if drawn is not None:
            yield drawn.draw(WIDE_PX)


def _layout(facts: TrialFacts) -> Iterator[Part]:
    comparison, trial = _comparison(facts), facts.trial
    yield Heading("Layout")
    yield Listing(
        (
            f"{count(trial.plots, 'plot')}: {LAYOUT_WORDS[comparison.layout.kind]}.",
            *(
                f"{factor.name}: {listed(list(factor.levels), most=40)}; given to one "
                f"{factor.unit} at a time."
                for factor in comparison.layout.factors
            ),
            *(f"{item.reason} {item.remedy}" for item in comparison.layout.not_replicated),
        )
    )
    yield bed_map_picture(
        facts.views[0].plots, comparison.measure, Figures(""), Showing.TREATMENT, WIDE_PX
    )


def _methods(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    comparison = _comparison(facts)
    lines = how_lines(comparison, figures_of(comparison, system))
    yield Heading("Methods")
    yield Listing(tuple(_sentence(line) for line in lines))
    yield Paragraph(f"Do other tests agree? {solid_line(comparison)}")
    yield Listing(HOW_TO_READ)


def _sentence(line: str) -> str:
    return f"{line[:1].upper()}{line[1:].rstrip('.')}."


def _results(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    yield Heading("Results")
    yield from _measure(_comparison(facts), system)
    for other in facts.others:
        figures = figures_of(other, system)
        yield Heading(titled(other.measure.capitalize(), figures.unit), 3)
        words = plain_words(other, system)
        yield Paragraph(words.differs)
        for factor in other.layout.factors:
            yield from _grid(means_table(other, factor.name, figures))


def _measure(comparison: Comparison, system: UnitSystem) -> Iterator[Part]:
    """The main measure in full: sentences, means, pairs that differ, two factors together."""
    figures, words = figures_of(comparison, system), plain_words(comparison, system)
    yield Heading(titled(comparison.measure.capitalize(), figures.unit), 3)
    yield Paragraph(f"What differs: {words.differs}")
    yield Paragraph(f"Too close to call: {words.not_told}")
    yield Paragraph(f"What this trial cannot answer: {words.not_answered}")
    for factor in comparison.layout.factors:
        yield from _grid(means_table(comparison, factor.name, figures))
        notes = (
            without_mean_note(comparison, factor.name),
            trend_words(comparison, factor.name, figures),
        )
        if any(notes):
            yield Paragraph(" ".join(note for note in notes if note))
    lettered = lettered_factors(comparison)
    if lettered:
        yield Paragraph(letters_note(lettered, comparison.check))
    for term in two_factor_terms(comparison):
        down, over = crossed(comparison, term)
        yield Heading(f"{down.name} by {over.name}", 3)
        yield from _grid(cells_table(comparison, term, figures))
    for factor in comparison.layout.factors:
        families = {"": pair_rows(comparison, factor.name, figures)}
        families |= within_rows(comparison, factor.name, figures)
        for within, pairs in families.items():
            told = [pair for pair in pairs if pair.verdict is not Verdict.UNKNOWN][:MOST_PAIRS]
            if told:
                yield from _grid(pairs_table(comparison, factor.name, told, within))
            left = len(pairs) - len(told)
            if told and left:
                yield Paragraph(f"{count(left, 'other pair')} not listed.")


def _grid(table: Table, *, small: bool = False) -> Iterator[Grid]:
    if table.rows:
        yield Grid(
            tuple(column.heading for column in table.columns),
            tuple(column.right for column in table.columns),
            table.rows,
            small,
        )


def _pictures(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    yield Heading("Pictures")
    seen: set[str] = set()
    for views in facts.views:
        for drawn in drawables(views, system):
            picture = drawn.draw(WIDE_PX)
            if picture.name not in seen:
                seen.add(picture.name)
                yield picture


def _photos(facts: TrialFacts) -> Iterator[Part]:
    if facts.photos:
        yield Heading("Photos")
        yield Photos(
            tuple(
                Photo(
                    small.content,
                    small.width,
                    small.height,
                    photo_alt(photo),
                    f"{photo_shows(photo)}, {photo.taken_on}",
                )
                for photo, small in facts.photos
            )
        )


def _cautions(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    comparison = _comparison(facts)
    yield Heading("Cautions")
    said = [caution_words(caution, system) for caution in comparison.cautions]
    yield Listing((*said, *completeness_lines(facts.completeness)))


def _records(facts: TrialFacts, system: UnitSystem) -> Iterator[Part]:
    us = system is UnitSystem.US
    trial = facts.trial
    has_block = any(record.block is not None for record in facts.records)
    headings = [
        *("plot", "bed", "place"),
        *(["block"] if has_block else []),
        *(factor.name for factor in trial.factors),
        *("plants set", "living", "saleable stems", "short", "culled", "stems per plant"),
        *(f"stem length ({'in' if us else 'cm'})", "first cut", "missed", "lost"),
    ]
    words_before = 3 + has_block + len(trial.factors)
    figures = [n >= words_before and n < len(headings) - 3 for n in range(len(headings))]
    rows = tuple(_record_row(record, has_block=has_block, us=us) for record in facts.records)
    yield Heading("Records by plot")
    yield Paragraph("A dash is not recorded, and 0 is looked for and not found.")
    yield Grid(tuple(headings), tuple(figures), rows, small=True)


def _record_row(record: PlotRecord, *, has_block: bool, us: bool) -> tuple[str, ...]:
    length = record.stem_length_cm
    return (
        *(record.plot, record.bed, str(record.position)),
        *([record.block or ""] if has_block else []),
        *record.treatment,
        *_numbers(
            record.plants_set,
            record.living,
            record.saleable_stems,
            record.short_stems,
            record.culled_stems,
        ),
        "–" if record.stems_per_plant is None else f"{record.stems_per_plant:.2f}",
        "–" if length is None else f"{cm_to_inches(length) if us else length:.1f}",
        "–" if record.first_cut is None else record.first_cut.isoformat(),
        str(record.missed_harvests),
        record.lost or "",
    )


def _numbers(*values: int | None) -> Sequence[str]:
    return ["–" if value is None else f"{value:,}" for value in values]


def _digest(facts: TrialFacts) -> Iterator[Part]:
    yield Heading("What these figures rest on")
    lines = rests_on_lines(facts.digest)
    if not lines:
        lines = [
            (
                "The trial is still open. The digest of its records so far (SHA-256): "
                f"{facts.digest.digest}"
            )
        ]
    if facts.closing is not None and facts.closing.reason:
        lines.append(f"The season ended: {facts.closing.reason}.")
    yield Listing(tuple(lines))
    yield Paragraph(
        "These results are from one site and season. Labels, local rules and your adviser come "
        "first."
    )
