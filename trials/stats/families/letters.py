"""Letters that say which entries are not shown to differ, for any pattern of significance.

Two entries share a letter exactly where their difference is not significant. A letter is thus a
set of entries no two of which differ, and every pair that does not differ lies within some
letter: a cover of the edges of a graph by cliques, in as few cliques as can be found.

Formula: a letter is a clique in the graph of the pairs that are not shown to differ.
Limits: A shared letter does not say that entries are equal; where errors differ, fewer letters
    might be possible.
Source: Gramm, Guo, Hüffner, Niedermeier, Piepho & Schmid 2007, Comput. Stat. Data Anal. 52:725;
    Piepho 2004, J. Comput. Graph. Stat. 13:456.
"""

from __future__ import annotations

from string import ascii_lowercase

import numpy as np
from numpy.typing import NDArray

from trials.stats.design.table import Codes

Flags = NDArray[np.bool_]


def letters(differ: Flags, order: Codes) -> tuple[str, ...]:
    """One string of letters for each entry.

    Cliques are grown one at a time from pairs that still lack a letter, and those that the
    others have come to speak for are swept out (Gramm, Guo, Hüffner, Niedermeier, Piepho & Schmid
    2007, Comput. Stat. Data Anal. 52:725: as few letters as inserting and absorbing, Piepho 2004,
    J. Comput. Graph. Stat. 13:456, which may pass through exponentially many). The fewest
    possible is an NP-hard question; where errors are equal it is what this finds.

    Parameters
    ----------
    differ : (k, k) symmetric, True where the pair differs significantly
    order : (k,) the entries from best to worst; letters are named along it, so that the best
        entry carries an 'a'

    Returns
    -------
    Strings in the order of the entries, the letters sorted within each. Where one alphabet is
    not enough it is gone through again with a figure behind each letter ('yza2b2').
    """
    ranked = np.asarray(differ, dtype=bool)[np.ix_(order, order)]
    if not np.array_equal(ranked, ranked.T) or ranked.diagonal().any():
        raise ValueError("'differ' must be symmetric, and no entry differs from itself")
    groups = _swept(_grown(~ranked))
    # By the best entry in each, then the next best: 'a' falls to the best of all.
    groups = groups[np.lexsort(~groups.T[::-1])]
    names = _names(len(groups))
    texts = ["".join(names[g] for g in np.flatnonzero(member)) for member in groups.T]
    return tuple(texts[rank] for rank in np.argsort(order))


def _grown(same: Flags) -> Flags:
    """Maximal cliques (letters, k) of the entries that do not differ, together covering all."""
    wanting = same.copy()  # the pairs, and on the diagonal the entries, still without a letter
    groups = []
    for start in range(len(same)):
        while wanting[start].any():
            member = np.zeros(len(same), dtype=bool)
            member[start] = True
            fitting = same[start].copy()
            fitting[start] = False
            gain = wanting[start].astype(np.intp)
            while fitting.any():
                best = int(np.argmax(np.where(fitting, gain, -1)))
                member[best] = True
                fitting &= same[best]
                fitting[best] = False
                gain += wanting[best]
            wanting[np.outer(member, member)] = False
            groups.append(member)
    return np.array(groups)


def _swept(groups: Flags) -> Flags:
    """The groups without those whose every pair is in another group too, smallest tried first."""
    times = groups.T.astype(np.intp) @ groups.astype(np.intp)
    kept = np.ones(len(groups), dtype=bool)
    for g in np.argsort(groups.sum(axis=1), kind="stable"):
        within = np.outer(groups[g], groups[g])
        if (times[within] > 1).all():
            kept[g] = False
            times[within] -= 1
    return groups[kept]


def _names(how_many: int) -> list[str]:
    """'a' to 'z', then 'a2' to 'z2' and so on: still plain when written one after another."""
    rounds = (len(ascii_lowercase) - 1 + how_many) // len(ascii_lowercase)
    names = [
        letter + (str(turn) if turn > 1 else "")
        for turn in range(1, rounds + 1)
        for letter in ascii_lowercase
    ]
    return names[:how_many]
