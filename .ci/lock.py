"""Write the lock files anew from pyproject.toml: `make lock`, or `make lock UPGRADE=1` for the newest releases.

requirements.lock          what Foible runs on, PostgreSQL's driver included
requirements-dev.lock      what developing takes beyond that
requirements-oldest.lock   the oldest that pyproject.toml allows of what Foible itself asks for, and what testing takes

What is locked stays as it is as long as pyproject.toml allows it, unless --upgrade is given. Names and exact versions only:
where a package comes from is for each machine to say.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent
OLDEST_PYTHON = "3.11"
EXTRA = "postgresql"
RUN, DEVELOP, OLDEST = (ROOT / f"requirements{kind}.lock" for kind in ("", "-dev", "-oldest"))


def main() -> None:
    """Write all three."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    options.add_argument("--upgrade", action="store_true", help="take the newest releases that pyproject.toml allows")
    upgrade = options.parse_args().upgrade
    locked = [] if upgrade else [line for path in (RUN, DEVELOP) for line in _lines(path)]
    everything = _resolved("--group", "dev", prefer=locked)
    run = _resolved(prefer=everything)
    _write(RUN, run)
    _write(DEVELOP, [line for line in everything if line not in run])
    direct = _direct()
    oldest = [line for line in _resolved("--resolution", "lowest-direct") if line.partition("==")[0] in direct]
    _write(OLDEST, _resolved("--group", "test", "--group", "build", hold=oldest, prefer=everything))


def _resolved(*options: str, hold: list[str] | None = None, prefer: list[str] | None = None) -> list[str]:
    """Return names and versions, those of `hold` whatever comes, those of `prefer` where nothing speaks against it."""
    with TemporaryDirectory() as folder:
        held, written = Path(folder, "held.txt"), Path(folder, "written.txt")
        _write(held, hold or [])
        _write(written, prefer or [])
        command = [sys.executable, "-m", "uv", "pip", "compile", "--quiet", "--no-header", "--no-annotate", "pyproject.toml"]
        command += ["--python-version", OLDEST_PYTHON, "--extra", EXTRA, "--constraint", str(held), "--output-file", str(written)]
        subprocess.run([*command, *options], cwd=ROOT, check=True)  # noqa: S603 — words of our own
        return _lines(written)


def _direct() -> set[str]:
    """Return the names of what Foible itself asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = (*project["dependencies"], *project["optional-dependencies"][EXTRA])
    return {re.split(r"[^A-Za-z0-9_.-]", each, maxsplit=1)[0].lower() for each in asked}


def _lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def _write(path: Path, lines: list[str]) -> None:
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")


if __name__ == "__main__":
    main()
