"""The inner loops of pairs, compiled: tables of millions of cells in; one pass over them, where array operations need a dozen.

Numba is loaded and they are compiled when first called, and cached on disk for the next start. None holds the interpreter's lock.
"""

from __future__ import annotations

from functools import cache, wraps
from typing import TYPE_CHECKING, TypeVar, cast

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Table = NDArray[np.float32]
    Positions = NDArray[np.intp]

__all__ = ["by_part", "pair_likelihoods"]

Loop = TypeVar("Loop", bound="Callable[..., object]")


def _compiled(loop: Loop) -> Loop:
    @cache
    def made() -> Loop:
        from numba import njit  # noqa: PLC0415 — takes a fifth of a second, and most commands reason nothing

        try:
            return cast("Loop", njit(cache=True, nogil=True)(loop))
        except RuntimeError:  # there is nowhere on disk to cache it
            return cast("Loop", njit(nogil=True)(loop))

    @wraps(loop)
    def called(*values: object) -> object:
        return made()(*values)

    return cast("Loop", called)


# long: a compiled loop that fills arrays as it goes; a call inside it would have to be compiled too
@_compiled
def pair_likelihoods(  # noqa: PLR0913, PLR0917 — numba takes no objects of ours
    before: Table,
    old: Positions,
    column: Positions,
    way: Positions,
    ways: Table,
    rows: NDArray[np.int32],
    agreement: Table,
    times: int,
) -> Table:
    """Return the likelihood of every pair of kinds after what one sight told, shape (K, K): the equation of `pairs`.

    `before`: the likelihood of pairs of the kinds before; `old`, `column`, `way`, shape (K,) each: the kind that each kind was,
    its column among those that the sight tells apart, and how it is present; kinds of one column and way stand together.
    `ways`: b, o, n of each way, shape (ways, 3); `rows`: row of every pair of columns, shape (C, C), of a column with itself what
    it shows alone; `agreement`: A, by row; `times`: how often the same was told.
    """
    kinds, columns = len(old), len(rows)
    likelihood = np.empty((kinds, kinds), dtype=np.float32)
    alone, flickers, both, second_off, first_off, apart = np.empty((6, columns), dtype=np.float32)
    for d in range(columns):
        alone[d], flickers[d] = agreement[rows[d, d], rows[d, d]], agreement[rows[d, d], 0]
    seen = np.empty((len(ways), columns), dtype=np.float32)
    place = way * columns + column
    for i in range(kinds):
        c = column[i]
        if i == 0 or c != column[i - 1]:
            for d in range(columns):
                two, own, other = rows[c, d], rows[c, c], rows[d, d]
                both[d] = agreement[two, two]
                second_off[d] = agreement[two, own]
                first_off[d] = agreement[two, other]
                apart[d] = np.float32(0.5) * (agreement[two, 0] + agreement[own, other])
        if i == 0 or place[i] != place[i - 1]:
            b1, o1, n1 = ways[way[i]]
            for w in range(len(ways)):
                b2, o2, n2 = ways[w]
                bb, bo, ob, oo, nb, no = b1 * b2, b1 * o2, o1 * b2, o1 * o2, n1 * b2, n1 * o2
                never = n2 * (b1 * alone[c] + o1 * flickers[c] + n1 * agreement[0, 0])
                for d in range(columns):
                    there = bb * both[d] + bo * second_off[d] + ob * first_off[d] + oo * apart[d]
                    seen[w, d] = there + nb * alone[d] + no * flickers[d] + never
            if times > 1:
                seen[:] = seen**times
        row, chance = before[old[i]], seen.ravel()
        for j in range(kinds):
            likelihood[i, j] = row[old[j]] * chance[place[j]]
    return likelihood


@_compiled
def by_part(likelihood: Table, kind: Positions, weight: Table, first: Positions) -> tuple[Table, Table]:
    """Return the weight of each part with every kind, shape (parts, K), and with every part, shape (parts, parts).

    Parts hold weights of kinds: `kind` and `weight`, shape (entries,), one part behind the other from the positions `first`,
    shape (parts + 1,).
    """
    parts = len(first) - 1
    with_kind = np.zeros((parts, len(likelihood)), dtype=np.float32)
    with_part = np.zeros((parts, parts), dtype=np.float32)
    for part in range(parts):
        for entry in range(first[part], first[part + 1]):
            row = likelihood[kind[entry]]
            for j in range(len(likelihood)):
                with_kind[part, j] += weight[entry] * row[j]
        for other in range(parts):
            total = np.float32(0)
            for entry in range(first[other], first[other + 1]):
                total += with_kind[part, kind[entry]] * weight[entry]
            with_part[part, other] = total
    return with_kind, with_part
