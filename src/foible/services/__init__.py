"""What the surfaces call, one module for each kind of work; locks and caches live here."""

__all__: list[str] = []
