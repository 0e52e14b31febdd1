"""Weighing what was seen: trials with their reports in, the probability of every hypothesis out."""

__all__: list[str] = []
