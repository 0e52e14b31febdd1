"""The phrases of a lamp report in, the words for people out: each lamp by its name, and only what matters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import SIDES, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Weapon, WeaponLamp

__all__ = ["lamp_name", "lamp_words"]


def lamp_words(phrases: Sequence[str], weapon: Weapon) -> tuple[str, ...]:
    """Return what lit: “red lit”, “left white flickers”, “nothing on the right”; “nothing lit” where both sides were dark.

    A lamp that stayed dark is left out where another lamp of its side lit. Any other phrase stays as it is.
    """
    split = [_split(phrase, weapon) for phrase in phrases]
    if all(words[-1] == "nothing" for words in split):
        sides = {words[0] for words in split}
        if sides >= set(SIDES) or sides == {"nothing"}:
            return ("nothing lit",)
    lit = {words[0] for words in split if words[1:2] not in ([], ["no"], ["nothing"])}
    said = (
        _phrase(words, weapon) or phrase
        for phrase, words in zip(phrases, split, strict=True)
        if words[1:2] != ["no"] or words[0] not in lit
    )
    return tuple(dict.fromkeys(said))


def _split(phrase: str, weapon: Weapon) -> list[str]:
    """Return a phrase as side, lamp and manner, as far as it has them: a colour of one side alone names both."""
    words = plain(phrase).split(" ")
    for side in SIDES:
        words = next(([side, lamp.word, *words[1:]] for lamp in weapon.lamps if _only(lamp, side) == words[0]), words)
    return [*words[:2], *([" ".join(words[2:])] if words[2:] else [])]


def _phrase(words: Sequence[str], weapon: Weapon) -> str:
    """Return the phrase in words for people; empty where it has another form."""
    match words:
        case [side, "nothing"] if side in SIDES:
            return f"nothing on the {side}"
        case [side, "no", lamp] if side in SIDES:
            return f"{lamp_name(side, lamp, weapon)} dark"
        case [side, lamp] | [side, lamp, "steady"] if side in SIDES:
            return f"{lamp_name(side, lamp, weapon)} lit"
        case [side, lamp, "all along"] if side in SIDES:
            return f"{lamp_name(side, lamp, weapon)} lit all along"
        case [side, lamp, "flickers" | "sometimes" as manner] if side in SIDES:
            return f"{lamp_name(side, lamp, weapon)} {manner}"
        case _:
            return ""


def lamp_name(side: str, word: str, weapon: Weapon) -> str:
    """Return what people call a lamp, with its side where the name alone does not say which."""
    lamp = next((lamp for lamp in weapon.lamps if word in (lamp.word, lamp.kind)), None)
    if lamp is None:
        return f"{side} {word}"
    return _only(lamp, side) or f"{side} {lamp.names[side]}"


def _only(lamp: WeaponLamp, side: str) -> str | None:
    """Return the name of a lamp that no lamp of the other side has; None where both have it."""
    return lamp.names[side] if len(set(lamp.names.values())) > 1 else None
