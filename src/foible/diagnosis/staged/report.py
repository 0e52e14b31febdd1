"""Two looks at the lamps in; out, the report of them as pages make it and as case files say it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.apparatus import Lamp
from foible.kit import SIDES
from foible.trials import BOTH, LIT_BEFORE, STATE, Group, groups_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from foible.kit import Weapon, WeaponLamp
    from foible.trials import Look

    Looks = Mapping[tuple[str, Group], Look]

__all__ = ["lamps_report"]

LIT = {
    Lamp.WHITE: frozenset({STATE[Lamp.WHITE], LIT_BEFORE, BOTH}),
    Lamp.COLOURED: frozenset({STATE[Lamp.COLOURED], BOTH}),
    Lamp.YELLOW: frozenset({STATE[Lamp.YELLOW]}),
}
"""The states of its group in which each lamp is lit."""


def lamps_report(kind: Weapon, looks: Looks, *, moving: bool) -> tuple[str, ...]:
    """Return what is reported of both sides: what lit, and what stayed dark beside it.

    `looks`: the states of two looks, by side and group. A lamp that changes between them flickers where something was `moving`,
    else it lights only sometimes. One that an apparatus need not have says nothing while it stays dark. White that lights at a
    weapon that has none, as with an apparatus that is set to another weapon, is reported all the same.
    """
    manner = " flickers" if moving else " sometimes"
    return tuple(phrase for side in SIDES for phrase in _side(kind, looks, side, manner))


def _side(kind: Weapon, looks: Looks, side: str, manner: str) -> Iterator[str]:
    hit, earth = groups_of(kind)
    if looks[side, hit] == (LIT_BEFORE, LIT_BEFORE):
        own = [f"{side} white all along"]
        lit = {"white"}
    else:
        times = {lamp: _times(lamp, looks[side, earth if lamp.kind == "yellow" else hit]) for lamp in kind.lamps}
        own = [f"{side} {lamp.word}{'' if count > 1 else manner}" for lamp, count in times.items() if count]
        lit = {lamp.kind for lamp, count in times.items() if count}
        if not any(lamp.kind == "white" for lamp in kind.lamps):
            white = sum(state in LIT[Lamp.WHITE] for state in looks[side, hit])
            own += [f"{side} white{'' if white > 1 else manner}"] if white else []
    if not own:
        yield f"{side} nothing"
        return
    yield from own
    groups = {lamp.group for lamp in kind.lamps if lamp.kind in lit}
    yield from (f"{side} no {lamp.word}" for lamp in kind.lamps if lamp.group not in groups and not lamp.optional)


def _times(lamp: WeaponLamp, look: Look) -> int:
    """Return in how many of two looks a lamp is lit."""
    return sum(state in LIT[Lamp[lamp.kind.upper()]] for state in look)
