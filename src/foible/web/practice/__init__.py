"""The pages of the practice strip: lessons, drills, hidden faults and progress each have a module of their own."""

__all__: list[str] = []
