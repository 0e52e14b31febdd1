"""The command `foible`, run as a user would."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

ROOT = Path(__file__).parent.parent
PUBLISHED = ROOT / "examples" / "published"
CASE = PUBLISHED / "foil-valid-white-opponent-cord-a-line.toml"

COVERAGE = {key: value for key, value in os.environ.items() if key.startswith("COVERAGE_")}
"""What makes the command count its lines too, where lines are counted."""


def foible(*arguments: str | Path, stdin: str = "", width: int = 100, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Return what the command printed and its exit code."""
    return subprocess.run(  # noqa: S603 — our own command
        [sys.executable, "-m", "foible", *map(str, arguments)],
        input=stdin,
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env={"PATH": "/usr/bin:/bin", "COLUMNS": str(width), "PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"} | COVERAGE,
    )


def uncounted(environment: Mapping[str, str] = os.environ) -> dict[str, str]:
    """Return an environment without what makes a program count its lines: that takes as long again as what is counted."""
    return {key: value for key, value in environment.items() if not key.startswith("COVERAGE_")}


def said(result: subprocess.CompletedProcess[str]) -> str:
    """Return the output with line breaks folded."""
    return " ".join(result.stdout.split())
