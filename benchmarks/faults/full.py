"""A disk that is full and freed again, over and over: a small file system in memory, in a namespace of its own.

The namespace (mount_namespaces(7)) keeps it from everybody else. Where none can be made nothing is tried, and the table says so;
tests/test_lost_records.py reaches SQLite's own limit of pages instead.
"""

from __future__ import annotations

import errno
import json
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchmarks.faults.row import Row
from benchmarks.faults.written import Written, there
from benchmarks.server import environment

__all__ = ["run"]

ROUNDS, SHORT = 60, 3
SIZE = "3m"
LONG = "x" * 180
BEFORE, AFTER = 10, 5
"""Answers before the disk is full, and once there is room again."""
MOST = 5_000
TEST = "tests/test_faults.py::test_a_short_form_of_each_part_loses_nothing"
MOUNT = 'mount -t tmpfs -o size="$1" tmpfs "$2" && exec "$3" -m benchmarks.faults.full "$2" "$4"'


def run(*, short: bool = False) -> list[Row]:
    """Fill the disk so many times, and return what was lost."""
    rounds = SHORT if short else ROUNDS
    promise = "a full disk is called so; what was acknowledged before is there, and once there is room answers are taken again"
    with TemporaryDirectory() as folder:
        told = _in_small_file_system(folder, rounds)
    if told is None:
        return [Row(promise, TEST, "not tried: no small file system can be made here")]
    tried = (
        f"{rounds} rounds on a file system of {SIZE.upper()}B: {told['kept']:,} answers acknowledged, "
        f"{told['refused']} refused as “the disk is full”"
    )
    return [Row(promise, TEST, tried, len(told["wrong"]), tuple(told["wrong"]))]


def _in_small_file_system(folder: str, rounds: int) -> dict[str, Any] | None:
    unshare = shutil.which("unshare")
    if unshare is None:
        return None
    command = [unshare, "--map-root-user", "--mount", "sh", "-c", MOUNT, "sh", SIZE, folder, sys.executable, str(rounds)]
    ran = subprocess.run(command, check=False, capture_output=True, text=True, env=environment())  # noqa: S603 — our own words
    if "Traceback" in ran.stderr:
        raise RuntimeError(ran.stderr)
    return json.loads(ran.stdout) if ran.stdout else None


def _filled(folder: Path, rounds: int) -> dict[str, Any]:
    """Fill the disk and free it so many times, each time with records of their own."""
    wrong: list[str] = []
    kept, refused = 0, 0
    for number in range(rounds):
        written = Written(folder / "records.db")
        _round(written, folder / "ballast", number, wrong)
        kept += len(written.kept)
        refused += len(written.refused)
        written.close()
        for old in folder.glob("records.db*"):
            old.unlink()
    return {"kept": kept, "refused": refused, "wrong": wrong}


def _round(written: Written, ballast: Path, number: int, wrong: list[str]) -> None:
    if not all(written.answer() for _ in range(BEFORE)):
        wrong.append(f"round {number}: with room: {written.refused[-1]}")
    _fill(ballast, leave=4096 * (number % 7))
    if all(written.answer(LONG) for _ in range(MOST)):
        wrong.append(f"round {number}: the disk is full, and answers are taken all the same")
    elif any("the disk is full" not in said for said in written.refused):
        wrong.append(f"round {number}: a full disk is called otherwise: {written.refused}")
    ballast.unlink()
    if not all(written.answer() for _ in range(AFTER)):
        wrong.append(f"round {number}: with room again: {written.refused[-1]}")
    found, faults = there(written.path)
    wrong += [f"round {number}: {fault}" for fault in faults]
    wrong += [f"round {number}: the answer {token} to {case} is gone" for case, token in written.kept - found]
    wrong += [f"round {number}: the answer {token} to {case} was refused, and is there" for case, token in found - written.kept]


def _fill(ballast: Path, leave: int) -> None:
    """Take all room but `leave` [bytes]."""
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
        file.truncate(max(file.tell() // 4096 * 4096 - leave, 0))


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_filled(Path(sys.argv[1]), int(sys.argv[2]))))
