"""An edition's name in, all of its requirements out, with what it changes in the edition that it stands beside.

Every problem of a file is collected and located by line: an edition that Foible brings is read just as own rules are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

from pydantic import ValidationError

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.rules.files import DATA, GapTable, RequirementTable, RulesFile, WordsFile
from foible.tomlfile import line_of, read_model, read_table, toml_lines

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.rules.files import ChangeTable, DropTable, SlipTable

__all__ = [
    "Edition",
    "Stated",
    "edition_named",
    "edition_titles",
    "kinds_of_rules",
    "tools_of_rules",
    "weapons_of_rules",
    "words",
]

HEAD = "edition.toml"
Table = TypeVar("Table", RequirementTable, GapTable)


@dataclass(frozen=True)
class Stated:
    """A requirement as a file writes it, with the edition that states it so."""

    table: RequirementTable
    source: str
    stated_by: str
    """The title of the edition that has it in these words."""


@dataclass(frozen=True, eq=False)
class Edition:
    """An edition of a rulebook, whole. Each is made once, so that one is found again by what it is."""

    id: str
    title: str
    beside: str | None
    stated: tuple[Stated, ...]
    dropped: tuple[DropTable, ...]
    slips: tuple[SlipTable, ...]
    gaps: tuple[GapTable, ...]
    books: Mapping[str, str]
    """What is cited as the source, by the word that a requirement gives as its book."""
    called: Mapping[str, str]
    """What parts of the rulebook beside are called here, by what they are called there."""


@dataclass(frozen=True)
class _File:
    path: Path
    data: RulesFile

    def problem(self, where: tuple[str | int, ...], seen: str, remedy: str) -> Problem:
        _, text = read_table(self.path)
        return Problem(str(self.path), line_of(toml_lines(text), where), seen, remedy)


@lru_cache(maxsize=1)
def words() -> WordsFile:
    """Return the kinds, tools and stations that files of rules may name."""
    return read_model(WordsFile, DATA / "words.toml")


def kinds_of_rules() -> Mapping[str, tuple[str, ...]]:
    """Return the kinds of items that the rules are about, by name, each with what it is called."""
    return {name: (name, kind.words) for name, kind in words().kinds.items()}


def weapons_of_rules() -> tuple[str, ...]:
    """Return the weapons that the rules are about."""
    return words().weapons


def tools_of_rules() -> Mapping[str, str]:
    """Return what the tools of control are called, by name."""
    return words().tools


def edition_titles(overlays: Sequence[Path] = ()) -> Mapping[str, str]:
    """Return the titles of all editions by name, Foible's first. Raises ProblemsError for slips in a file of `overlays`."""
    return {name: _read(name, tuple(overlays), _stamp(overlays))[0].data.title for name in _names(overlays)}


def edition_named(name: str, overlays: Sequence[Path] = ()) -> Edition:
    """Return an edition by its name; `overlays` are files of own rules, each an edition called as its file is.

    Raises UnknownNameError where there is no such edition, ProblemsError for slips in a file.
    """
    if name not in _names(overlays):
        raise UnknownNameError(what="edition of the rules", name=name, known=_names(overlays), all_named=True)
    return _edition(name, tuple(overlays), _stamp(overlays))


def _names(overlays: Sequence[Path]) -> dict[str, Path]:
    """Return where every edition is, by name. Raises ProblemsError where two would have one name."""
    names = {folder.name: folder for folder in sorted(DATA.iterdir()) if (folder / HEAD).is_file()}
    for path in overlays:
        if path.stem in names:
            seen = f"there is an edition called “{path.stem}” already"
            raise ProblemsError([Problem(str(path), None, seen, "give the file another name: the edition is called by it")])
        names[path.stem] = path
    return names


def _stamp(overlays: Sequence[Path]) -> tuple[tuple[int, int], ...]:
    return tuple((path.stat().st_mtime_ns, path.stat().st_size) if path.is_file() else (0, 0) for path in overlays)


@lru_cache(maxsize=32)
def _read(name: str, overlays: tuple[Path, ...], stamp: object) -> tuple[_File, ...]:
    """Return the files of an edition, the one with its title first."""
    del stamp
    names = _names(overlays)
    path = names[name]
    if path in overlays:
        file = _File(path, read_model(RulesFile, path))
        problems = list(_of_the_head(file, names))
        if problems:
            raise ProblemsError(problems)
        return (file,)
    rest = sorted(each for each in path.glob("*.toml") if each.name != HEAD)
    return tuple(_File(each, read_model(RulesFile, each)) for each in (path / HEAD, *rest))


def _of_the_head(file: _File, names: Mapping[str, Path]) -> Iterator[Problem]:
    if not file.data.title:
        remedy = 'give one at the top, such as title = "Lanternfield rules, 2026"'
        yield Problem(str(file.path), 1, "these rules have no title", remedy)
    before = list(names)[: list(names).index(file.path.stem)]
    if file.data.beside is not None and file.data.beside not in before:
        remedy = f"there is {', '.join(before)}; own rules can stand beside others that are given before them"
        yield file.problem(("beside",), f"there is no edition called “{file.data.beside}” to stand beside", remedy)


@lru_cache(maxsize=32)
def _edition(name: str, overlays: tuple[Path, ...], stamp: object) -> Edition:
    files = _read(name, overlays, stamp)
    head = files[0].data
    base = _edition(head.beside, overlays, stamp) if head.beside else None
    laying = _Laying(head.title, head.books, {**(base.books if base else {}), "material": head.title, **head.books})
    laying.stated = {each.table.id: each for each in base.stated} if base else {}
    slips, gaps = (base.slips, base.gaps) if base else ((), ())
    if (
        base and head.books
    ):  # another text: what it leaves as it is stands in it all the same, and so do the gaps, but not the slips
        laying.take_over(head.called)
        slips, gaps = (), tuple(_renamed(gap, head.called, "clauses") for gap in gaps)
    for file in files:
        laying.lay(file)
    if laying.problems:
        raise ProblemsError(laying.problems)
    return Edition(
        name,
        head.title,
        head.beside,
        tuple(laying.stated.values()),
        tuple(each for file in files for each in file.data.drop),
        (*slips, *(each for file in files for each in file.data.slip)),
        (*gaps, *(each for file in files for each in file.data.gap)),
        laying.books,
        head.called,
    )


def _renamed(table: Table, called: Mapping[str, str], *keys: str) -> Table:
    """Return a table whose clauses have the names that they have in another rulebook."""

    def here(clause: str) -> str:
        return next((clause.replace(there, name, 1) for there, name in called.items() if clause.startswith(there)), clause)

    given = {key: getattr(table, key) for key in keys}
    return table.model_copy(
        update={key: here(value) if isinstance(value, str) else tuple(map(here, value)) for key, value in given.items()}
    )


class _Laying:
    """What files of an edition add, change and drop, laid over the requirements of the edition beside."""

    def __init__(self, title: str, own: Mapping[str, str], books: Mapping[str, str]) -> None:
        self.title, self.own, self.books = title, own, books
        self.stated: dict[str, Stated] = {}
        self.problems: list[Problem] = []

    def take_over(self, called: Mapping[str, str]) -> None:
        """Have this rulebook be the source of all that the one beside states."""
        for key, each in self.stated.items():
            table = _renamed(each.table, called, "clause", "also")
            self.stated[key] = Stated(table, self.own.get(table.book, self.title), each.stated_by)

    def lay(self, file: _File) -> None:
        """Drop, change and add what a file says."""
        for at, dropped in enumerate(file.data.drop):
            if self.stated.pop(dropped.id, None) is None:
                self.problems.append(file.problem(("drop", at), *_no_such(dropped.id, self.stated)))
        for at, change in enumerate(file.data.change):
            if change.id in self.stated:
                self._state(file, ("change", at), _changed(file, at, change, self.stated[change.id].table, self.problems))
            else:
                self.problems.append(file.problem(("change", at), *_no_such(change.id, self.stated)))
        for at, table in enumerate(file.data.requirement):
            if table.id in self.stated:
                remedy = "give it another id, or write [[change]] to change the one there is"
                self.problems.append(file.problem(("requirement", at), f"there is a requirement “{table.id}” already", remedy))
            else:
                self._state(file, ("requirement", at), table)

    def _state(self, file: _File, where: tuple[str | int, ...], table: RequirementTable) -> None:
        self.problems += (file.problem(where, *wrong) for wrong in _unknown(table, self.books))
        self.stated[table.id] = Stated(table, self.own.get(table.book, self.title), self.title)


def _changed(file: _File, at: int, change: ChangeTable, table: RequirementTable, problems: list[Problem]) -> RequirementTable:
    try:
        return RequirementTable.model_validate(change.applied(table))
    except ValidationError as error:
        told = (f"with this change, {each['msg'].lower()}" for each in error.errors(include_url=False))
        problems += (file.problem(("change", at), seen, "correct the change") for seen in told)
        return table


def _no_such(name: str, stated: Mapping[str, Stated]) -> tuple[str, str]:
    wrong = UnknownNameError(what="requirement", name=name, known=stated)
    remedy = wrong.remedy if "did you mean" in wrong.remedy else "`foible limits` lists them with their ids"
    return f"there is no requirement called “{name}” to change", remedy


def _unknown(table: RequirementTable, books: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield the words of a requirement that files of rules may not use, and what they may."""
    known = words()
    named = (("kind", table.kind, known.kinds), ("tool", table.tool, known.tools), ("book", table.book, books))
    for key, value, allowed in named:
        if value not in allowed:
            yield f"{table.id}: there is no {key} “{value}”", f"there is {', '.join(allowed)}"
    for weapon in table.weapons:
        if weapon not in known.weapons:
            yield f"{table.id}: there is no weapon “{weapon}”", f"there is {', '.join(known.weapons)}"
