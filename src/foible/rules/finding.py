"""Words in, as somebody types them; out, the requirements that they are about, the likeliest first.

Every word has to begin a word of a requirement, wherever that stands; a clause finds itself and what is below it. Accents and
capitals do not matter.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from foible.kit import plain
from foible.rules.editions import words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.rules.requirements import Requirement

__all__ = ["found", "near_words"]

CLAUSE = re.compile(r"([mt])\.?(\d[\w.]*)")
"""A clause as people write it: m.29.1.c, m29.1, t.68."""
IGNORED = frozenset(
    {"a", "an", "and", "at", "be", "does", "for", "how", "in", "is", "it", "limit", "many", "may", "much"}
    | {"must", "of", "on", "or", "rule", "rules", "say", "the", "to", "what"}
)
"""Words that a question is made of, rather than what it is about."""
SHORTEST_NEAR = 3


class _Entry(NamedTuple):
    """A requirement as it is searched: its words, each with a space before it."""

    requirement: Requirement
    kind: str
    head: str
    rest: str
    clauses: tuple[str, ...]


def found(among: Sequence[Requirement], said: str) -> tuple[Requirement, ...]:
    """Return the requirements that all of the words in `said` fit, the likeliest first; without words, all as they are."""
    clauses, wanted = _read(said)
    if not clauses and not wanted:
        return tuple(among)
    ranked = []
    for place, requirement in enumerate(among):
        entry = _entry(requirement)
        marks = [_mark(entry, word) for word in wanted] + [_clause_mark(entry, clause) for clause in clauses]
        if None not in marks:
            ranked.append((sum(mark or 0 for mark in marks), not requirement.has_figure, place, requirement))
    return tuple(requirement for *_, requirement in sorted(ranked, key=lambda each: each[:3]))


def near_words(among: Iterable[Requirement], said: str) -> tuple[str, ...]:
    """Return words that come near those in `said` that fit nothing at all, the nearest first."""
    entries = [_entry(requirement) for requirement in among]
    _, wanted = _read(said)
    unknown = [word for word in wanted if len(word) >= SHORTEST_NEAR and all(_mark(entry, word) is None for entry in entries)]
    if not unknown:
        return ()
    known = sorted(
        {word for entry in entries for word in f"{entry.kind}{entry.head}{entry.rest}".split() if len(word) >= SHORTEST_NEAR}
    )
    return tuple(near for word in unknown for near in get_close_matches(word, known, n=2, cutoff=0.7))


def _read(said: str) -> tuple[list[str], list[str]]:
    """Return the clauses and the words that are looked for."""
    clauses, wanted = [], []
    for word in plain(said).split():
        if match := CLAUSE.fullmatch(word.strip(".,;:?!")):
            clauses.append(f"{match[1]}.{match[2].rstrip('.')}")
        else:
            wanted += [each for each in _split(word) if each not in IGNORED]
    return clauses, wanted


def _split(text: str) -> list[str]:
    return re.findall(r"[^\W_]+(?:\.\d+)*", plain(text))


def _mark(entry: _Entry, word: str) -> int | None:
    """Return 0 where a word stands in the kind of item, 1 where in what is measured, 2 where elsewhere, None where nowhere."""
    forms = (f" {word}", f" {word[:-1]}") if word.endswith("s") and len(word) > SHORTEST_NEAR else (f" {word}",)
    places = (entry.kind, entry.head, entry.rest)
    return next((mark for mark, text in enumerate(places) if any(form in text for form in forms)), None)


def _clause_mark(entry: _Entry, clause: str) -> int | None:
    """Return 0 for the clause itself, 1 for one below it, 2 and 3 for clauses cited beside; None for others."""
    for place, each in enumerate(entry.clauses):
        cited = 2 * bool(place)
        if each == clause:
            return cited
        if each.startswith(f"{clause}."):
            return cited + 1
    return None


@lru_cache(maxsize=4096)
def _entry(requirement: Requirement) -> _Entry:
    known = words()
    kind = known.kinds[requirement.kind]
    units = known.units.get(requirement.unit, ())
    named = (kind.words, requirement.kind, *requirement.weapons)
    head = (requirement.part, requirement.quantity, requirement.figure, *units, *requirement.found_by)
    rest = (
        *kind.also,
        known.tools[requirement.tool],
        requirement.method,
        requirement.note,
        requirement.as_said,
        requirement.clause,
        requirement.station,
        requirement.id,
    )
    clauses = tuple(plain(clause) for clause in (requirement.clause, *requirement.also))
    return _Entry(requirement, _spaced(named), _spaced(head), _spaced(rest), clauses)


def _spaced(texts: Iterable[str]) -> str:
    return "".join(f" {word}" for text in texts for word in _split(text))
