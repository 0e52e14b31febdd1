"""How busy the machine is, and what a server's own processes have used of it: figures to judge wall times by (Linux only)."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import urlsplit

__all__ = ["Cpu", "load_average"]

PROC = Path("/proc")
PARENT, USER, SYSTEM = 1, 11, 12
"""Fields of /proc/…/stat behind the name of the program (proc(5)): parent, ticks for its own work and in the kernel."""


class Cpu:
    """The processes of one server, found by the port in its command line, and whatever they have started."""

    def __init__(self, address: str) -> None:
        self._port = str(urlsplit(address).port)
        self._tick_ms = 1000 / os.sysconf("SC_CLK_TCK") if PROC.exists() else 0.0

    def spent_ms(self) -> float:
        """Return the time on a processor that they have used since they began [ms], counted in ticks of mostly 10 ms."""
        stats = dict(_stats())
        ours = {pid for pid in stats if self._port in _words(pid)}
        while more := {pid for pid, fields in stats.items() if int(fields[PARENT]) in ours} - ours:
            ours |= more
        return sum(int(stats[pid][USER]) + int(stats[pid][SYSTEM]) for pid in ours) * self._tick_ms


def load_average() -> str:
    """Return the load averages of the last 1, 5 and 15 minutes beside the number of cores."""
    return f"load {' '.join(f'{each:.1f}' for each in os.getloadavg())} on {os.cpu_count()} cores"


def _stats() -> list[tuple[int, list[str]]]:
    found = []
    for folder in PROC.glob("[0-9]*"):
        try:
            text = (folder / "stat").read_text(encoding="utf-8")
        except OSError:  # it has just ended
            continue
        found.append((int(folder.name), text.rpartition(") ")[2].split()))
    return found


def _words(pid: int) -> list[str]:
    try:
        return (PROC / str(pid) / "cmdline").read_text(encoding="utf-8", errors="replace").split("\0")
    except OSError:
        return []
