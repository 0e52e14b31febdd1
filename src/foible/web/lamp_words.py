"""The phrases of a report of lamps in, the words of a page out: each lamp by its name, and only what says something."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import SIDES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Weapon

__all__ = ["lamp_words"]


def lamp_words(phrases: Sequence[str], weapon: Weapon) -> tuple[str, ...]:
    """Return what lit: “red lit”, “left white flickers”, “nothing on the right”; “nothing lit” where both sides were dark.

    A lamp that stayed dark is left out where another lamp of its side lit. A phrase of another form stays as it is.
    """
    split = [phrase.split(maxsplit=2) for phrase in phrases]
    if all(words[-1] == "nothing" for words in split):
        sides = {words[0] for words in split}
        if sides >= set(SIDES) or sides == {"nothing"}:
            return ("nothing lit",)
    lit = {words[0] for words in split if words[1:2] not in ([], ["no"], ["nothing"])}
    said = (_phrase(words, weapon) for words in split if words[1:2] != ["no"] or words[0] not in lit)
    return tuple(dict.fromkeys(said))


def _phrase(words: Sequence[str], weapon: Weapon) -> str:
    match words:
        case [side, "nothing"] if side in SIDES:
            return f"nothing on the {side}"
        case [side, "no", lamp] if side in SIDES:
            return f"{_name(side, lamp, weapon)} dark"
        case [side, lamp] if side in SIDES:
            return f"{_name(side, lamp, weapon)} lit"
        case [side, lamp, "all along"] if side in SIDES:
            return f"{_name(side, lamp, weapon)} lit all along"
        case [side, lamp, manner] if side in SIDES:
            return f"{_name(side, lamp, weapon)} {manner}"
        case _:
            return " ".join(words)


def _name(side: str, word: str, weapon: Weapon) -> str:
    """Return what people call a lamp, with its side where the name alone does not tell it."""
    names = next((lamp.names for lamp in weapon.lamps if word in (lamp.word, lamp.kind)), None)
    if names is None:
        return f"{side} {word}"
    return names[side] if len(set(names.values())) > 1 else f"{side} {names[side]}"
