"""The `foible` command run once more, in a copy of this process, which has it loaded, or in a fresh one: what it took."""

from __future__ import annotations

import os
import re
import resource
import signal
import sys
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING

from benchmarks.server import environment

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import NoReturn

__all__ = ["Ran", "forked", "fresh", "loaded"]

LIMIT_S = 40
"""A command that takes longer is ended [s]."""
LIMIT_BYTES = 6 << 30
"""What it may take of addresses at most, so that one that runs away harms nobody else [byte]."""
MOST_READ = 400_000
ITSELF = """
import atexit, os, runpy, sys
memory = int(sys.argv.pop(1))
atexit.register(lambda: os.write(memory, open("/proc/self/status", "rb").read()))
runpy.run_module("foible", run_name="__main__", alter_sys=True)
"""
"""The command, which says at its end how much memory it had at most: to the system, it has what its parent had when it began."""


@dataclass(frozen=True)
class Ran:
    """One run of the command."""

    status: int
    """What it ended with; minus the signal where one ended it."""
    seconds: float
    """Time of this process on a core [s]: others who use the machine do not count."""
    kilobytes: int
    """The most memory that it had; a copy of this process counts from what that had [kB]."""
    told: str
    """What it wrote."""

    @property
    def broke(self) -> bool:
        """Return whether it ended otherwise than a command of ours ends."""
        return "Traceback (most recent call last)" in self.told or self.status not in (0, 1, 2)


def loaded() -> int:
    """Load what the commands need, so that copies of this process have it; return the memory that this takes [kB]."""
    for name in ("foible.cli.main", "foible.services.case_files", "foible.services.opening", "foible.services.verdict"):
        import_module(name)
    return int(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)


def forked(arguments: Sequence[str]) -> Ran:
    """Run the command in a copy of this process, which must have no other threads."""
    before = _now_kilobytes()
    with TemporaryFile() as said:
        child = os.fork()
        if not child:
            _be_command(["foible", *arguments], said.fileno())
        _, status, used = os.wait4(child, 0)
        return _ran(status, used, used.ru_maxrss - before, said.fileno())


def fresh(arguments: Sequence[str]) -> Ran:
    """Run the command as a user starts it."""
    with TemporaryFile() as said, TemporaryFile() as memory:
        child = os.fork()
        if not child:
            _point_to(said.fileno())
            os.set_inheritable(memory.fileno(), True)  # noqa: FBT003 — as it is called
            command = [sys.executable, "-c", ITSELF, str(memory.fileno()), *arguments]
            os.execve(sys.executable, command, environment())  # noqa: S606 — our own command
        _, status, used = os.wait4(child, 0)
        memory.seek(0)
        most = re.search(rb"VmHWM:\s+(\d+) kB", memory.read())
        return _ran(status, used, int(most[1]) if most else 0, said.fileno())


def _now_kilobytes() -> int:
    """Return the memory that this process has now (proc(5): the second field of `statm`, in pages)."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * resource.getpagesize() // 1024


def _ran(status: int, used: resource.struct_rusage, kilobytes: int, said: int) -> Ran:
    os.lseek(said, 0, os.SEEK_SET)
    told = os.read(said, MOST_READ).decode(errors="replace")
    return Ran(os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, kilobytes, told)


def _point_to(said: int) -> None:
    for number in (1, 2):
        os.dup2(said, number)
    resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S + 1))
    resource.setrlimit(resource.RLIMIT_AS, (LIMIT_BYTES, LIMIT_BYTES))


def _be_command(arguments: list[str], said: int) -> NoReturn:
    """Be the command, and end as it ends; nothing of the parent's is put away."""
    status = 70
    try:
        _point_to(said)
        signal.alarm(3 * LIMIT_S)
        sys.argv = arguments
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 — open as long as this process is
        sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 — as above
        from foible.cli.main import run  # noqa: PLC0415 — loaded already, or by this command alone

        run()
        status = 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:  # noqa: BLE001 — this is what is looked for
        import traceback  # noqa: PLC0415 — rarely needed

        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(status)
