"""Plot codes: what the alphabet leaves out, and that no single slip goes unnoticed."""

from __future__ import annotations

from itertools import combinations, product

import pytest

from trials.errors import PlanRefused
from trials.layout.field.codes import (
    ALPHABET,
    FIRST,
    FIRST_SEASON,
    LAST_SEASON,
    LENGTH,
    PLOTS_A_SEASON,
    is_valid,
    nearest,
    plot_code,
)

# Characters mistaken for one another in writing, and letters in speech: common practice.
LOOK_ALIKE = ("OQD", "ILJ", "2Z", "5S", "8B", "6GC", "UVY", "7T", "4A", "9P", "EF", "MN", "KX")
SOUND_ALIKE = ("BCDEGPTVZ3", "AJK", "A8", "FSX", "MN", "IY", "I5", "QU2")


@pytest.fixture(scope="module")
def valid() -> set[str]:
    """Every string that is a valid code, whether a season has it yet or not."""
    strings = ("".join(each) for each in product(FIRST, *[ALPHABET] * (LENGTH - 1)))
    return {code for code in strings if is_valid(code)}


@pytest.mark.parametrize("alike", LOOK_ALIKE + SOUND_ALIKE)
def test_the_alphabet_holds_one_of_those_that_are_mistaken(alike: str) -> None:
    assert len(set(alike) & set(ALPHABET)) <= 1


def test_neither_nought_nor_one_nor_their_letters_are_used() -> None:
    assert not set("01OI") & set(ALPHABET)
    assert len(set(ALPHABET)) == len(ALPHABET)


def test_codes_are_unique_over_all_seasons_and_plots() -> None:
    codes = {
        plot_code(season, number)
        for season in range(FIRST_SEASON, LAST_SEASON + 1)
        for number in range(1, PLOTS_A_SEASON + 1)
    }
    assert len(codes) == (LAST_SEASON - FIRST_SEASON + 1) * PLOTS_A_SEASON
    assert {len(code) for code in codes} == {LENGTH}
    assert {code[0] for code in codes} <= set(FIRST)
    assert all(is_valid(code) for code in codes)


def test_codes_are_no_numbers_to_a_spreadsheet(valid: set[str]) -> None:
    for code in valid:
        with pytest.raises(ValueError, match="could not convert"):
            float(code)


def test_a_body_has_one_check_character_or_is_passed_over(valid: set[str]) -> None:
    bodies = {code[:-1] for code in valid}
    assert len(bodies) == len(valid)
    assert len(valid) >= len(FIRST) * 16 * 16 * 15


@pytest.mark.parametrize("place", range(LENGTH))
def test_every_change_of_one_character_is_caught(place: int, valid: set[str]) -> None:
    """No two valid codes are alike but for one place, in all there are."""
    assert len({code[:place] + code[place + 1 :] for code in valid}) == len(valid)


@pytest.mark.parametrize(("a", "b"), list(combinations(range(LENGTH), 2)))
def test_every_swap_of_two_characters_is_caught(a: int, b: int, valid: set[str]) -> None:
    for code in valid:
        swapped = list(code)
        swapped[a], swapped[b] = swapped[b], swapped[a]
        assert code[a] == code[b] or "".join(swapped) not in valid


def test_characters_that_are_left_out_are_no_part_of_a_code() -> None:
    code = plot_code(2027, 12)
    for place in range(LENGTH):
        for other in set("ABCDEFGHIJKLMNOPQRSTUVWXYZ-. '") - set(ALPHABET):
            assert not is_valid(code[:place] + other + code[place + 1 :])


@pytest.mark.parametrize("wrong", ["", "F", "F2222222", "22222", "FFFF", "F-222", "ﬀ222", "F22٣2"])
def test_what_is_no_code_is_not_valid(wrong: str) -> None:
    assert not is_valid(wrong)


def test_small_letters_and_spaces_around_do_not_matter() -> None:
    code = plot_code(2027, 12)
    assert is_valid(f" {code.lower()} ")


def test_the_nearest_known_code_is_named() -> None:
    known = [plot_code(2027, number) for number in range(1, 60)]
    code = known[40]
    assert nearest(code, known) == code
    assert nearest(code[:2] + code[3] + code[2] + code[4], known) == code
    assert nearest("O" + code[1:], known) == code
    assert nearest(code[:-1], [code]) == code
    assert nearest("QQQQQ", known) is None
    assert nearest(code, []) is None


@pytest.mark.parametrize("season", [FIRST_SEASON - 1, LAST_SEASON + 1])
def test_seasons_beyond_reach_are_refused(season: int) -> None:
    with pytest.raises(PlanRefused, match=f"from season {FIRST_SEASON} to {LAST_SEASON}"):
        plot_code(season, 1)


@pytest.mark.parametrize("number", [0, PLOTS_A_SEASON + 1])
def test_plots_beyond_reach_are_refused(number: int) -> None:
    with pytest.raises(PlanRefused, match=f"plots 1 to {PLOTS_A_SEASON}"):
        plot_code(2027, number)


def test_a_code_two_slips_away_is_named_and_one_three_away_is_not() -> None:
    code = plot_code(2027, 12)
    other = [next(c for c in ALPHABET if c != written) for written in code]
    assert nearest(code[:3] + "".join(other[3:]), [code]) == code
    assert nearest(code[:2] + "".join(other[2:]), [code]) is None
