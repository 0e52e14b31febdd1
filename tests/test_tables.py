"""Tables in and out: what is written is read again, no cell comes alive in a spreadsheet, every problem has its row."""

from __future__ import annotations

import csv
import io
import json
from contextlib import suppress
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from foible.errors import InputError, ProblemsError, UnknownNameError
from foible.services.transfer.cells import KINDS
from foible.services.transfer.columns import mapped, table_named, tables
from foible.services.transfer.delimited import MOST_ROWS, csv_of, defused, plain_again, read_csv
from foible.services.transfer.reading import read_draft

if TYPE_CHECKING:
    from collections.abc import Sequence

TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\0"))
HOSTILE = st.builds(str.__add__, st.sampled_from(["=", "+", "-", "@", "\t", "'=", "''+", "'", " =", "＝", "\r"]), TEXTS)
CELLS = TEXTS | HOSTILE
ALIVE = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a spreadsheet takes for a formula (OWASP, “CSV Injection”)."""
NAMES = st.text(st.characters(exclude_categories=("Cs", "Cc", "Z")), min_size=1)
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "text": TEXTS.map(str.strip).filter(bool),
    "date": st.dates(),
    "moment": st.datetimes(timezones=st.just(UTC)),
    "amount": st.integers(0, 2_000_000_000),
    "count": st.integers(0, 2_000_000_000),
    "number": st.floats(allow_nan=False, allow_infinity=False),
    "yes": st.booleans(),
    "pairs": st.dictionaries(NAMES, NAMES, min_size=1),
    "words": st.lists(NAMES, min_size=1),
    "data": st.dictionaries(TEXTS, st.integers() | TEXTS | st.lists(st.booleans()), min_size=1),
}


class TestCsv:
    @given(st.lists(CELLS, min_size=1, max_size=5).flatmap(lambda one: st.lists(st.tuples(*[CELLS] * len(one)), max_size=5)))
    def test_what_is_written_is_read_again(self, rows: Sequence[tuple[str, ...]]) -> None:
        heads = [f"column {number}" for number in range(len(rows[0]) if rows else 1)]
        read = read_csv(csv_of(heads, rows), name="t.csv")
        assert read.heads == tuple(heads)
        assert [row.cells for row in read.rows] == [row for row in rows if any(cell.strip() for cell in row)]

    @given(CELLS)
    def test_no_cell_comes_alive(self, cell: str) -> None:
        (written,) = list(csv.reader(io.StringIO(csv_of(["a"], [[cell]]).decode("utf-8-sig"), newline="")))[1]
        assert not written.lstrip(" ").startswith(ALIVE) or float(written) < 0, "only a number may begin so"
        assert plain_again(written) == cell

    @given(CELLS)
    def test_only_the_apostrophe_of_ours_is_taken_away(self, cell: str) -> None:
        assert plain_again(defused(cell)) == cell

    @pytest.mark.parametrize("number", ["-3", "-2.5", "-1e-7"])
    def test_a_number_stays_one(self, number: str) -> None:
        assert defused(number) == number
        assert plain_again(defused(f"'{number}")) == f"'{number}"

    def test_an_apostrophe_that_belongs_to_a_word_stays(self) -> None:
        assert plain_again("'tis") == defused("'tis") == "'tis"

    @pytest.mark.parametrize("delimiter", [",", ";", "\t"])
    @pytest.mark.parametrize("end", ["\n", "\r\n"])
    @pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
    def test_a_spreadsheet_may_save_it_in_its_own_way(self, delimiter: str, end: str, coding: str) -> None:
        text = end.join(("", delimiter.join(("Kind", "Name")), "", delimiter.join(("lamé", "Zoë’s")), ""))
        read = read_csv(text.encode(coding), name="t.csv")
        assert (read.heads, [(row.line, row.cells) for row in read.rows]) == (("Kind", "Name"), [(4, ("lamé", "Zoë’s"))])
        assert bool(read.notices) == (coding == "cp1252")

    @pytest.mark.parametrize(
        ("raw", "line", "seen"),
        [
            (b"", None, "nothing in it"),
            (b"\n\n", None, "nothing in it"),
            (b"PK\x03\x04\0\0", None, "not a text file"),
            (b'kind,name\nlame,"open', 2, "no CSV"),
            (b'kind,name\nlame,"a"b\n', 2, "no CSV"),
            (b"kind,name\nlame,x\nlame,x,y\n", 3, "3 cells where the first line has 2"),
            (b"kind\n" + b"lame\n" * (MOST_ROWS + 1), None, "too many"),
            (b"kind,kind\nlame,mask\n", 1, "two columns are called"),
        ],
    )
    def test_a_file_that_is_no_table_is_refused_with_the_line(self, raw: bytes, line: int | None, seen: str) -> None:
        with pytest.raises(ProblemsError, match=seen) as refused:
            read_draft(raw, name="t.csv")
        assert [problem.line for problem in refused.value.problems] == [line]


class TestCells:
    @pytest.mark.parametrize("kind", KINDS)
    def test_every_kind_reads_what_it_writes(self, kind: str) -> None:
        cell = KINDS[kind]

        @given(VALUES[kind])
        def holds(value: Any) -> None:  # noqa: ANN401 — of every kind
            assert cell.read(plain_again(defused(cell.write(value)))) == value
            assert cell.read(json.loads(json.dumps(cell.tell(value)))) == value

        holds()

    @pytest.mark.parametrize(
        ("kind", "given", "value"),
        [
            ("amount", "£12.50", 1250),
            ("amount", "12,5 €", 1250),
            ("amount", "1,250.00", 125000),
            ("amount", "1.250,00", 125000),
            ("amount", "1 250", 125000),
            ("amount", 12, 1200),
            ("amount", 12.5, 1250),
            ("date", "28.3.2026", date(2026, 3, 28)),
            ("date", "3/4/2026", date(2026, 4, 3)),
            ("moment", "2026-03-28", datetime(2026, 3, 28, 12, tzinfo=UTC)),
            ("moment", "2026-03-28T19:30+01:00", datetime(2026, 3, 28, 18, 30, tzinfo=UTC)),
            ("yes", "X", True),
            ("yes", False, False),
            ("number", "0,35", 0.35),
            ("pairs", "socket=bayonet; point: german", {"socket": "bayonet", "point": "german"}),
            ("words", "foil/barrel; foil/point", ["foil/barrel", "foil/point"]),
            ("text", 7.0, "7"),
        ],
    )
    def test_what_people_write_is_understood(self, kind: str, given: object, value: object) -> None:
        assert KINDS[kind].read(given) == value

    @pytest.mark.parametrize(
        ("kind", "given"),
        [
            *(("amount", given) for given in ("-3", "twelve", "1.2.3", 0.001, "99999999999", True)),
            *(("date", given) for given in ("31.2.2026", "28.3.26", "yesterday")),
            *(("count", given) for given in ("-1", "1.5", True)),
            *(("number", given) for given in ("nan", "1e999", "2 Ω")),
            *(("pairs", given) for given in ("bayonet", '{"socket": 3}', "{")),
            *(("words", given) for given in ([1], "[")),
            *(("text", ["a"]), ("data", "{" * 100_000), ("yes", "maybe"), ("moment", "25:61")),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, kind: str, given: object) -> None:
        with pytest.raises(InputError):
            KINDS[kind].read(given)


class TestColumns:
    def test_every_name_of_a_column_leads_to_one_column_alone(self) -> None:
        for table in tables():
            names = [name for column in table.column for name in (column.name, *column.also)]
            assert len(names) == len(set(names)), table.name

    def test_headings_are_matched_by_name_then_by_other_names_then_by_likeness(self) -> None:
        found = mapped(table_named("items"), ("Kind", "Belongs to", "Wepon", "FIRST_USED", "Colour", ""), {})
        assert found.by_head == {"Kind": "kind", "Belongs to": "owner", "Wepon": "weapon", "FIRST_USED": "first used"}
        assert found.left_out == ("Colour", "")
        assert not found.missing

    def test_what_the_user_says_comes_first(self) -> None:
        found = mapped(table_named("items"), ("what", "kind"), {"what": "kind", "kind": None})
        assert found.by_head == {"what": "kind"}

    @pytest.mark.parametrize(
        ("chosen", "error"),
        [
            ({"colour": "kind"}, UnknownNameError),
            ({"what": "hue"}, UnknownNameError),
            ({"what": "kind", "a": "kind"}, InputError),
        ],
    )
    def test_a_choice_that_makes_no_sense_is_refused(self, chosen: dict[str, str | None], error: type[InputError]) -> None:
        with pytest.raises(error):
            mapped(table_named("items"), ("what", "a"), chosen)


class TestDraft:
    def test_every_problem_is_told_by_its_row(self) -> None:
        raw = b"kind,bought,price\nlame,2026-02-30,x\nmask,2026-02-28,40\n,,3\n"
        draft = read_draft(raw, name="t.csv")
        assert [(each.row, each.column) for each in draft.problems] == [(2, "bought"), (2, "price"), (4, "kind")]
        assert [row.values for row in draft.rows("items")] == [{"kind": "mask", "bought": date(2026, 2, 28), "price": 4000}]

    def test_a_column_that_must_be_there_is_asked_for(self) -> None:
        (problem,) = read_draft(b"colour,price\nred,40\n", name="t.csv").problems
        assert (problem.column, problem.seen) == ("kind", "there is no such column")
        assert "“colour”" in problem.remedy

    def test_a_list_of_json_is_one_table_and_an_object_several_in_their_order(self) -> None:
        rows = [{"kind": "mask", "price": 12.5, "fitted": {"a": "b"}, "owner": None}]
        draft = read_draft(json.dumps(rows).encode(), name="t.json")
        assert [row.values for row in draft.rows("items")] == [{"kind": "mask", "price": 1250, "fitted": {"a": "b"}}]
        several = {"foible": {"made": "now"}, "items": rows, "people": [{"name": "Ada"}]}
        assert [each.table.name for each in read_draft(json.dumps(several).encode(), name="t").tables] == ["people", "items"]

    @pytest.mark.parametrize(
        ("text", "seen"),
        [
            ("[1]", "no list of objects"),
            ('{"kit": []}', "no table called"),
            ("[{]", "not JSON"),
            ("[]", "nothing in it"),
            ("[" * 99_999, "not JSON"),
            ('[{"price": NaN}]', "no number"),
        ],
    )
    def test_json_that_is_no_table_is_refused(self, text: str, seen: str) -> None:
        with pytest.raises(ProblemsError, match=seen):
            read_draft(text.encode(), name="t.json")

    @given(st.binary(max_size=200))
    def test_any_bytes_at_all_give_a_draft_or_an_error_of_ours(self, raw: bytes) -> None:
        with suppress(InputError):
            read_draft(raw, name="t")
