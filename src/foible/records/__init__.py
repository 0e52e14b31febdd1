"""What is kept: cases and everything that was answered in them. SQLite by default, another database by its URL."""

from foible.records.store import Entry, EntryKind, KeptCase, NewEntry, Register
from foible.records.tables import Base

__all__ = ["Base", "Entry", "EntryKind", "KeptCase", "NewEntry", "Register"]
