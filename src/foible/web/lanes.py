"""Where the work of an endpoint is done: each carries one of three marks, and a test refuses one without a mark.

- `reasons`: it reasons. It waits while answers come in, then for its turn: one at a time in a process.
- `looks_up`: it reads or writes records and files. It gets a thread of AnyIO's own, like static files, and never waits.
- `on_loop`: it runs on the event loop and does nothing there that takes long; long steps it hands to a lane.
"""

from __future__ import annotations

import inspect
from functools import partial, wraps
from typing import TYPE_CHECKING, Any, TypeVar

from foible.web.shared import priority_of

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

__all__ = ["LANES", "lane_of", "looks_up", "on_loop", "reasons"]

Endpoint = TypeVar("Endpoint", bound="Callable[..., object]")
Made = TypeVar("Made")
LANES = ("reasons", "looks_up", "on_loop")


def reasons(endpoint: Callable[..., Made]) -> Callable[..., Awaitable[Made]]:
    """Mark an endpoint that reasons, and give it its turn; it takes the request as `request`."""
    _check(endpoint, is_async=False)

    @wraps(endpoint)
    async def in_turn(**values: Any) -> Made:  # noqa: ANN401 — whatever the endpoint takes
        return await priority_of(values["request"]).reason(partial(endpoint, **values))

    # The annotations are strings for the endpoint's own module, where not every version of FastAPI looks them up.
    vars(in_turn)["__signature__"] = inspect.signature(endpoint, eval_str=True)
    return _marked(in_turn, "reasons")


def looks_up(endpoint: Endpoint) -> Endpoint:
    """Mark an endpoint that reads or writes records and files, but does no reasoning."""
    _check(endpoint, is_async=False)
    return _marked(endpoint, "looks_up")


def on_loop(endpoint: Endpoint) -> Endpoint:
    """Mark an endpoint that takes next to no time, or hands out its steps itself."""
    _check(endpoint, is_async=True)
    return _marked(endpoint, "on_loop")


def lane_of(endpoint: Callable[..., object]) -> str | None:
    """Return the mark of an endpoint, one of `LANES`; None where it has none."""
    return vars(endpoint).get("lane")


def _check(endpoint: Callable[..., object], *, is_async: bool) -> None:
    if inspect.iscoroutinefunction(endpoint) is not is_async:
        msg = f"this mark is for functions that are {'async' if is_async else 'not async'}"
        raise TypeError(msg)


def _marked(endpoint: Endpoint, lane: str) -> Endpoint:
    vars(endpoint)["lane"] = lane
    return endpoint
