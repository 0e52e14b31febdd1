"""Commands of the control table."""

from foible.cli.control.desk import CONTROL

__all__ = ["CONTROL"]
"""The commands of the group, by their names in the terminal."""
