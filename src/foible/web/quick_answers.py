"""The question of a case in; out, the answers that are one button each, and what such a button says.

One says which lamps lit; another at which joint of a line, followed down to the apparatus, the lamps first did what they should.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import parse_qsl, urlencode

from foible.output.lamp_words import lamp_name, lamp_words
from foible.services.down_the_line import down_the_line
from foible.services.likely_answers import likely_answers
from foible.trials import report_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.services.cases import Standing
    from foible.services.likely_answers import LitLamps
    from foible.trials import Idea

__all__ = [
    "JOINTS",
    "SEPARATOR",
    "Joints",
    "JointsTold",
    "Quick",
    "joint_answers",
    "joints_told",
    "quick_answers",
    "touched_at_once",
]

FIELD, JOINTS = "lamps", "joints"
"""The fields that such buttons send: every lamp that was lit, as an address has fields; and the joints with their lamps."""
SEPARATOR = "|"
"""What stands between the sentences of several trials."""


class Quick(NamedTuple):
    """One button."""

    words: str
    value: str


class Joints(NamedTuple):
    """Buttons for a line that is followed down to the apparatus."""

    lamp: str
    """What people call the lamp that tells."""
    does: str
    """“light” or “go out”: what it does where the line comes through."""
    here: tuple[Quick, ...]
    """For each joint, with its trial as words: there it did so first."""
    nowhere: Quick


class JointsTold(NamedTuple):
    """What such a button says."""

    farther: tuple[str, ...]
    """The sentences of the trials at the joints farther down."""
    lit: tuple[dict[str, str], ...]
    """The lamps touched, as the fields of a form, in the trial that was asked for and in each of those."""


def quick_answers(standing: Standing, idea: Idea | None) -> tuple[Quick, ...]:
    """Return the buttons that say in one tap what lit; none where the answer is not one of lamps."""
    if idea is None or report_key(idea) != "saw":
        return ()
    made = []
    for lit in likely_answers(standing.diagnosis, idea):
        phrases = [f"{side} {word}" + ("" if manner == "steady" else f" {manner}") for side, word, manner in lit]
        made.append(Quick(", ".join(lamp_words(phrases, standing.case.setup.kind)), _touches(lit)))
    return tuple(made)


def touched_at_once(form: Mapping[str, str]) -> dict[str, str]:
    """Return a form as if the lamps that one button says were lit had been touched."""
    return {**form, **dict(parse_qsl(form.get(FIELD, "")))}


def joint_answers(standing: Standing, ideas: Sequence[Idea], idea: Idea | None) -> Joints | None:
    """Return the buttons for the joints farther down the line that a trial bridges, out of `ideas`; None where there are none."""
    line = down_the_line(standing.diagnosis, ideas, idea) if idea else None
    if line is None:
        return None
    says, broken, through = [each.say for each in line.farther], _touches(line.broken), _touches(line.through)
    side, word, does = line.tells
    return Joints(
        lamp_name(side, word, standing.case.setup.kind),
        does,
        tuple(Quick(say, _joints(says[: number + 1], broken, through)) for number, say in enumerate(says)),
        Quick("nowhere", _joints(says, broken, broken)),
    )


def joints_told(value: str) -> JointsTold:
    """Return what a button for a joint says."""
    told = dict(parse_qsl(value, keep_blank_values=True))
    farther = tuple(told.get("farther", "").split(SEPARATOR))
    broken, last = (dict(parse_qsl(told.get(key, ""))) for key in ("broken", "last"))
    return JointsTold(farther, (*([broken] * len(farther)), last))


def _joints(says: Sequence[str], broken: str, last: str) -> str:
    return urlencode({"farther": SEPARATOR.join(says), "broken": broken, "last": last})


def _touches(lit: LitLamps) -> str:
    return urlencode({f"{side}_{word}": manner for side, word, manner in lit})
