"""How the tables came to be, step by step (Alembic)."""

__all__: list[str] = []
