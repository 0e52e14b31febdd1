"""Everything in the register out as tables: with the columns that an import reads, as CSV or JSON.

What an export says, an import into an empty register makes again; people's secrets and the trail stay where they are.
"""

from __future__ import annotations

import io
import json
import zipfile
from typing import TYPE_CHECKING, Any

from foible import __version__
from foible.services.transfer.columns import tables
from foible.services.transfer.delimited import csv_of
from foible.services.transfer.reading import HEAD

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import datetime

    from foible.services.transfer.columns import Table

__all__ = ["csv_files", "json_text", "rows_of", "zipped"]


EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of files in an archive: the same records are the same archive, byte for byte."""


def rows_of(everything: Mapping[str, Sequence[Mapping[str, Any]]], *, contacts: bool) -> dict[str, list[dict[str, Any]]]:
    """Return all tables with the columns that an import reads, each row with what is filled in; `contacts` among them or not."""
    code = {row["id"]: row["code"] for row in everything["items"]}
    part = {row["id"]: row["code"] for row in everything["parts"]}
    person = _people(everything["people"])
    by_column: dict[str, Callable[[Mapping[str, Any]], Any]] = {
        "is": lambda row: row["kind"],
        "owner": lambda row: person.get(row["owner_id"]),
        "by": lambda row: person.get(row["by_id"]),
        "to": lambda row: person[row["to_id"]],
        "item": lambda row: code[row["item_id"]],
        "instrument": lambda row: code.get(row["instrument_id"]),
        "part": lambda row: part[row["part_id"]],
        "case": lambda row: row["case_id"],
    }

    def value(table: Table, name: str, row: Mapping[str, Any]) -> Any:  # noqa: ANN401 — of any column
        if name in by_column:
            return by_column[name](row)
        if name == "job":
            return str(row["id"] if table.name == "jobs" else row["job_id"] or "") or None
        return row[name.replace(" ", "_")]

    def told(table: Table, row: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
        for column in table.column:
            found = value(table, column.name, row)
            if found not in (None, "", {}, []) and (contacts or column.name != "contact"):
                yield column.name, found

    rows = {table.name: [dict(told(table, row)) for row in everything[table.name]] for table in tables()}
    for row, kept in zip(rows["people"], everything["people"], strict=True):
        row["name"] = row.get("name") or f"erased person {kept['id']}"
    return rows


def csv_files(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> dict[str, bytes]:
    """Return each table as CSV, by the name of its file."""
    found = {}
    for table in tables():
        columns = [(column.name, column.cell.write) for column in table.column]
        cells = ([write(row[name]) if name in row else "" for name, write in columns] for row in rows[table.name])
        found[f"{table.name}.csv"] = csv_of([name for name, _ in columns], cells)
    return found


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Return files as one archive."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, EARLIEST), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def json_text(rows: Mapping[str, Sequence[Mapping[str, Any]]], *, now: datetime) -> str:
    """Return all tables as one text of JSON, with what made it and when."""
    made: dict[str, Any] = {HEAD: {"version": __version__, "exported": now.isoformat(timespec="seconds")}}
    for table in tables():
        tell = {column.name: column.cell.tell for column in table.column}
        made[table.name] = [{name: tell[name](value) for name, value in row.items()} for row in rows[table.name]]
    return json.dumps(made, ensure_ascii=False, indent=1) + "\n"


def _people(rows: Sequence[Mapping[str, Any]]) -> dict[int | None, str]:
    """Return what an import calls each person: by name, with the club where several bear it; of the erased by number."""
    names = [row["name"].casefold() for row in rows]
    return {
        row["id"]: f"erased person {row['id']}"
        if row["erased"]
        else f"{row['name']} ({row['club']})"
        if names.count(row["name"].casefold()) > 1 and row["club"]
        else row["name"]
        for row in rows
    }
