"""How long the command takes until it has said what it is asked for, beside a Typer program of ten lines in the same run.

`python -m benchmarks.startup` runs the console script `foible` and one of the same make around the small program, by turns.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

ASKED = ("--version", "--help", "kit --help")
LIMIT_S, LIMIT_RATIO = 0.3, 2.0
PEER = '''\
from typing import Annotated

import typer

app = typer.Typer()


def show(wanted: bool) -> None:
    if wanted:
        typer.echo("ten 1.0")
        raise typer.Exit


@app.command()
def main(version: Annotated[bool, typer.Option("--version", callback=show, is_eager=True)] = False) -> None:
    """Say hello."""
    typer.echo("hello")
'''
SCRIPT = """\
#!{python}
import sys
from {module} import {call}
if __name__ == '__main__':
    sys.exit({call}())
"""
"""As pip writes a console script."""


def script(folder: Path, name: str, module: str, call: str) -> Path:
    """Write a console script for this Python, and return its path."""
    path = folder / name
    path.write_text(SCRIPT.format(python=sys.executable, module=module, call=call), encoding="utf-8")
    path.chmod(0o755)
    return path


def took(*command: str) -> float:
    """Return how long a command takes [s]."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)  # noqa: S603 — our own command
    return time.perf_counter() - start


def main() -> None:
    """Measure by turns and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--foible", type=Path, default=Path(sys.executable).parent / "foible", help="the console script")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "ten_lines.py").write_text(PEER, encoding="utf-8")
        peer = [str(script(Path(folder), "ten", "ten_lines", "app")), "--version"]
        commands = [peer, *([str(given.foible), *words.split()] for words in ASKED)]
        for command in commands:  # so that all bytecode is written
            took(*command)
        rounds = [[took(*command) for command in commands] for _ in range(max(given.rounds, 10))]
    ten, *ours = (median(times) for times in zip(*rounds, strict=True))
    print(f"{'median of ' + str(len(rounds)) + ' runs':<32}{'[s]':>8}{'ratio':>8}")
    print(f"{'ten lines of Typer --version':<32}{ten:>8.3f}{1:>8.2f}")
    for words, own in zip(ASKED, ours, strict=True):
        verdict = "met" if own <= LIMIT_S and own <= LIMIT_RATIO * ten else "not met"
        print(f"{'foible ' + words:<32}{own:>8.3f}{own / ten:>8.2f}   at most {LIMIT_S} s and {LIMIT_RATIO:.0f} ×: {verdict}")


if __name__ == "__main__":
    main()
