from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest

from trials.stats.design.table import Floats, Labels, Treatment
from trials.stats.design.terms import Cells, Term, cells_of, terms_of


def planted(combinations: Sequence[Sequence[str]], *names: str) -> Cells:
    columns = zip(*combinations, strict=True)
    return cells_of(
        tuple(
            Treatment(Labels.of(name, column)) for name, column in zip(names, columns, strict=True)
        )
    )


def by_name(cells: Cells) -> dict[str, Term]:
    return {term.name: term for term in terms_of(cells)}


def same_rows_spanned(a: Floats, b: Floats) -> bool:
    rank = np.linalg.matrix_rank
    return bool(rank(a) == rank(b) == rank(np.vstack([a, b])))


def test_cells_count_levels_by_value_and_skip_what_no_plot_carries() -> None:
    labels = Labels("rate", ("5", "10", "20"), np.array([2, 0, 0]))
    cells = cells_of((Treatment(labels),))
    assert cells.levels == (("5", "20"),)
    assert cells.grouping.codes.tolist() == [1, 0, 0]


def test_main_effects_average_equally_over_the_other_factor() -> None:
    cells = planted(list(itertools.product("uvw", ["no", "yes"])), "entry", "pinch")
    terms = by_name(cells)
    assert list(terms) == ["entry", "pinch", "entry:pinch"]
    assert terms["entry"].weights.tolist()[0] == [0.5, 0.5, 0, 0, 0, 0]
    assert terms["pinch"].weights[1] == pytest.approx([0, 1 / 3] * 3)


def test_an_interaction_is_what_additive_cells_do_not_have() -> None:
    cells = planted(list(itertools.product("uvw", "ab", "kl")), "entry", "pinch", "net")
    terms = by_name(cells)
    degrees = {name: np.linalg.matrix_rank(term.contrasts) for name, term in terms.items()}
    assert degrees == {
        "entry": 2,
        "pinch": 1,
        "net": 1,
        "entry:pinch": 2,
        "entry:net": 2,
        "pinch:net": 1,
        "entry:pinch:net": 2,
    }
    entry, pinch, net = cells.codes.T
    additive = 3.0 * entry + np.array([0.5, -2.0])[pinch] + np.array([7.0, 1.0])[net]
    for name in ("entry:pinch", "pinch:net", "entry:pinch:net"):
        assert terms[name].contrasts @ additive == pytest.approx(0, abs=1e-12)


def test_an_empty_cell_leaves_the_contrasts_that_do_without_it() -> None:
    combinations = [pair for pair in itertools.product("uvw", "ab") if pair != ("u", "b")]
    terms = by_name(planted(combinations, "entry", "pinch"))
    assert [term.whole for term in terms.values()] == [False, False, False]
    assert terms["entry"].codes.tolist() == [[1], [2]]  # u has no mean over both
    assert not terms["entry"].contrasts.size
    # cells: u a, v a, v b, w a, w b
    expected = np.array([[0.0, 1.0, -1.0, -1.0, 1.0]])
    assert same_rows_spanned(terms["entry:pinch"].contrasts, expected)


def test_factors_that_go_together_leave_a_third_one_whole() -> None:
    combinations = [(entry, net, s) for entry, net in ("uk", "vl") for s in "ab"]
    terms = by_name(planted(combinations, "entry", "net", "spacing"))
    assert terms["spacing"].whole
    assert np.linalg.matrix_rank(terms["spacing"].contrasts) == 1
    for name in ("entry", "net", "entry:net", "entry:spacing", "net:spacing"):
        assert not np.any(terms[name].contrasts)
