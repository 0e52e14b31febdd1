"""Two editions of the rules in; out, what one has that the other has not, or has otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from foible.rules.editions import edition_named
from foible.rules.requirements import requirements

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from foible.rules.requirements import Requirement

__all__ = ["Difference", "differences"]

COMPARED: Mapping[str, tuple[str, ...]] = {
    "figure": ("figure",),
    "wording": ("quantity", "as_said"),
    "weapons": ("weapons",),
    "how it is checked": ("tool", "method", "station"),
    "whether control has to": ("required",),
    "note": ("note",),
    "clause": ("clause", "also"),
}
"""What is compared, and the fields that it is in."""
What = Literal["added", "dropped", "changed", "clause"]


@dataclass(frozen=True)
class Difference:
    """What two editions have otherwise about one thing; None where one of them does not have it."""

    id: str
    was: Requirement | None
    now: Requirement | None
    otherwise: tuple[str, ...] = ()
    """What differs, in the words of `COMPARED`."""
    why: str = ""
    """What the file says of a requirement that is not there."""

    @property
    def what(self) -> What:
        """“added”, “dropped”, “changed”, or “clause” where it only stands under another number."""
        if self.was is None:
            return "added"
        if self.now is None:
            return "dropped"
        return "clause" if self.otherwise == ("clause",) else "changed"

    @property
    def either(self) -> Requirement:
        """The requirement in the later edition, or where it is not there, in the other."""
        either = self.now or self.was
        assert either is not None  # noqa: S101 — one of them there is
        return either


def differences(first: str, second: str, overlays: Sequence[Path] = ()) -> tuple[Difference, ...]:
    """Return what the edition called `second` has otherwise than `first`, in the order of control.

    Raises UnknownNameError where there is no such edition, ProblemsError for slips in a file.
    """
    was = {each.id: each for each in requirements(first, overlays=overlays)}
    now = {each.id: each for each in requirements(second, overlays=overlays)}
    called = {**edition_named(first, overlays).called, **edition_named(second, overlays).called}
    why = {each.id: each.why for name in (first, second) for each in edition_named(name, overlays).dropped}
    order = list(was) + [each for each in now if each not in was]
    found = (
        Difference(each, was.get(each), now.get(each), _otherwise(was.get(each), now.get(each), called), why.get(each, ""))
        for each in order
    )
    kinds = list(dict.fromkeys(each.kind for each in (*was.values(), *now.values())))
    differing = [each for each in found if each.was is None or each.now is None or each.otherwise]
    return tuple(sorted(differing, key=lambda each: kinds.index(each.either.kind)))


def _otherwise(was: Requirement | None, now: Requirement | None, called: Mapping[str, str]) -> tuple[str, ...]:
    if was is None or now is None:
        return ()

    def same(field: str) -> bool:
        return _plain(getattr(was, field), called) == _plain(getattr(now, field), called)

    return tuple(words for words, fields in COMPARED.items() if not all(same(field) for field in fields))


def _plain(value: object, called: Mapping[str, str]) -> object:
    """Return a value as it is, clauses with one name for what the two rulebooks call otherwise."""
    if isinstance(value, tuple):
        return tuple(_plain(each, called) for each in value)
    if isinstance(value, str):
        return next((value.replace(here, there, 1) for there, here in called.items() if value.startswith(here)), value)
    return value
