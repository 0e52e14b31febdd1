"""The register in and out: tables from spreadsheets and JSON, tried before they are taken in, and everything as tables again."""

from foible.services.transfer.columns import Column, Table, said_of_headings, table_named, tables
from foible.services.transfer.reading import Draft, RowProblem, read_draft

__all__ = ["Column", "Draft", "RowProblem", "Table", "read_draft", "said_of_headings", "table_named", "tables"]
