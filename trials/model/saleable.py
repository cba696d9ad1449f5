"""What is long enough to sell: the lowest grade that is, and how much of it a variety must give.

A stem is marketable where it was graded and its grade (the shortest length of its stems) reaches
the trial's shortest saleable length. Shorter graded stems are short, stems with a reason culled.
"""

from __future__ import annotations

from math import floor

# A level or variety is too short to sell where less of its graded stems is marketable. Judgement.
LEAST_SALEABLE_SHARE = 0.5


def shortest_grade(minimum_length_cm: float) -> int:
    """The lowest length grade that can be sold, in whole cm as grades are.

    Both are rounded alike: where 12 in (30.48 cm) is the shortest length, so is the grade of 12 in.
    """
    return floor(minimum_length_cm + 0.5)
