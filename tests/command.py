"""The command `foible`, run as a user would."""

from __future__ import annotations

import gc
import io
import os
import subprocess
import sys
from contextlib import chdir
from pathlib import Path
from subprocess import CompletedProcess
from typing import TYPE_CHECKING
from unittest.mock import patch

from foible.cli.main import run
from foible.services.reasoning import Reasoning
from foible.situation import Situation
from usual import PUBLISHED, REASONING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

ROOT = Path(__file__).parent.parent
CASE = PUBLISHED / "foil-valid-white-opponent-cord-a-line.toml"

HERE = Situation()
COVERAGE = {key: value for key, value in os.environ.items() if key.startswith("COVERAGE_")}
"""What makes the command count its lines too, where lines are counted."""


def foible(*arguments: str | Path, stdin: str = "", width: int = 100, cwd: Path = ROOT) -> CompletedProcess[str]:
    """Return what the command prints and its exit code, in this process: what the usual reasoning has worked out serves it."""
    words = ["foible", *map(str, arguments)]
    told = [io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2)]
    thresholds = gc.get_threshold()
    with (
        patch.multiple(sys, argv=words, stdin=io.TextIOWrapper(io.BytesIO(stdin.encode())), stdout=told[0], stderr=told[1]),
        patch.dict(os.environ, _surroundings(width), clear=True),
        patch("foible.services.reasoning.Reasoning", _reasoning),
        chdir(cwd),
    ):
        try:
            run()
        except SystemExit as left:
            code = left.code
        finally:
            gc.set_threshold(*thresholds)
    out, err = (each.buffer.getvalue().decode() for each in told)
    return CompletedProcess(words, code if isinstance(code, int) else int(code is not None), out, err)


def foible_apart(*arguments: str | Path, stdin: str = "", width: int = 100, cwd: Path = ROOT) -> CompletedProcess[str]:
    """Return the same of a process of its own, as a user starts it: some seconds until it has anything to say."""
    return subprocess.run(  # noqa: S603 — our own command
        [sys.executable, "-m", "foible", *map(str, arguments)],
        input=stdin,
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env=_surroundings(width) | COVERAGE,
    )


def _surroundings(width: int) -> dict[str, str]:
    return {"PATH": "/usr/bin:/bin", "COLUMNS": str(width), "PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"}


def _reasoning(*, overlays: Sequence[Path] = (), situation: Situation = HERE) -> Reasoning:
    """Return the usual reasoning; with a kit of one's own, one of its own."""
    return Reasoning(overlays=overlays, situation=situation) if overlays else REASONING.at(situation)


def uncounted(environment: Mapping[str, str] = os.environ) -> dict[str, str]:
    """Return an environment without what makes a program count its lines: that takes as long again as what is counted."""
    return {key: value for key, value in environment.items() if not key.startswith("COVERAGE_")}


def said(result: CompletedProcess[str]) -> str:
    """Return the output with line breaks folded."""
    return " ".join(result.stdout.split())
