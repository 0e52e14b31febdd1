"""TOML files read into pydantic models, with every problem collected and located by line."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from foible.errors import Problem, ProblemsError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Strict", "line_of", "read_model", "read_table", "toml_lines"]

Model = TypeVar("Model", bound=BaseModel)
Path_ = tuple[str | int, ...]

LARGEST_FILE = 1_000_000
"""Bytes; a file written by hand is a thousand times smaller."""

_HEADER = re.compile(r"^\s*(\[\[|\[)\s*(.+?)\s*(\]\]|\])\s*(#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=""")
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_DOTTED = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_-]+)\s*(?:\.|$)""")


class Strict(BaseModel):
    """A table of a file: unknown keys are refused, values do not change once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def read_table(path: Path) -> tuple[dict[str, Any], str]:
    """Return the parsed TOML of `path` and its text, or raise ProblemsError."""
    name = str(path)
    try:
        raw = path.read_bytes()
    except OSError as error:
        seen = f"the file cannot be read ({error.strerror})"
        raise ProblemsError([Problem(name, None, seen, "check the path")]) from error
    if b"\0" in raw or len(raw) > LARGEST_FILE:
        seen = "this is not a text file" if b"\0" in raw else f"{len(raw):,} bytes are too many for a file of this kind"
        raise ProblemsError([Problem(name, None, seen, "give a TOML file; docs/case-file.md shows one")])
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise ProblemsError([Problem(name, line, "this is not UTF-8 text", "save the file as UTF-8 text")]) from error
    text = text.replace("\r\n", "\n")
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        seen = f"this is not TOML: {error}"
        raise ProblemsError([Problem(name, line, seen, "mend the line; strings need quotes, lists brackets")]) from error


def read_model(model: type[Model], path: Path) -> Model:
    """Return `path` read into `model`, or raise ProblemsError with all its problems."""
    table, text = read_table(path)
    try:
        return model.model_validate(table)
    except ValidationError as error:
        lines = toml_lines(text)
        raise ProblemsError(
            Problem(str(path), line_of(lines, entry["loc"]), _seen(entry["loc"], entry["msg"]), _remedy(model, entry["type"]))
            for entry in error.errors(include_url=False)
        ) from error


def _seen(where: Path_, message: str) -> str:
    keys = [f"[{key + 1}]" if isinstance(key, int) else key for key in where]
    return f"{' '.join(keys) or 'the file'}: {message[:1].lower()}{message[1:]}"


def _remedy(model: type[BaseModel], kind: str) -> str:
    match kind:
        case "extra_forbidden":
            return f"take the key out or mend its spelling; the file may hold {', '.join(_keys(model))}"
        case "missing":
            return "add the key"
        case _:
            return "mend the value"


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def line_of(lines: dict[Path_, int], where: Path_) -> int | None:
    """Return the line of the longest known beginning of `where`."""
    for end in range(len(where), 0, -1):
        if where[:end] in lines:
            return lines[where[:end]]
    return None


def toml_lines(text: str) -> dict[Path_, int]:
    """Return the line number of every table header and key of valid TOML, by its path; arrays of tables count from 0.

    Keys inside inline tables and lines inside multi-line values are not listed; their owner is.
    """
    lines: dict[Path_, int] = {}
    counts: dict[Path_, int] = {}
    prefix: Path_ = ()
    depth, fence = 0, ""
    for number, line in enumerate(text.split("\n"), start=1):
        if depth == 0 and not fence:
            header = _HEADER.match(line)
            key = _KEY.match(line)
            if header:
                prefix = _table_path(_split(header[2]), counts, repeated=header[1] == "[[")
                lines.setdefault(prefix, number)
                continue
            if key:
                path = prefix + _split(key[1])
                for end in range(len(prefix) + 1, len(path) + 1):
                    lines.setdefault(path[:end], number)
                line = line[key.end() :]  # noqa: PLW2901 — the value is what is left to scan
        depth, fence = _scan(line, depth, fence)
    return lines


def _table_path(names: Path_, counts: dict[Path_, int], *, repeated: bool) -> Path_:
    """Return the path of a header, with the running number behind every array of tables in it."""
    path: Path_ = ()
    for i, name in enumerate(names):
        path = (*path, name)
        last = i == len(names) - 1
        if last and repeated:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _split(dotted: str) -> Path_:
    return tuple(part.strip("\"'") for part in _DOTTED.findall(dotted))


def _scan(line: str, depth: int, fence: str) -> tuple[int, str]:
    """Follow brackets and multi-line strings through a line of values."""
    if fence:
        end = line.find(fence)
        if end < 0:
            return depth, fence
        line = line[end + 3 :]
    for mark in ('"""', "'''"):
        start = line.find(mark)
        if start >= 0 and "#" not in line[:start]:
            if line.find(mark, start + 3) < 0:
                return depth, mark
            line = line[:start]
    bare = _STRING.sub("", line).split("#", 1)[0]
    opened = sum(bare.count(mark) for mark in "[{") - sum(bare.count(mark) for mark in "]}")
    return max(depth + opened, 0), ""
