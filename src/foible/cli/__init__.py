"""The terminal surface: thin over the façade, no reasoning in it."""

__all__: list[str] = []
