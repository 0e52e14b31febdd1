"""Figures as people type them in; numbers out, or what is wrong with them and where."""

from __future__ import annotations

import math

from foible.errors import InputError

__all__ = ["figure", "figure_or_none", "rounded"]

LONGEST = 30
"""Characters of a figure that a message repeats."""


def figure(text: str, what: str, *, least: float = 0.0, most: float = 1e6) -> float:
    """Return the number in a text, with a point or a comma. Raises InputError, which names `what` it was to be."""
    try:
        value = float(text.strip().replace(",", ".").replace("−", "-"))
    except ValueError as error:
        seen = f"{what}: “{text.strip()[:LONGEST]}” is no figure"
        raise InputError(seen=seen, remedy="give a number such as 1.05, without its unit") from error
    if not (math.isfinite(value) and least <= value <= most):
        raise InputError(seen=f"{what}: {value:g}", remedy=f"give a number from {least:.9g} to {most:.9g}")
    return value


def figure_or_none(text: str, what: str, *, least: float = 0.0, most: float = 1e6) -> float | None:
    """Return the same, and None where nothing is typed."""
    return figure(text, what, least=least, most=most) if text.strip() else None


def rounded(value: float, beside: float) -> str:
    """Return a value in as many decimals as two digits of what stands beside it take, such as its uncertainty."""
    if not beside > 0:
        return f"{value:g}"
    places = max(0, 1 - math.floor(math.log10(beside)))
    return f"{value:.{min(places, 6)}f}"
