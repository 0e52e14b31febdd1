"""Commands of the control table."""

__all__: list[str] = []
