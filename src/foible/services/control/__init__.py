"""What the control table's pages and commands call."""

__all__: list[str] = []
