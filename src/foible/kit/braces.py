"""Text with names in braces in, the same text with the words filled in out.

Files of the kit and of trials write once what holds for both sides, or for several parts: “{side} cord”, “{x} clip”.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from foible.kit.names import other

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["filled", "side_words"]


def filled(value: Any, words: Mapping[str, str]) -> Any:  # noqa: ANN401 — TOML values of any kind
    """Return a value of a TOML file with “{name}” replaced by `words[name]` in every text, keys of tables among them.

    Names without a word stay as they are, braces and all.
    """
    match value:
        case str():
            for name, word in words.items():
                value = value.replace(f"{{{name}}}", word)
            return value
        case dict():
            return {filled(key, words): filled(entry, words) for key, entry in value.items()}
        case tuple() | list():
            return [filled(entry, words) for entry in value]
        case _:
            return value


def side_words(side: str) -> dict[str, str]:
    """Return the words for “{side}” and “{other}”, the side that is meant and the opposite one."""
    return {"side": side, "other": other(side)}
