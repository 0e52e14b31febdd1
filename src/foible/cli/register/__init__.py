"""The register in the terminal: items, jobs, parts in stock, and tables in and out."""

from foible.cli.register.groups import ITEMS, JOBS, PARTS
from foible.cli.register.teaching import learned, season

__all__ = ["ITEMS", "JOBS", "PARTS", "learned", "season"]
"""The commands of each group, by their names in the terminal."""
