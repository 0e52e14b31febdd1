"""Commands of the control table."""

from foible.cli.control import desk
from foible.cli.control.queue_commands import QUEUE

__all__ = ["CONTROL"]

CONTROL = desk.CONTROL | QUEUE
"""The commands of the group, by their names in the terminal."""
