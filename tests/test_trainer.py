"""For whoever trains others: faults made by hand keep their secret, and pages lead from one to the next."""

from __future__ import annotations

import io
import re
from html import unescape
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from client import FromHere, TestClient
from foible.cli.practise import worksheet as command
from foible.diagnosis import Activity, StagedFault
from foible.errors import InputError, NotFoundError, UnknownNameError
from foible.output.typeface import written
from foible.output.worksheet_pdf import ANSWERS, QUESTIONS, worksheet_pdf
from foible.practice import Level
from foible.services.opening import open_cases
from foible.services.practice.bench_exercise import UNTOLD, staged_fault, ways_of
from foible.services.practice.strip import hidden_at, made_address, made_faults
from foible.services.practice.trainer import behaviours, chosen_fault, made_by_hand, severities
from foible.services.practice.worksheets import exercises_by_hand, worksheet
from foible.web.application import create_app
from foible.web.settings import Settings
from paper import scanned

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from foible.services.cases import Cases
    from foible.services.practice.worksheets import Sheet
    from foible.services.reasoning import Reasoning

CLIP = "left cord clip bite: off, dirty or corroded"
TAPE = "left weapon blade tape: missing or worn through"


COUNT, SEED = 2, 1
BASE = "http://armoury.lanternfield.example:8711"


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Cases:
    return open_cases(f"sqlite:///{tmp_path_factory.mktemp('trainer') / 'records.db'}")


@pytest.fixture(scope="module")
def reasoning(cases: Cases) -> Reasoning:
    return cases.reasoning


@pytest.fixture(scope="module")
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(FromHere(create_app(cases, Settings(secret="a", hosts=("testserver",))))) as made:
        yield made


def page(client: TestClient, address: str, status: int = 200) -> str:
    answer = client.get(address)
    assert answer.status_code == status, answer.text
    return unescape(answer.text)


# --- made by hand -----------------------------------------------------------------------------------------------------


def test_an_address_brings_back_every_failure_at_every_step_and_behaviour_and_names_none(reasoning: Reasoning) -> None:
    addresses = set()
    for weapon in reasoning.weapons():
        setup = reasoning.setup(weapon.name)
        for failure in setup.failures.values():
            for ohms, _ in failure.ladder:
                for activity in Activity:
                    fault = StagedFault(failure, ohms, activity)
                    address = made_address(setup, [fault], 7)
                    assert made_faults(setup, address) == ([fault], 7)
                    assert re.fullmatch(r"7-[0-9a-f]{8}", address), "no word of the kit has room in it"
                    addresses.add((weapon.word, address))
        ways = sum(len(failure.ladder) * len(Activity) for failure in setup.failures.values())
        assert len({address for word, address in addresses if word == weapon.word}) == ways


def test_neighbouring_steps_do_not_have_neighbouring_addresses(reasoning: Reasoning) -> None:
    setup = reasoning.setup()
    failure = setup.failures[CLIP]
    codes = [made_address(setup, [StagedFault(failure, ohms)], 1).split("-")[1] for ohms, _ in failure.ladder]
    assert len({code[:2] for code in codes}) > len(codes) / 2


def test_severities_are_told_in_words_that_differ(reasoning: Reasoning) -> None:
    for weapon in reasoning.weapons():
        for failure in reasoning.setup(weapon.name).failures.values():
            words = severities(failure)
            assert len(set(words)) == len(words) == max(1, len(failure.ladder))
            assert failure.intermittent < 1 or Activity.STEADY not in behaviours(failure)


def test_two_faults_are_hidden_in_one_address_and_what_cannot_be_is_refused(reasoning: Reasoning) -> None:
    setup = reasoning.setup()
    faults = [chosen_fault(setup, CLIP, 9, 1), chosen_fault(setup, TAPE)]
    made = made_by_hand(reasoning, setup.weapon, faults, 5)
    assert list(made.hidden.faults) == faults
    assert made_faults(setup, made.number) == (faults, 5)
    for wrong in ([], [faults[0]] * 2, [*faults, chosen_fault(setup, "left weapon blade: broken")]):
        with pytest.raises(InputError, match="choose one, or 2 that differ"):
            made_by_hand(reasoning, setup.weapon, wrong, 5)
    with pytest.raises(InputError, match="no severity number 10"):
        chosen_fault(setup, CLIP, 10)
    with pytest.raises(UnknownNameError):
        chosen_fault(setup, "left cord clip bite: enchanted")
    for number in ("1-zz", "1-00000000", "x-a3e6ba02"):
        with pytest.raises(NotFoundError):
            made_faults(setup, number)


def test_a_trainer_touches_an_item_a_part_and_a_failure_and_gets_an_address_that_tells_nothing(client: TestClient) -> None:
    assert "/practice/trainer/foil" in page(client, "/practice")
    first = page(client, "/practice/trainer/foil")
    assert "item=left+cord" in first
    assert CLIP.partition(": ")[2] in first, "the list stands beside the picture"
    assert "part=left+cord+clip+bite" in page(client, "/practice/trainer/foil?item=left+cord")
    part = page(client, "/practice/trainer/foil?part=left+cord+clip+bite")
    onward = re.search(r'href="([^"]*failure=left\+cord\+clip\+bite%3A\+off[^"]*)"', part)
    assert onward
    made = page(client, onward[1])
    address = re.search(r'href="(/practice/strip/foil/made/1-[0-9a-f]{8})"', made)
    assert address
    assert "will say: “" in made
    assert "<svg" in made
    hidden = page(client, address[1].replace("/strip/", "/screen/"))
    assert "off, dirty or corroded" not in hidden, "what others see does not tell what is wrong"
    two = page(client, f"{onward[1]}&failure={TAPE}")
    assert "take it back" in two
    assert "and something else" not in two, "two are the most"
    page(client, f"{onward[1]}&failure={CLIP}", 422)
    page(client, f"/practice/trainer/foil?failure={CLIP}&step=x", 422)


def test_what_is_exchanged_leads_to_its_proof_and_can_be_put_back(client: TestClient, reasoning: Reasoning) -> None:
    """That what failed is done again once something was exchanged is common practice, no source."""
    setup = reasoning.setup()
    made = made_by_hand(reasoning, setup.weapon, [chosen_fault(setup, CLIP)], 1)
    again = re.search(r'class="button chief" href="([^"]*)">do what the fencer did<', page(client, made.address))
    assert again
    exchanged = page(client, f"{again[1]}-x{list(setup.items).index('right cord')}")
    assert re.search(r'class="button chief" href="[^"]*">do what the fencer did again<', exchanged)
    assert "nobody doing anything" in exchanged
    back = re.search(r'href="([^"]*)">Put the old one back<', exchanged)
    assert back
    assert back[1] == again[1]
    steps = exchanged[exchanged.index("Your steps so far") :]
    assert "exchange the right cord: left nothing" in steps


# --- the big screen ---------------------------------------------------------------------------------------------------


def test_the_big_screen_tells_what_is_wrong_only_when_it_is_laid_open(client: TestClient, reasoning: Reasoning) -> None:
    """Common practice, no source: with the clip off, a good hit on that lamé is white, as the cloth is not joined to line A."""
    setup = reasoning.setup()
    made = made_by_hand(reasoning, setup.weapon, [chosen_fault(setup, CLIP)], 1)
    strip = page(client, made.address)
    assert made.screen in strip, "the strip leads to the screen"
    again = re.search(r'href="[^"]*\?did=(t\d+)"', page(client, made.screen))
    assert again
    shut = page(client, f"{made.screen}?did={again[1]}")
    assert CLIP not in shut
    assert "step 1 of 1" in shut
    assert 'class="bulb lamp-white lit"' in shut
    opened = page(client, f"{made.screen}?did={again[1]}&open=1")
    assert f"What is wrong: {CLIP}" in opened
    assert "Cross: the cut." in opened
    assert "clip" in opened.split("What is wrong:")[1].split("</div>")[0]
    back = page(client, f"{made.screen}?did={again[1]}&upto=0")
    assert "Nothing has been tried yet" in back
    assert 'rel="next"' in back
    page(client, f"{made.screen}?did={again[1]}&upto=2", 422)
    assert "put right" in page(client, f"{made.screen}?item=left+cord")
    assert made.screen in page(client, f"{made.address}/talk?did={again[1]}")


def test_worksheets_are_asked_for_by_a_form_and_by_what_was_made_by_hand(client: TestClient, reasoning: Reasoning) -> None:
    assert "/practice/worksheets" in page(client, "/practice")
    assert 'name="seed"' in page(client, "/practice/worksheets")
    made = made_by_hand(reasoning, reasoning.weapon().name, [chosen_fault(reasoning.setup(), CLIP)], 1)
    form = page(client, f"/practice/worksheets?made={made.number}")
    assert CLIP in form
    sheets = re.search(r'href="(/practice/worksheets/sheets\.pdf[^"]*)"', form)
    assert sheets
    for _ in range(60):
        answer = client.get(sheets[1])
        if answer.status_code == 200:
            break
        assert answer.status_code == 202
        assert int(answer.headers["Refresh"]) > 0, "the page asks again by itself"
        assert "Making the worksheet" in answer.text
    assert answer.content.startswith(b"%PDF")
    page(client, "/practice/worksheets/sheets.pdf?count=13", 422)
    page(client, "/practice/worksheets/sheets.pdf?level=hard", 404)


# --- worksheets --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sheet(reasoning: Reasoning) -> Sheet:
    return worksheet(reasoning, reasoning.weapon().name, Level.STEADY, COUNT, SEED)


@pytest.fixture(scope="module")
def raw(sheet: Sheet) -> bytes:
    return worksheet_pdf(sheet, lambda path: BASE + path)


def test_each_answer_is_what_is_hidden_at_its_address_and_its_trials_narrow_down_to_it(
    sheet: Sheet, reasoning: Reasoning
) -> None:
    """Each clue is drawn again from the kit with what is wrong in it; the item at fault is left alone, or in a named group."""
    assert len(sheet.exercises) == len(sheet.answers) == COUNT
    for exercise, answer in zip(sheet.exercises, sheet.answers, strict=True):
        _, _, _, word, level, number = answer.address.split("/")
        hidden = hidden_at(reasoning, word, level, number)
        assert [each.split(", ")[0] in fault.failure.id for each, fault in zip(answer.wrong, hidden.faults, strict=True)] == [
            True
        ]
        if hidden.complaint:
            assert hidden.complaint.say in exercise.complaint
        names = [name for name, _ in answer.narrowed.items]
        assert {hidden.setup.items[item].words for item in hidden.items} <= set(names)
        assert answer.narrowed.single == (len(names) == 1)
        assert sum(share for _, share in answer.narrowed.items) >= 0.9  # what makes an item the one
        assert exercise.clues
        assert all(clue.lamps or clue.told or "exchange" in clue.say for clue in exercise.clues)
        assert answer.proof


def test_nothing_says_what_is_wrong_before_the_answer_sheet(raw: bytes, sheet: Sheet) -> None:
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(raw)).pages]
    first = next(number for number, text in enumerate(pages) if text.startswith(ANSWERS))
    asked, answered = " ".join(pages[:first]), " ".join(pages[first:])
    assert all(asked.count(question) == COUNT for question in QUESTIONS)
    for exercise, answer in zip(sheet.exercises, sheet.answers, strict=True):
        assert written(exercise.complaint) in asked
        for wrong in answer.wrong:
            assert written(wrong) in answered
            assert written(wrong.partition(": ")[2]) not in asked
    codes = [read.text for page in scanned(raw) for read in page]
    assert codes == [BASE + answer.address for answer in sheet.answers], "a code beside each answer leads to the same fault"


def test_the_same_seed_makes_the_same_sheets_and_another_seed_others(sheet: Sheet, raw: bytes, reasoning: Reasoning) -> None:
    again = worksheet(reasoning, sheet.weapon, Level.STEADY, COUNT, SEED)
    assert again == sheet
    assert worksheet_pdf(again, lambda path: BASE + path) == raw
    assert worksheet(reasoning, sheet.weapon, Level.STEADY, 1, SEED + 1).answers[0].address != sheet.answers[0].address


def test_faults_made_by_hand_come_on_a_sheet_and_what_cannot_be_is_refused(reasoning: Reasoning) -> None:
    setup = reasoning.setup()
    fault = chosen_fault(setup, "left cord clip bite: off, dirty or corroded")
    made = made_by_hand(reasoning, setup.weapon, [fault], 1)
    (answer,) = exercises_by_hand(reasoning, setup.weapon, [made.number]).answers
    assert answer.wrong == (f"{fault.failure.id}, open",)
    assert answer.address == made.address
    for count in (0, 13):
        with pytest.raises(InputError, match="ask for 1 to 12"):
            worksheet(reasoning, setup.weapon, Level.STEADY, count, SEED)
    with pytest.raises(InputError, match="nothing for paper"):
        worksheet(reasoning, setup.weapon, Level.TOLD_WRONGLY, 1, SEED)


def test_a_worksheet_is_written_in_the_terminal_and_only_as_pdf(
    tmp_path: Path, sheet: Sheet, reasoning: Reasoning, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(command, "reasoning_at", lambda _: reasoning)  # which has worked the kit out already
    command.worksheet(out=tmp_path / "one.pdf", count=COUNT, seed=SEED)
    assert (tmp_path / "one.pdf").read_bytes() == worksheet_pdf(sheet)
    with pytest.raises(InputError, match=r"end the name with \.pdf"):
        command.worksheet(out=tmp_path / "one.txt")


# --- exercises on real kit --------------------------------------------------------------------------------------------


def test_every_failure_of_the_kit_is_staged_or_it_is_said_why_not(reasoning: Reasoning) -> None:
    """At least 40 a weapon, those of the other side not counted; and each way fits something."""
    used = set()
    for weapon in reasoning.weapons():
        setup = reasoning.setup(weapon.name)
        ways = ways_of(setup)
        assert [each.failure.id for each in ways] == list(setup.failures)
        assert all(each.way or each.why not in {"", UNTOLD} for each in ways)
        assert sum(each.way is not None for each in ways if setup.items[each.failure.item].side != "right") >= 40
        for each in ways:
            if each.way:
                used.add(id(each.way))
                fault = staged_fault(each.failure, each.way)
                assert fault.ohms in [ohms for ohms, _ in each.failure.ladder], "as bad as the kit knows it"
                assert each.way.undo
                assert each.way.source
    assert len(used) >= 30


def test_what_is_dangerous_is_never_staged(reasoning: Reasoning) -> None:
    for weapon in reasoning.weapons():
        setup = reasoning.setup(weapon.name)
        for each in ways_of(setup):
            if each.failure.out_of_use or setup.items[each.failure.item].kind in {"mask", "bib"}:
                assert each.way is None, each.failure.id
        mains = {"lamps and supply", "repeater lamps"}
        assert not [each for each in ways_of(setup) if setup.parts[each.failure.part].name in mains and each.way]


def test_the_page_of_an_exercise_tells_how_to_stage_it_what_shows_it_and_how_to_undo_it(client: TestClient) -> None:
    """Common practice, no source: paper under the clip lights white on good hits, as line A does not reach the cloth."""
    assert "/practice/exercise/foil" in page(client, "/practice")
    listed = page(client, "/practice/exercise/foil")
    assert "no blade is broken or cut for an exercise" in listed
    text = page(client, f"/practice/exercise/foil?failure={CLIP}")
    assert "strip of paper" in text
    shown = text.split("Trials that will show it")[1]
    assert "white" in shown
    assert "Take the paper out" in shown
    refused = page(client, "/practice/exercise/foil?failure=left weapon blade: broken")
    assert "This is not staged" in refused
    page(client, "/practice/exercise/foil?failure=nosuch", 422)
