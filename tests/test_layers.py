"""Folders are layers: imports go downwards only, and every module says what it offers."""

from __future__ import annotations

import ast
import re
import sys
from importlib import import_module
from pathlib import Path

import pytest

MAY_IMPORT: dict[str, str] = {
    "errors": "",
    "situation": "errors",
    "tomlfile": "errors",
    "circuit": "errors",
    "kit": "errors tomlfile circuit",
    "apparatus": "errors tomlfile circuit kit",
    "trials": "errors situation tomlfile circuit kit apparatus",
    "diagnosis.shown": "circuit kit apparatus trials",
    "diagnosis.belief": "circuit kit apparatus trials diagnosis.shown",
    "diagnosis.advice": "situation circuit kit apparatus trials diagnosis.shown diagnosis.belief",
    "diagnosis.explain": "situation circuit kit apparatus trials diagnosis.shown diagnosis.belief diagnosis.advice",
    "diagnosis": (
        "errors situation circuit kit apparatus trials diagnosis.shown diagnosis.belief diagnosis.advice diagnosis.explain"
    ),
    "records": "errors",
    "services": "errors situation kit apparatus trials diagnosis records",
    "drawing": "circuit errors tomlfile kit apparatus trials diagnosis",
    "output": "errors situation kit apparatus trials diagnosis services",
    "web": "errors situation tomlfile kit trials diagnosis records services drawing output",
    "cli": "errors situation kit apparatus trials diagnosis records services output web",
    "__main__": "cli",
}
"""Whom a layer may import besides itself; `docs/architecture.md` draws the imports that there really are."""
OF_THE_ROOT = {"", "__version__"}
"""The package itself and what it holds: anyone may import it, as it imports nothing."""
THIRD_PARTY_IN_CIRCUIT = {"cachetools", "networkx", "numpy"}

ROOT = Path(__file__).parents[1] / "src" / "foible"


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


SOURCES = {module_name(path): path for path in sorted(ROOT.rglob("*.py"))}
RUN_BY_ALEMBIC = "foible.records.migrations.env"
"""A script for Alembic to run, which nobody imports."""
PUBLIC = [name for name in SOURCES if not any(part.startswith("_") for part in name.split(".")) and name != RUN_BY_ALEMBIC]


def source(module: str) -> str:
    return SOURCES[module].read_text(encoding="utf-8")


def imports_of(text: str, package: str) -> set[str]:
    """Return the dotted names that a module in `package` imports anywhere, those for type checkers only among them."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            found |= {f"{base}.{alias.name}" for alias in node.names}
    return found


def imports(module: str) -> set[str]:
    is_package = SOURCES[module].name == "__init__.py"
    return imports_of(source(module), module if is_package else module.rpartition(".")[0])


def layer(name: str) -> str | None:
    """Return the layer of a dotted name; None outside foible and for its root."""
    top, *steps = name.split(".")
    if top != "foible" or not steps or steps[0] in OF_THE_ROOT:
        return None
    within = ".".join(steps[:2])
    return within if within in MAY_IMPORT else steps[0]


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


@pytest.mark.parametrize("module", SOURCES)
def test_imports_go_downwards_only(module: str) -> None:
    assert upward(layer(module), imports(module)) == []


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


@pytest.mark.parametrize("module", PUBLIC)
def test_every_name_a_module_offers_exists(module: str) -> None:
    names = offered(source(module))
    assert names is not None, f"{module} has no __all__"
    loaded = import_module(module)
    assert [name for name in names if not hasattr(loaded, name)] == []


@pytest.mark.parametrize("module", PUBLIC)
def test_what_a_module_offers_is_sorted_and_stands_once(module: str) -> None:
    names = offered(source(module)) or []
    assert names == sorted(set(names), key=place)
