"""Facts of the place and the kit: what is asked once, kept with a case, and changes what to suspect and what can be tried.

What a fact does to the rate of a failure stands with the failure, under `when`. All of it is judgement, no source.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["FACTS", "LYING_ALONE", "METAL_PISTE", "NO_METAL_PISTE", "ORANGE_LAMPS", "facts_listed", "facts_named"]

METAL_PISTE, NO_METAL_PISTE, ORANGE_LAMPS = "metal piste", "no metal piste", "orange lamps"

LYING_ALONE = "lying alone"
"""What holds of an item on the bench and is not asked: its plugs are in nothing."""

FACTS: Mapping[str, str] = MappingProxyType(
    {
        METAL_PISTE: "a metal piste lies on the floor, and its lead goes to the apparatus",
        NO_METAL_PISTE: "the floor is bare: there is no metal piste",
        ORANGE_LAMPS: "the apparatus has the orange lamps that it may do without",
        "just remade": "the suspect item was just assembled or mended",
        "just oiled": "the point was just oiled or greased",
        "new guard": "the guard is new, or was just exchanged",
        "wet hall": "the kit is wet with sweat, or the hall is damp",
        "one-weapon event": "only this weapon is fenced here today",
    }
)
"""What each fact says."""


def facts_named(names: Iterable[str]) -> tuple[str, ...]:
    """Return facts in the order of `FACTS`, each once, whatever their capitals and spaces. Raises UnknownNameError."""
    wanted = {" ".join(name.lower().split()): name.strip() for name in names}
    for word, name in wanted.items():
        if word not in FACTS:
            raise UnknownNameError(what="fact", name=name, known=FACTS)
    return tuple(fact for fact in FACTS if fact in wanted)


def facts_listed(text: str) -> tuple[str, ...]:
    """Return the facts in a comma-separated list. Raises UnknownNameError."""
    return facts_named(name for name in text.split(",") if name.strip())
