"""The question of a case in; out, one button each for the lamps that it most likely shows, and what such a button says."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import parse_qsl, urlencode

from foible.output.lamp_words import lamp_words
from foible.services.likely_answers import likely_answers
from foible.trials import report_key

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.services.cases import Standing
    from foible.trials import Idea

__all__ = ["Quick", "quick_answers", "touched_at_once"]

FIELD = "lamps"
"""The field that such a button sends: every lamp that it says was lit, as an address has fields."""


class Quick(NamedTuple):
    """One button."""

    words: str
    value: str


def quick_answers(standing: Standing, idea: Idea | None) -> tuple[Quick, ...]:
    """Return the buttons that say in one tap what lit; none where the answer is not one of lamps."""
    if idea is None or report_key(idea) != "saw":
        return ()
    made = []
    for lit in likely_answers(standing.diagnosis, idea):
        phrases = [f"{side} {word}" + ("" if manner == "steady" else f" {manner}") for side, word, manner in lit]
        words = ", ".join(lamp_words(phrases, standing.case.setup.kind))
        made.append(Quick(words, urlencode({f"{side}_{word}": manner for side, word, manner in lit})))
    return tuple(made)


def touched_at_once(form: Mapping[str, str]) -> dict[str, str]:
    """Return a form as if the lamps that one button says were lit had been touched."""
    return {**form, **dict(parse_qsl(form.get(FIELD, "")))}
