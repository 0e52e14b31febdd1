"""Sheets of labels as data: columns, rows and millimetres in, where each label lies out."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Self

from pydantic import Field, ValidationError, model_validator

from foible.errors import InputError, UnknownNameError
from foible.tomlfile import Strict, read_model

__all__ = ["LabelSheet", "label_sheets", "own_sheet", "sheet_named"]

A4_MM = (210.0, 297.0)
"""ISO 216: width and height of A4 [mm]."""
SLACK_MM = 0.05
"""How far the labels may add up to more than the paper: measures are rounded to a tenth [mm]."""
SMALLEST_MM = (25.0, 15.0)
"""The smallest label that a code and its letters can be read from [mm]."""


class LabelSheet(Strict):
    """A sheet of paper with labels of one size, row by row; lengths in millimetres."""

    name: str = Field("own sheet", max_length=40)
    columns: int = Field(ge=1, le=10)
    rows: int = Field(ge=1, le=30)
    width_mm: float = Field(ge=SMALLEST_MM[0], le=A4_MM[0])
    height_mm: float = Field(ge=SMALLEST_MM[1], le=A4_MM[1])
    left_mm: float = Field(0.0, ge=0, le=A4_MM[0])
    """From the edge of the paper to the first column."""
    top_mm: float = Field(0.0, ge=0, le=A4_MM[1])
    """From the edge of the paper to the first row."""
    across_mm: float = Field(0.0, ge=0, le=A4_MM[0])
    """Between two columns."""
    down_mm: float = Field(0.0, ge=0, le=A4_MM[1])
    """Between two rows."""

    @model_validator(mode="after")
    def _lies_on_the_paper(self) -> Self:
        wide = self.left_mm + self.columns * self.width_mm + (self.columns - 1) * self.across_mm
        high = self.top_mm + self.rows * self.height_mm + (self.rows - 1) * self.down_mm
        for length, paper, way in ((wide, A4_MM[0], "wide"), (high, A4_MM[1], "high")):
            if length > paper + SLACK_MM:
                msg = f"the labels are {length:g} mm {way} together, and the paper {paper:g} mm"
                raise ValueError(msg)
        return self

    @property
    def count(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """Return the left upper corner of a label [mm]; places count from 0, row by row."""
        row, column = divmod(place % self.count, self.columns)
        return self.left_mm + column * (self.width_mm + self.across_mm), self.top_mm + row * (self.height_mm + self.down_mm)


class SheetFile(Strict):
    """The sheets that are brought along."""

    sheet: tuple[LabelSheet, ...] = Field(min_length=1)


@lru_cache
def label_sheets() -> tuple[LabelSheet, ...]:
    """Return the sheets that are brought along, the usual one first."""
    return read_model(SheetFile, Path(str(files("foible.output") / "data" / "label-sheets.toml"))).sheet


def sheet_named(name: str) -> LabelSheet:
    """Return a sheet by its name, or by its columns and rows such as “3x8”. Raises UnknownNameError."""
    wanted = _bare(name)
    for sheet in label_sheets():
        if wanted in (_bare(sheet.name), f"{sheet.columns}x{sheet.rows}"):
            return sheet
    raise UnknownNameError(what="label sheet", name=name, known=[sheet.name for sheet in label_sheets()])


def own_sheet(**measures: float) -> LabelSheet:
    """Return a sheet from its columns, rows and millimetres. Raises InputError for one that no paper has."""
    try:
        return LabelSheet.model_validate(measures)
    except ValidationError as error:
        first = error.errors()[0]
        said = str(first["msg"]).removeprefix("Value error, ")
        where = " ".join(str(step) for step in first["loc"]).replace("_mm", " in mm")
        seen = f"{where} of {first['input']!r} is no label sheet" if where else said
        remedy = f"{said[:1].lower()}{said[1:]}" if where else "measure a label, and the distance from one to the next"
        raise InputError(seen=seen, remedy=remedy) from error


def _bare(name: str) -> str:
    return name.casefold().replace("×", "x").replace(" ", "")
