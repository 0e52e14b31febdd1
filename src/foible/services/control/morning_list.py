"""The proof of a strip before anybody complains, as plain values: its lines, what they prove, what they cannot show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from foible.trials import Trial

__all__ = ["WALK_S", "Left", "Morning", "MorningLine"]

WALK_S = 90.0
"""From one strip to the next, both weapons plugged in again [s]; judgement, no source."""


@dataclass(frozen=True, slots=True)
class MorningLine:
    """One line of the list."""

    say: str
    shows: str
    """What must be seen, in the words of a case file."""
    times: int
    seconds: float
    moves: bool
    """Whether something is shaken or drawn meanwhile, to bring out what comes and goes."""
    trial: Trial


@dataclass(frozen=True, slots=True)
class Left:
    """A failure that may be there although every line came out right."""

    failure: str
    """Its name, without a side."""
    why: str
    share: float
    """Probability that it is there."""


@dataclass(frozen=True)
class Morning:
    """The proof of a strip before anybody complains."""

    weapon: str
    facts: tuple[str, ...]
    asked: float
    lines: tuple[MorningLine, ...]
    before: float
    """Probability that nothing is wrong, before any line: what the share of strips with something wrong says."""
    certain: float
    """Probability that nothing is wrong which these trials could show, once every line came out right."""
    sound: float
    """Probability that nothing at all is wrong then."""
    enough: bool
    """Whether it is as certain as asked; where not, no list here makes it so."""
    passes: float
    """Probability that every line comes out right, where nobody misreads a lamp."""
    mean_s: float
    """What a strip takes on average, where the first line that comes out wrong ends the list [s]."""
    least_s: float
    """No list of these trials that is as good takes less [s]."""
    left: tuple[Left, ...]
    """What may be wrong all the same, the likeliest first."""
    left_out: tuple[str, ...]
    """Movements that are not in the list."""
    never_shown: tuple[str, ...]
    """Failures, without a side, that no trial here shows at any severity."""
    let_through: tuple[tuple[str, tuple[float, ...]], ...]
    """Failures with the severities [Ω] at which the list does not catch them although they are there all the time."""

    @property
    def seconds(self) -> float:
        """What a sound strip takes [s]."""
        return sum(line.times * line.seconds for line in self.lines)

    def minutes(self, pistes: int) -> float:
        """Return what some strips take, those that fail a line only up to it; their repair is not counted [min]."""
        return pistes * (self.mean_s + WALK_S) / 60

    def failing(self, pistes: int) -> float:
        """Return how many of some strips will fail a line, on average."""
        return pistes * (1 - self.passes)
