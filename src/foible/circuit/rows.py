"""Rows of a table in; out, which of them are equal: one of each, and for every row the number of the one that it equals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Positions = NDArray[np.intp]

__all__ = ["equal_rows", "first_of_each"]

NARROW = 64
"""A table with no more columns than this is gone through column by column, without a copy of the whole."""
FOLDS = (32, 16)
"""Shifts [bit] by which the high bits of a floating-point number, often its only ones, are brought down to the low ones."""


def equal_rows(rows: NDArray[Any], order: Positions | None = None) -> tuple[Positions, Positions]:
    """Return where each different row first comes up, and for every row the number of it among these.

    `rows`: numbers, shape (n, columns); those that come out of a calculation are rounded by the caller, who knows how finely.
    `order`: the positions of the rows as they are gone through, shape (n,), which the numbers then follow; from the first to the
    last where it is left out.

    Rows are compared by a sum of 64 bits with random weights, always the same. Equal rows never pass for different; that two of
    ten thousand that differ pass for equal has a chance below 10⁻⁶, whole numbers below 10⁻¹⁰.
    """
    keys = _keys(rows)
    if order is None:
        return first_of_each(keys)
    first, along = first_of_each(keys[order])
    number = np.empty_like(along)
    number[order] = along
    return order[first], number


def first_of_each(keys: NDArray[np.generic]) -> tuple[Positions, Positions]:
    """Return where each different key first comes up, and for every key the number of it among these, in that order."""
    _, first, number = np.unique(keys, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return np.sort(first), rank[number.ravel()]


def _keys(rows: NDArray[Any]) -> NDArray[np.int64]:
    """Return the weighted sum of each row's bits, modulo 2⁶⁴, shape (n,)."""
    weights: NDArray[np.int64] = np.random.default_rng(1995).integers(1, 2**62, size=rows.shape[1:], dtype=np.int64)
    weights |= 1
    with np.errstate(over="ignore"):
        if rows.shape[1] > NARROW and rows.flags.c_contiguous:
            return np.asarray(_bits(rows) @ weights)
        keys = np.zeros(len(rows), dtype=np.int64)
        for column, weight in enumerate(weights):
            keys += _bits(rows[:, column]) * weight
    return keys


def _bits(values: NDArray[Any]) -> NDArray[np.int64]:
    """Return whole numbers that are equal where the values are."""
    if values.dtype.kind != "f":
        return values.astype(np.int64, copy=False)
    same = values + 0.0  # −0 is 0
    bits = same.view(f"i{same.itemsize}").astype(np.int64)
    for shift in FOLDS:
        bits ^= bits >> shift
    return bits
