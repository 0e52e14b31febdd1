"""Case files: published ones read, and whatever is written into one read again as it was."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from case_files import written
from foible.kit import SIDES, Setup, load_setup
from foible.trials import Arrangement, TrialTable, case_text, read_case, read_seen, read_trial

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.trials import Case

ROOT = Path(__file__).parents[1]
PUBLISHED = sorted((ROOT / "examples" / "published").glob("*.toml"))
PAGE = (ROOT / "docs" / "case-file.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


# --- published cases --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_a_published_case_reads_and_reads_again_as_it_is_written_back(path: Path, tmp_path: Path) -> None:
    case = read_case(path)
    assert case.title
    assert case.trials
    assert case.expected
    assert all(part in case.setup.parts for part in case.expected.parts)
    assert case.expected.parts or case.expected.unexplained
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    trials = table.pop("trial")
    again = read_case(written(tmp_path, case_text(table, trials)))
    assert head_of(again) == head_of(case)
    assert again.trials == case.trials


def test_there_are_published_cases() -> None:
    assert len(PUBLISHED) >= 30


def head_of(case: Case) -> tuple[object, ...]:
    """Return what a case says besides its trials."""
    known = set(case.setup.parts), case.profile, case.known_good
    return (case.title, case.complaint, case.source, *known, case.expected)


# --- written and read again -------------------------------------------------------------------------------------------

# Characters beyond the 16-bit plane that cannot be printed have a test of their own below.
TEXT = st.text(st.characters(codec="utf-8").filter(lambda c: ord(c) < 0x10000 or c.isprintable()), max_size=20)
MANNERS = st.sampled_from(["{} {}", "{} {} flickers", "{} {} sometimes", "{} no {}"])


# long: one draw for each key
@st.composite
def trial_tables(draw: st.DrawFn, setup: Setup) -> dict[str, Any]:
    """Return a trial as a case file writes it, every name of it one of `setup`."""

    def some(names: Sequence[str], most: int = 2) -> list[str]:
        return draw(st.lists(st.sampled_from(names), max_size=most, unique=True))

    places = list(setup.places)
    bridges = [f"{c.id} {a}-{b}" for c in setup.connections.values() for a in c.bridge for b in c.bridge if a != b]
    table: dict[str, Any] = {
        "unplugged": some(list(setup.connections)),
        "bridged": some(bridges),
        "swapped": some([item.id for item in setup.items.values() if item.exchange_s]),
        "mended": some(list(setup.parts)),
        "move": some([*setup.movements, "fence left", "fence right"]),
        "times": draw(st.integers(1, 100)),
        "note": draw(TEXT),
    }
    pairs = st.tuples(st.sampled_from(places), st.sampled_from(places)).filter(
        lambda pair: setup.places[pair[0]] != setup.places[pair[1]]
    )
    table["touching"] = [f"{a} on {b}" for a, b in draw(st.lists(pairs, max_size=2))]
    side = draw(st.none() | st.sampled_from(SIDES))
    if side:
        table["press"] = side
        table["on"] = draw(st.none() | st.sampled_from([p for p in places if setup.places[p] != setup.points[side].face]))
    table["saw"] = [
        draw(MANNERS).format(lamp_side, draw(st.sampled_from(lamps)))
        for lamp_side, lamps in draw(
            st.lists(
                st.sampled_from([(s, lamps) for s in SIDES for lamps in (("white", "coloured"), ("yellow",))]),
                min_size=1,
                unique=True,
            )
        )
    ]
    if draw(st.booleans()):
        table["examine"] = some([*setup.parts, *setup.items]) or ["left cord"]
        shown = {sign for each in setup.failures.values() if each.part in table["examine"] for sign in each.signs}
        signs = sorted(setup.signs if any(name in setup.items for name in table["examine"]) else shown or setup.signs)
        table["found"] = draw(st.just(["fine"]) | st.lists(st.sampled_from(signs), min_size=1, max_size=3))
    keys = draw(st.permutations([key for key, value in table.items() if value]))
    return {key: table[key] for key in keys}


@settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), title=TEXT, complaint=TEXT)
def test_a_case_reads_as_it_was_written(foil: Setup, tmp_path: Path, data: st.DataObject, title: str, complaint: str) -> None:
    tables = data.draw(st.lists(trial_tables(foil), min_size=1, max_size=4))
    head = {"title": title, "weapon": "foil", "complaint": complaint, "known_good": ["piste", "left cord"]}
    case = read_case(written(tmp_path, case_text(head, tables)))
    assert (case.title, case.complaint, case.known_good) == (title, complaint, ("piste", "left cord"))
    assert len(case.trials) == len(tables)
    for trial, table in zip(case.trials, tables, strict=True):
        assert trial.arrangement == Arrangement(
            press=table.get("press"),
            on=table.get("on"),
            touching=tuple(tuple(text.split(" on ")) for text in table.get("touching", [])),
            unplugged=tuple(table.get("unplugged", [])),
            bridged=tuple((text[:-4], text[-3], text[-1]) for text in table.get("bridged", [])),
        )
        assert (trial.swapped, trial.mended) == (tuple(table.get("swapped", [])), tuple(table.get("mended", [])))
        assert trial.moves == tuple(table.get("move", []))
        assert (trial.examine, trial.found) == (tuple(table.get("examine", [])), tuple(table.get("found", [])))
        assert (trial.times, trial.note) == (table["times"], table.get("note", ""))
        assert trial.seen == read_seen(table["saw"])


@settings(max_examples=100, deadline=None, derandomize=True)
@given(TEXT, st.integers(1, 100))
def test_any_text_stands_in_a_case_file_as_it_is(text: str, times: int) -> None:
    table = tomllib.loads(case_text({"title": text, "known_good": [text]}, [{"note": text, "times": times}]))
    assert table.get("title", "") == table["known_good"][0] == table["trial"][0].get("note", "") == text


@pytest.mark.parametrize("character", ["\U000e0001", "\U0010ffff"])
def test_a_character_of_more_than_16_bits_that_cannot_be_printed_is_kept(character: str) -> None:
    assert tomllib.loads(case_text({"title": character}, []))["title"] == character


def test_a_number_is_written_as_one() -> None:
    assert tomllib.loads(case_text({}, [{"times": 3}]))["trial"][0]["times"] == 3


def test_what_is_fitted_and_expected_is_written_back(tmp_path: Path) -> None:
    head = {
        "weapon": "foil",
        "profile": "no-anti-blocking-foil",
        "left": {"socket": "bayonet"},
        "expect": {"parts": ["left weapon socket shell"], "note": 'a "quoted" note'},
    }
    case = read_case(written(tmp_path, case_text(head, [{"saw": "nothing"}])))
    assert case.profile.name == "no-anti-blocking-foil"
    assert "left weapon socket shell" in case.setup.parts
    assert "right weapon socket shell" not in case.setup.parts
    assert case.expected
    assert case.expected.parts == ("left weapon socket shell",)
    assert case.expected.items == {"left weapon"}
    assert case.expected.note == 'a "quoted" note'


def test_one_word_stands_for_a_list_of_one(foil: Setup) -> None:
    one = TrialTable(move="fence left", unplugged="left clip", examine="left cord", found="fine", saw="red")
    many = TrialTable(move=("FENCE left",), unplugged=("Left  Clip",), examine=("LEFT CORD",), found=("Fine",), saw=("red",))
    assert read_trial(foil, one) == read_trial(foil, many)


def test_accents_and_capitals_do_not_matter_in_a_trial(foil: Setup) -> None:
    sharp = TrialTable(press="left", on="right lamé front, elsewhere", bridged="left reel plug A-C", saw="left white")
    blunt = TrialTable(press="Left", on="Right LAME Front,  elsewhere", bridged="left Reel Plug a-c", saw="Left WHITE")
    (one, no), (two, none) = read_trial(foil, sharp), read_trial(foil, blunt)
    assert no == none == []
    assert one.arrangement == two.arrangement


def test_the_point_of_a_weapon_that_is_unplugged_may_be_pressed(foil: Setup) -> None:
    table = TrialTable(press="left", on="right lamé front", unplugged="left weapon plug", saw="left white all along")
    trial, wrong = read_trial(foil, table)
    assert wrong == []
    assert trial.arrangement.before_press() == Arrangement(unplugged=("left weapon plug",))
