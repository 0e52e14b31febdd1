"""Every way of stopping (Ctrl-C, SIGTERM, the terminal closed) ends the program in order, with everything put away."""

from __future__ import annotations

import signal
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["heard", "leave", "stops", "then"]


def stops() -> tuple[signal.Signals, ...]:
    """Return the signals that ask this program to stop; under `nohup` the closing of the terminal is not among them."""
    hangup: signal.Signals | None = getattr(signal, "SIGHUP", None)
    closed = () if hangup is None or signal.getsignal(hangup) is signal.SIG_IGN else (hangup,)
    return (signal.SIGTERM, signal.SIGINT, *closed)


def heard(handler: Callable[..., Any]) -> None:
    """Have a function called on each signal that asks to stop."""
    for stop in stops():
        signal.signal(stop, handler)


def leave(*_: object) -> NoReturn:
    """End the program as if its work were done; what is to be put away on the way out is."""
    raise SystemExit(0)


@contextmanager
def then(last: Callable[[], None]) -> Iterator[None]:
    """Do `last` when the block ends, in whatever way; a second request to stop does not cut that short."""
    heard(leave)
    try:
        yield
    finally:
        heard(lambda *_: None)
        last()
