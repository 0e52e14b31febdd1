"""What stays in memory of the pairs after rows of trials: the latest used, up to a size.

The pairs are stood in for by ones that count their steps, and whose states have a given number of bytes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np

from foible.diagnosis.belief.pair_states import PairStates
from foible.diagnosis.belief.pairs import PairEvidence, PairState
from foible.trials import Trial

if TYPE_CHECKING:
    from foible.diagnosis.belief.pairs import Pairs

A, B, C = (Trial(note=note, swapped=(note,)) for note in "abc")
NOTHING = np.zeros(1)


def state_of(size: int) -> PairState:
    """Return a state whose tables take `size` bytes, eight at least."""
    return PairState(np.zeros(1, dtype=np.intp), np.zeros((1, (size - 8) // 4), dtype=np.float32), 0.0)


class Steps:
    """Pairs whose state takes as many bytes as the trial says that leads to it."""

    start = state_of(8)

    def __init__(self, **sizes: int) -> None:
        self.sizes = sizes
        self.made = ""

    def after(self, _: PairState, evidence: PairEvidence) -> PairState:
        name = "abc"[evidence.times - 1]
        self.made += name
        return state_of(self.sizes[name])


def remembered(steps: Steps, most_bytes: int) -> PairStates:
    def evidence(trial: Trial) -> PairEvidence:
        return PairEvidence((), (NOTHING, NOTHING, NOTHING), times=1 + "abc".index(trial.note))

    return PairStates(cast("Pairs", steps), evidence, lambda *_: (NOTHING, NOTHING, NOTHING), most_bytes=most_bytes)


def test_what_was_longest_not_asked_for_goes_first() -> None:
    steps = Steps(a=40, b=40, c=40)
    states = remembered(steps, 80)
    for trial in (A, B, A, C):
        states.after((trial,))
    assert steps.made == "abc"
    states.after((A,))
    states.after((C,))
    assert steps.made == "abc"
    states.after((B,))
    assert steps.made == "abcb"


def test_sizes_are_added_up() -> None:
    steps = Steps(a=24, b=16, c=40)
    states = remembered(steps, 40)
    for trial in (A, B, A, B):
        states.after((trial,))
    assert steps.made == "ab", "24 and 16 bytes fit into 40"
    for trial in (C, A):
        states.after((trial,))
    assert steps.made == "abca", "40 bytes more do not"


def test_a_state_larger_than_everything_is_returned_and_harms_nothing() -> None:
    steps = Steps(a=24, b=400)
    states = remembered(steps, 40)
    states.after((A,))
    assert states.after((B,)).size == 400
    assert states.after((B,)).size == 400
    assert steps.made == "abb"
    states.after((A,))
    assert steps.made == "abb"


def test_what_lies_between_makes_room_for_what_comes_after_it() -> None:
    steps = Steps(a=24, b=24, c=24)
    states = remembered(steps, 72)
    states.after((A,))
    states.after((A, B))
    states.after((A, B, C))
    assert steps.made == "abc", "one step for each further trial"
    states.after((B,))
    states.after((A, B, C))
    states.after((A,))
    assert steps.made == "abcb", "the two trials' state made room: the first, the last and another row fit"
    states.after((A, B))
    assert steps.made == "abcbb"
