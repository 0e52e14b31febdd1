"""Rehearsals: scripted faults played against the program's own advice, judged as a master would; README.md has the format."""

__all__: list[str] = []
