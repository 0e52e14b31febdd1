"""What a part of the fault runs found: one promise, how often it was tried, and what was lost."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

__all__ = ["Row"]


@dataclass(frozen=True)
class Row:
    """One line of the table in docs/reliability.md."""

    promise: str
    """What Foible promises, as a sentence without a full stop."""
    test: str
    """The test that holds it to that with fewer rounds: `tests/test_x.py::test_y`."""
    tried: str
    """How often, and what was measured: `200 rounds, 4,493 answers acknowledged`."""
    lost: int = 0
    """Answers, requests or files that did not come out as promised."""
    told: tuple[str, ...] = ()
    """What went wrong, in words, for whoever runs it; empty where nothing did."""

    def as_json(self) -> dict[str, Any]:
        """Return it as it is kept in docs/faults.json."""
        return asdict(self)
