"""Former names: the names files of all folders in, a table out that says what a thing is called now."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from foible.errors import ProblemsError
from foible.kit.braces import filled, side_words
from foible.kit.folders import KitFolders, Read
from foible.kit.names import SIDES, plain
from foible.tomlfile import Strict, Words, read_model

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.errors import Problem

__all__ = ["Former", "FormerNames", "Renamed", "What", "load_former"]

What = Literal[
    "part", "item", "place", "connection", "movement", "sign", "gauge", "repair", "failure", "weapon", "slot", "model", "profile",
    "trial",
]  # fmt: skip
"""What a name can be the name of."""
FILE = "names.toml"


class FormerTable(Strict):
    """One name that has changed, with {side} and {other} to be filled in."""

    what: What
    was: str = Field(min_length=1)
    is_: str = Field(alias="is", min_length=1)
    until: int | None = Field(None, ge=0)
    """The last version that had the former name; left out in a folder of one's own, it is read whatever the version."""
    weapons: Words = ()
    reason: str = ""


class NamesFile(Strict):
    """The version of Foible's own names, and names that have changed."""

    version: int | None = Field(None, ge=1)
    former: tuple[FormerTable, ...] = ()


@dataclass(frozen=True, slots=True)
class Renamed:
    """A former name that was read as today's, to be reported to whoever used it."""

    what: str
    was: str
    now: str
    since: int | None
    """The version of the names that has the new one; None where a folder of one's own changed it."""

    def __str__(self) -> str:
        since = "" if self.since is None else f" (since version {self.since} of the names)"
        return f"“{self.was}” is now called “{self.now}”{since}"


@dataclass(frozen=True, slots=True)
class Former:
    """One name that has changed."""

    what: What
    was: str
    now: str
    until: int | None
    weapons: frozenset[str]
    """Plain names of the weapons that it has changed for; empty for all."""
    origin: Read[NamesFile] = field(repr=False, compare=False)
    number: int
    """Its place in the file, from 0."""
    shipped: bool
    """Whether it is one of Foible's own."""

    def holds_for(self, weapon: str | None) -> bool:
        """Return whether it has changed for a weapon."""
        return weapon is None or not self.weapons or plain(weapon) in self.weapons

    def problem(self, key: str, seen: str, remedy: str) -> Problem:
        """Return a problem at a key of this entry."""
        return self.origin.problem(("former", self.number, key), seen, remedy)


@dataclass(frozen=True)
class FormerNames:
    """Every name that has changed. `version` is that of today's names."""

    version: int
    entries: tuple[Former, ...] = field(repr=False)
    _by_name: Mapping[tuple[str, str], tuple[Former, ...]] = field(repr=False, compare=False)

    @classmethod
    def of(cls, version: int, entries: Sequence[Former]) -> FormerNames:
        """Return the table of some entries."""
        found: dict[tuple[str, str], tuple[Former, ...]] = {}
        for entry in entries:
            key = (entry.what, plain(entry.was))
            found[key] = (*found.get(key, ()), entry)
        return cls(version, tuple(entries), found)

    def renamed(
        self, what: What, name: str, known: Container[str], *, weapon: str | None = None, written: int | None = None
    ) -> Renamed | None:
        """Return what a former name is today; None where it is one of the `known` names, or not the former name of any.

        `written` is the version of the names that it was written in; without it, the latest use of the name counts.
        """
        if not self._by_name or name in known:
            return None
        last = None
        for last in self.steps(what, name, weapon, written):  # noqa: B007 — the last one is wanted
            pass
        if last is None or last.now not in known:
            return None
        return Renamed(what, name, last.now, None if last.until is None else last.until + 1)

    def steps(self, what: str, name: str, weapon: str | None, written: int | None) -> Iterator[Former]:
        """Yield the changes that lead from a former name to today's; a name that comes back ends them."""
        seen: set[str] = set()
        while plain(name) not in seen:
            seen.add(plain(name))
            entry = self._change(what, name, weapon, written)
            if entry is None:
                return
            yield entry
            name, written = entry.now, written if entry.until is None else entry.until + 1

    def _change(self, what: str, name: str, weapon: str | None, written: int | None) -> Former | None:
        """Return how a name changed next after a version."""
        changes = [entry for entry in self._by_name.get((what, plain(name)), ()) if entry.holds_for(weapon)]
        changes.sort(key=_until)
        if written is None:
            return changes[-1] if changes else None
        return next((entry for entry in changes if _until(entry) >= written), None)


def load_former(overlays: Sequence[Path] = ()) -> FormerNames:
    """Return the names that have changed, Foible's own and those of the overlays.

    Raises ProblemsError with every slip that the files show by themselves; `trials.former_names` checks them against the kit too.
    """
    return _loaded(tuple(overlays), KitFolders(overlays).stamp())


@lru_cache(maxsize=4)
def _loaded(overlays: tuple[Path, ...], stamp: object) -> FormerNames:
    del stamp
    own, *others = [
        Read(path, read_model(NamesFile, path)) for folder in KitFolders(overlays).folders if (path := folder / FILE).is_file()
    ]
    version = own.data.version or 0
    problems = [] if version else [own.problem((), "the names have no version", "add version = 1")]
    entries = []
    for read in (own, *others):
        if read is not own and read.data.version is not None:
            remedy = "leave it out: only Foible's own names have a version; those in your folder always apply"
            problems.append(read.problem(("version",), "a version of the names", remedy))
        for number, table in enumerate(read.data.former):
            made = list(_changes(table, read, number, shipped=read is own))
            entries += made
            problems += _slips(made[0], table, version)
    names = FormerNames.of(version, entries)
    problems += _tangles(names)
    if problems:
        raise ProblemsError(dict.fromkeys(problems))
    return names


def _changes(table: FormerTable, read: Read[NamesFile], number: int, *, shipped: bool) -> Iterator[Former]:
    """Yield what an entry stands for: one change for each side where it names {side}."""
    for side in SIDES if "{side}" in table.was else SIDES[:1]:
        was, now = filled([table.was, table.is_], side_words(side))
        weapons = frozenset(plain(weapon) for weapon in table.weapons)
        yield Former(table.what, was, now, table.until, weapons, read, number, shipped)


def _slips(entry: Former, table: FormerTable, version: int) -> Iterator[Problem]:
    """Yield what is wrong with an entry by itself."""
    if "{" in table.is_ and "{side}" not in table.was:
        yield entry.problem("is", "{side} is only in the new name", "use it in both, or in neither")
    if entry.shipped and table.until is None:
        yield entry.problem("was", "the last version with this name is missing", "add until = …")
    latest = version - 1 if entry.shipped else version
    if table.until is not None and table.until > latest:
        seen = f"version {table.until} is still current: the names are at version {version}"
        yield entry.problem(
            "until", seen, f"give {latest} or less" + (", or raise the version" if entry.shipped else ", or leave it out")
        )


def _tangles(names: FormerNames) -> Iterator[Problem]:
    """Yield entries that repeat one another, or lead in a circle."""
    for number, entry in enumerate(names.entries):
        for earlier in names.entries[:number]:
            same = (earlier.what, plain(earlier.was), earlier.until) == (entry.what, plain(entry.was), entry.until)
            if same and (not earlier.weapons or not entry.weapons or earlier.weapons & entry.weapons):
                yield entry.problem("was", f"“{entry.was}” is defined twice", "keep one of the two, or give the weapons of each")
        weapon = min(entry.weapons, default=None)
        last = entry
        for last in names.steps(entry.what, entry.was, weapon, entry.until):  # noqa: B007 — the last one is wanted
            pass
        if any(plain(last.now) == plain(step.was) for step in (entry, *names.steps(entry.what, entry.was, weapon, entry.until))):
            seen = f"“{entry.was}” leads in a circle, back to “{last.now}”"
            yield entry.problem("is", seen, "keep the latest change")


def _until(entry: Former) -> float:
    return float("inf") if entry.until is None else entry.until
