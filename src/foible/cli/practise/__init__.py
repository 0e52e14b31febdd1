"""The practice strip in the terminal: each module brings some commands of `foible practise`."""

from foible.cli.practise.drills import DRILLS

__all__ = ["PRACTISE"]

PRACTISE = {**DRILLS}
"""The commands of the group, by their names in the terminal."""
