"""Labels: every code on a sheet is read back by a decoder that is not ours, and lies on its own label."""

from __future__ import annotations

import io

import numpy as np
import pytest
from pypdf import PdfReader

from foible.errors import InputError, UnknownNameError
from foible.output.label_sheets import LabelSheet, label_sheets, own_sheet, sheet_named
from foible.output.labels_pdf import MOST_LABELS, Label, labels_pdf
from foible.output.typeface import written
from paper import codes_of, pictures, scanned

ADDRESS = "http://armoury.lanternfield.example:8711/i/"
SMALL = own_sheet(columns=4, rows=10, width_mm=48.5, height_mm=25.4, left_mm=8, top_mm=21, across_mm=0, down_mm=0)


def labels(count: int) -> list[Label]:
    codes = [f"c{number:03d}x" for number in range(1, count + 1)]
    return [Label(code, ADDRESS + code, ("body cord · foil, two-pin", "Lanternfield")) for code in codes]


@pytest.mark.parametrize("sheet", [*label_sheets(), SMALL], ids=lambda sheet: sheet.name)
def test_every_code_is_read_back_and_lies_on_its_own_label(sheet: LabelSheet) -> None:
    made = labels(sheet.count + 2)
    pages = scanned(labels_pdf(made, sheet))
    assert [[read.text for read in page] for page in pages] == [
        [label.scanned for label in made[: sheet.count]],
        [label.scanned for label in made[sheet.count :]],
    ]
    for place, read in enumerate(pages[0]):
        left, top = sheet.corner(place)
        assert left < read.x < left + sheet.width_mm / 2, "in the left half of the label"
        assert read.y == pytest.approx(top + sheet.height_mm / 2, abs=1), "half way down"


def test_a_code_is_read_through_a_blob_of_solder() -> None:
    """A tenth of the code's area is black; level Q restores up to a quarter of its words (ISO/IEC 18004)."""
    (label,) = labels(1)
    picture = pictures(labels_pdf([label], sheet_named("3x8")))[0].copy()
    rows, columns = np.nonzero(picture[:, : int(picture.shape[1] / 210 * 32)] < 128)
    top, left, side = rows.min(), columns.min(), rows.max() - rows.min()
    blob = round(side * 0.1**0.5)
    picture[top + side // 2 : top + side // 2 + blob, left + side // 2 : left + side // 2 + blob] = 0
    assert [read.text for read in codes_of(picture)] == [label.scanned]


def test_the_first_free_label_is_where_printing_begins() -> None:
    sheet = sheet_named("2x7")
    pages = scanned(labels_pdf(labels(3), sheet, first=13))
    assert [len(page) for page in pages] == [2, 1]
    left, top = sheet.corner(12)
    assert left < pages[0][0].x < left + sheet.width_mm
    assert top < pages[0][0].y < top + sheet.height_mm
    assert pages[1][0].y < sheet.top_mm + sheet.height_mm, "the next sheet begins at its first label"


def test_code_and_lines_stand_beside_it_and_what_does_not_fit_is_left_out() -> None:
    label = Label("w7k3m", "w7k3m", ("épée · Ωmega", "Łucja Ångström", *(f"line {number}" for number in range(20))))
    (page,) = PdfReader(io.BytesIO(labels_pdf([label], sheet_named("3x8")))).pages
    words = page.extract_text()
    assert "w7k3m" in words
    assert "épée · ohmmega" in words
    assert "Lucja Ångström" in words
    assert "line 0" in words
    assert "line 9" not in words


def test_nothing_runs_over_the_edge_of_a_label() -> None:
    long = Label("WWWWWWWWWWWW", "x", ("Wintergreen-Featherstonehaugh", "W" * 200, "ordinary words that go on and on"))
    for sheet in (*label_sheets(), SMALL):
        picture = pictures(labels_pdf([long], sheet))[0]
        dots = picture.shape[1] / 210
        left, top = sheet.corner(0)
        inside = picture[: int((top + sheet.height_mm) * dots), : int((left + sheet.width_mm) * dots)]
        assert (picture < 128).sum() == (inside < 128).sum() > 0


@pytest.mark.parametrize("text", ["Ж", "ő", "Ł", "ı", "王", "→", "\U0001f93a"])
def test_a_name_in_any_script_is_written_in_letters_that_the_typeface_has(text: str) -> None:
    assert written(text).encode("cp1252")
    assert "�" not in written(text)


def test_a_sheet_is_known_by_its_name_or_its_columns_and_rows() -> None:
    assert sheet_named("A4, 3 × 8") is sheet_named("3X8") is label_sheets()[0]
    with pytest.raises(UnknownNameError, match="A4, 2 × 7"):
        sheet_named("5x13")


@pytest.mark.parametrize(
    ("measures", "seen"),
    [
        ({"columns": 4, "rows": 8, "width_mm": 70, "height_mm": 37}, "280 mm wide"),
        ({"columns": 3, "rows": 9, "width_mm": 70, "height_mm": 37}, "333 mm high"),
        ({"columns": 0, "rows": 8, "width_mm": 70, "height_mm": 37}, "columns"),
        ({"columns": 3, "rows": 8, "width_mm": 7, "height_mm": 37}, "width in mm"),
        ({"columns": 3, "rows": 8, "width_mm": float("nan"), "height_mm": 37}, "width in mm"),
    ],
)
def test_a_sheet_that_no_paper_has_is_refused(measures: dict[str, float], seen: str) -> None:
    with pytest.raises(InputError, match=seen):
        own_sheet(**measures)


@pytest.mark.parametrize(
    ("count", "first", "seen"),
    [(0, 1, "nothing"), (1, 25, "label 25"), (1, 0, "label 0"), (MOST_LABELS + 1, 1, "2,001")],
)
def test_labels_that_cannot_be_printed_are_refused(count: int, first: int, seen: str) -> None:
    with pytest.raises(InputError, match=seen):
        labels_pdf(labels(count), sheet_named("3x8"), first=first)
