"""What is kept: cases and everything that was answered in them. SQLite by default, another database by its URL."""

from foible.register.store import Entry, EntryKind, KeptCase, NewEntry, Register
from foible.register.tables import Base

__all__ = ["Base", "Entry", "EntryKind", "KeptCase", "NewEntry", "Register"]
