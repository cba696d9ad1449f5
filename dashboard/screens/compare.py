"""A trial: the pictures first, then three sentences, then the tables they come from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import altair as alt
import streamlit as st

from dashboard import data
from dashboard.access.visitor import visitor
from dashboard.charts import comparison as charts
from dashboard.charts.grades import grade_colours, grades_chart
from dashboard.settings import units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.model.trial import MEASURES, Measure, Trial
from trials.report.comparison_tables import (
    LETTERS_NOTE,
    caution_words,
    cells_table,
    crossed,
    how_lines,
    interplay_words,
    means_table,
    pair_rows,
    pairs_table,
    ranked_means,
    two_factor_terms,
    within_rows,
    without_mean_note,
)
from trials.report.diagnostics_words import solid_line
from trials.report.figures import Figures, count, figures_of
from trials.report.length_grades import grade_words, length_words
from trials.report.tested_words import level_words
from trials.report.trends import trend_words
from trials.report.words import LAYOUT_WORDS, plain_words
from trials.stats.length_grades import GradeShare
from trials.stats.results import Comparison

PAIR_CHIPS = (
    ("more", ""),
    ("the same for your purpose", "open"),
    ("cannot tell yet", "quiet"),
)


def choose_trial(trials: Sequence[Trial]) -> tuple[Trial, Measure]:
    """The trial and measure to look at."""
    left, right = st.columns(2)
    with left:
        code = st.selectbox(
            "Trial", [trial.code for trial in trials], key="trial", bind="query-params"
        )
    trial = next(trial for trial in trials if trial.code == code)
    keys = [measure.key for measure in MEASURES]
    by_key = {measure.key: measure for measure in MEASURES}
    with right:
        chosen = st.selectbox(
            "Measure",
            keys,
            index=keys.index(trial.primary_measure),
            format_func=lambda key: by_key[key].label,
            key=f"measure of {code}",
            persist_state="session",
        )
    return trial, by_key[chosen]


def choose_plots() -> bool:
    """Whether plots with missed picks are left out."""
    return st.toggle(
        "Leave out plots with missed harvests",
        key="leave_out",
        help="Their season totals are too low.",
        persist_state="session",
    )


def choose_factor(comparison: Comparison) -> str:
    """The factor whose levels the pictures and tables show: the one with most levels at first."""
    factors = sorted(comparison.layout.factors, key=lambda factor: -len(factor.levels))
    names = [factor.name for factor in factors]
    if len(names) == 1:
        return names[0]
    return st.segmented_control(
        "Look at",
        names,
        default=names[0],
        required=True,
        format_func=for_markdown,
        key="factor",
        label_visibility="collapsed",
    )


def draw(chart: alt.LayerChart, alt_text: str) -> None:
    """Show a picture as wide as its place."""
    st.altair_chart(chart, theme=None, width="stretch", alt=alt_text)


def show_pictures_and_words(
    trial: Trial, comparison: Comparison, factor: str, figures: Figures, leave_out: bool
) -> None:
    """The pictures two by two; the words fill the place that is left, or stand under them."""
    pictures: list[Callable[[], None]] = [partial(show_means, comparison, factor, figures)]
    if any(item.term == factor and not item.within for item in comparison.with_best):
        pictures.append(partial(show_best, comparison, factor, figures))
    found = data.length_grades(trial.code, factor, leave_out)
    if found:
        pictures.append(partial(show_grades, trial, comparison, factor, found))
    terms = [term for term in two_factor_terms(comparison) if factor in term.split(":")]
    if terms:
        pictures.append(partial(show_interplay, comparison, terms, figures))
    words = partial(show_words, comparison)
    if len(pictures) % 2:
        pictures.append(words)
    for first in range(0, len(pictures), 2):
        for place, picture in zip(
            st.columns(2, gap="large"), pictures[first : first + 2], strict=True
        ):
            with place:
                picture()
    if words not in pictures:
        words()


def show_means(comparison: Comparison, factor: str, figures: Figures) -> None:
    """The means with their intervals, or plain dots where the layout carries none."""
    means = ranked_means(comparison, factor)
    title = f"{comparison.measure.capitalize()} by {factor}"
    summary = "; ".join(f"{level_words(m.levels)} {figures.number(m.mean)}" for m in means)
    if all(mean.se is None for mean in means):
        st.html(
            markup.caption(title, "Counts only: no interval can be given.")
            + markup.key([("ring", "from one plot only")])
        )
        draw(charts.halves_chart(comparison, factor, figures), f"{title}: {summary}")
        return
    sure = 100 * (1 - comparison.alpha)
    st.html(
        markup.caption(
            title,
            f"Best at the top. The line says where the true mean lies with {sure:g}% "
            "confidence; which differ is in the pairs below. "
            + without_mean_note(comparison, factor),
        )
        + markup.key(charts.MEANS_KEY)
    )
    draw(charts.means_chart(comparison, factor, figures), f"{title}: {summary}")


def show_best(comparison: Comparison, factor: str, figures: Figures) -> None:
    """How far each may lie from the best."""
    title = "Which could be the best"
    st.html(
        markup.caption(
            title,
            "A bar that reaches past the upright line could be the best; its other end says how "
            f"much it may fall short at most. {without_mean_note(comparison, factor)}",
        )
        + markup.key(charts.BEST_KEY)
    )
    draw(charts.best_chart(comparison, factor, figures), title)


def show_grades(
    trial: Trial, comparison: Comparison, factor: str, found: Sequence[GradeShare]
) -> None:
    """Stems by length grade."""
    words = grade_words([item.grade_cm for item in found], units())
    colours = grade_colours(list(words), trial.shortest_length_cm)
    shortest = length_words(trial.shortest_length_cm, units())
    title = "Stems by length"
    st.html(
        markup.caption(
            title,
            f"Right of the line: {shortest} and longer, the shortest you sell; the number is "
            "what can be sold. Left of it: too short.",
        )
        + markup.key([], [(colours[grade], words[grade]) for grade in words])
    )
    as_shares = (
        st.segmented_control(
            "Shown as",
            ["stems per plant", "share of stems"],
            default="stems per plant",
            required=True,
            key="grades_as",
            label_visibility="collapsed",
        )
        == "share of stems"
    )
    order = [level_words(mean.levels) for mean in ranked_means(comparison, factor)]
    draw(
        grades_chart(
            found, trial.shortest_length_cm, words, order, comparison.check, as_shares=as_shares
        ),
        f"{title}: see the table of the trial for the figures",
    )


def show_interplay(comparison: Comparison, terms: Sequence[str], figures: Figures) -> None:
    """Whether one factor works alike on every level of another."""
    term = terms[0]
    if len(terms) > 1:
        term = st.segmented_control(
            "Together with",
            terms,
            default=terms[0],
            required=True,
            format_func=lambda t: for_markdown(" and ".join(t.split(":"))),
            key="term",
        )
    down, across = crossed(comparison, term)
    title = f"Is the effect of {across.name} the same for every {down.name}?"
    words = interplay_words(comparison, term)
    st.html(
        markup.caption(title, f"Parallel lines say yes. {words}." if words else "")
        + markup.key(charts.INTERPLAY_KEY)
    )
    draw(charts.interplay_chart(comparison, across.name, down.name, figures), title)


def show_words(comparison: Comparison) -> None:
    """The three sentences."""
    words = plain_words(comparison, units())
    st.html(
        markup.words(
            [
                markup.word("What differs", words.differs),
                markup.word("Too close to call", words.not_told, "unsure"),
                markup.word("What this trial cannot answer", words.not_answered, "limit"),
            ]
        )
    )


def show_unanswered(comparison: Comparison) -> None:
    """Why a factor has no test, and what would give it one: before anything else."""
    cards = [
        markup.word(f"Why {item.factor} cannot be tested here", item.reason, "limit")
        + markup.word("What would answer it", item.remedy)
        for item in comparison.layout.not_replicated
    ]
    if cards:
        st.html(markup.words(cards))


def show_tables(comparison: Comparison, factor: str, figures: Figures) -> None:
    """Means, pairs, how it was found, and the cautions."""
    tested = any(mean.letters for mean in comparison.means)
    st.html(
        markup.section(
            f"Every {factor}",
            f"{LETTERS_NOTE if tested else ''} {without_mean_note(comparison, factor)} "
            f"{trend_words(comparison, factor, figures)}".strip(),
        )
        + markup.table(means_table(comparison, factor, figures))
    )
    for term in two_factor_terms(comparison):
        if factor in term.split(":"):
            down, across = crossed(comparison, term)
            with st.expander(for_markdown(f"{down.name} by {across.name}")):
                st.html(markup.table(cells_table(comparison, term, figures)))
    show_pairs(comparison, factor, figures)
    for within, pairs in within_rows(comparison, factor, figures).items():
        st.html(markup.table(pairs_table(comparison, factor, pairs, within), PAIR_CHIPS))
    method, *facts = how_lines(comparison, figures)
    heading, _, way = method.partition(": ")
    st.html(markup.section(heading, f"{way[:1].upper()}{way[1:]}") + markup.lines(facts))
    st.html(markup.total(f"Do other tests agree? {solid_line(comparison)}"))
    if comparison.cautions:
        st.html(
            markup.section("Cautions")
            + markup.lines(caution_words(caution, units()) for caution in comparison.cautions)
        )


def show_pairs(comparison: Comparison, factor: str, figures: Figures) -> None:
    """The pairs with their verdicts, by verdict and by entry."""
    pairs = pair_rows(comparison, factor, figures)
    if not pairs:
        return
    st.html(markup.section("Pair by pair"))
    if len(pairs) > 1:
        verdicts = ["all", *dict.fromkeys(pair.cells[-1] for pair in pairs)]
        numbers = {v: sum(v in ("all", pair.cells[-1]) for pair in pairs) for v in verdicts}
        left, right = st.columns([3, 2], vertical_alignment="bottom")
        with left:
            verdict = st.segmented_control(
                "Verdict",
                verdicts,
                default="more" if "more" in verdicts else "all",
                required=True,
                format_func=lambda v: f"{v} ({numbers[v]})",
                key="pair_verdict",
            )
        with right:
            levels = sorted({name for pair in pairs for name in (pair.higher, pair.lower)})
            entry = st.selectbox(
                "With",
                [None, *levels],
                format_func=lambda name: "any entry" if name is None else name,
                key="pair_entry",
            )
        pairs = tuple(
            pair
            for pair in pairs
            if verdict in ("all", pair.cells[-1])
            and (entry is None or entry in (pair.higher, pair.lower))
        )
    if pairs:
        st.html(markup.table(pairs_table(comparison, factor, pairs), PAIR_CHIPS))
    else:
        st.html(markup.note("No such pair."))


def show(trials: Sequence[Trial]) -> None:
    """The whole page."""
    head = st.container()
    trial, measure = choose_trial(trials)
    options = st.container(horizontal=True, vertical_alignment="center", gap="medium")
    with options:
        leave_out = choose_plots()
    comparison = data.compare(trial.code, measure.key, leave_out)
    figures = figures_of(comparison, units())
    with options:
        factor = choose_factor(comparison)
    ended = "still open: figures may change"
    if trial.closed_on is not None:
        ended = f"closed {trial.closed_on:%Y-%m-%d}"
    layout = LAYOUT_WORDS[comparison.layout.kind]
    with head:
        st.html(
            markup.heading(
                trial.question,
                eyebrow=f"{trial.crop} · {trial.season} · {trial.site}",
                facts=[ended, f"{count(comparison.plots, 'plot')}, {layout}"],
            )
        )
    st.html(
        markup.note(
            f"{measure.label.capitalize()}: {measure.meaning}. "
            f"Mean of all: {figures.amount(comparison.grand_mean)}."
        )
    )
    show_unanswered(comparison)
    show_pictures_and_words(trial, comparison, factor, figures, leave_out)
    show_tables(comparison, factor, figures)
    if trial.closed_on is not None:
        st.html(markup.lines(data.rests_on_lines(trial.code, visitor().role)))
    st.page_link(
        "screens/history.py",
        label="History of its records →",
        query_params={"of": trial.code},
    )


trials = data.trials()
if trials:
    show(trials)
else:
    st.html(markup.heading("No trials yet", eyebrow="The trial"))
    st.page_link("screens/home.py", label="Add records →")
