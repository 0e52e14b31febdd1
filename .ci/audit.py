"""Compare what is locked with the known weaknesses: `make audit`. Ends with 0 whatever is found, or cannot be had.

The tool for it (pip-audit) lives in an environment of its own, as it is no part of Foible. It asks the package index for the list
of weaknesses; not every index has one. A package that could not be compared is counted, or silence would look like good news.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
LOCKS = ("requirements.lock", "requirements-dev.lock")
PATIENCE_S = 300


def main() -> None:
    """Print what is known of each lock file."""
    for lock in LOCKS:
        print(f"{lock}: {told(*asked(lock))}")


def asked(lock: str) -> tuple[str, str]:
    """Return what the tool found, as JSON, and what it complained of."""
    tool = Path(sys.executable).with_name("pip-audit")
    command = [str(tool), "--requirement", lock, "--disable-pip", "--no-deps", "--progress-spinner", "off", "--format", "json"]
    try:
        ran = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True, timeout=PATIENCE_S)  # noqa: S603 — our own words
    except (OSError, subprocess.TimeoutExpired) as error:
        return "", str(error)
    return ran.stdout, ran.stderr


def told(found: str, complaint: str) -> str:
    """Return what was found in words."""
    try:
        packages = json.loads(found)["dependencies"]
    except (ValueError, KeyError, TypeError):
        why = complaint.strip().splitlines()[-1:] or ["no reason given"]
        return f"not compared: the list of known weaknesses cannot be had from here ({why[0]})"
    compared = [each for each in packages if "skip_reason" not in each]
    if not compared:
        return f"not compared: the list of known weaknesses cannot be had from here (for none of {len(packages)} packages)"
    lines = [f"{len(compared)} of {len(packages)} packages compared"]
    for each in compared:
        lines += [f"    {each['name']} {each['version']}: {weakness['id']}" for weakness in each.get("vulns", ())]
    return "\n".join(lines if len(lines) > 1 else [f"{lines[0]}, no weakness is known of them"])


if __name__ == "__main__":
    main()
