"""For whoever trains others: faults made by hand keep their secret, and pages lead from one to the next."""

from __future__ import annotations

import re
from html import unescape
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.diagnosis import Activity, StagedFault
from foible.errors import InputError, NotFoundError, UnknownNameError
from foible.services.opening import open_cases
from foible.services.practice.strip import made_address, made_faults
from foible.services.practice.trainer import behaviours, chosen_fault, made_by_hand, severities
from foible.services.reasoning import Reasoning
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator

CLIP = "left cord clip bite: off, dirty or corroded"
TAPE = "left weapon blade tape: missing or worn through"


@pytest.fixture(scope="module")
def reasoning() -> Reasoning:
    return Reasoning()


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('trainer') / 'records.db'}")
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
    hidden = page(client, address[1])
    assert "off, dirty or corroded" not in hidden.split('id="do"')[0], "the strip does not tell what is wrong"
    two = page(client, f"{onward[1]}&failure={TAPE}")
    assert "take it back" in two
    assert "and something else" not in two, "two are the most"
    page(client, f"{onward[1]}&failure={CLIP}", 422)
    page(client, f"/practice/trainer/foil?failure={CLIP}&step=x", 422)


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
    assert "where it is cut" in opened
    assert "clip" in opened.split("What is wrong:")[1].split("</div>")[0]
    back = page(client, f"{made.screen}?did={again[1]}&upto=0")
    assert "Nothing has been tried yet" in back
    assert 'rel="next"' in back
    page(client, f"{made.screen}?did={again[1]}&upto=2", 422)
    assert "put right" in page(client, f"{made.screen}?item=left+cord")
    assert made.screen in page(client, f"{made.address}/talk?did={again[1]}")
