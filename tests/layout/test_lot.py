"""Lots: the generator's published output, fair numbers and fair orders."""

from __future__ import annotations

from collections import Counter
from itertools import permutations

from trials.layout.designs.random_numbers import Lot

# Output of the generator's own demonstration program for state 42 and sequence 54, "Round 1",
# printed at https://www.pcg-random.org/using-pcg-c-basic.html.
WORDS = (0xA15C02B7, 0x7B47F409, 0xBA1D3330, 0x83D2F293, 0xBFA4784B, 0xCBED606E)
COINS = "HHTTTHTHHHTHTTTHHHHHTTTHHHTHTHTHTTHTTTHHHHHHTTTTHHTTTTTHTTTTTTTHT"
ROLLS = "3 4 1 1 2 2 3 2 4 3 2 4 3 3 5 2 3 1 3 1 5 1 4 1 5 6 4 6 6 2 6 3 3"
CARDS = (
    "Qd Ks 6d 3s 3d 4c 3h Td Kc 5c Jh Kd Jd As 4s 4h Ad Th Ac Jc 7s Qs "
    "2s 7h Kh 2d 6c Ah 4d Qh 9h 6s 5s 2c 9c Ts 8d 9s 3c 8c Js 5d 2h 6h "
    "7d 8s 9d 5h 8h Qc 7c Tc"
)


def test_the_published_words_coins_rolls_and_cards_come_out() -> None:
    lot = Lot(42, 54)
    assert tuple(lot.next32() for _ in WORDS) == WORDS
    assert "".join("TH"[lot.below(2)] for _ in COINS) == COINS
    assert " ".join(str(lot.below(6) + 1) for _ in ROLLS.split()) == ROLLS
    cards = lot.shuffled(range(52))
    assert " ".join("A23456789TJQK"[c // 4] + "hcds"[c % 4] for c in cards) == CARDS


def test_every_order_is_about_equally_frequent() -> None:
    lot, draws = Lot.of(1, "orders"), 24_000
    seen = Counter(tuple(lot.shuffled("abcd")) for _ in range(draws))
    assert set(seen) == set(permutations("abcd"))
    expected = draws / 24
    chi_square = sum((n - expected) ** 2 / expected for n in seen.values())
    assert chi_square < 49.7  # upper 0.1 % point of chi-square on 23 degrees of freedom, tables


def test_neighbouring_seeds_and_purposes_are_unrelated() -> None:
    firsts = [
        Lot.of(seed, purpose).next32()
        for seed in (*range(-20, 400), 2**70)
        for purpose in ("entries", "orders")
    ]
    assert len(set(firsts)) == len(firsts)
    ones = sum(word.bit_count() for word in firsts)
    assert abs(ones / len(firsts) - 16) < 0.4  # four standard errors of a mean of fair bits


def test_one_thing_and_nothing_keep_their_order() -> None:
    lot = Lot.of(5, "orders")
    assert lot.shuffled([]) == []
    assert lot.shuffled(["a"]) == ["a"]
