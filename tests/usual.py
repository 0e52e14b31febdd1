"""The usual reasoning, one for all tests of a process: what it has worked out of a weapon serves them all.

No answer depends on what was asked before; a test that is about just that, or counts what is worked out, makes its own.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from foible.services.reasoning import Reasoning
from foible.services.scoring import score

if TYPE_CHECKING:
    from foible.services.scoring import Score

__all__ = ["PUBLISHED", "REASONING", "published_score"]

REASONING = Reasoning()
PUBLISHED = Path(__file__).parent.parent / "examples" / "published"


@cache
def published_score() -> Score:
    """Return the score of the published cases, which several files of tests look at."""
    return score(REASONING, PUBLISHED)
