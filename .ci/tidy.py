"""Look through the files of the project, or those named: no space at the end of a line, a newline at the end, no registry.

Where packages come from is for each machine to say (pip's own configuration); a file that names a registry would fail elsewhere.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
REGISTRIES = (
    ("pypi", "org"),
    ("pythonhosted", "org"),
    ("npmjs", "org"),
    ("npmjs", "com"),
    ("anaconda", "org"),
    ("debian", "org"),
    ("ubuntu", "com"),
)
"""In pieces, or this file would name them."""
HOST = re.compile("|".join(rf"\b{re.escape('.'.join(name))}\b" for name in REGISTRIES))
INDEX = re.compile("--(?:extra-)?" + "index-url")


def main(names: list[str]) -> int:
    """Print what is untidy; return 1 where anything is."""
    paths = [Path(name) for name in names] or _tracked()
    found = [f"{path}{problem}" for path in paths if path.is_file() for problem in problems(path)]
    print("\n".join(found) or f"{len(paths)} files are tidy.")
    return 1 if found else 0


def problems(path: Path) -> list[str]:
    """Return what is untidy in a file, each with the line it is on; a binary file is always tidy."""
    content = path.read_bytes()
    if b"\0" in content[:8000]:
        return []
    lines = content.decode("utf-8").split("\n")
    found = [
        f":{number}: names a package registry" for number, line in enumerate(lines, 1) if HOST.search(line) or INDEX.search(line)
    ]
    if path.suffix in {".svg", ".sql"} or "vendor" in path.parts:
        return found  # written by other programs, or by other people
    found += [f":{number}: space at the end of the line" for number, line in enumerate(lines, 1) if line != line.rstrip()]
    if content and (lines[-1] or lines[-2:] == ["", ""]):
        found.append(f":{len(lines)}: must end with one newline")
    return found


def _tracked() -> list[Path]:
    """Return the files that Git keeps or would keep."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout  # noqa: S603 — words of our own
    return [ROOT / name for name in listed.split("\0") if name]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
