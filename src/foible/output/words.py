"""Figures in words, for the terminal and for pages alike: a time or a weight of evidence in, a phrase out."""

from __future__ import annotations

import re

__all__ = ["duration_words", "held_words", "lit_words", "money_words", "percent", "telling_words", "tool_words", "weight_words"]

LEAST_BITS = 0.05
"""Evidence weaker than this counts as none [bit]."""
STRONG_BITS = 2.0
"""From here on evidence is strong: it makes a suspect four times as probable, or as improbable [bit]."""
MUCH_BITS, LITTLE_BITS = 0.5, 0.15
"""From the first on, a trial is said to tell a lot; below the second, a little [bit]."""
LEAST, MOST = 0.005, 0.995
"""Beyond these a probability is given as “under 1 %” and “over 99 %”."""
LIGHTS = 0.95
"""A lamp more probable than this “lights”; one less probable than 1 minus this stays “dark”."""
HELD, HELD_DONE = re.compile(r"\b(left|right) handling "), re.compile(r"\b(left|right) handling: ")
"""Parts and repairs of the item that is no kit, which nobody calls by its name."""
TOOLS = {"spare": "spare weapons and cords", "box": "test box", "weight": "test weight", "shims": "0.5 and 1.5 mm shims"}
"""What people call tools that have shorter names in options and case files."""
MINUTES_FROM = 120.0
"""From this many seconds on, a time is given in minutes [s]."""


def duration_words(seconds: float) -> str:
    """Return a time in seconds or minutes."""
    return f"{seconds:.0f} s" if seconds < MINUTES_FROM else f"{seconds / 60:.0f} min"


def weight_words(bits: float) -> str:
    """Return how much a trial spoke for a suspect, or against it where negative [bit]."""
    if abs(bits) < LEAST_BITS:
        return "says nothing about it"
    much = "strongly" if abs(bits) >= STRONG_BITS else "a little" if abs(bits) < 1 else "clearly"
    return f"speaks {much} {'for' if bits > 0 else 'against'} it"


def telling_words(bits: float) -> str:
    """Return how much a trial is expected to tell [bit]."""
    return "a lot" if bits >= MUCH_BITS else "a little" if bits < LITTLE_BITS else "something"


def tool_words(tool: str) -> str:
    """Return what people call a tool."""
    return TOOLS.get(tool, tool)


def held_words(words: str) -> str:
    """Return words in which how kit is held is said as people say it: “left weapon on own lamé”, “on the left, lift it off”."""
    return HELD.sub(r"\1 ", HELD_DONE.sub(r"on the \1, ", words))


def money_words(hundredths: float) -> str:
    """Return a sum as people read it, without its currency: the register knows none."""
    return f"{round(hundredths) / 100:,.2f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def percent(chance: float) -> str:
    """Return a probability as people read it; never 0 % or 100 %, which nobody can know."""
    if chance < LEAST:
        return "<\N{NO-BREAK SPACE}1\N{NO-BREAK SPACE}%"
    return (">\N{NO-BREAK SPACE}99" if chance > MOST else f"{chance:.0%}"[:-1]) + "\N{NO-BREAK SPACE}%"


def lit_words(chance: float) -> str:
    """Return whether a lamp lights, given its probability of lighting."""
    return "lights" if chance > LIGHTS else "dark" if chance < 1 - LIGHTS else f"may light, {percent(chance)}"
