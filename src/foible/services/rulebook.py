"""What surfaces ask of the rulebook: what it says of something, how editions differ, what it leaves open.

A question in, of words, an item or a weapon; the requirements out, each beside the other editions and with what matters there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.kit import plain
from foible.rules import (
    USUAL_EDITION,
    Difference,
    Edition,
    Requirement,
    differences,
    edition_named,
    editions,
    found,
    kinds_of_rules,
    near_words,
    requirements,
    tools_of_rules,
    weapons_of_rules,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path


__all__ = ["Answer", "Asked", "Beside", "Difference", "Edition", "Requirement", "Rulebook", "RulesSaid"]


SURE = {
    "derived": "follows from it, not said outright",
    "secondary": "read in another source",
    "memory": "from memory",
    "rule text": "rule text",
}


@dataclass(frozen=True)
class Asked:
    """What is asked for; empty is whatever there is."""

    words: str = ""
    kind: str = ""
    weapon: str = ""
    edition: str = USUAL_EDITION

    @property
    def narrow(self) -> bool:
        """Whether anything is asked for in particular."""
        return bool(self.words.strip() or self.kind or self.weapon)


@dataclass(frozen=True)
class Beside:
    """What another edition has in the same place."""

    title: str
    requirement: Requirement | None
    same: bool
    why: str = ""
    """Why it is not there, in the file's words."""


@dataclass(frozen=True)
class Answer:
    """A requirement, what other editions have, and what is odd or open at its clause."""

    requirement: Requirement
    beside: tuple[Beside, ...]
    slips: tuple[str, ...]
    gaps: tuple[str, ...]


@dataclass(frozen=True)
class RulesSaid:
    """What the rulebook says to what was asked."""

    asked: Asked
    edition: Edition
    answers: tuple[Answer, ...]
    total: int
    """How many there are; `answers` may be the first of them."""
    near: tuple[str, ...]
    """Words that were perhaps meant, where nothing was found."""


class Rulebook:
    """The editions that Foible brings, and files of own rules beside them."""

    def __init__(self, overlays: Sequence[Path] = ()) -> None:
        self.overlays = tuple(overlays)

    @property
    def titles(self) -> Mapping[str, str]:
        """The titles of the editions by name. Raises ProblemsError for slips in a file of own rules."""
        return editions(self.overlays)

    def check(self) -> None:
        """Read every edition. Raises ProblemsError for slips in a file of own rules."""
        for name in self.titles:
            edition_named(name, self.overlays)

    @property
    def usual(self) -> str:
        """The edition that is asked where none is named: own rules where there are any, the last of them."""
        return self.overlays[-1].stem if self.overlays else USUAL_EDITION

    @property
    def kinds(self) -> Mapping[str, str]:
        """What the kinds of items are called, by name."""
        return {name: forms[-1] for name, forms in kinds_of_rules().items()}

    @property
    def weapons(self) -> Mapping[str, str]:
        """The weapons by name."""
        return {name: name for name in weapons_of_rules()}

    @staticmethod
    def tool(name: str) -> str:
        """Return what a tool is called."""
        return tools_of_rules()[name]

    @staticmethod
    def sure(confidence: str) -> str:
        """Return in words how sure it is, where it is not rule text."""
        return SURE[confidence]

    def counts(self, edition: str) -> Mapping[str, int]:
        """Return how many requirements an edition has by kind, in the order of control. Raises UnknownNameError."""
        counted: dict[str, int] = {}
        for each in requirements(edition, overlays=self.overlays):
            counted[each.kind] = counted.get(each.kind, 0) + 1
        return counted

    def said(self, asked: Asked, *, most: int | None = None) -> RulesSaid:
        """Return what an edition says of something, at most the first `most` answers of all.

        Raises UnknownNameError for an edition, a kind or a weapon that there is not.
        """
        edition = edition_named(asked.edition, self.overlays)
        kind, weapon = _known(asked)
        among = requirements(asked.edition, kind=kind, weapon=weapon, overlays=self.overlays)
        hits = _by_kind(found(among, asked.words))
        near = () if hits else near_words(requirements(asked.edition, overlays=self.overlays), asked.words)
        others = [(edition_named(name, self.overlays), self._by_id(name)) for name in self.titles if name != edition.id]
        answers = tuple(_answer(each, edition, others) for each in hits[:most])
        return RulesSaid(asked, edition, answers, len(hits), near)

    def differences(self, asked: Asked, second: str) -> tuple[Difference, ...]:
        """Return what the edition called `second` has otherwise than the one asked, of what is asked for in either.

        Raises UnknownNameError for an edition, a kind or a weapon that there is not.
        """
        kind, weapon = _known(asked)
        every = (requirements(name, kind=kind, weapon=weapon, overlays=self.overlays) for name in (asked.edition, second))
        wanted = {each.id for among in every for each in found(among, asked.words)}
        return tuple(each for each in differences(asked.edition, second, self.overlays) if each.id in wanted)

    def _by_id(self, edition: str) -> dict[str, Requirement]:
        return {each.id: each for each in requirements(edition, overlays=self.overlays)}


def _by_kind(hits: Sequence[Requirement]) -> tuple[Requirement, ...]:
    """Return the hits with those of a kind together, the kind of the best hit first."""
    kinds = list(dict.fromkeys(each.kind for each in hits))
    return tuple(sorted(hits, key=lambda each: kinds.index(each.kind)))


def _answer(requirement: Requirement, edition: Edition, others: Sequence[tuple[Edition, Mapping[str, Requirement]]]) -> Answer:
    clauses = {requirement.clause, *requirement.also}
    return Answer(
        requirement,
        tuple(_beside(requirement, other, known.get(requirement.id)) for other, known in others),
        tuple(slip.say for slip in edition.slips if slip.clause == requirement.clause),
        tuple(gap.say for gap in edition.gaps if clauses & set(gap.clauses)),
    )


def _beside(requirement: Requirement, edition: Edition, other: Requirement | None) -> Beside:
    if other is None:
        return Beside(edition.title, None, same=False, why=next((e.why for e in edition.dropped if e.id == requirement.id), ""))
    compared = ("text", "quantity", "required")
    return Beside(edition.title, other, same=all(getattr(other, each) == getattr(requirement, each) for each in compared))


def _known(asked: Asked) -> tuple[str | None, str | None]:
    """Return the kind and the weapon as the rules write them. Raises UnknownNameError."""
    kinds = {plain(form): name for name, forms in kinds_of_rules().items() for form in forms}
    weapons = {plain(name): name for name in weapons_of_rules()}
    kind, weapon = plain(asked.kind), plain(asked.weapon)
    if kind and kind not in kinds:
        raise UnknownNameError(what="kind of item in the rules", name=asked.kind, known=kinds_of_rules(), all_named=True)
    if weapon and weapon not in weapons:
        raise UnknownNameError(what="weapon", name=asked.weapon, known=weapons.values(), all_named=True)
    return kinds.get(kind), weapons.get(weapon)
