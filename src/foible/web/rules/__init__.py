"""Pages of the rulebook."""

__all__: list[str] = []
