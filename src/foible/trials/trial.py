"""A trial as a plain value: what was done and what was seen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import Enum
from typing import TYPE_CHECKING

from foible.apparatus import Lamp

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.kit import Weapon
    from foible.trials.readings import Reading

__all__ = ["BOTH", "LIT_BEFORE", "NOTHING", "STATE", "Arrangement", "Group", "Look", "Seen", "Trial", "groups_of"]


class Group(Enum):
    """Lamps of one side that answer one question."""

    HIT = "hit"
    """White or coloured or neither: an apparatus shows one or the other (Annex B, A.1(a)4)."""
    CUT = "cut"
    """The same where white tells of the control loop and may be lit with coloured: at sabre (Annex B, C(b)7)."""
    YELLOW = "yellow"

    @property
    def states(self) -> tuple[str, ...]:
        """The words for what one look at this group can show; the first is dark."""
        if self is Group.YELLOW:
            return ("nothing", "yellow")
        hit = ("nothing", "white", "coloured", "lit before")
        return hit if self is Group.HIT else (*hit, "white and coloured")


def groups_of(weapon: Weapon) -> tuple[Group, Group]:
    """Return the groups that the lamps of one side of a weapon fall into: hits, and an earthed line."""
    return (Group.CUT if weapon.together else Group.HIT, Group.YELLOW)


NOTHING = 0
"""The state of a group with no lamp lit; white and coloured (or yellow) follow from 1 on."""
LIT_BEFORE = 3
"""The state of hit lamps that were lit before the point was pressed, so that the press told nothing."""
BOTH = 4
"""The state of hit lamps that are lit together, white and coloured."""
STATE = {Lamp.WHITE: 1, Lamp.COLOURED: 2, Lamp.YELLOW: 1}

Look = tuple[int, int]
"""Two looks at one group during a trial, the lower state first: (1, 1) is steady white, (0, 1) is white that comes and goes."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen: for each side and group that was looked at, the pairs of looks that agree with the report."""

    looks: Mapping[tuple[str, Group], frozenset[Look]]
    text: tuple[str, ...]
    """The report as it was written."""

    def __hash__(self) -> int:
        return hash((frozenset(self.looks.items()), self.text))


@dataclass(frozen=True, slots=True)
class Arrangement:
    """The electrical side of a trial. Two trials with equal arrangements see the same network."""

    press: str | None = None
    """The side whose point is pressed."""
    on: str | None = None
    """The place that it is pressed on; None is something that does not conduct."""
    touching: tuple[tuple[str, str], ...] = ()
    """Pairs of places in contact."""
    unplugged: tuple[str, ...] = ()
    """Connections undone."""
    bridged: tuple[tuple[str, str, str], ...] = ()
    """(connection, line, line): pins joined."""

    def before_press(self) -> Arrangement:
        """Return the same arrangement with no point pressed."""
        return replace(self, press=None, on=None)


@dataclass(frozen=True, slots=True)
class Trial:
    """One arrangement, what was done to the kit meanwhile, and what was seen."""

    arrangement: Arrangement = field(default_factory=Arrangement)
    swapped: tuple[str, ...] = ()
    """Items replaced by known-good ones."""
    mended: tuple[str, ...] = ()
    """Parts put right beforehand."""
    moves: tuple[str, ...] = ()
    """Movements such as “bend left weapon blade”."""
    examine: tuple[str, ...] = ()
    """Parts or items looked at or felt."""
    found: tuple[str, ...] = ()
    """The signs that the examination showed, any of them, or “fine”."""
    meter: tuple[str, str] | None = None
    """Two places that a meter is held to."""
    reads: Reading | None = None
    box: str | None = None
    """The item that is in the test box."""
    lights: tuple[tuple[str, frozenset[Look]], ...] = ()
    """For each pair of lines of the box, the looks at its lamp that agree with the report."""
    gauge: tuple[str, str] | None = None
    """(side, gauge) tried; `found` says whether it passes or fails."""
    sure: bool = False
    """Whether it was seen beyond doubt, so that none of it is misread."""
    hearsay: float = 0.0
    """Where it is what a fencer says and nobody has watched: how often there is nothing wrong when that is said, else 0."""
    unsaid: tuple[Trial, ...] = ()
    """What goes without saying for whoever tells of it: “to the mask they give no light” has seen others light."""
    unremarked: tuple[str, ...] = ()
    """Plugs that it draws first in its case, and of which nobody says how they sat."""
    times: int = 1
    """How many times it was done with this result."""
    seen: Seen | None = None
    note: str = ""

    @property
    def unsteady(self) -> bool:
        """Whether what was seen came and went."""
        looks = self.seen.looks.values() if self.seen else ()
        lamps = any(all(a != b for a, b in allowed) for allowed in looks)
        return lamps or bool(self.reads and self.reads.wobbles) or any((0, 1) in allowed for _, allowed in self.lights)

    @property
    def acts(self) -> bool:
        """Whether something was exchanged or mended and nothing tried with it yet."""
        done = self.unseen() == Trial(swapped=self.swapped, mended=self.mended)
        return done and bool(self.swapped or self.mended) and self.seen is None

    def at_rest(self) -> Trial:
        """Return the trial of the strip at rest in which nothing lit of what this one reports."""
        looks = dict.fromkeys(self.seen.looks if self.seen else (), frozenset({(NOTHING, NOTHING)}))
        return Trial(seen=Seen(looks, ("nothing",)))

    def bare(self) -> Trial:
        """Return the trial without its wording and repeats, to compare it with others."""
        return replace(self, note="", times=1, unsaid=(), unremarked=(), seen=self.seen and replace(self.seen, text=()))

    def unseen(self) -> Trial:
        """Return what was done, without the result."""
        return replace(self.bare(), seen=None, found=(), reads=None, lights=(), sure=False, hearsay=0.0)

    def with_own_kit(self) -> Trial:
        """Return what was done, without the result, as it is done with nothing exchanged and nothing mended."""
        return replace(self.unseen(), swapped=(), mended=())
