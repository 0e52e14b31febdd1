"""What stands around a question: why it is asked now, the answers that are one button, looks made in one go, this foil's words.

What the cases show is common practice, no source; the expected words follow from the sentences of the catalogue.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from foible.errors import InputError
from foible.kit import load_setup
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.likely_answers import likely_answers
from foible.services.looking_over import all_fine, looks_besides
from foible.services.on_the_bench import first_failed, gauges_of, lying, this_words
from foible.situation import Mode, Situation
from usual import REASONING

if TYPE_CHECKING:
    from pathlib import Path

    from foible.services.cases import Standing
    from foible.trials import Idea

WHITE = "It goes white, and I never hit anything"
CAME_UP_WHITE = "I hit the lamé and it came up white"


@pytest.fixture
def cases(tmp_path: Path) -> Cases:
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    return Cases(REASONING, store)


def complained(cases: Cases, say: str) -> Standing:
    return cases.standing(cases.open_complaint("foil", say, "left", token="open").id)


def idea(cases: Cases, say: str) -> Idea:
    found = cases.reasoning.idea(cases.reasoning.setup("foil"), say)
    assert found
    return found


def test_a_trial_that_two_items_would_answer_differently_says_which_it_tells_apart(cases: Cases) -> None:
    """A tug at the cord shows a cord that breaks under pull, and never a foil's point: the one is told from the other."""
    standing = complained(cases, WHITE)
    why = REASONING.why_now(standing.diagnosis, idea(cases, "tug at both ends of the left cord, at the weapon and at the reel"))
    assert why == "tells the left weapon from the left cord"


def test_what_only_the_fencer_has_seen_is_first_seen_for_oneself(cases: Cases) -> None:
    standing = complained(cases, CAME_UP_WHITE)
    again = idea(cases, "press the left point on the front of the right lamé")
    assert REASONING.why_now(standing.diagnosis, again) == "so far only the fencer has seen it: see it for yourself"


def test_an_exchange_says_what_it_would_mean(cases: Cases) -> None:
    kept = cases.open("foil", token="open")
    for number, lit in enumerate((["left white"], ["left white"])):
        kept = cases.answer(kept, "leave the whole strip at rest", lit, token=f"told{number}")
    advice = (each.idea for each in cases.standing_of(kept).diagnosis.advice)
    exchange = next(each for each in advice if each.trial.swapped)
    item = exchange.trial.swapped[0]
    why = REASONING.why_now(cases.standing_of(kept).diagnosis, exchange)
    assert why == f"if it is gone with another {item.split(' ', 1)[1]}, the {item} was it"


@pytest.mark.parametrize(
    ("say", "lit"),
    [
        ("press the left point on the front of the right lamé", (("left", "coloured", "steady"),)),
        ("press the left point on something that does not conduct", (("left", "white", "steady"),)),
        ("leave the whole strip at rest", ()),
    ],
)
def test_sound_kit_s_answer_is_offered(say: str, lit: tuple[tuple[str, str, str], ...], cases: Cases) -> None:
    """A hit on the lamé lights the coloured lamp, one off it the white, a strip at rest none (common practice, no source)."""
    standing = cases.standing(cases.open("foil", token="open").id)
    assert likely_answers(standing.diagnosis, idea(cases, say)) == ((lit,) if lit else ())


def test_what_was_complained_of_is_offered_as_an_answer(cases: Cases) -> None:
    standing = complained(cases, WHITE)
    assert (("left", "white", "flickers"),) in likely_answers(standing.diagnosis, idea(cases, "beat the left blade"))


def test_looks_that_found_nothing_are_noted_in_one_go_as_trials_of_their_own(cases: Cases) -> None:
    standing = complained(cases, CAME_UP_WHITE)
    first = next(advice.idea for advice in standing.diagnosis.advice if advice.idea.trial.examine)
    others = looks_besides(standing, first)
    assert 1 <= len(others) <= 2
    says = [each.say for each in (first, *others)]
    kept = all_fine(cases, standing.kept, says, token="over")
    assert [entry.say for entry in kept.entries][1:] == says
    assert all(entry.trial["found"] == ["fine"] for entry in kept.entries[1:])
    again = all_fine(cases, standing.kept, says, token="over")
    assert len(again.entries) == len(kept.entries), "sent twice, it is kept once"


def test_only_looks_are_noted_in_one_go(cases: Cases) -> None:
    standing = complained(cases, CAME_UP_WHITE)
    press = "press the left point on the front of the right lamé"
    assert looks_besides(standing, idea(cases, press)) == ()
    with pytest.raises(InputError, match="is not a look"):
        all_fine(cases, standing.kept, [press], token="over")
    assert len(cases.store.case(standing.kept.id).entries) == 1


def test_a_case_on_the_bench_begins_with_the_gauge_that_failed(cases: Cases) -> None:
    """m.19.4: the 0.5 mm shim must not let the épée's point light its lamp."""
    setup = load_setup("épée")
    say = dict(gauges_of(REASONING.ideas(setup), "left weapon"))["0.5 mm shim"].say
    item, entry = first_failed(cases, "épée", say, token="first")
    where = Situation(Mode.BENCH, item, Mode.BENCH.usual_tools)
    kept = cases.open("épée", title="Épée on the bench", token="first", where=where, first=[entry])
    standing = cases.standing_of(kept)
    assert standing.case.trials[0].gauge == ("left", "0.5 mm shim")
    assert standing.diagnosis.finding.suspects[0].part == "left weapon contact spring"


def test_on_the_bench_there_is_one_of_it_and_no_side() -> None:
    foil = load_setup("foil")
    assert dict(lying(foil))["left cord"] == "body cord"
    assert "left handling" not in dict(lying(foil))
    said = {
        "left weapon": "this foil",
        "left weapon point seat": "point seat",
        "tells the left weapon point seat from the left weapon grip nut": "tells the point seat from the grip nut",
        "hold the meter to the B contact of the left foil's socket": "hold the meter to the B contact of this foil's socket",
        "look whether the left blade is whole": "look whether the blade is whole",
    }
    for words, here in said.items():
        assert this_words(words, foil, "left weapon") == here
        assert this_words(words, foil, None) == words
