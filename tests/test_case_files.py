"""Case files and kept cases: one model, both ways; and kept cases that outlive a change of the kit. All cases are invented."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from foible.errors import ProblemsError
from foible.kit import load_setup
from foible.records import CaseStore, Database, EntryKind, KeptCase, NewCase, NewEntry
from foible.services.case_files import save_case, take_in
from foible.services.cases import FULL, Cases
from foible.services.kept_reading import UnreadableCaseError, kept_reading
from foible.services.reasoning import Reasoning
from foible.services.sentences import said_otherwise
from foible.situation import Mode
from foible.trials import CaseTable, TrialTable, file_text, former_names, load_catalogue, parsed_case
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

VERSION = former_names().version
WHITE = {"saw": ["left white"]}
HIT = {"press": "left", "on": "right lamé front", "saw": ["left white"]}


def opened(url: str, overlays: Sequence[Path] = ()) -> Cases:
    reasoning = Reasoning(overlays=overlays) if overlays else REASONING
    return Cases(reasoning, CaseStore(Database(url), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC)))


@pytest.fixture
def cases(tmp_path: Path) -> Iterator[Cases]:
    made = opened(f"sqlite:///{tmp_path / 'kept.db'}")
    yield made
    made.store.database.dispose()


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    folder = tmp_path / "ours"
    folder.mkdir()
    (folder / "names.toml").write_text(
        '[[former]]\nwhat = "part"\nwas = "{side} cord clip jaw"\nis = "{side} cord clip bite"\nuntil = 0\n'
        '[[former]]\nwhat = "item"\nwas = "{side} lead"\nis = "{side} cord"\n'
        '[[former]]\nwhat = "trial"\nwas = "leave it all alone"\nis = "leave the whole strip at rest"\n'
        '[[former]]\nwhat = "weapon"\nwas = "floret"\nis = "foil"\n',
        encoding="utf-8",
    )
    return folder


def kept_with(cases: Cases, *trials: dict[str, Any], names: int = VERSION, **head: Any) -> KeptCase:  # noqa: ANN401 — of any kind
    entries = [NewEntry(EntryKind.TRIAL, f"t{i}", say=f"trial {i}", trial=trial, names=names) for i, trial in enumerate(trials)]
    return cases.store.open(NewCase(**{"weapon": "foil", "title": "White", "tools": ("spare",)} | head), entries)


# --- both ways --------------------------------------------------------------------------------------------------------

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60)
LONG = TEXT.map(lambda text: text + "\n“two” lines\t\x7f\x1b é")


def tables_of(weapon: str) -> st.SearchStrategy[TrialTable]:
    """Return trials of a weapon's catalogue with something that came of them, wherever they are made."""
    setup = load_setup(weapon)
    ideas = [idea for idea in load_catalogue(setup) if not idea.trial.box and not idea.trial.meter]

    def answered(number: int, note: str, times: int, seen: list[str]) -> TrialTable:
        idea = ideas[number % len(ideas)]
        came = {"found": ("passes" if idea.trial.gauge else "fine",)} if idea.trial.examine or idea.trial.gauge else {"saw": seen}
        return TrialTable.model_validate(idea.table.model_dump() | came | {"note": note, "times": times})

    seen = st.sampled_from([["nothing"], ["left coloured"], ["left coloured", "right nothing"], ["right coloured sometimes"]])
    return st.builds(answered, st.integers(0, 10_000), TEXT, st.integers(1, 100), seen)


def cases_of(weapon: str) -> st.SearchStrategy[CaseTable]:
    setup = load_setup(weapon)
    socket: st.SearchStrategy[dict[str, str]] = st.just({}) | st.just({"socket": "bayonet"}) if weapon == "foil" else st.just({})
    always = [part for part in setup.parts if "socket" not in part and "weapon plug" not in part]  # whatever is fitted
    expect = st.fixed_dictionaries(
        {"parts": st.lists(st.sampled_from(always), max_size=2, unique=True), "note": TEXT, "unexplained": TEXT}
    )
    return st.builds(
        CaseTable,
        weapon=st.just(weapon),
        title=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1, max_size=200),
        complaint=LONG,
        source=LONG,
        names=st.just(VERSION),
        known_good=st.lists(st.sampled_from(["right cord", "left reel", "piste"]), unique=True).map(tuple),
        profile=st.none() | st.just(setup.profile),
        left=socket,
        right=socket,
        expect=st.none() | expect,
        trial=st.lists(tables_of(weapon), max_size=5).map(tuple),
    )


TABLES = st.sampled_from(["foil", "épée", "sabre"]).flatmap(cases_of)
BOTH_WAYS = settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


def readable(table: CaseTable) -> bytes:
    """Return the file of a case, without trials that are not possible with what is fitted."""
    trials = []
    for trial in table.trial:
        try:
            parsed_case(file_text(table.model_copy(update={"trial": (trial,)})).encode(), name="x")
        except ProblemsError:
            continue
        trials.append(trial)
    return file_text(table.model_copy(update={"trial": tuple(trials)})).encode()


@BOTH_WAYS
@given(table=TABLES)
def test_a_file_that_is_taken_in_and_saved_is_the_same_model(cases: Cases, table: CaseTable) -> None:
    before = parsed_case(readable(table), name="before", allow_empty=True).table
    taken = take_in(cases, file_text(before).encode(), name="before")
    after = parsed_case(save_case(cases, taken.kept.id).text.encode(), name="after", allow_empty=True).table
    assert after == before


def sentences(kept: KeptCase) -> list[str]:
    """Return what the lines that stand say now."""
    reading = kept_reading(kept)
    otherwise = said_otherwise(REASONING, kept, reading.case, reading.numbers)
    return [otherwise.get(entry.number, entry.say) for entry in kept.standing]


def test_what_a_line_that_was_taken_back_had_said_is_said_again(cases: Cases) -> None:
    """With the line of the exchange gone, nobody would know that the press was made with another foil."""
    kept = cases.open("foil")
    swapped = {"swapped": ("left weapon",), "saw": ("nothing",)}
    cases.note(kept.id, TrialTable.model_validate(swapped), token="a")
    cases.note(kept.id, TrialTable.model_validate({**swapped, "press": "left"}), token="b")
    assert sentences(cases.store.case(kept.id))[1] == "press the left point on something that does not conduct"
    cases.take_back(kept.id, 1)
    standing = cases.standing(kept.id)
    (line,) = standing.kept.standing
    assert standing.sentence(line).startswith("left weapon exchanged for a known-good one")
    assert sentences(standing.kept) == [standing.sentence(line)]


@BOTH_WAYS
@given(table=TABLES, back=st.sets(st.integers(1, 5)))
def test_a_kept_case_that_is_saved_and_taken_in_has_the_same_trials_standing(
    cases: Cases, table: CaseTable, back: set[int]
) -> None:
    kept = take_in(cases, readable(table), name="case").kept
    for number in back & {entry.number for entry in kept.entries}:
        kept = cases.take_back(kept.id, number)
    again = take_in(cases, save_case(cases, kept.id).text.encode(), name="again").kept
    assert [entry.trial for entry in again.entries] == [entry.trial for entry in kept.standing]
    assert [entry.say for entry in again.entries] == sentences(kept)
    for name in ("weapon", "title", "complaint", "source", "profile", "fitted", "known_good", "expect"):
        assert getattr(again, name) == getattr(kept, name)


def test_what_is_fitted_and_known_good_counts_in_a_kept_case(cases: Cases) -> None:
    text = 'weapon = "foil"\nknown_good = ["left cord"]\nprofile = "no-anti-blocking-foil"\n[left]\nsocket = "bayonet"\n'
    standing = cases.standing(take_in(cases, (text + '[[trial]]\nsaw = "left white"\n').encode(), name="case").kept.id)
    assert "left cord" not in {share.name for share in standing.diagnosis.finding.items if share.probability > 0}
    assert standing.case.profile.name == "no-anti-blocking-foil"
    assert set(standing.case.setup.parts) != set(load_setup("foil").parts)
    idea = cases.offered(standing)
    assert idea
    assert cases.asked(standing.kept, idea.say).trial == idea.trial


def test_a_file_without_a_title_gets_its_complaint_for_one(cases: Cases) -> None:
    assert take_in(cases, b'weapon = "foil"\ncomplaint = "It goes white"\n', name="x").kept.title == "It goes white"
    assert take_in(cases, b'weapon = "foil"\n', name="x").kept.title == "Foil, from a case file"


def test_a_file_sent_twice_is_taken_in_once(cases: Cases) -> None:
    once, twice = (take_in(cases, b'weapon = "foil"\n', name="x", token="form-7").kept for _ in range(2))
    assert once.id == twice.id


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ('weapon = "foil"\n' + '[[trial]]\nsaw = "nothing"\n' * (FULL + 1), 2 + 2 * FULL, "61 trials are too many for one case"),
        ('weapon = "foil"\ntitle = "' + "x" * 201 + '"\n', 2, "a title of 201 characters"),
        ('weapon = "foil"\n[[trial]]\non = "the moon"\nsaw = "nothing"\n', 3, "there is no place called “the moon”"),
        ('weapon = "rapier"\n', 1, "there is no"),
        ("weapon = foil\n", 1, "this is not TOML"),
        ('weapon = "foil"\n[left]\nsocket = "welded"\n', 3, "there is no socket called “welded”"),
        ('weapon = "foil"\n[left]\ncore = "three-line"\n', 3, "this core does not fit"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_taken_in_is_refused_by_its_lines(cases: Cases, text: str, line: int, message: str) -> None:
    with pytest.raises(ProblemsError) as refused:
        take_in(cases, text.encode(), name="sent.toml")
    assert any(str(problem).startswith(f"sent.toml:{line}: ") and message in problem.seen for problem in refused.value.problems)
    assert cases.store.count() == 0


def test_a_file_of_more_than_a_megabyte_is_not_parsed(cases: Cases) -> None:
    with pytest.raises(ProblemsError, match="more than 200,000 bytes"):
        take_in(cases, b"#" * 1_000_001, name="sent.toml")


def test_a_saved_file_says_what_it_leaves_out(cases: Cases) -> None:
    case = kept_with(cases, WHITE, HIT)
    cases.take_back(case.id, 2)
    cases.skip(case.id, "leave the whole strip at rest", token="s")
    file = save_case(cases, case.id)
    assert file.name == f"case-{case.id}.toml"
    assert "# Left out: trials, 1 taken back and 1 that could not be made." in file.text
    assert parsed_case(file.text.encode(), name="x").table.trial == (TrialTable.model_validate(WHITE),)


# --- a kit that has changed -------------------------------------------------------------------------------------------


def test_a_case_with_a_renamed_part_opens_with_the_name_mapped_and_a_notice(tmp_path: Path, ours: Path) -> None:
    cases = opened(f"sqlite:///{tmp_path / 'a.db'}", [ours])
    looked = {"examine": ["left cord clip jaw"], "found": ["fine"]}
    standing = cases.standing(kept_with(cases, looked, {**HIT, "swapped": ["right lead"]}, names=0, weapon="floret").id)
    assert standing.case.trials[0].examine == ("left cord clip bite",)
    assert [str(each) for each in standing.notices] == [
        "“floret” is now called “foil”",
        "“left cord clip jaw” is now called “left cord clip bite” (since version 1 of the names)",
        "“right lead” is now called “right cord”",
    ]
    assert standing.exchanged == ("right cord",)
    assert not standing.unread
    today = cases.standing(
        kept_with(cases, {**looked, "examine": ["left cord clip bite"]}, {**HIT, "swapped": ["right cord"]}).id
    )
    assert standing.diagnosis.finding.suspects == today.diagnosis.finding.suspects


def test_a_name_used_after_it_had_changed_is_not_mapped(tmp_path: Path, ours: Path) -> None:
    cases = opened(f"sqlite:///{tmp_path / 'a.db'}", [ours])
    standing = cases.standing(kept_with(cases, {"examine": ["left cord clip jaw"], "found": ["fine"]}, HIT, names=1).id)
    (unread,) = standing.unread
    assert unread.words == "this line names “left cord clip jaw”, which the kit no longer has: left out of the reasoning"


def test_a_case_with_an_unknown_name_opens_with_the_line_marked_and_the_rest_reasoned(cases: Cases) -> None:
    whisker = {"examine": ["left cord whisker"], "found": ["bent"]}
    standing = cases.standing(kept_with(cases, WHITE, whisker, HIT, {"winged": True}).id)
    assert standing.numbers == (1, 3)
    assert [(each.number, each.text, each.seen) for each in standing.unread] == [(2, "trial 1", "bent"), (4, "trial 3", "")]
    assert "names “left cord whisker”, which the kit no longer has" in standing.unread[0].words
    assert "has a “winged” that cannot be read" in standing.unread[1].words
    rest = cases.standing(kept_with(cases, WHITE, HIT).id)
    assert standing.diagnosis.finding.suspects == rest.diagnosis.finding.suspects


def test_a_saved_file_keeps_a_line_that_cannot_be_read(cases: Cases) -> None:
    whisker = {"examine": ["left cord whisker"], "found": ["fine"]}
    text = save_case(cases, kept_with(cases, whisker, HIT).id).text
    assert "# It has names that this kit does not know" in text
    with pytest.raises(ProblemsError, match="left cord whisker"):
        parsed_case(text.encode(), name="x")


def test_what_is_unknown_at_the_top_of_a_case_is_marked_and_left_out(cases: Cases) -> None:
    case = kept_with(
        cases, HIT, known_good=("right cord", "left tassel"), profile="house rules", expect={"parts": ["left tassel end"]},
        fitted={"left": {"socket": "welded"}},
    )  # fmt: skip
    cases.store.move(case.id, place="bench", item="left tassel", tools=("meter",))
    standing = cases.standing(case.id)
    assert [each.text for each in standing.unread] == [
        "on the bench", "fitted on the left", "the rule profile", "known to be good", "the known cause",
    ]  # fmt: skip
    assert standing.case.known_good == ("right cord",)
    assert standing.situation.item is None
    assert len(standing.case.trials) == 1


def test_a_case_of_an_unknown_weapon_can_still_be_looked_at_and_saved(cases: Cases) -> None:
    case = kept_with(cases, WHITE, weapon="longsword")
    with pytest.raises(UnreadableCaseError, match=r"longsword.*can only be looked at") as refused:
        cases.standing(case.id)
    assert [(line.number, line.text, line.seen) for line in refused.value.lines] == [(1, "trial 0", "left white")]
    assert 'weapon = "longsword"' in save_case(cases, case.id).text


def test_former_names_are_read_in_answers_and_in_trials_that_cannot_be_made(tmp_path: Path, ours: Path) -> None:
    cases = opened(f"sqlite:///{tmp_path / 'a.db'}", [ours])
    case = kept_with(cases)
    kept = cases.answer(case.id, "leave it all alone", ["left white"], token="a")
    assert kept.entries[-1].say == "leave the whole strip at rest"
    cases.note(case.id, TrialTable(examine=("left cord clip jaw",), found=("fine",)), token="b")
    kept = cases.move(case.id, place=Mode.BENCH, item="left lead", tools=("meter",))
    assert kept.item == "left cord"
    assert kept.entries[-1].trial["examine"] == ["left cord clip bite"]
    assert {entry.names for entry in kept.entries} == {VERSION}
    cases.store.add(case.id, NewEntry(EntryKind.SKIP, "c", say="leave it all alone", names=0))
    assert cases.standing(case.id).skipped == ((3, "leave the whole strip at rest"),)
