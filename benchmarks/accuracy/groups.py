"""Groups of lamps as people report them, for the program of this checkout and for one that knows fewer of them.

At sabre white tells of the control loop and may be lit with coloured (Annex B, C(b)7); a checkout from before that could be said
has one group of hit lamps for all weapons.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.trials import LIT_BEFORE, Group

if TYPE_CHECKING:
    from foible.kit import Weapon

__all__ = ["BOTH", "groups_of", "hit_chances"]

BOTH = LIT_BEFORE + 1
"""The state of hit lamps that are lit together, as `foible.trials.BOTH`."""


def groups_of(kind: Weapon) -> tuple[Group, Group]:
    """Return the groups that the lamps of one side of a weapon fall into: hits, and an earthed line."""
    return (Group("cut") if _together(kind) else Group.HIT, Group.YELLOW)


def hit_chances(white: float, coloured: float, already: float, kind: Weapon, place: float) -> list[float]:
    """Return the chance of each state of a side's hit lamps.

    `already`: that a lamp was lit before; `place`, from 0 to 1, says which apparatus it is, of those that keep coloured dark
    while white is lit and those that do not. White with the chance W leaves coloured C = T (1 − b W), T being that of a closed
    target and b the share of apparatus that block.
    """
    if not _together(kind):
        return [*((1 - already) * chance for chance in (1 - white - coloured, white, coloured)), already]
    lamp = kind.lamp("coloured")
    block = lamp.blocked if lamp else 0.0
    target = min(coloured / max(1 - block * white, 1e-12), 1.0)
    both = 0.0 if place < block else white * target
    alone = (1 - white) * target
    told = [(1 - already) * chance for chance in (1 - white - alone, white - both, alone)]
    return [*told, already * (1 - both), both]


def _together(kind: Weapon) -> bool:
    return bool(getattr(kind, "together", False))
