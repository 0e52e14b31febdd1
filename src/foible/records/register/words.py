"""The words that an item is found by: an index of them, kept up to date in the transaction that changes the item.

What somebody types is the beginning of words, so the index is searched by ranges; both kinds of database do that alike.
Whose an item is stands in `people` alone, so that whoever is erased is found no more: it is searched besides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, func, insert, or_, select
from sqlalchemy.orm import aliased

from foible.records.people_tables import PersonRow
from foible.records.register.codes import known_as
from foible.records.register_tables import ItemRow, ItemWordRow, JobLineRow, JobRow
from foible.records.tables import folded

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from sqlalchemy import ColumnElement
    from sqlalchemy.orm import Session

__all__ = ["LATEST", "among_latest", "index_item", "item_ids", "item_words", "tokens"]

LONGEST = 40
SAID = ("code", "kind", "weapon", "name", "state", "notes", "fitted", "made_by")
"""Columns whose words an item is found by."""
FEW = 2000
"""Up to so many items with a word are looked up and the rest filtered; a commoner word is looked for in the latest changed."""
LATEST = 20_000
"""Items changed last among which words are looked for that are all common: the first matches are among the first of them."""
BESIDE = str.maketrans(dict.fromkeys(",.;:/()[]{}“”\"'’–—-_+&#", " "))


def tokens(text: str) -> set[str]:
    """Return the words of a text as they are searched: folded, without punctuation, none longer than the index has room for."""
    return {word[:LONGEST] for word in folded(text).translate(BESIDE).split()}


def item_words(item: Mapping[str, Any], found: Iterable[str]) -> set[str]:
    """Return the words that an item is found by, from its columns and from what was found in it."""
    said = (item.get(name) or "" for name in SAID)
    texts = (" ".join(each.values()) if isinstance(each, dict) else each for each in said)
    return tokens(" ".join((*texts, *found)))


def index_item(session: Session, row: ItemRow) -> None:
    """Note the words that an item is found by as it is now."""
    found = (
        select(JobLineRow.ref)
        .join(JobRow, JobRow.id == JobLineRow.job_id)
        .where(JobRow.item_id == row.id, JobLineRow.kind == "found", JobLineRow.taken_back.is_(None))
    )
    wanted = item_words({name: getattr(row, name) for name in SAID}, session.scalars(found.distinct()))
    there = set(session.scalars(select(ItemWordRow.word).where(ItemWordRow.item_id == row.id)))
    if there - wanted:
        session.execute(delete(ItemWordRow).where(ItemWordRow.item_id == row.id, ItemWordRow.word.in_(there - wanted)))
    if wanted - there:
        session.execute(insert(ItemWordRow), [{"item_id": row.id, "word": word} for word in sorted(wanted - there)])


def item_ids(
    session: Session, words: str, narrow: Sequence[ColumnElement[bool]] = (), *, limit: int = 20, offset: int = 0
) -> list[int]:
    """Return the IDs of the items of which every word begins a word, the latest changed first; a whole code comes first of all.

    `narrow` are conditions on the item besides. Where every word is a common one, only the `LATEST` items are searched.
    """
    typed = sorted(tokens(words), key=len, reverse=True)
    latest = select(ItemRow.id).where(*narrow).order_by(ItemRow.changed.desc(), ItemRow.id.desc())
    if not typed:
        return list(session.scalars(latest.limit(limit).offset(offset)))
    counts = {word: _count(session, word) for word in typed}
    rarest = min(typed, key=counts.__getitem__)
    if counts[rarest] < FEW:
        having = latest.where(ItemRow.id.in_(_having(rarest)), *(_has(ItemRow, word) for word in typed if word != rarest))
    else:  # the matches lie close together, so the first are soon found
        among = aliased(ItemRow, latest.with_only_columns(ItemRow).limit(LATEST).subquery())
        having = select(among.id).where(*(_has(among, word) for word in typed))
    whole = session.scalar(select(ItemRow.id).where(ItemRow.code == known_as(words), *narrow))
    found = list(session.scalars(having.limit(limit + offset)))
    if whole is not None:
        found = [whole, *(each for each in found if each != whole)]
    return found[offset : offset + limit]


def among_latest(session: Session, words: str) -> bool:
    """Return whether items are left out of a search, as every word is a common one and there are more than `LATEST` items."""
    typed = tokens(words)
    there = session.scalar(select(ItemRow.id).order_by(ItemRow.id).limit(1).offset(LATEST)) if typed else None
    return there is not None and all(_count(session, word) >= FEW for word in typed)


def _begins(word: str) -> ColumnElement[bool]:
    return (ItemWordRow.word >= word) & (ItemWordRow.word < word[:-1] + chr(ord(word[-1]) + 1))


def _owned(item: type[ItemRow], word: str) -> ColumnElement[bool]:
    people = select(PersonRow.id).where(or_(PersonRow.words.startswith(word, autoescape=True),
                                            PersonRow.words.contains(f" {word}", autoescape=True)))  # fmt: skip
    return item.owner_id.in_(people)


def _having(word: str):  # type: ignore[no-untyped-def]  # noqa: ANN202 — a compound select, whose type says nothing
    return select(ItemWordRow.item_id).where(_begins(word)).union(select(ItemRow.id).where(_owned(ItemRow, word)))


def _has(item: type[ItemRow], word: str) -> ColumnElement[bool]:
    there = select(ItemWordRow.item_id).where(ItemWordRow.item_id == item.id, _begins(word)).limit(1)
    return or_(there.scalar_subquery().is_not(None), _owned(item, word))  # of “exists” PostgreSQL would look all of them up first


def _count(session: Session, word: str) -> int:
    """Return how many items have a word or an owner with it, as far as `FEW`."""
    few = (
        select(ItemWordRow.item_id).where(_begins(word)).limit(FEW),
        select(ItemRow.id).where(_owned(ItemRow, word)).limit(FEW),
    )
    return sum(session.scalar(select(func.count()).select_from(each.subquery())) or 0 for each in few)
