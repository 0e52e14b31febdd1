"""Records and copies of them damaged at random: told as damaged, or as they were; no crash, and no worse for being looked at.

A copy carries a sum of all that is in it, so any damage must be noticed, or must not matter. A database carries none: one with
damage in a place that nobody asks for may be read; what must not be is an error without words, or a file that is changed by
looking at it.
"""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.faults.row import Row
from benchmarks.faults.written import Written, there
from foible.errors import FoibleError
from foible.records import CaseStore, Database
from foible.services.copying import back_up, check, restore

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.random import Generator

__all__ = ["run"]

ROUNDS, SHORT = 400, 12
SEED = 2026
ANSWERS = 400
NOW = datetime(2026, 10, 3, tzinfo=UTC)
TEST = "tests/test_faults.py::test_a_short_form_of_each_part_loses_nothing"


def run(*, short: bool = False) -> list[Row]:
    """Damage each kind of file so many times, and return what was not noticed."""
    rounds = SHORT if short else ROUNDS
    with TemporaryDirectory() as name:
        folder = Path(name)
        written = Written(folder / "records.db")
        for _ in range(ANSWERS):
            written.answer("with the guard in the other hand")
        back_up(f"sqlite:///{written.path}", folder / "copy.zip", photos=str(folder / "none"))
        written.close()
        return [_copies(folder, rounds, written.kept), _databases(folder, rounds)]


def _copies(folder: Path, rounds: int, kept: set[tuple[str, str]]) -> Row:
    whole, wrong, noticed = (folder / "copy.zip").read_bytes(), [], 0
    for number in range(rounds):
        path, place = folder / "damaged.zip", folder / "restored.db"
        how, data = _damaged(whole, np.random.default_rng([SEED, 0, number]))
        path.write_bytes(data)
        try:
            restore(path, f"sqlite:///{place}")
        except FoibleError:
            noticed += 1
            if place.exists():
                wrong.append(f"copy {number} ({how}): refused, and put in place all the same")
        except Exception as error:  # noqa: BLE001 — this is what is looked for
            wrong.append(f"copy {number} ({how}): {error!r}")
        else:
            if there(place)[0] != kept:
                wrong.append(f"copy {number} ({how}): restored with other answers")
        for old in folder.glob("restored.db*"):
            old.unlink()
    tried = f"{rounds} damaged copies: {noticed} refused, {rounds - noticed - len(wrong)} restored with every answer as it was"
    return Row("a damaged copy is refused, or restored as it was", TEST, tried, len(wrong), tuple(wrong))


def _databases(folder: Path, rounds: int) -> Row:
    whole, wrong, told = (folder / "records.db").read_bytes(), [], 0
    for number in range(rounds):
        path = folder / "damaged.db"
        for old in folder.glob("damaged.db*"):
            old.unlink()
        how, data = _damaged(whole, np.random.default_rng([SEED, 1, number]))
        path.write_bytes(data)
        try:
            told += bool(check(str(path)).faults)
            if path.read_bytes() != data:
                wrong.append(f"database {number} ({how}): changed by looking at it")
            shutil.copyfile(path, folder / "used.db")
            _used(folder / "used.db")
        except FoibleError:
            told += 1
        except Exception as error:  # noqa: BLE001 — as above
            wrong.append(f"database {number} ({how}): {error!r}")
        for old in folder.glob("used.db*"):
            old.unlink()
    tried = f"{rounds} damaged databases checked, opened, read and written to: {told} times told, never a bare error"
    return Row(
        "a damaged database is told by its right name, and looking at it does not change it",
        TEST,
        tried,
        len(wrong),
        tuple(wrong),
    )


def _used(path: Path) -> None:
    """Use records as Foible does. Raises FoibleError where they are damaged."""
    database = Database(f"sqlite:///{path}")
    try:
        store = CaseStore(database, clock=lambda: NOW)
        for head in store.heads().rows:
            store.case(head.id)
            store.close(head.id, closed=True)
    finally:
        database.dispose()


def _damaged(data: bytes, rng: Generator) -> tuple[str, bytes]:
    name = list(WAYS)[int(rng.integers(len(WAYS)))]
    return name, WAYS[name](data, rng)


def _bytes_changed(data: bytes, rng: Generator) -> bytes:
    made = bytearray(data)
    for at in rng.integers(len(data), size=int(rng.choice([1, 8, 200]))):
        made[at] ^= int(rng.integers(1, 256))
    return bytes(made)


def _a_page_of_zeros(data: bytes, rng: Generator) -> bytes:
    at = int(rng.integers(len(data) // 4096)) * 4096
    return data[:at] + bytes(4096) + data[at + 4096 :]


def _cut_short(data: bytes, rng: Generator) -> bytes:
    return data[: int(rng.integers(len(data)))]


def _a_page_of_another_place(data: bytes, rng: Generator) -> bytes:
    one, other = (int(at) * 4096 for at in rng.integers(len(data) // 4096, size=2))
    return data[:one] + data[other : other + 4096] + data[one + 4096 :]


def _more_behind_it(data: bytes, rng: Generator) -> bytes:
    return data + rng.bytes(int(rng.choice([1, 4096, 100_000])))


WAYS: dict[str, Callable[[bytes, Generator], bytes]] = {
    "bytes changed": _bytes_changed,
    "a page of zeros": _a_page_of_zeros,
    "cut short": _cut_short,
    "a page of another place": _a_page_of_another_place,
    "more behind it": _more_behind_it,
}
