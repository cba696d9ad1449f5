"""A trial: its answer in one sentence and one picture, then words, pictures and statistics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import streamlit as st

from dashboard import data, photo_form, trial_data, variety_data
from dashboard.access.visitor import visitor
from dashboard.answers import Answer
from dashboard.pictures import show_picture
from dashboard.redrawn import folded, redrawn_alone
from dashboard.settings import paper, units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.waiting import is_soon, redraw_once_done
from trials.errors import UnknownName
from trials.model.trial import MEASURES, Measure, Trial
from trials.report.answer import answer_words
from trials.report.comparison_tables import (
    caution_words,
    cells_table,
    crossed,
    how_lines,
    letters_note,
    means_table,
    pair_rows,
    pairs_table,
    two_factor_terms,
    within_rows,
    without_mean_note,
)
from trials.report.diagnostics_words import solid_line
from trials.report.figures import Figures, count, figures_of
from trials.report.pictures.frame import HALF_PX
from trials.report.pictures.of_trial import TrialViews, answer_drawable, drawables
from trials.report.tested_words import factor_words
from trials.report.trends import trend_words
from trials.report.words import LAYOUT_WORDS, plain_words
from trials.stats.results import Comparison

PAIR_CHIPS = (
    ("more", ""),
    ("the same for your purpose", "open"),
    ("cannot tell yet", "quiet"),
)
PHOTOS_EACH = 3  # of a variety; its own page has all
PAIRS_AT_ONCE = 100  # 200 varieties have 19,900: a table of 6 MB
STILL_TO_COME = "More pictures and the slower tests of this answer are being calculated."


# ----------------------------------------------------------------------------- what is looked at


def say_unknown(trials: Sequence[Trial]) -> None:
    """Say that the address asks for a trial which is not there, instead of showing another."""
    asked = st.query_params.get("trial")
    codes = [trial.code for trial in trials]
    if asked is not None and asked not in codes:
        st.html(markup.alert(f"{UnknownName('trial', asked, codes)} Shown is {codes[0]}."))


def choose(trials: Sequence[Trial]) -> tuple[Trial, Measure, bool]:
    """The trial, the measure, and whether plots with missed harvests are left out.

    The last two are of one trial: another one begins as its plan fixed it.
    """
    with st.container(key="choice"):
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
    leave_out = st.toggle(
        "Leave out plots with missed harvests",
        key=f"leave_out of {code}",
        help="Their season totals are too low.",
        persist_state="session",
    )
    return trial, by_key[chosen], leave_out


def choose_factor(trial: Trial, comparison: Comparison) -> str:
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
        format_func=lambda name: for_markdown(factor_words(name)),
        key=f"factor of {trial.code}",
        label_visibility="collapsed",
    )


# ------------------------------------------------------------------------------------ the answer


def show_answer(comparison: Comparison, factor: str, figures: Figures) -> None:
    """One sentence, what takes away from it, the picture of the means, and the words beside it."""
    answer = answer_words(comparison, factor, figures)
    st.html(markup.answer(answer.sentence, answer.but))
    show_unanswered(comparison)
    drawn = answer_drawable(comparison, factor, units())
    left, right = st.columns([5, 3], gap="large")
    with left:
        if drawn is not None:
            show_picture(drawn.draw, "answer", HALF_PX)
    with right:
        show_words(comparison)


def show_unanswered(comparison: Comparison) -> None:
    """Why a factor has no test, and what would give it one: before any picture."""
    cards = [
        markup.word(f"Why {factor_words(item.factor)} cannot be tested here", item.reason, "limit")
        + markup.word("What would answer it", item.remedy)
        for item in comparison.layout.not_replicated
    ]
    if cards:
        st.html(markup.words(cards))


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


@redrawn_alone
def show_pictures(views: TrialViews) -> None:
    """The other pictures, one at a time."""
    found = {drawn.label: drawn.draw for drawn in drawables(views, units())}
    if not found:
        return
    st.html(markup.section("More pictures"))
    label = st.segmented_control(
        "Picture",
        list(found),
        default=next(iter(found)),
        required=True,
        format_func=for_markdown,
        key=f"picture of {views.trial.code} {views.factor}",
        label_visibility="collapsed",
    )
    show_picture(found[label], "more")


def show_trial_photos(trial: Trial) -> None:
    """The photos of its varieties, folded away until somebody opens them."""
    found = variety_data.trial_photos(trial.code)
    if not found:
        return
    shown = [photo for _, photos in found for photo in photos[:PHOTOS_EACH]]
    with st.expander(f"Photos by variety ({len(shown)})"):
        photo_form.show_photos(shown)
        with st.container(key="photographed", horizontal=True, gap="small"):
            for variety, _ in found:
                st.page_link(
                    "screens/varieties.py",
                    label=f"{for_markdown(variety)} →",
                    query_params={"variety": variety},
                )


# -------------------------------------------------------------------------------- the statistics


@redrawn_alone
def show_statistics(
    trial: Trial, comparison: Comparison, factor: str, figures: Figures, *, is_checked: bool
) -> None:
    """Means, pairs, how it was found; folded away until somebody opens it."""
    label = "Statistics: every mean, every pair, and the method"
    with folded(label, "statistics") as is_open:
        if not is_open:
            return
        tested = any(mean.letters for mean in comparison.means)
        st.html(
            markup.section(
                f"Every {factor_words(factor)}",
                f"{letters_note([factor], comparison.check) if tested else ''} "
                f"{without_mean_note(comparison, factor)} "
                f"{trend_words(comparison, factor, figures)}".strip(),
            )
            + markup.table(means_table(comparison, factor, figures))
        )
        for term in two_factor_terms(comparison):
            if factor in term.split(":"):
                down, across = crossed(comparison, term)
                st.html(
                    markup.section(f"{down.name.capitalize()} by {across.name}")
                    + markup.table(cells_table(comparison, term, figures))
                )
        show_pairs(trial, comparison, factor, figures)
        for within, pairs in within_rows(comparison, factor, figures).items():
            st.html(markup.table(pairs_table(comparison, factor, pairs, within), PAIR_CHIPS))
        method, *facts = how_lines(comparison, figures)
        heading, _, way = method.partition(": ")
        st.html(markup.section(heading, f"{way[:1].upper()}{way[1:]}") + markup.lines(facts))
        line = solid_line(comparison) if is_checked else "They are still being calculated."
        st.html(markup.total(f"Do other tests agree? {line}"))


def show_pairs(trial: Trial, comparison: Comparison, factor: str, figures: Figures) -> None:
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
                key=f"pair_verdict of {trial.code} {factor}",
            )
        with right:
            levels = sorted({name for pair in pairs for name in (pair.higher, pair.lower)})
            entry = st.selectbox(
                "With",
                [None, *levels],
                format_func=lambda name: "any" if name is None else name,
                key=f"pair_entry of {trial.code} {factor}",
            )
        pairs = tuple(
            pair
            for pair in pairs
            if verdict in ("all", pair.cells[-1])
            and (entry is None or entry in (pair.higher, pair.lower))
        )
    if not pairs:
        st.html(markup.note("No such pair."))
        return
    shown = PAIRS_AT_ONCE * st.session_state.get(f"pair_pages of {trial.code} {factor}", 1)
    st.html(markup.table(pairs_table(comparison, factor, pairs[:shown]), PAIR_CHIPS))
    if len(pairs) > shown:
        st.html(markup.note(f"{shown} of {len(pairs):,} pairs. Choose a level to see its own."))
        st.button(
            f"Show {min(PAIRS_AT_ONCE, len(pairs) - shown)} more",
            key=f"more_pairs of {trial.code} {factor}",
            on_click=_more_pairs,
            args=(trial.code, factor),
        )


def _more_pairs(trial: str, factor: str) -> None:
    key = f"pair_pages of {trial} {factor}"
    st.session_state[key] = st.session_state.get(key, 1) + 1


def show_cautions(comparison: Comparison) -> None:
    """What a reader must know before believing a figure; their number is said where folded."""
    if comparison.cautions:
        with st.expander(f"Cautions ({len(comparison.cautions)})"):
            st.html(
                markup.lines(caution_words(caution, units()) for caution in comparison.cautions)
            )


def show_report(trial: Trial) -> None:
    """The report of the trial to take away, as a PDF or as one page."""
    pdf, page = trial_data.reports(trial.code, units(), paper())
    st.html(
        markup.section(
            "Report to take away",
            "Question, layout, methods, results, pictures, cautions and the records of each plot.",
        )
    )
    with st.container(key="report", horizontal=True, gap="small"):
        for words, kind, mime, make in (
            ("Report as PDF", "pdf", "application/pdf", pdf),
            ("Report as one web page", "html", "text/html", page),
        ):
            st.download_button(
                words,
                make,
                file_name=f"{trial.code}.{kind}",
                mime=mime,
                key=f"report {kind} {trial.code}",
                on_click="ignore",
            )


def compared(asked: tuple[str, str, bool]) -> tuple[Comparison, Answer[Comparison] | None]:
    """A comparison to show at once, and what is still to come: the same with the slower tests."""
    if data.compare_checked.is_there(*asked):
        return data.compare_checked(*asked), None
    quick = data.compare(*asked)
    checked = data.compare_checked.begun(*asked)
    return (checked.result(), None) if is_soon(checked) else (quick, checked)


def show(trials: Sequence[Trial]) -> None:
    """The whole page."""
    head = st.container()
    say_unknown(trials)
    trial, measure, leave_out = choose(trials)
    asked = (trial.code, measure.key, leave_out)
    comparison, checked = compared(asked)
    figures = figures_of(comparison, units())
    factor = choose_factor(trial, comparison)
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
    show_answer(comparison, factor, figures)
    views = trial_data.views.begun(*asked)
    if is_soon(views):
        view = next(each for each in views.result() if each.factor == factor)
        show_pictures(replace(view, comparison=comparison))
    coming = [each for each in (views, checked) if each is not None and not each.is_done()]
    redraw_once_done(coming, STILL_TO_COME)
    show_trial_photos(trial)
    st.html(
        markup.section(
            "Behind the answer",
            f"{measure.label.capitalize()}: {measure.meaning}. "
            f"Mean of all: {figures.amount(comparison.grand_mean)}.",
        )
    )
    show_statistics(trial, comparison, factor, figures, is_checked=checked is None)
    show_cautions(comparison)
    show_report(trial)
    if trial.closed_on is not None:
        st.html(markup.lines(data.rests_on_lines(trial.code, visitor().role)))
    st.page_link(
        "screens/history.py",
        label="History of its records →",
        query_params={"of": trial.code},
    )
    if not coming:
        trial_data.calculate_ahead(
            [(trial, each.key) for each in MEASURES if each is not measure], leave_out
        )


trials = data.trials()
if trials:
    show(trials)
else:
    st.html(markup.heading("No trials yet", eyebrow="The trial"))
    st.page_link("screens/home.py", label="Add records →")
