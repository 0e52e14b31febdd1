"""Folders are layers: imports go downwards only, and every module says what it offers."""

from __future__ import annotations

import ast
import re
import sys
from importlib import import_module

import pytest
from docs.layers import MAY_IMPORT, SOURCES, imports, imports_of, layer, source
from docs.layers_picture import layers_picture

pytestmark = pytest.mark.once
THIRD_PARTY_IN_CIRCUIT = {"cachetools", "networkx", "numpy"}
RUN_BY_ALEMBIC = "foible.records.migrations.env"
"""A script for Alembic to run, which nobody imports."""
PUBLIC = [name for name in SOURCES if not any(part.startswith("_") for part in name.split(".")) and name != RUN_BY_ALEMBIC]


def upward(own: str | None, imported: set[str]) -> list[str]:
    """Return those imports that a module of layer `own` may not make; the root, None, may make none of foible's."""
    allowed = {None, *((own, *MAY_IMPORT[own].split()) if own else ())}
    return sorted(name for name in imported if layer(name) not in allowed)


def offered(text: str) -> list[str] | None:
    """Return what `__all__` of a module lists; None where there is none."""
    for node in ast.parse(text).body:
        match node:
            case ast.Assign(targets=[ast.Name(id="__all__")], value=value):
                return list(ast.literal_eval(value))
            case ast.AnnAssign(target=ast.Name(id="__all__"), value=ast.expr() as value):
                return list(ast.literal_eval(value))
    return None


def place(name: str) -> tuple[int, list[tuple[int, int, str]]]:
    """Return the sort key of a name: CONSTANTS before Classes before the rest, numbers in names by value."""
    kind = 0 if name.isupper() and len(name) > 1 else 1 if name[0].isupper() else 2
    return kind, [(0, int(run), "") if run.isdigit() else (1, 0, run) for run in re.findall(r"\d+|\D+", name)]


def test_every_module_stands_in_a_layer() -> None:
    strays = {layer(module) for module in SOURCES} - {None, *MAY_IMPORT}
    assert not strays, f"give {strays} a place in MAY_IMPORT"
    assert {"errors", "circuit", "kit", "apparatus", "trials", "diagnosis"} <= {layer(module) for module in SOURCES}


def test_imports_go_downwards_only() -> None:
    found = {module: upward(layer(module), imports(module)) for module in SOURCES}
    assert {module: wrong for module, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("module", [module for module in SOURCES if layer(module) == "circuit"])
def test_circuit_knows_nothing_of_fencing(module: str) -> None:
    imported = imports(module)
    assert {layer(name) for name in imported} <= {None, "errors", "circuit"}
    tops = {name.partition(".")[0] for name in imported}
    assert tops - sys.stdlib_module_names - {"foible"} <= THIRD_PARTY_IN_CIRCUIT


@pytest.mark.parametrize(
    "line",
    [
        "import foible.diagnosis",
        "from foible.diagnosis.belief.posterior import believe",
        "from foible import diagnosis",
        "from ..diagnosis import explain",
        "from .. import diagnosis",
        "if TYPE_CHECKING:\n    from foible.diagnosis import Finding",
        "def late():\n    import foible.diagnosis.explain.circuit as why",
    ],
)
def test_an_upward_import_is_seen_however_it_is_written(line: str) -> None:
    found = imports_of(line, "foible.kit")
    assert len(upward("kit", found)) == 1
    assert upward("diagnosis", found) == []


@pytest.mark.parametrize("line", ["from foible import __version__", "import numpy as np", "from .names import Book"])
def test_what_is_no_layer_or_the_own_layer_may_be_imported(line: str) -> None:
    assert upward("kit", imports_of(line, "foible.kit")) == []


def test_every_name_a_module_offers_exists() -> None:
    every = {module: offered(source(module)) for module in PUBLIC}
    assert [module for module, names in every.items() if names is None] == [], "these have no __all__"
    assert [f"{module}.{name}" for module, names in every.items() for name in names or () if not there(module, name)] == []


def there(module: str, name: str) -> bool:
    return hasattr(import_module(module), name)


def test_what_a_module_offers_is_sorted_and_stands_once() -> None:
    every = {module: offered(source(module)) or [] for module in PUBLIC}
    assert [module for module, names in every.items() if names != sorted(set(names), key=place)] == []


def test_the_drawing_marks_each_import_right_of_the_diagonal() -> None:
    """A layer that imported one above it would be drawn left of it; `test_docs.py` checks that the drawing is the current one."""
    drawn = layers_picture()
    marks = re.findall(r'<circle cx="(\d+)" cy="(\d+)" r="6" fill="(\S+)"', drawn)
    corner = re.search(r'<rect x="(\d+)" y="(\d+)" width="14"', drawn)
    assert corner is not None
    across, down = (int(edge) for edge in corner.groups())
    assert all(int(x) - across > int(y) - down for x, y, _ in marks)
    really = {(layer(module), layer(name)) for module in SOURCES for name in imports(module)}
    assert sum(fill != "none" for *_, fill in marks) == len(
        {(own, other) for own, other in really if own and other and own != other}
    )
