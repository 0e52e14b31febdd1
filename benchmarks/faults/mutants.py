"""Mutated files: published case files and Foible's own kit files in; out, files that a tired, hasty or hostile hand could write.

Everything is drawn from a seed, so that what went wrong once can be looked at again by its number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.server import HERE

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.random import Generator

__all__ = ["CASES", "KIT", "KIT_FOLDER", "PUBLISHED", "Mutant", "mutant"]

PUBLISHED = HERE / "examples" / "published"
CASES = tuple(sorted(PUBLISHED.parent.glob("published*/*.toml")))
KIT_FOLDER = HERE / "src" / "foible" / "kit" / "data"
KIT = tuple(
    path.relative_to(KIT_FOLDER)
    for group in ("items", "repairs", "sources", "weapons", "setups", "sockets", "cores")
    for path in sorted((KIT_FOLDER / group).glob("*.toml"))
)
LARGEST = 20_000_000
"""A file is cut off here [byte]."""
VALUES = (
    "0", "-1", "1e308", "-1e-308", "nan", "inf", "true", '""', "[]", "{}", "9" * 1_500, "[[[[[[[[1]]]]]]]]", '"left white"',
    "2026-10-03", "07:30:00", '"\\u001b[31m\\u0007"', '"\\ud800"', "'''x'''", '["left", "right", 3]', "{a = {b = {c = 1}}}",
    '"' + "x" * 1_900 + '"', "[" + "1, " * 600 + "]", "0x" + "f" * 300, '"﷽\u202e"', "-0.0", "1_000_000_000_000",
)  # fmt: skip
RUBBISH = (b"\x00", b"\xff\xfe", b"\xed\xa0\x80", b"\x1b]0;x\x07", b"\r", b"\xef\xbb\xbf", b"[[", b"]]", b'"""', b"=", b"\\")
LINE = re.compile(r"^(?P<key>[A-Za-z_\"' -]+?)\s*=\s*(?P<value>.+)$")


@dataclass(frozen=True)
class Mutant:
    """One file: what it was made from, what was done to it, and what it holds."""

    number: int
    source: Path
    done: tuple[str, ...]
    data: bytes

    def __str__(self) -> str:
        return f"no. {self.number}, {self.source.name}: {', '.join(self.done)}"


def mutant(sources: tuple[Path, ...], number: int, rng: Generator, folder: Path = Path()) -> Mutant:
    """Return a file with one to three things done to it; `rng` is its own, so that it is the same in every run."""
    source = sources[int(rng.integers(len(sources)))]
    data = (folder / source).read_bytes()
    names = list(WAYS)
    done = tuple(names[int(rng.integers(len(names)))] for _ in range(int(rng.integers(1, 4))))
    for name in done:
        data = WAYS[name](data, rng)[:LARGEST]
    return Mutant(number, source, done, data)


def _lines(data: bytes) -> list[str]:
    return data.decode("utf-8", "surrogateescape").split("\n")


def _joined(lines: list[str]) -> bytes:
    return "\n".join(lines).encode("utf-8", "surrogateescape")


def _at(count: int, rng: Generator) -> int:
    return int(rng.integers(max(count, 1)))


def _without_a_line(data: bytes, rng: Generator) -> bytes:
    lines = _lines(data)
    del lines[_at(len(lines), rng)]
    return _joined(lines)


def _a_line_twice(data: bytes, rng: Generator) -> bytes:
    lines = _lines(data)
    at = _at(len(lines), rng)
    return _joined([*lines[:at], lines[at], *lines[at:]]) if lines else data


def _a_line_elsewhere(data: bytes, rng: Generator) -> bytes:
    lines = _lines(data)
    line = lines.pop(_at(len(lines), rng))
    lines.insert(_at(len(lines) + 1, rng), line)
    return _joined(lines)


def _another_value(data: bytes, rng: Generator) -> bytes:
    lines = _lines(data)
    keyed = [at for at, line in enumerate(lines) if LINE.match(line)]
    if keyed:
        at = keyed[_at(len(keyed), rng)]
        lines[at] = f"{lines[at].partition('=')[0]}= {VALUES[_at(len(VALUES), rng)]}"
    return _joined(lines)


def _another_key(data: bytes, rng: Generator) -> bytes:
    lines = _lines(data)
    keyed = [at for at, line in enumerate(lines) if LINE.match(line)]
    if len(keyed) > 1:
        one, other = (keyed[_at(len(keyed), rng)] for _ in range(2))
        lines[one] = f"{lines[other].partition('=')[0]}={lines[one].partition('=')[2]}"
    return _joined(lines)


def _a_word_misspelt(data: bytes, rng: Generator) -> bytes:
    words = list(re.finditer(rb"[a-z]{4,}", data))
    if not words:
        return data
    word = words[_at(len(words), rng)]
    at = word.start() + _at(len(word[0]) - 1, rng)
    return data[:at] + data[at + 1 : at + 2] + data[at : at + 1] + data[at + 2 :]


def _a_word_for_another(data: bytes, rng: Generator) -> bytes:
    words = list(re.finditer(rb"[a-z]{4,}", data))
    if not words:
        return data
    one, other = (words[_at(len(words), rng)] for _ in range(2))
    return data[: one.start()] + other[0] + data[one.end() :]


def _cut_short(data: bytes, rng: Generator) -> bytes:
    return data[: _at(len(data), rng)]


def _rubbish_in_it(data: bytes, rng: Generator) -> bytes:
    at = _at(len(data), rng)
    return data[:at] + RUBBISH[_at(len(RUBBISH), rng)] + data[at:]


def _a_byte_changed(data: bytes, rng: Generator) -> bytes:
    at = _at(len(data), rng)
    return data[:at] + bytes([int(rng.integers(256))]) + data[at + 1 :]


def _a_block_many_times(data: bytes, rng: Generator) -> bytes:
    blocks = re.split(rb"(?m)^(?=\[)", data)
    at = _at(len(blocks), rng)
    times = int(rng.choice([2, 10, 61, 400, 4_000]))
    return b"".join([*blocks[:at], *([blocks[at]] * times), *blocks[at + 1 :]])


def _a_deep_key(data: bytes, rng: Generator) -> bytes:
    depth = int(rng.choice([9, 90, 900, 20_000]))
    return data + b"\n" + b".".join([b"a"] * depth) + b" = 1\n"


def _many_unknown_keys(data: bytes, rng: Generator) -> bytes:
    count = int(rng.choice([1, 30, 3_000, 40_000]))
    form = ["x{} = 1\n", "[x{}]\n", "[[x{}]]\n"][int(rng.integers(3))]
    return data + b"\n" + "".join(form.format(number) for number in range(count)).encode()


def _brackets(data: bytes, rng: Generator) -> bytes:
    depth = int(rng.choice([5, 50, 500, 5_000]))
    opened = [b"[", b"{a=", b'"""', b"("][int(rng.integers(4))]
    return data + b"\nx = " + opened * depth + b"\n"


def _a_long_text(data: bytes, rng: Generator) -> bytes:
    length = int(rng.choice([2_100, 60_000, 190_000, 900_000]))
    quote = b'"""' if rng.integers(2) else b'"'
    return b"title = " + quote + (b"x" * 99 + b"\n" * (quote == b'"""')) * (length // 100) + quote + b"\n" + data


WAYS: dict[str, Callable[[bytes, Generator], bytes]] = {
    "without a line": _without_a_line,
    "a line twice": _a_line_twice,
    "a line elsewhere": _a_line_elsewhere,
    "another value": _another_value,
    "another key": _another_key,
    "a word misspelt": _a_word_misspelt,
    "a word for another": _a_word_for_another,
    "cut short": _cut_short,
    "rubbish in it": _rubbish_in_it,
    "a byte changed": _a_byte_changed,
    "a block many times": _a_block_many_times,
    "a deep key": _a_deep_key,
    "many unknown keys": _many_unknown_keys,
    "brackets": _brackets,
    "a long text": _a_long_text,
}
