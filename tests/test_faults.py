"""The fault runs of `make faults` in short, and the page that their figures stand on."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from benchmarks.faults.__main__ import PARTS
from benchmarks.faults.page import FIGURES, PAGE, with_table
from benchmarks.server import environment

from command import uncounted

ROOT = Path(__file__).parents[1]
ELSEWHERE = {"connections", "guessing", "made_up"}
"""Parts whose short form is a file of tests of its own: test_connections.py, test_guessing.py, test_api.py."""

REASONS = {"files"}
"""Parts that reason, which takes long to load."""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that are copies")
@pytest.mark.parametrize(
    "part",
    [pytest.param(part, marks=pytest.mark.slow if part in REASONS else ()) for part in sorted(set(PARTS) - ELSEWHERE)],
)
def test_a_short_form_of_each_part_loses_nothing(part: str) -> None:
    """In a process of its own: some parts run in copies of themselves, which must have no threads."""
    command = [sys.executable, "-m", "benchmarks.faults", part, "--short"]
    ran = subprocess.run(command, check=False, capture_output=True, text=True, env=uncounted(environment()), cwd=ROOT)  # noqa: S603 — our own words
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "lost in all: 0" in ran.stdout


def test_the_table_of_the_page_is_what_its_figures_give() -> None:
    figures = json.loads(FIGURES.read_text(encoding="utf-8"))
    page = PAGE.read_text(encoding="utf-8")
    assert with_table(page, figures) == page
    assert set(PARTS) - ELSEWHERE <= set(figures) <= set(PARTS)
    assert sum(row["lost"] for part in figures.values() for row in part["rows"]) == 0
