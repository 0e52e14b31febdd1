"""TOML files in, pydantic models out, or every problem in them with its line."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from foible.errors import Problem, ProblemsError
from foible.tomllimits import before_parsing, once_parsed

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = [
    "LARGEST_FILE",
    "Strict",
    "Words",
    "file_bytes",
    "line_of",
    "parsed_model",
    "parsed_table",
    "read_model",
    "read_table",
    "toml_lines",
]

Model = TypeVar("Model", bound=BaseModel)
Path_ = tuple[str | int, ...]

LARGEST_FILE = 200_000
"""Bytes; a file written by hand is a hundred times smaller."""

_HEADER = re.compile(r"^\s*(\[\[|\[)\s*(.+?)\s*(\]\]|\])\s*(#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=""")
_OUTSIDE = re.compile(r""" \"{3} | '{3} | "(?:[^"\\]|\\.)*" | '[^']*' | \# | [\[\]{}] """, re.VERBOSE)
_INSIDE = {'"""': re.compile(r'\\.|("{3,5})'), "'''": re.compile(r"('{3,5})")}
_DOTTED = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_-]+)\s*(?:\.|$)""")


class Strict(BaseModel):
    """A table of a file: unknown keys are refused, values do not change once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False)


Words = Annotated[tuple[str, ...], BeforeValidator(lambda given: (given,) if isinstance(given, str) else given)]
"""A list of strings; a single string stands for a list of one."""


def file_bytes(path: Path) -> bytes:
    """Return a file's bytes, reading no further than just past `LARGEST_FILE`; raises ProblemsError where it cannot be read."""
    name = str(path)
    try:
        if path.exists() and not path.is_file():
            raise ProblemsError([Problem(name, None, "this is not a file", "give a TOML file; docs/case-file.md shows one")])
        with path.open("rb") as file:
            return file.read(LARGEST_FILE + 1)
    except OSError as error:
        seen = f"the file cannot be read ({error.strerror})"
        raise ProblemsError([Problem(name, None, seen, "check the path")]) from error


def read_table(path: Path) -> tuple[dict[str, Any], str]:
    """Return the parsed TOML of `path` and its text, or raise ProblemsError."""
    return parsed_table(file_bytes(path), name=str(path))


def parsed_table(raw: bytes, *, name: str) -> tuple[dict[str, Any], str]:
    """Return the parsed TOML of some bytes and their text, or raise ProblemsError; `name` is what messages call the file."""
    if b"\0" in raw or len(raw) > LARGEST_FILE:
        seen = (
            "this is not a text file"
            if b"\0" in raw
            else f"more than {LARGEST_FILE:,} bytes is too large for a file of this kind"
        )
        raise ProblemsError([Problem(name, None, seen, "give a TOML file; docs/case-file.md shows one")])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise ProblemsError([Problem(name, line, "this is not UTF-8 text", "save the file as UTF-8 text")]) from error
    text = text.replace("\r\n", "\n")
    if beyond := before_parsing(text, name):
        raise ProblemsError(beyond)
    try:
        table = tomllib.loads(text)
    except RecursionError as error:
        seen = "the brackets are nested too deeply"
        raise ProblemsError([Problem(name, None, seen, "check the brackets on that line")]) from error
    except ValueError as error:  # what TOMLDecodeError is one of; a number of thousands of digits is another
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        seen = f"this is not TOML: {error}"
        raise ProblemsError([Problem(name, line, seen, "correct the line; strings need quotes, and lists brackets")]) from error
    if beyond := [Problem(name, line_of(toml_lines(text), where), *words) for where, *words in once_parsed(table)]:
        raise ProblemsError(beyond)
    return table, text


def read_model(model: type[Model], path: Path) -> Model:
    """Return `path` read into `model`, or raise ProblemsError with all its problems."""
    return parsed_model(model, file_bytes(path), name=str(path))[0]


def parsed_model(model: type[Model], raw: bytes, *, name: str) -> tuple[Model, str]:
    """Return the TOML of some bytes read into `model`, and their text; or raise ProblemsError with all problems."""
    table, text = parsed_table(raw, name=name)
    try:
        return model.model_validate(table), text
    except ValidationError as error:
        lines = toml_lines(text)
        raise ProblemsError(
            Problem(
                name,
                line_of(lines, entry["loc"]),
                _seen(entry["loc"], entry["msg"]),
                _remedy(model, entry["loc"], entry["type"]),
            )
            for entry in error.errors(include_url=False)
        ) from error


def _seen(where: Path_, message: str) -> str:
    keys = [f"[{key + 1}]" if isinstance(key, int) else key for key in where]
    return f"{' '.join(keys) or 'the file'}: {message[:1].lower()}{message[1:]}"


def _remedy(model: type[BaseModel], where: Path_, kind: str) -> str:
    match kind:
        case "extra_forbidden":
            fields = _model_at(model, where[:-1]).model_fields
            keys = ", ".join(field.alias or name for name, field in fields.items())
            return f"remove the key or correct its spelling; the keys allowed here are {keys}"
        case "missing":
            return "add the key"
        case _:
            return "correct the value"


def _model_at(model: type[BaseModel], where: Path_) -> type[BaseModel]:
    """Return the model that the table at `where` is read into."""
    for key in where:
        fields = {field.alias or name: field.annotation for name, field in model.model_fields.items()}
        if key in fields:
            model = next(_models_in(fields[str(key)]), model)
    return model


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:  # noqa: ANN401 — any type that a field may have
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)


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
    for number, line in _top_level(text):
        header = _HEADER.match(line)
        if header:
            passed = _table_path(_split(header[2]), counts, repeated=header[1] == "[[")
            for path in passed:
                lines.setdefault(path, number)
            prefix = passed[-1]
            continue
        key = _KEY.match(line)
        if key:
            path = prefix + _split(key[1])
            for end in range(len(prefix) + 1, len(path) + 1):
                lines.setdefault(path[:end], number)
    return lines


def _top_level(text: str) -> list[tuple[int, str]]:
    """Return number and text of the lines that begin outside any value."""
    found: list[tuple[int, str]] = []
    depth, fence = 0, ""
    for number, line in enumerate(text.split("\n"), start=1):
        if depth == 0 and not fence:
            found.append((number, line))
            if _HEADER.match(line):
                continue
        depth, fence = _scanned(line, depth, fence)
    return found


def _scanned(line: str, depth: int, fence: str) -> tuple[int, str]:
    """Follow brackets and multi-line strings to the end of a line: depth of brackets, and the fence that is open."""
    at = 0
    while True:
        match = (_INSIDE[fence] if fence else _OUTSIDE).search(line, at)
        if match is None or match[0] == "#":
            return depth, fence
        at = match.end()
        if fence:
            fence = "" if match[1] else fence
        elif match[0] in _INSIDE:
            fence = match[0]
        else:
            depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(match[0], 0)


def _table_path(names: Path_, counts: dict[Path_, int], *, repeated: bool) -> list[Path_]:
    """Return the paths that a header passes, the table's own last, with the running number behind every array of tables."""
    path: Path_ = ()
    passed = []
    for i, name in enumerate(names):
        path = (*path, name)
        if i == len(names) - 1 and repeated:
            counts[path] = counts.get(path, -1) + 1
        passed.append(path)
        if path in counts:
            path = (*path, counts[path])
            passed.append(path)
    return passed


def _split(dotted: str) -> Path_:
    return tuple(part.strip("\"'") for part in _DOTTED.findall(dotted))
