"""What teaches, for every surface: lessons, drills, hidden faults and the talk after them, and who has learnt what."""

__all__: list[str] = []
