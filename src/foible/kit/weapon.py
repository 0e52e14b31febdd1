"""A weapon as a value: what the apparatus measures, which lamps there are, when each lights and how that is put into words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Condition", "Measurement", "Sentence", "Weapon", "WeaponLamp"]


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing and a state that it must be in, such as the “loop” that must be “open”."""

    of: str
    """A measurement, or the kind of a lamp."""
    state: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """What an apparatus measures for a side: the resistance between two groups of inputs, those of a group tied together."""

    name: str
    sources: tuple[str, ...]
    """Inputs: “A”, “opponent C”, “piste”."""
    sinks: tuple[str, ...]
    instead_of: str | None
    """The measurement whose place this one takes in an apparatus with anti-blocking, and whose limits it is judged by."""
    when_opponent: Condition | None
    """What must be so on the opponent's side for it to take that place; None where `instead_of` is None."""


@dataclass(frozen=True, slots=True)
class WeaponLamp:
    """One lamp of a side."""

    kind: str
    """“white”, “coloured” or “yellow”: where its probability stands in every array and report."""
    word: str
    """What a report calls it: its kind, or “orange”."""
    names: Mapping[str, str] = field(hash=False)
    """What people call it, by side."""
    group: str
    """Lamps of one group do not light together; lamps of different groups may."""
    optional: bool
    """An apparatus may do without it, so that it says nothing when it stays dark."""
    lights: tuple[Condition, ...]
    """The measurements that must count as open or as closed: its probability is the product of theirs."""
    blocked_when: Condition | None = None
    """What mostly keeps it dark, though no rule says so; None where nothing does."""
    blocked: float = 0.0
    """Probability that an apparatus keeps it dark then."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words about lamps that hold under conditions."""

    about: str
    """Of the sentences about one thing, the first one that holds is used."""
    when: tuple[Condition, ...]
    say: str
    """With fields in braces, such as “{loop.measured}”; empty where nothing is to be said."""


@dataclass(frozen=True, slots=True)
class Weapon:
    """What sets one weapon apart from the others, apart from its kit."""

    name: str
    word: str
    """What addresses and file names call it: its name without accents."""
    measurements: tuple[Measurement, ...] = field(repr=False, default=())
    lamps: tuple[WeaponLamp, ...] = field(repr=False, default=())
    """From the outside of an apparatus in."""
    sentences: tuple[Sentence, ...] = field(repr=False, default=())

    def measurement(self, name: str) -> Measurement:
        """Return a measurement. Raises UnknownNameError."""
        found = next((each for each in self.measurements if each.name == name), None)
        if found is None:
            raise UnknownNameError(what="measurement", name=name, known=[each.name for each in self.measurements])
        return found

    @property
    def together(self) -> bool:
        """Whether white and coloured can light together, white being no hit lamp there."""
        groups = [each.group for each in self.lamps if each.kind in ("white", "coloured")]
        return len(set(groups)) > 1

    def lamp(self, kind: str) -> WeaponLamp | None:
        """Return the lamp of a kind; None where the weapon has no such lamp."""
        return next((each for each in self.lamps if each.kind == kind), None)

    def lamp_name(self, kind: str, side: str) -> str:
        """Return what people call a lamp; its kind where the weapon has no such lamp, as an apparatus set wrongly may show."""
        lamp = self.lamp(kind)
        return kind if lamp is None else lamp.names[side]

    def lamp_word(self, kind: str) -> str:
        """Return what a report calls a lamp; its kind where the weapon has no such lamp."""
        lamp = self.lamp(kind)
        return kind if lamp is None else lamp.word
