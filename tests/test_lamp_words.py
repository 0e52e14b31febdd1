"""What a page says of the lamps that were reported: every lamp by the name that people call it."""

from __future__ import annotations

import pytest

from foible.kit import weapon_at
from foible.output.lamp_words import lamp_words


@pytest.mark.parametrize(
    ("word", "phrases", "words"),
    [
        ("foil", ["nothing"], ["nothing lit"]),
        ("foil", ["left nothing", "right nothing"], ["nothing lit"]),
        ("foil", ["left nothing"], ["nothing on the left"]),
        ("foil", ["left coloured", "left no yellow", "right nothing"], ["red lit", "nothing on the right"]),
        ("foil", ["left white", "right coloured flickers"], ["left white lit", "green flickers"]),
        ("foil", ["left white all along", "left no yellow"], ["left white lit all along"]),
        ("foil", ["left white sometimes", "left coloured sometimes"], ["left white sometimes", "red sometimes"]),
        ("foil", ["left no white"], ["left white dark"]),
        ("epee", ["left orange", "left no coloured"], ["left orange lit"]),
        ("epee", ["right yellow"], ["right orange lit"]),
        ("foil", ["Right something else again"], ["Right something else again"]),
        ("foil", ["left white steady"], ["left white lit"]),
        ("foil", ["Left white"], ["left white lit"]),
        ("foil", ["red"], ["red lit"]),
        ("foil", ["green flickers", "right no yellow"], ["green flickers"]),
    ],
)
def test_lamps_are_called_by_their_names(word: str, phrases: list[str], words: list[str]) -> None:
    assert list(lamp_words(phrases, weapon_at(word))) == words
