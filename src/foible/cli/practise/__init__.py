"""The practice strip in the terminal: each module brings some commands of `foible practise`."""

from foible.cli.practise.drills import DRILLS
from foible.cli.practise.hidden import HIDDEN
from foible.cli.practise.lessons import LESSONS
from foible.cli.practise.worksheet import WORKSHEETS

__all__ = ["PRACTISE"]

PRACTISE = {**LESSONS, **DRILLS, **HIDDEN, **WORKSHEETS}
"""The commands of the group, by their names in the terminal."""
