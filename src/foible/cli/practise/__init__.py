"""The practice strip in the terminal: each module brings some commands of `foible practise`."""

from foible.cli.practise.hidden import HIDDEN
from foible.cli.practise.lessons import LESSONS

__all__ = ["PRACTISE"]

PRACTISE = {**LESSONS, **HIDDEN}
"""The commands of the group, by their names in the terminal."""
