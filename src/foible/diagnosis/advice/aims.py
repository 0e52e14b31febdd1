"""Hypotheses in; out what could be named, items or repairs, and which hypotheses can be treated as one.

At the piste most failures ask for an exchange of their item. Those that are put right in seconds, a clip that is off or a plug
not pushed home, ask for just that; exchanging the item would cure them too, at its price.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.circuit import equal_rows
from foible.diagnosis.shown.hypotheses import SOUND, UNKNOWN
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Failure, Setup

__all__ = ["UNEXCHANGED_S", "Aim", "aims_of", "covering", "kinds_of", "names_of", "scaled"]

UNEXCHANGED_S = 20.0
"""What it takes to put right something that is not exchanged, like a weapon touching its own lamé [s]; judgement, no source."""
UNNOTICED_S = 200.0
"""What it costs besides to say that nothing is wrong while something is: a hit is lost first [s]; judgement, no source."""
EURO_S = 60.0
"""What a euro's worth of parts counts for in time [s]; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Aim:
    """Something that could be named: an item to exchange, or a repair to make on an item."""

    name: str
    item: str
    naming_s: float
    """What doing it costs, which is lost where it was wrong [s]."""
    quick: bool = False
    """Whether it puts something right at the piste without an exchange."""


def aims_of(setup: Setup, hypotheses: Hypotheses, mode: Mode, item: str | None) -> tuple[Aim, ...]:
    """Return what could be named, “nothing wrong” and “not in this model” first: at the piste items, on the bench repairs."""
    aims = {SOUND: Aim(SOUND, SOUND, UNNOTICED_S), UNKNOWN: Aim(UNKNOWN, UNKNOWN, 0.0)}
    for failure in hypotheses.failures:
        if mode is Mode.PISTE:
            seconds = setup.items[failure.item].exchange_s or UNEXCHANGED_S
            quick = _quick_s(setup, failure)
            name = failure.item if quick is None else failure.job
            aims[name] = Aim(name, failure.item, seconds if quick is None else quick, quick is not None)
        elif item in (None, failure.item):
            known = setup.repairs[failure.repair] if failure.repair else None
            seconds = (
                known.minutes * 60 + known.price * EURO_S if known else setup.items[failure.item].exchange_s or UNEXCHANGED_S
            )
            aims[failure.job] = Aim(failure.job, failure.item, seconds)
    return tuple(aims.values())


def _quick_s(setup: Setup, failure: Failure) -> float | None:
    """Return what it takes to put a failure right at the piste without an exchange [s]; None where nobody would."""
    return setup.repairs[failure.repair].piste_s if failure.repair else None


def covering(aims: Sequence[Aim]) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return the aims, by number, that put others right as well: exchanging an item cures what is mended on it in seconds."""
    number = {aim.name: i for i, aim in enumerate(aims)}
    quick: dict[str, list[int]] = {}
    for i, aim in enumerate(aims):
        if aim.quick:
            quick.setdefault(aim.item, []).append(i)
    return tuple((number[item], tuple(others)) for item, others in quick.items() if item in number)


def names_of(setup: Setup, hypotheses: Hypotheses, mode: Mode, item: str | None) -> list[str]:
    """Return for each hypothesis the name of what it asks for; "" where it is not in question."""
    names = [SOUND, UNKNOWN]
    for position in hypotheses.failure[2:].tolist():
        failure = hypotheses.failures[position]
        if mode is Mode.PISTE:
            names.append(failure.item if _quick_s(setup, failure) is None else failure.job)
        else:
            names.append(failure.job if item in (None, failure.item) else "")
    return names


def kinds_of(
    hypotheses: Hypotheses, group: NDArray[np.intp], lamps: Sequence[NDArray[np.float64]]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Find hypotheses about one part and aim that no lamp tells apart: same lamps everywhere, same activity.

    Returns the positions of one hypothesis of each kind, in the order of their group, and the kind of every hypothesis, shape
    (N,), −1 where it is in no group. Without `lamps` every hypothesis is a kind of its own.
    """
    order = np.argsort(group, kind="stable")
    order = order[group[order] >= 0]
    kind_of = np.full(len(hypotheses), -1, dtype=np.intp)
    if not lamps:
        kind_of[order] = np.arange(len(order))
        return order, kind_of
    _, lit = equal_rows(np.concatenate([entry.reshape(len(entry), -1) for entry in lamps], axis=1).astype(np.float32))
    parts = np.searchsorted(hypotheses.part_starts, np.arange(len(hypotheses)), side="right")
    keys = np.stack([group, parts, hypotheses.activity, lit[hypotheses.column]], axis=1)
    first, kind_of[order] = equal_rows(keys[order])
    return order[first], kind_of


def scaled(prior: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the prior of the hypotheses in question, the failures among them scaled to weigh as much as all failures do."""
    weight = prior[inside].copy()
    failures = np.flatnonzero(inside) >= 2  # noqa: PLR2004 — behind “nothing wrong” and “not in this model”
    weight[failures] *= (1 - weight[~failures].sum()) / weight[failures].sum()
    return weight
