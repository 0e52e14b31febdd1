"""Modules and functions stay of a size that can be read in one go: none too long, no module too short to be one."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.once
ROOT = Path(__file__).parents[1]
LEAST, MOST = 25, 350
"""Lines of a source module."""
MOST_BESIDE = 500
"""Lines of a file of tests, benchmarks, documentation builders and checks."""
LONGEST = 40
"""Lines of a function without a reason; the reason stands beside its `def`, or right above it, as “# long: …”."""
MAY_BE_SHORT = {
    "src/foible/__main__.py": "Python runs it for `python -m foible`; the command itself is cli/main.py",
    "src/foible/records/migrations/env.py": "Alembic asks for a script of this name; the work is done in records/migrating.py",
}
"""Modules below `LEAST` lines besides `__init__`, each with what asks for it."""

SOURCES = sorted((ROOT / "src").rglob("*.py"))
BESIDE = sorted(path for folder in ("tests", "benchmarks", "docs", ".ci") for path in (ROOT / folder).rglob("*.py"))


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def lines(text: str) -> int:
    return len(text.splitlines())


def wrong_size(path: str, text: str) -> str | None:
    """Return what is wrong with the length of a source module; None where nothing is."""
    if lines(text) > MOST:
        return f"{path} has {lines(text)} lines, {MOST} at most: split it by meaning"
    if lines(text) < LEAST and not path.endswith("__init__.py") and path not in MAY_BE_SHORT:
        return f"{path} has {lines(text)} lines, {LEAST} at least: put it where it belongs"
    return None


def too_long(path: str, text: str) -> list[str]:
    """Return the functions of a file that are too long and give no reason."""
    above = ["", *text.splitlines()]
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)])
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            reason = re.match(r"\s*# long: \S", above[first - 1]) or re.search(r":  # long: \S", above[node.lineno])
            if length > LONGEST and not reason:
                found.append(f"{path}:{node.lineno}: {node.name} has {length} lines, {LONGEST} at most without “# long: …”")
    return found


def test_a_source_module_is_neither_too_long_nor_too_short() -> None:
    assert [wrong for path in SOURCES if (wrong := wrong_size(name(path), path.read_text(encoding="utf-8")))] == []


def test_what_stands_beside_the_source_is_not_too_long() -> None:
    assert [name(path) for path in BESIDE if lines(path.read_text(encoding="utf-8")) > MOST_BESIDE] == []


def test_a_long_function_says_why() -> None:
    files = [*SOURCES, *BESIDE]
    assert [wrong for path in files for wrong in too_long(name(path), path.read_text(encoding="utf-8"))] == []


def test_every_exception_is_still_one() -> None:
    """A name that is no longer needed in `MAY_BE_SHORT` is taken out."""
    short = {name(path) for path in SOURCES if lines(path.read_text(encoding="utf-8")) < LEAST and path.stem != "__init__"}
    assert short == set(MAY_BE_SHORT)
    assert len(SOURCES) > 100
    assert len(BESIDE) > 50


# --- that it would notice ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("count", "refused"), [(24, True), (25, False), (350, False), (351, True)])
def test_a_module_outside_the_bounds_is_noticed(count: int, *, refused: bool) -> None:
    assert (wrong_size("src/foible/new.py", "x = 1\n" * count) is not None) is refused


def test_a_package_door_may_be_short_but_not_long() -> None:
    assert wrong_size("src/foible/new/__init__.py", "x = 1\n") is None
    assert wrong_size("src/foible/new/__init__.py", "x = 1\n" * 351) is not None


def function(count: int, *, above: str = "", beside: str = "", start: str = "def work():") -> str:
    return f"x = 1\n{above}\n{start}{beside}\n" + "    x = 1\n" * (count - 1)


@pytest.mark.parametrize("start", ["def work():", "async def work():", "@cache\ndef work():"])
def test_a_long_function_is_noticed_unless_it_says_why(start: str) -> None:
    assert too_long("new.py", function(40, start=start)) == []
    assert len(too_long("new.py", function(41, start=start))) == 1
    assert len(too_long("new.py", function(41, start=start, above="# long: "))) == 1
    assert len(too_long("new.py", function(41, start=start, above="# a table"))) == 1
    assert too_long("new.py", function(41, start=start, above="# long: a table")) == []
    assert too_long("new.py", function(41, start=start, beside="  # long: a table")) == []


def test_a_long_method_and_a_function_within_a_function_are_noticed_too() -> None:
    method = "class Thing:\n    def work(self):\n" + "        x = 1\n" * 40
    inner = "def outer():  # long: holds another\n    def work():\n" + "        x = 1\n" * 40
    assert len(too_long("new.py", method)) == len(too_long("new.py", inner)) == 1
    assert too_long("new.py", method.replace("(self):", "(self):  # long: a table")) == []
