"""A control table under load: entries kept by six devices at once, and what `kill -9` of any process loses."""

__all__: list[str] = []
