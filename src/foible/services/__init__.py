"""The calls that surfaces use, one module for each kind of work; locks and caches live here."""

__all__: list[str] = []
