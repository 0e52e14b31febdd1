"""Run by Alembic: brings a database up to date on the connection that `migrating` hands over."""

from __future__ import annotations

from alembic import context

from foible.records.tables import Base

__all__: list[str] = []

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=Base.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
