"""How many passphrases may be tried: a budget for each address, and one for everybody, counted across all processes."""

from __future__ import annotations

import json
import tempfile
import threading
import time
import weakref
from contextlib import contextmanager, suppress
from ipaddress import IPv6Address, ip_address, ip_network
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["EVERYBODY", "FREE", "REFILL_S", "Guesses"]

FREE = 5
"""Guesses that an address may make at once."""
REFILL_S = 60.0
"""How long until it may make another one [s]."""
EVERYBODY, HOUR_S = 1_000, 3_600.0
"""Guesses of all addresses together in an hour; one device that mistypes never meets this."""
MOST_ADDRESSES = 20_000
"""Addresses that are remembered; those that have waited longest are forgotten first."""
ALL = "everybody"

Budget = tuple[float, float]
"""What is left [guesses], and when that was reckoned [s]."""


class Guesses:
    """Budgets of guesses. Made before the processes that share it: it lives in a file without a name, which they inherit."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._file = tempfile.TemporaryFile(buffering=0)  # noqa: SIM115 — open as long as the server is; others write to it too
        weakref.finalize(self, self._file.close)
        self._lock = threading.Lock()

    def wait(self, address: str) -> float:
        """Take a guess from the budget of an address, and return 0; or return how long it has to wait for one [s]."""
        who, now = _network(address), self._clock()
        with self._budgets() as budgets:
            left = {
                ALL: _left(budgets.get(ALL), now, EVERYBODY, HOUR_S / EVERYBODY),
                who: _left(budgets.get(who), now, FREE, REFILL_S),
            }
            waits = ((1 - left[ALL]) * HOUR_S / EVERYBODY, (1 - left[who]) * REFILL_S)
            if max(waits) > 0:
                return max(waits)
            for name, number in left.items():
                budgets[name] = (number - 1, now)
            _forget(budgets, now)
        return 0.0

    def right(self, address: str) -> None:
        """Give an address its whole budget again: it knows the passphrase."""
        with self._budgets() as budgets:
            budgets.pop(_network(address), None)

    @contextmanager
    def _budgets(self) -> Iterator[dict[str, Budget]]:
        """Yield the budgets, held against other threads and processes, and keep what is done to them."""
        with self._lock, _held(self._file.fileno()):
            self._file.seek(0)
            budgets: dict[str, Budget] = json.loads(self._file.read() or b"{}")
            yield budgets
            self._file.seek(0)
            self._file.truncate()
            self._file.write(json.dumps(budgets).encode())


def _left(budget: Budget | None, now: float, most: float, refill_s: float) -> float:
    if budget is None:
        return most
    left, then = budget
    return min(most, left + max(0.0, now - then) / refill_s)


def _forget(budgets: dict[str, Budget], now: float) -> None:
    """Forget whoever has all of a budget again, and the oldest where there are too many."""
    for name in [name for name, budget in budgets.items() if name != ALL and _left(budget, now, FREE, REFILL_S) >= FREE]:
        del budgets[name]
    for name in sorted(budgets.keys() - {ALL}, key=lambda name: budgets[name][1])[: max(0, len(budgets) - MOST_ADDRESSES)]:
        del budgets[name]


def _network(address: str) -> str:
    """Return whom an address counts for: in IPv6 one subscriber has a whole /64 (RFC 6177)."""
    with suppress(ValueError):
        known = ip_address(address)
        if isinstance(known, IPv6Address) and known.ipv4_mapped is None:
            return str(ip_network((int(known) >> 64 << 64, 64)))
    return address


@contextmanager
def _held(file: int) -> Iterator[None]:
    """Hold a file against other processes, where the system has such locks."""
    try:
        import fcntl  # noqa: PLC0415 — not on every system
    except ImportError:
        yield
        return
    fcntl.lockf(file, fcntl.LOCK_EX)
    try:
        yield
    finally:
        fcntl.lockf(file, fcntl.LOCK_UN)
