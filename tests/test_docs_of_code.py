"""The pages for those who work on Foible name modules, functions, files and layers that there are."""

from __future__ import annotations

import re
from functools import reduce
from importlib import import_module
from pathlib import Path

import pytest
from docs.layers import MAY_IMPORT

pytestmark = pytest.mark.once
ROOT = Path(__file__).parents[1]
PAGES = {name: (ROOT / name).read_text(encoding="utf-8") for name in ("docs/architecture.md", "CONTRIBUTING.md")}
NAMED = sorted({found for text in PAGES.values() for found in re.findall(r"`([a-z_0-9.]+:[A-Za-z_]\w*(?:\.\w+)*)`", text)})
FILES = sorted({found for text in PAGES.values() for found in re.findall(r"`([\w./-]+/[\w.-]+\.[a-z]+)`", text)})
STEP = re.compile(r"^\d+\. \*\*.*?(?=^\d+\. |^$)", re.MULTILINE | re.DOTALL)
"""A step of one of the two ways."""


@pytest.mark.parametrize("name", NAMED)
def test_what_a_page_names_in_the_code_exists(name: str) -> None:
    module, _, path = name.partition(":")
    assert reduce(getattr, path.split("."), import_module(f"foible.{module}")) is not None


@pytest.mark.parametrize("name", FILES)
def test_the_files_that_a_page_names_exist(name: str) -> None:
    assert (ROOT / name).is_file() or (ROOT / "src" / "foible" / name).is_file()


def test_each_step_of_the_two_ways_names_code() -> None:
    steps = STEP.findall(PAGES["docs/architecture.md"])
    assert len(steps) == 8 + 9
    for step in steps:
        assert re.search(r"`[\w./]+(:\w|\.html`|\.js`)", step) or "`noted`" in step, step


def test_it_says_of_every_layer_what_it_is_for() -> None:
    rows = re.findall(r"^\| `([\w.]+)` \|", PAGES["docs/architecture.md"].split("![")[0], re.MULTILINE)
    assert rows == list(MAY_IMPORT)


def test_the_nomenclature_has_each_word_once() -> None:
    """One word, one thing."""
    words, _ = (ROOT / "docs" / "nomenclature.md").read_text(encoding="utf-8").split("## Symbols")
    cells = re.findall(r"^\| ([^|]+) \| (?!meaning|---)", words, re.MULTILINE)
    named = [word for cell in cells for word in re.split(r", (?![A-C]\b)", cell) if word != "---"]
    assert len(named) > 50
    assert sorted(set(named)) == sorted(named)
