"""TOML files: every path on its line, and every file that cannot be read refused with place and remedy."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import Field

from foible.errors import InputError, ProblemsError
from foible.tomlfile import LARGEST_FILE, Strict, line_of, read_model, read_table, toml_lines

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from foible.errors import Problem

TomlPath = tuple[str | int, ...]
Lines = dict[TomlPath, int]


def is_there(table: Any, path: TomlPath) -> bool:  # noqa: ANN401 — what tomllib returns
    """Tell whether `path` leads to something in a parsed document."""
    for key in path:
        try:
            table = table[key]
        except (KeyError, IndexError, TypeError):
            return False
    return True


def assert_located(text: str, expected: Lines) -> None:
    """Check that `expected` paths are found on their lines, and that nothing is listed which the document lacks."""
    lines, parsed = toml_lines(text), tomllib.loads(text)
    assert {path: lines.get(path) for path in expected} == expected
    assert [path for path in lines if not is_there(parsed, path)] == []


# --- lines, by hand ---------------------------------------------------------------------------------------------------


def test_keys_before_the_first_header_belong_to_the_file() -> None:
    assert_located('title = "a"\n\n  weapon = "foil"\n', {("title",): 1, ("weapon",): 3})


def test_keys_below_a_header_belong_to_its_table() -> None:
    assert_located("[a]\nx = 1\n[b.c]\nx = 2\n", {("a",): 1, ("a", "x"): 2, ("b", "c"): 3, ("b", "c", "x"): 4})


def test_arrays_of_tables_count_from_0_and_nested_ones_start_again() -> None:
    text = "[[a]]\nx = 1\n[[a.b]]\ny = 1\n[[a.b]]\ny = 2\n[[a]]\n[[a.b]]\ny = 3\n"
    assert_located(
        text,
        {
            ("a", 0): 1,
            ("a", 0, "x"): 2,
            ("a", 0, "b", 0): 3,
            ("a", 0, "b", 0, "y"): 4,
            ("a", 0, "b", 1, "y"): 6,
            ("a", 1): 7,
            ("a", 1, "b", 0): 8,
            ("a", 1, "b", 0, "y"): 9,
        },
    )


def test_a_plain_table_below_an_array_belongs_to_its_last_entry() -> None:
    text = "[[a]]\n[a.b]\nx = 1\n[[a]]\n[a.b]\nx = 2\n"
    assert_located(text, {("a", 0, "b"): 2, ("a", 0, "b", "x"): 3, ("a", 1, "b"): 5, ("a", 1, "b", "x"): 6})


def test_a_dotted_key_is_listed_with_every_table_on_its_way() -> None:
    text = "[t]\na.b = 1\na . c = 2\n"
    assert_located(text, {("t", "a"): 2, ("t", "a", "b"): 2, ("t", "a", "c"): 3})


def test_quoted_names_keep_dots_spaces_accents_and_hashes() -> None:
    text = "[\"lamé front\".'x.y'] # [no]\n\"a = b\" = 1\n'# c' = 2\n"
    assert_located(
        text,
        {
            ("lamé front", "x.y"): 1,
            ("lamé front", "x.y", "a = b"): 2,
            ("lamé front", "x.y", "# c"): 3,
        },
    )


def test_spaces_inside_brackets_and_around_dots_do_not_matter() -> None:
    assert_located("  [ a . b ]  # note\n\tx=1\n", {("a", "b"): 1, ("a", "b", "x"): 2})


@pytest.mark.parametrize(
    "value",
    [
        '[\n  "y = 1", # ] and "\n  "[fake]",\n]',
        "[\n  [1, 2],\n  [3], ]",
        '"""\n[fake]\nfake = 1\n"""',
        "'''\n[[fake]]\n\"fake\" = 1'''",
        '"""it\'s\n\'\'\' = 1\n"""',
        '{ fake = "a # } b", other = [1, 2] } # }',
        '"# [ \\" ["',
        "'\\' # it's [ a comment",
        '""',
        '"""closed at once [ """ # """',
        "[\"a]\", 'b[']",
    ],
)
def test_a_value_hides_what_looks_like_keys_and_the_next_key_is_found(value: str) -> None:
    text = f"before = 1\nx = {value}\nafter = 1\n"
    assert_located(text, {("before",): 1, ("x",): 2, ("after",): text.count("\n")})
    assert set(toml_lines(text)) == {("before",), ("x",), ("after",)}


@pytest.mark.parametrize(
    "value",
    ['\'"""\'', "\"'''\"", '["""a"""]', '["#", """\nfake = 1\n"""]', "'''a \"\"\" b'''", '"""\n\\"""\n[fake]\n"""'],
)
def test_three_quotes_within_a_value_hide_nothing_behind_it(value: str) -> None:
    text = f"x = {value}\nafter = 1\n"
    assert_located(text, {("after",): text.count("\n")})


def test_comments_hold_no_keys() -> None:
    assert set(toml_lines("# x = 1\n  # [t]\ny = 1 # z = 2\n")) == {("y",)}


def test_line_of_takes_the_longest_beginning_that_is_known() -> None:
    lines = toml_lines('[[trial]]\nsaw = [\n  "nothing",\n]\n')
    assert line_of(lines, ("trial", 0, "saw", 0)) == 2
    assert line_of(lines, ("trial", 0, "press")) == 1
    assert line_of(lines, ("elsewhere", 0)) is None
    assert line_of(lines, ()) is None


@pytest.mark.parametrize(("text", "where"), [("\n[[trail]]\n[[trail]]\n", ("trail",)), ("\n[a.b]\n", ("a",))])
def test_a_table_that_headers_only_pass_through_lies_at_the_first_of_them(text: str, where: TomlPath) -> None:
    assert line_of(toml_lines(text), where) == 2


# --- lines, by property -----------------------------------------------------------------------------------------------

Name = tuple[str, str]
"""A key as it is meant, and as it is written."""

BARE = st.from_regex(r"[A-Za-z0-9_-]{1,5}", fullmatch=True).map(lambda name: (name, name))
QUOTED = st.tuples(st.text("ab é.=#[ ", max_size=5), st.sampled_from("\"'")).map(lambda t: (t[0], f"{t[1]}{t[0]}{t[1]}"))
NAME: st.SearchStrategy[Name] = BARE | QUOTED

LOOKALIKES = ["", "fake = 1", "[fake]", "[[fake]]", "# fake", "it's [", "]", "}", ' "a" = {']
CONTENT = st.lists(st.sampled_from(LOOKALIKES), max_size=4).map("\n".join)
SCALAR = st.one_of(
    st.integers(-9, 9).map(str),
    st.booleans().map(lambda yes: str(yes).lower()),
    st.text("a [](){}#'=,.\\\"", max_size=6).map(lambda s: '"' + s.replace("\\", "\\\\").replace('"', '\\"') + '"'),
    st.text("a [](){}#=,.\\", max_size=6).map(lambda s: f"'{s}'"),
)
COMMENT = st.sampled_from(["", "", " # fake = 1", " # [ it's", ' # "', " # ]"])
ARRAY = st.lists(st.tuples(SCALAR, COMMENT), max_size=3).map(
    lambda rows: "[" + "".join(f"\n  {value},{comment}" for value, comment in rows) + "\n]"
)
VALUE = st.one_of(
    SCALAR,
    CONTENT.map(lambda text: f'"""\n{text}\n"""'),
    CONTENT.map(lambda text: f"'''\n{text.replace(chr(39), '')}'''"),
    ARRAY,
    st.lists(SCALAR, max_size=3).map(lambda values: f"[{', '.join(values)}]"),
    st.lists(SCALAR, max_size=2).map(lambda v: "{ " + ", ".join(f"k{i} = {x}" for i, x in enumerate(v)) + " }"),
)


class Writer:
    """Writes a TOML document and notes the line of everything it writes."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.text: list[str] = []
        self.noted: Lines = {}

    def line(self, text: str) -> int:
        """Write `text`, after an empty line or a comment now and then, and return the line it begins on."""
        self.text += self.draw(st.sampled_from([[], [], [""], ["# fake = 1"], ["  # [fake]"]]))
        begins = sum(entry.count("\n") + 1 for entry in self.text) + 1
        self.text.append(text)
        return begins

    def names(self, *, most: int) -> list[Name]:
        """Draw keys that differ in what they mean."""
        return self.draw(st.lists(NAME, max_size=most, unique_by=lambda name: name[0]))

    def header(self, path: TomlPath, written: str, *, repeated: bool = False) -> None:
        """Write the header of a table."""
        self.noted[path] = self.line(f"[[{written}]]" if repeated else f"[{written}]{self.draw(COMMENT)}")

    def keys(self, path: TomlPath, names: list[Name]) -> None:
        """Write keys, some of them dotted, into the table at `path`."""
        for name, written in names:
            inner = self.draw(st.none() | NAME)
            value = self.draw(VALUE)
            own = self.line(f"{written} = {value}" if inner is None else f"{written}.{inner[1]} = {value}")
            self.noted[*path, name] = own
            if inner is not None:
                self.noted[*path, name, inner[0]] = own

    def table(self, path: TomlPath, written: str, *, deep: bool) -> None:
        """Fill the table at `path` with keys, then with tables and arrays of tables of its own."""
        names = self.names(most=6)
        cut = self.draw(st.integers(0, len(names)))
        self.keys(path, names[:cut])
        if not deep:
            return
        for number, (name, own) in enumerate(names[cut:]):
            dotted = f"{written}.{own}" if written else own
            if number % 2:
                self.header((*path, name), dotted)
                self.table((*path, name), dotted, deep=False)
                continue
            for count in range(self.draw(st.integers(1, 3))):
                self.header((*path, name, count), dotted, repeated=True)
                self.table((*path, name, count), dotted, deep=len(path) < 2)


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, Lines]:
    """Return the text of a document and the line of every header and key in it."""
    writer = Writer(draw)
    writer.table((), "", deep=True)
    return "\n".join(writer.text), writer.noted


@settings(max_examples=60, deadline=None, derandomize=True)
@given(documents())
def test_toml_lines_finds_every_key_where_it_was_written(document: tuple[str, Lines]) -> None:
    text, noted = document
    parsed = tomllib.loads(text)
    assert all(is_there(parsed, path) for path in noted)
    assert_located(text, noted)


# --- files that cannot be read ----------------------------------------------------------------------------------------


def refused(path: Path) -> Problem:
    """Return the one problem for which `path` is refused."""
    with pytest.raises(ProblemsError) as caught:
        read_table(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.remedy
    assert isinstance(caught.value, InputError)
    assert str(caught.value).startswith(f"{path}:")
    return problem


def test_a_missing_file_is_refused_with_its_path(tmp_path: Path) -> None:
    problem = refused(tmp_path / "none.toml")
    assert problem.line is None
    assert "No such file" in problem.seen
    assert problem.remedy == "check the path"


def test_a_folder_is_refused_as_one(tmp_path: Path) -> None:
    assert "not a file" in refused(tmp_path).seen


@pytest.mark.parametrize(
    ("raw", "line", "seen", "remedy"),
    [
        pytest.param(b'a = 1\nb = "\0"\n', None, "not a text file", "TOML file", id="a NUL byte"),
        pytest.param("a = 1\n".encode("utf-16"), None, "not a text file", "TOML file", id="UTF-16"),
        pytest.param('a = 1\n\nb = "lamé"\n'.encode("latin-1"), 3, "not UTF-8", "UTF-8", id="Latin-1"),
        pytest.param(b"a = 1\n[trial\nb = 2\n", 2, "not TOML", "correct the line", id="bracket left open"),
        pytest.param(b"a = 1\r\nb = left\r\n", 2, "not TOML", "quotes", id="string without quotes"),
        pytest.param(b'a = 1\nb = [\n"x",\n', 4, "not TOML", "brackets", id="list that never ends"),
        pytest.param(b"a = 1\na = 2\n", 2, "not TOML", "correct the line", id="key given twice"),
        pytest.param(b"#" * (LARGEST_FILE + 1), None, "more than 200,000 bytes", "TOML file", id="far too long"),
    ],
)
def test_a_file_that_is_no_toml_is_refused_at_its_line(
    tmp_path: Path, raw: bytes, line: int | None, seen: str, remedy: str
) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(raw)
    problem = refused(path)
    assert problem.line == line
    assert seen in problem.seen
    assert remedy in problem.remedy


@pytest.mark.parametrize("value", ["[" * 20_000, "1" * 5_000], ids=["deep nesting", "endless number"])
def test_toml_that_the_parser_gives_up_on_is_refused_too(tmp_path: Path, value: str) -> None:
    path = tmp_path / "case.toml"
    path.write_text(f"x = {value}", encoding="utf-8")
    assert refused(path).line in (1, None)


def test_a_file_of_the_largest_size_is_still_read(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes((b"a = 1\n" + (b"#" * 1999 + b"\n") * 100)[:LARGEST_FILE])
    assert read_table(path)[0] == {"a": 1}


def test_line_ends_of_either_kind_read_alike(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(b'a = 1\r\nb = """\r\nx\r\n"""\r\nc = 2\r\n')
    table, text = read_table(path)
    assert table == {"a": 1, "b": "x\n", "c": 2}
    assert toml_lines(text) == {("a",): 1, ("b",): 2, ("c",): 5}


@settings(max_examples=150, deadline=None, derandomize=True)
@given(raw=st.binary(max_size=60) | st.text('a"[]{}=\n#.\\1', max_size=30).map(str.encode))
def test_any_short_file_is_read_or_refused_with_a_line_that_it_has(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(raw)
    try:
        read_table(path)
        problems: Sequence[Problem] = ()
    except ProblemsError as error:
        problems = error.problems
    assert all(p.line is None or 1 <= p.line <= raw.count(b"\n") + 1 for p in problems)


# --- tables that do not fit their model -------------------------------------------------------------------------------


class Screw(Strict):
    """A table of the test's own."""

    turns: int = Field(gt=0)


class Box(Strict):
    """Another, with the first inside."""

    name: str
    screw: tuple[Screw, ...] = ()


def test_all_that_does_not_fit_the_model_is_reported_together(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    path.write_text("[[screw]]\nturns = 1\n[[screw]]\nturns = 0\nslot = 1\n[[screw]]\n", encoding="utf-8")
    with pytest.raises(ProblemsError) as caught:
        read_model(Box, path)
    assert {(p.line, p.seen.partition(":")[0], p.remedy.partition(";")[0]) for p in caught.value.problems} == {
        (None, "name", "add the key"),
        (4, "screw [2] turns", "correct the value"),
        (5, "screw [2] slot", "remove the key or correct its spelling"),
        (6, "screw [3] turns", "add the key"),
    }


def test_the_remedy_for_an_unknown_key_lists_the_keys_of_its_own_table(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    path.write_text('name = "a"\n[[screw]]\nturns = 1\nturn = 1\n', encoding="utf-8")
    with pytest.raises(ProblemsError) as caught:
        read_model(Box, path)
    (problem,) = caught.value.problems
    assert "turns" in problem.remedy
    assert "name" not in problem.remedy
