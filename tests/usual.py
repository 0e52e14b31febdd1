"""The usual reasoning, one for all tests of a process: what it has worked out of a weapon serves them all.

No answer depends on what was asked before; a test that is about just that, or counts what is worked out, makes its own.
"""

from __future__ import annotations

from foible.services.reasoning import Reasoning

__all__ = ["REASONING"]

REASONING = Reasoning()
