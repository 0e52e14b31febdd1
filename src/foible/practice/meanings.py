"""A weapon in; out, in words, what each of its lamps means: which measurements must count as open or as closed for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Measurement, Weapon, WeaponLamp

__all__ = ["LampMeaning", "lamp_meanings", "measured_words"]

OPPONENT = "opponent "


@dataclass(frozen=True)
class LampMeaning:
    """What makes one lamp light."""

    lamp: WeaponLamp
    when: tuple[tuple[str, str], ...]
    """(between which lines, “open” or “closed”), all of which must be so."""


def lamp_meanings(weapon: Weapon) -> tuple[LampMeaning, ...]:
    """Return what each lamp of a weapon means, in the order in which they stand on an apparatus."""
    return tuple(
        LampMeaning(lamp, tuple((measured_words(weapon.measurement(each.of)), each.state) for each in lamp.lights))
        for lamp in weapon.lamps
    )


def measured_words(measurement: Measurement) -> str:
    """Return between which lines something is measured, such as “A or B to the opponent's C or the piste”."""
    return f"{_ends(measurement.sources)} to {_ends(measurement.sinks)}"


def _ends(inputs: Sequence[str]) -> str:
    """Return a group of inputs, tied together for the measurement, in words."""
    return " or ".join(_end(each) for each in inputs)


def _end(name: str) -> str:
    if name.startswith(OPPONENT):
        return f"the opponent’s {name.removeprefix(OPPONENT)}"
    return name if len(name) == 1 else f"the {name}"
