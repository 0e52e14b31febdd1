"""Hypotheses in; out what could be named, items or repairs, and which hypotheses can be treated as one."""

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
    from foible.kit import Setup

__all__ = ["UNEXCHANGED_S", "Aim", "aims_of", "kinds_of", "names_of"]

UNEXCHANGED_S = 20.0
"""What it takes to put right something that is not exchanged, like a weapon touching its own lamé [s]; judgement, no source."""
EURO_S = 60.0
"""What a euro's worth of parts counts for in time [s]; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Aim:
    """Something that could be named: an item to exchange, or a repair to make on an item."""

    name: str
    item: str
    naming_s: float
    """What doing it costs, which is lost where it was wrong [s]."""


def aims_of(setup: Setup, hypotheses: Hypotheses, mode: Mode, item: str | None) -> tuple[Aim, ...]:
    """Return what could be named, “nothing wrong” and “not in this model” first: at the piste items, on the bench repairs."""
    aims = {SOUND: Aim(SOUND, SOUND, 0.0), UNKNOWN: Aim(UNKNOWN, UNKNOWN, 0.0)}
    for failure in hypotheses.failures:
        if mode is Mode.PISTE:
            seconds = setup.items[failure.item].exchange_s or UNEXCHANGED_S
            aims[failure.item] = Aim(failure.item, failure.item, seconds)
        elif item in (None, failure.item):
            known = setup.repairs[failure.repair] if failure.repair else None
            seconds = (
                known.minutes * 60 + known.price * EURO_S if known else setup.items[failure.item].exchange_s or UNEXCHANGED_S
            )
            aims[failure.job] = Aim(failure.job, failure.item, seconds)
    return tuple(aims.values())


def names_of(hypotheses: Hypotheses, mode: Mode, item: str | None) -> list[str]:
    """Return for each hypothesis the name of what it asks for; "" where it is not in question."""
    names = [SOUND, UNKNOWN]
    for position in hypotheses.failure[2:].tolist():
        failure = hypotheses.failures[position]
        if mode is Mode.PISTE:
            names.append(failure.item)
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
