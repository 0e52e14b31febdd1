"""What has been worked out and may be asked for again: the latest used stays, up to a size."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Cache"]

Key = TypeVar("Key")
Value = TypeVar("Value")


class Cache(Generic[Key, Value]):
    """Values by key, for any number of threads.

    `most` is what the sizes of all of them may add up to; each counts 1 where no size is given.
    """

    def __init__(self, most: int, size: Callable[[Value], int] = lambda _: 1) -> None:
        self._most = most
        self._size = size
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._held = 0
        self._lock = Lock()

    def get(self, key: Key) -> Value | None:
        """Return the value of a key, which then counts as just used; None where it is not kept."""
        with self._lock:
            if key not in self._values:
                return None
            self._values.move_to_end(key)
            return self._values[key]

    def put(self, key: Key, value: Value) -> Value:
        """Keep a value, let go of what was longest not asked for, and return the value."""
        with self._lock:
            if key in self._values:
                self._held -= self._size(self._values.pop(key))
            self._values[key] = value
            self._held += self._size(value)
            while self._held > self._most and len(self._values) > 1:
                _, oldest = self._values.popitem(last=False)
                self._held -= self._size(oldest)
        return value

    def drop(self, key: Key) -> None:
        """Let go of the value of a key."""
        with self._lock:
            if key in self._values:
                self._held -= self._size(self._values.pop(key))
