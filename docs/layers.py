"""The layers of `src/foible`: which there are, which may import which, and which do, read from the sources.

`tests/test_layers.py` holds the code to the table; `layers_picture.py` draws it.
"""

from __future__ import annotations

import ast
from pathlib import Path

__all__ = ["MAY_IMPORT", "SOURCES", "imports", "imports_of", "layer", "source", "used"]

MAY_IMPORT: dict[str, str] = {
    "errors": "",
    "facts": "errors",
    "endings": "errors",
    "situation": "errors",
    "tomllimits": "errors",
    "tomlfile": "errors tomllimits",
    "circuit": "",
    "kit": "errors facts tomlfile circuit",
    "apparatus": "errors tomlfile circuit kit",
    "trials": "errors facts endings situation tomlfile circuit kit apparatus",
    "rules": "errors tomlfile kit trials",
    "diagnosis.shown": "circuit kit apparatus trials",
    "diagnosis.belief": "circuit kit apparatus trials diagnosis.shown",
    "diagnosis.advice": "facts situation circuit kit apparatus trials diagnosis.shown diagnosis.belief",
    "diagnosis.explain": "circuit kit apparatus trials diagnosis.shown diagnosis.belief diagnosis.advice",
    "diagnosis": (
        "errors situation circuit kit apparatus trials diagnosis.shown diagnosis.belief diagnosis.advice diagnosis.explain"
    ),
    "practice": "errors situation tomlfile circuit kit apparatus trials rules diagnosis.shown diagnosis",
    "records": "errors endings",
    "learning": "",
    "control": "errors tomlfile rules learning",
    "services": "errors facts endings situation tomlfile kit apparatus trials rules diagnosis practice records learning control",
    "drawing": "errors tomlfile circuit kit trials",
    "output": "errors situation tomlfile kit rules diagnosis services",
    "web": "errors facts endings situation tomlfile kit trials diagnosis practice records services drawing output",
    "cli": "errors facts endings situation kit apparatus trials diagnosis practice records services output web",
    "__main__": "cli",
}
"""Which layers each layer may import besides itself, a layer below the ones that use it."""
OF_THE_ROOT = {"", "__version__"}
"""The package itself and what it holds: anyone may import it, as it imports nothing."""

ROOT = Path(__file__).parents[1] / "src" / "foible"


def _module_name(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


SOURCES = {_module_name(path): path for path in sorted(ROOT.rglob("*.py"))}
"""The file of every module, by its dotted name."""


def source(module: str) -> str:
    """Return the text of a module."""
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
    """Return the dotted names that a module of ours imports."""
    is_package = SOURCES[module].name == "__init__.py"
    return imports_of(source(module), module if is_package else module.rpartition(".")[0])


def layer(name: str) -> str | None:
    """Return the layer of a dotted name; None outside foible and for its root."""
    top, *steps = name.split(".")
    if top != "foible" or not steps or steps[0] in OF_THE_ROOT:
        return None
    within = ".".join(steps[:2])
    return within if within in MAY_IMPORT else steps[0]


def used() -> dict[str, set[str]]:
    """Return by layer the other layers that its modules import."""
    found: dict[str, set[str]] = {name: set() for name in MAY_IMPORT}
    for module in SOURCES:
        own = layer(module)
        if own is not None:
            found[own] |= {other for name in imports(module) if (other := layer(name)) is not None} - {own}
    return found
