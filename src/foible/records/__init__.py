"""Records in one database, a store for each kind of record: SQLite by default, PostgreSQL by its URL."""

from foible.records import postgresql_tools, sqlite_copy
from foible.records.case import CaseHead, CaseQuery, CaseState, Entry, EntryKind, Heads, KeptCase, NewCase, NewEntry
from foible.records.cases import CHANGES, CaseStore
from foible.records.control_tables import CompetitionRow
from foible.records.database import Database
from foible.records.experience import ExperienceStore
from foible.records.on_file import address_of, file_of, put_away
from foible.records.people_tables import PersonRow, TrailRow
from foible.records.practice_tables import CardRow, GroupRow, LearnerRow, ResultRow, SeriesRow
from foible.records.register_tables import ChoiceRow, ItemRow, JobLineRow, JobRow, LoanRow, MoveRow, PartRow, ReadingRow
from foible.records.sheet_tables import SheetRow
from foible.records.tables import Base
from foible.records.trail import Who, note

__all__ = [
    "CHANGES",
    "Base",
    "CardRow",
    "CaseHead",
    "CaseQuery",
    "CaseState",
    "CaseStore",
    "ChoiceRow",
    "CompetitionRow",
    "Database",
    "Entry",
    "EntryKind",
    "ExperienceStore",
    "GroupRow",
    "Heads",
    "ItemRow",
    "JobLineRow",
    "JobRow",
    "KeptCase",
    "LearnerRow",
    "LoanRow",
    "MoveRow",
    "NewCase",
    "NewEntry",
    "PartRow",
    "PersonRow",
    "ReadingRow",
    "ResultRow",
    "SeriesRow",
    "SheetRow",
    "TrailRow",
    "Who",
    "address_of",
    "file_of",
    "note",
    "postgresql_tools",
    "put_away",
    "sqlite_copy",
]
