"""CSV in, rows out with the lines that they stand on; and rows in, CSV out that any spreadsheet opens (RFC 4180).

No cell of ours comes alive as a formula: a spreadsheet reads a cell that begins with “=”, “+”, “-”, “@” or a tab as one (OWASP,
CSV Injection), and one that begins with an apostrophe as text. So an apostrophe goes before such a text, and before a text that
had one there already; on the way in it is taken away again.

Whether commas, semicolons or tabs part the cells is seen from the first line, and how the letters are coded from the bytes.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["LARGEST_TABLE", "MOST_ROWS", "Delimited", "Row", "csv_of", "decoded", "defused", "plain_again", "read_csv"]

LARGEST_TABLE = 16_000_000
"""The largest file that is read [byte]."""
MOST_ROWS = 50_000
"""Rows of one file."""
DELIMITERS = (",", ";", "\t")
MARKS = {b"\xef\xbb\xbf": "utf-8-sig", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
"""How a file says how its letters are coded (Unicode Standard, 23.8)."""
ELSE = "cp1252"
"""What a file that is not UTF-8 and says nothing is most likely coded in: the spreadsheets' own, common practice, no source."""

ALIVE = re.compile(r"'*\s*[=+\-@\t\r\n\v\f\x85\u2028\u2029＝＋－＠]")
"""What begins a formula, also after spaces, in full width, and behind apostrophes of its own."""
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?(e[+-]?[0-9]+)?")
"""What a spreadsheet reads as a number."""


@dataclass(frozen=True)
class Row:
    """One row of a table, each cell as it stands there."""

    line: int
    """The line on which it begins, from 1."""
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Delimited:
    """A table as it was read: what its columns are called, and its rows. Rows with nothing in them are left out."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    notices: tuple[str, ...] = ()
    """How it was read where that could be read otherwise."""


def read_csv(raw: bytes, *, name: str) -> Delimited:
    """Return a table from the bytes of a file called `name`. Raises ProblemsError."""
    text, notices = decoded(raw, name=name)
    first = text.lstrip("\r\n").split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    rows, problems = _rows(text, delimiter, name)
    if not rows and not problems:
        problems.append(Problem(name, None, "there is nothing in it", "give a table whose first line names its columns"))
    heads = tuple(head.strip() for head in rows[0].cells) if rows else ()
    problems += [
        Problem(
            name, row.line, f"{len(row.cells)} cells where the first line has {len(heads)}", "put texts with commas in quotes"
        )
        for row in rows[1:]
        if any(row.cells[len(heads) :])
    ]
    if len(rows) - 1 > MOST_ROWS:
        problems.append(
            Problem(name, None, f"{len(rows) - 1:,} rows are too many", f"split it into files of at most {MOST_ROWS:,}")
        )
    if problems:
        raise ProblemsError(problems)
    empty = ("",) * len(heads)
    filled = (Row(row.line, (*row.cells, *empty)[: len(heads)]) for row in rows[1:])
    return Delimited(heads, tuple(row for row in filled if any(cell.strip() for cell in row.cells)), notices)


def csv_of(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a table as CSV in UTF-8 with its mark, which spreadsheets need to see letters beyond ASCII."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([defused(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def defused(text: str) -> str:
    """Return a text as a spreadsheet may open it; a number stays one, below nothing too."""
    return f"'{text}" if ALIVE.match(text) and not NUMBER.fullmatch(text) else text


def plain_again(text: str) -> str:
    """Return the text that `defused` was given; one that it would never have made stays as it is."""
    return text[1:] if text.startswith("'") and ALIVE.match(text) else text


def decoded(raw: bytes, *, name: str) -> tuple[str, tuple[str, ...]]:
    """Return the text of a file, and what had to be assumed of how its letters are coded. Raises ProblemsError."""
    if len(raw) > LARGEST_TABLE:
        seen = f"{len(raw) / 1e6:.0f} MB is too large"
        raise ProblemsError([Problem(name, None, seen, f"give a file of at most {LARGEST_TABLE // 1_000_000} MB")])
    coding = next((coding for mark, coding in MARKS.items() if raw.startswith(mark)), "utf-8")
    text = _text(raw, coding)
    notices: tuple[str, ...] = ()
    if text is None and coding == "utf-8":
        text = _text(raw, ELSE)
        said = "this is not UTF-8, so its letters were read as Windows-1252: look whether accents are right"
        notices = (said,) if text is not None else ()
    if text is None or "\0" in text:
        raise ProblemsError([Problem(name, None, "this is not a text file", "save the table as CSV in UTF-8, or as JSON")])
    return text, notices


def _text(raw: bytes, coding: str) -> str | None:
    try:
        return raw.decode(coding)
    except UnicodeDecodeError:
        return None


def _rows(text: str, delimiter: str, name: str) -> tuple[list[Row], list[Problem]]:
    """Return the rows as far as they can be read, and what ends them; the first has something in it."""
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    try:
        for cells in reader:
            if rows or any(cell.strip() for cell in cells):
                rows.append(Row(line, tuple(plain_again(cell) for cell in cells)))
            line = reader.line_num + 1
    except csv.Error as error:
        return rows, [Problem(name, line, f"this line is no CSV ({error})", "close the quotes, and double those inside a text")]
    return rows, []
