"""The strip set-up as plain values: parts, failures, places and connections, and the network that sound kit makes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.kit.names import job

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from foible.circuit import Network
    from foible.kit.names import Book
    from foible.kit.weapon import Weapon

__all__ = ["Connection", "Failure", "Item", "Part", "Point", "Repair", "Setup"]


@dataclass(frozen=True, slots=True)
class Item:
    """A thing that is exchanged as a whole."""

    id: str
    """Such as “left cord” or “piste”."""
    kind: str
    side: str | None
    exchange_s: float | None
    """Seconds to exchange it at the piste; None where it cannot be."""
    box: Mapping[str, str] = field(repr=False)
    """Node by line letter that a test box is joined to."""
    words: str = field(repr=False)
    """What screens call it."""
    tool: bool = field(repr=False)
    """Whether it is the armourer's own, of no interest until a trial has used a tool."""

    @property
    def handling(self) -> bool:
        """Whether it is no kit but how kit is worn and held, which is put right and neither mended nor exchanged."""
        return self.kind == "handling"


@dataclass(frozen=True, slots=True)
class Part:
    """A place inside an item that can fail."""

    id: str
    """Such as “left cord clip bite”."""
    item: str
    name: str
    conducts: bool
    """Whether the part is a branch of the network, which then bears the part's id."""
    spread: float
    """95 % of good parts lie between ohms / spread and ohms × spread."""
    source: str
    moved_by: Mapping[str, float] = field(repr=False)
    """Chance that an intermittent failure shows, by movement such as “tug left cord weapon plug”."""
    held_by: Mapping[str, float] = field(repr=False)
    """Chance that a failure is gone, by movement."""
    parted_by: Mapping[str, float] = field(repr=False)
    """Of the times that a failure shows under a movement, the share in which it stays, by movement."""
    look_s: float | None = field(repr=False)
    """Seconds at the bench to open the place and see or feel it; None where an armourer cannot look."""


@dataclass(frozen=True, slots=True)
class Failure:
    """One part in one failure mode, with the ladder of its severities."""

    id: str
    """Such as “left cord clip bite: off, dirty or corroded”."""
    part: str
    item: str
    mode: str
    raises: tuple[str, ...]
    """Branches that get the severity in series."""
    joins: tuple[tuple[str, str], ...]
    """Node pairs that get joined by the severity."""
    sets: Mapping[str, float]
    """Branches held at a resistance [Ω] whatever is done to them."""
    exchange: tuple[str, str] | None
    """Two branches whose far ends are exchanged."""
    ladder: tuple[tuple[float, float], ...] = field(repr=False)
    """(severity [Ω], share) steps."""
    rate: float = field(repr=False)
    """How often, relative to the other failures of the kit."""
    intermittent: float = field(repr=False)
    """Share of these failures that come and go."""
    source: str = field(repr=False)
    signs: Mapping[str, float] = field(repr=False)
    gauges: Mapping[str, float] = field(repr=False)
    """For each gauge, the probability that it fails the item."""
    spoils: str | None = field(repr=False)
    """A tool whose readings then mean nothing."""
    profile: str | None = field(repr=False)
    """The rule profile that the apparatus follows instead of its own."""
    repair: str | None = field(repr=False)
    """How it is usually mended: a name of `Setup.repairs`; None where the kit files do not say."""
    when: Mapping[str, float] = field(repr=False, default_factory=dict)
    """By how much facts of the place or the kit change the rate."""
    out_of_use: bool = field(repr=False, default=False)
    """Whether the item is dangerous and taken out of use."""

    @property
    def job(self) -> str:
        """What has to be done about it, as “item: repair”; where the kit files name no repair, its mode stands for one."""
        return job(self.item, self.repair or self.mode)

    def seen(self, looked: Collection[str], found: Collection[str]) -> bool:
        """Return whether an eye that looked at parts found a sign of it."""
        return self.part in looked and not self.signs.keys().isdisjoint(found)

    @property
    def usual_ohms(self) -> float:
        """Its commonest severity [Ω]; NaN where it has none."""
        return max(self.ladder, key=lambda step: step[1])[0] if self.ladder else math.nan


@dataclass(frozen=True, slots=True)
class Repair:
    """One job at the bench. Failures that name the same repair are mended the same way."""

    name: str
    """Such as “clean the foil point”."""
    steps: tuple[str, ...] = field(repr=False)
    tools: tuple[str, ...] = field(repr=False)
    supplies: tuple[str, ...] = field(repr=False)
    """What is used up."""
    minutes: float
    """At the bench, not counting the time that glue takes to set."""
    price: float
    """Euro for the parts used."""
    cautions: tuple[str, ...] = field(repr=False)
    """The dangers, in whole sentences."""
    clause: str | None = field(repr=False)
    """Rulebook, edition and clause, and what it forbids or asks."""
    source: str = field(repr=False)
    """The source of the method, or of its time; a key of `Setup.citations`."""
    piste_s: float | None = field(repr=False, default=None)
    """At the piste, with the bout stopped [s]; None where nobody would do it there."""
    set_up: bool = field(repr=False, default=False)
    """Whether it puts the strip's set-up right, rather than mending something."""


@dataclass(frozen=True, slots=True)
class Connection:
    """A plug or clip on one side: a branch per line, and the nodes that a bridge would join."""

    id: str
    pins: Mapping[str, str]
    """Branch name by line letter."""
    bridge: Mapping[str, str]
    """Node by line letter, on the side towards the apparatus; empty where pins cannot be bridged."""


@dataclass(frozen=True, slots=True)
class Point:
    """What a weapon hits with: branches that a hit opens and closes, and the nodes that touch."""

    opens: tuple[str, ...]
    closes: tuple[str, ...]
    face: str
    collar: str | None
    """The node that meets cloth around a pressed point."""

    @property
    def moves(self) -> bool:
        """Whether there is a point that is pressed, rather than an edge that cuts."""
        return bool(self.opens or self.closes)


@dataclass(frozen=True, eq=False)
class Setup:
    """A whole strip set-up of sound kit. It equals itself alone, so that what is worked out for it can be cached."""

    kind: Weapon
    profile: str
    network: Network = field(repr=False)
    items: Book[Item] = field(repr=False)
    parts: Book[Part] = field(repr=False)
    failures: Book[Failure] = field(repr=False)
    repairs: Book[Repair] = field(repr=False)
    """Every repair in the kit files, including those of other weapons."""
    places: Book[str] = field(repr=False)
    """Node by place."""
    cloth: frozenset[str] = field(repr=False)
    """Places that are soft: cloth closes around the point and meets the collar too."""
    long: frozenset[str] = field(repr=False)
    """Places that lie along what they touch."""
    broad: Mapping[str, tuple[str, ...]] = field(repr=False)
    """Further nodes of a place, which long things touch as well."""
    connections: Book[Connection] = field(repr=False)
    movements: Book[str] = field(repr=False)
    """Item by movement such as “bend left weapon blade”."""
    points: Mapping[str, Point] = field(repr=False)
    signs: frozenset[str] = field(repr=False)
    """Every sign that an examination can show, “fine” apart."""
    gauges: frozenset[str] = field(repr=False)
    """Every gauge that some failure does not pass."""
    overlays: tuple[Path, ...] = field(repr=False)
    """Folders laid over Foible's own kit, in which failures' rule profiles are looked for too."""
    citations: Mapping[str, str] = field(repr=False)
    """Full citation by source key."""

    @property
    def weapon(self) -> str:
        """The weapon's name."""
        return self.kind.name
