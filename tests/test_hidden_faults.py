"""Hidden faults: what a strip with something wrong shows, whether what is named is right, and the talk afterwards."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from foible.cli.practise.hidden import fault as fault_command
from foible.diagnosis import Activity, StagedFault, StagedKit
from foible.errors import InputError, NotFoundError
from foible.practice import Attempt, Deed, Level, Step, hidden, judged, points, read_steps, staged, written_steps
from foible.services.practice.plans import exchanging_in_turn, following_advice, knowing, named_by, told_again
from foible.services.practice.reasoned import case_of, first_advice, situation_of, without_earth
from foible.services.practice.strip import doable_at, hidden_at, lamps_lit, made_address
from foible.services.practice.talk import talk_about
from foible.trials import read_trial
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.practice import Hidden
    from foible.trials import Trial

pytestmark = pytest.mark.once

WEAPONS = [weapon.name for weapon in REASONING.weapons()]
ON_TARGET, GUARD = "press the left point on the front of the right lamé", "press the left point on the right guard"
REST, NOWHERE = "leave the whole strip at rest", "press the left point on something that does not conduct"

# What an armourer sees at a foil: common practice, no source; that white stands for a hit off the target, and what yellow
# means, is in the FIE Material Rules, August 2026, Annex B, A.1.
SEEN = [
    (None, REST, ("left nothing", "right nothing")),
    (None, ON_TARGET, ("left coloured", "left no yellow", "right nothing")),
    (None, NOWHERE, ("left white", "left no yellow", "right nothing")),
    (None, GUARD, ("left nothing", "right nothing")),
    ("left weapon wire at the point: broken under the barrel", REST, ("left white", "left no yellow", "right nothing")),
    ("right cord clip bite: come off, or never put on", ON_TARGET, ("left white", "left no yellow", "right nothing")),
    ("left weapon contact cup: short inside the point", ON_TARGET, ("left nothing", "right nothing")),
]


def at(weapon: str, level: Level = Level.STEADY, seed: int = 3) -> Attempt:
    setup = REASONING.setup(weapon)
    return Attempt(hidden(setup, level, seed), REASONING.ideas(setup), ())


@pytest.mark.parametrize(("failure", "say", "seen"), SEEN)
def test_a_strip_shows_what_an_armourer_sees(failure: str | None, say: str, seen: tuple[str, ...]) -> None:
    setup = REASONING.setup("foil")
    faults = [StagedFault(setup.failures[failure], setup.failures[failure].usual_ohms)] if failure else []
    idea = REASONING.idea(setup, say)
    assert idea
    assert StagedKit(setup, faults, 1).answer(idea.trial, 0).told == seen


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_answer_can_be_read_and_comes_again(weapon: str) -> None:
    attempt = at(weapon, Level.TWO)
    for turn, idea in enumerate(attempt.ideas[::7]):
        answer = attempt.hidden.kit.answer(idea.trial, turn)
        told = answer.told[0] if answer.key == "reads" else answer.told
        assert read_trial(attempt.setup, idea.table.model_copy(update={answer.key: told}))[1] == [], idea.say
        again = StagedKit(attempt.setup, attempt.hidden.faults, attempt.hidden.seed)
        assert again.answer(idea.trial, turn) == answer


def test_a_fault_that_comes_and_goes_shows_mostly_where_it_is_provoked() -> None:
    setup = REASONING.setup("foil")
    failure = setup.failures["left cord B wire at the weapon plug: broken where it leaves the plug"]
    made = [StagedFault(failure, float("inf"), Activity.SELDOM)]
    tugs = [
        idea.trial for idea in REASONING.ideas(setup) if idea.item is None and "tug left cord weapon plug" in idea.trial.moves
    ]
    rest = REASONING.idea(setup, REST)
    assert rest
    assert tugs

    def shown(trial: Trial) -> float:
        kits = [(StagedKit(setup, made, seed), StagedKit(setup, [], seed).answer(trial, 0)) for seed in range(10)]
        return sum(kit.answer(trial, turn) != sound for kit, sound in kits for turn in range(10)) / 100

    assert 0 < shown(rest.trial) < 0.3
    assert shown(tugs[0]) > 2 * shown(rest.trial)


@pytest.mark.parametrize("weapon", WEAPONS)
@pytest.mark.parametrize("level", Level)
def test_a_number_hides_the_same_fault_again_and_what_is_told_of_it_is_so(weapon: str, level: Level) -> None:
    setup = REASONING.setup(weapon)
    for seed in range(3):
        made = hidden(setup, level, seed)
        assert made == hidden(setup, level, seed)
        assert len(made.faults) == {Level.TWO: 2}.get(level, len(made.faults))
        if level is Level.STEADY and made.complaint:
            trial = read_trial(setup, made.complaint.table)[0]
            assert trial.seen
            seen = made.kit.looks(trial, (1, 1))
            assert all(_like(seen[key], allowed) for key, allowed in trial.seen.looks.items() if not trial.moves), made.faults


def _like(seen: tuple[int, int], allowed: object) -> bool:
    plain = tuple(sorted(1 if state == 3 else state for state in seen))
    return seen in allowed or plain in allowed or (0, plain[1]) in allowed  # type: ignore[operator]


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_wrong_answer_is_never_told_as_right(weapon: str) -> None:
    for level in Level:
        for seed in range(4):
            attempt = at(weapon, level, seed)
            for number, item in enumerate(["", *attempt.setup.items]):
                if item in attempt.hidden.items or (not number and not attempt.hidden.faults):
                    continue
                result = judged(attempt.then(Step(Deed.NAME, number)))
                assert not result.right, (attempt.hidden.faults, item)
                assert points(result, 1.0, 1.0) == 0


def test_naming_everything_in_turn_is_not_worth_much() -> None:
    attempt = at("foil")
    for number, item in enumerate(attempt.setup.items.values(), start=1):
        if item.id not in attempt.hidden.items and not item.tool:
            attempt = attempt.then(Step(Deed.NAME, number))
    number = list(attempt.setup.items).index(next(iter(attempt.hidden.items))) + 1
    last = attempt.then(Step(Deed.NAME, number))
    assert points(judged(last), last.seconds, knowing(last.hidden, last.ideas).seconds) == 0


def test_who_knows_is_right_and_quickest() -> None:
    for seed in range(6):
        attempt = at("foil", Level.STEADY, seed)
        if attempt.hidden.complaint:
            best, turn = knowing(attempt.hidden, attempt.ideas), exchanging_in_turn(attempt.hidden, attempt.ideas)
            assert judged(best).right
            assert judged(best).proved
            assert best.seconds <= turn.seconds


@given(st.lists(st.builds(Step, st.sampled_from(Deed), st.integers(0, 999), st.none() | st.integers(0, 999)), max_size=20))
def test_steps_are_read_as_they_are_written(steps: list[Step]) -> None:
    assert read_steps(written_steps(steps)) == tuple(steps)


@pytest.mark.parametrize("word", ["x", "t", "t1--t2", "t1;t2", "t-1", "q7", "-".join(["t1"] * 61)])
def test_a_word_that_is_none_is_refused(word: str) -> None:
    with pytest.raises(InputError):
        read_steps(word)


def test_steps_of_another_kit_are_refused() -> None:
    for step in (Step(Deed.TRIAL, 9999), Step(Deed.EXCHANGE, 999), Step(Deed.MEND, 9999), Step(Deed.NAME, 999)):
        with pytest.raises(InputError, match="number"):
            _ = at("foil").then(step).done


def test_an_address_of_a_made_fault_hides_it_and_leads_back_to_it() -> None:
    setup = REASONING.setup("foil")
    made = [StagedFault(failure, failure.usual_ohms, Activity.OFTEN) for failure in list(setup.failures.values())[10:250:40]]
    for one in made:
        address = made_address(setup, [one], 7)
        assert not {*one.failure.id.split()} & {*address.split("-")}
        assert hidden_at(REASONING, "foil", "made", address).faults == (one,)
    with pytest.raises(NotFoundError):
        hidden_at(REASONING, "foil", "made", "7-zz")
    with pytest.raises(NotFoundError):
        hidden_at(REASONING, "foil", "steady", "²")


def test_everything_that_can_be_done_at_an_item_is_listed_once() -> None:
    attempt = at("foil")
    listed = [step for item in attempt.setup.items for _, steps in doable_at(attempt, item).groups for step, _ in steps]
    trials = {step.number for step in listed if step.deed is Deed.TRIAL}
    assert trials == {n for n, idea in enumerate(attempt.ideas) if not idea.trial.swapped}
    exchanged = next(step for step in listed if step.deed is Deed.EXCHANGE)
    assert exchanged not in [
        s for item in attempt.setup.items for _, g in doable_at(attempt.then(exchanged), item).groups for s, _ in g
    ]


def test_lamps_are_told_by_side() -> None:
    attempt = at("foil")
    place = told_again(attempt.hidden, attempt.ideas)
    assert place is not None
    shown = lamps_lit(attempt.setup, attempt.then(Step(Deed.TRIAL, place)).done[0].table)
    assert shown == {
        "left": {"white": "lit", "coloured": "dark", "yellow": "dark"},
        "right": dict.fromkeys(("white", "coloured", "yellow"), "dark"),
    }


# --- the talk ---------------------------------------------------------------------------------------------------------


def perfect(made: Hidden) -> Attempt:
    """Return what somebody does who follows the advice and proves it."""
    attempt = following_advice(REASONING, made, REASONING.ideas(made.setup))
    again = told_again(made, attempt.ideas)
    return attempt if again is None else attempt.then(Step(Deed.TRIAL, again))


def at_random(made: Hidden) -> Attempt:
    chance, ideas = np.random.default_rng(made.seed), REASONING.ideas(made.setup)
    may = [place for place, idea in enumerate(ideas) if idea.item is None and not idea.trial.swapped]
    items = [n for n, item in enumerate(made.setup.items.values(), start=1) if not item.tool and not item.handling]
    return Attempt(
        made, ideas, (*(Step(Deed.TRIAL, int(chance.choice(may))) for _ in range(5)), Step(Deed.NAME, int(chance.choice(items))))
    )


def always_the_cord(made: Hidden) -> Attempt:
    again, items = told_again(made, REASONING.ideas(made.setup)), list(made.setup.items)
    side = made.complaint.side if made.complaint else "left"
    tried = () if again is None else (Step(Deed.TRIAL, again),)
    return Attempt(made, REASONING.ideas(made.setup), (*tried, Step(Deed.NAME, items.index(f"{side} cord") + 1)))


def without_yellow(made: Hidden) -> Attempt:
    """Return what somebody does who follows the advice for what eyes see that never look at the yellow lamp."""
    ideas, word = REASONING.ideas(made.setup), made.setup.kind.lamp_word("yellow")
    places = {idea.trial: place for place, idea in enumerate(ideas)}
    attempt = Attempt(made, ideas, ())
    for _ in range(12):
        seen = [without_earth(table, word) for table in attempt.tables]
        diagnosis = REASONING.at(situation_of(made)).diagnose(case_of(made, seen))
        idea = first_advice(diagnosis, made.level)
        if idea is None or idea.trial not in places:
            break
        attempt = attempt.then(Step(Deed.TRIAL, places[idea.trial]))
    return Attempt(made, ideas, (*attempt.steps, *named_by(made, diagnosis)))


def cases(count: int, fits: Callable[[Hidden], bool]) -> list[Hidden]:
    setup = REASONING.setup("foil")
    every = (hidden(setup, Level.STEADY, seed) for seed in range(100, 400))
    return [made for made, _ in zip((each for each in every if each.complaint and fits(each)), range(count), strict=False)]


@pytest.mark.slow
def test_learners_rank_as_they_should_and_hear_of_their_flaw() -> None:
    drawn = cases(3, lambda _: True)
    talks = {who: [talk_about(REASONING, who(made)) for made in drawn] for who in (perfect, always_the_cord, at_random)}
    mean = {who: sum(talk.points for talk in of) / len(of) for who, of in talks.items()}
    assert mean[perfect] > 60
    assert mean[perfect] > 2 * max(mean[always_the_cord], mean[at_random])
    assert not any(talk.flaws for talk in talks[perfect])
    for who, flaw in (
        (always_the_cord, {"set on one item", "named too soon"}),
        (at_random, {"set on one item", "trials that tell little"}),
    ):
        wrong = [talk for talk in talks[who] if not talk.judged.right]
        named = [talk for talk in wrong if flaw & {each.name for each in talk.flaws}]
        assert len(named) >= 0.8 * len(wrong) > 0

    lit = cases(3, lambda made: any("yellow" in phrase for phrase in made.complaint.table.saw))  # type: ignore[union-attr]
    blind = [talk_about(REASONING, without_yellow(made)) for made in lit]
    assert sum("earth lamp not used" in {flaw.name for flaw in talk.flaws} for talk in blind) >= 0.8 * len(blind)
    assert sum(talk.points for talk in blind) < sum(talk_about(REASONING, perfect(made)).points for made in lit)


def test_the_talk_says_what_was_best_and_what_had_cleared_an_item() -> None:
    setup = REASONING.setup("foil")
    made = staged(setup, [StagedFault(setup.failures["left weapon wire at the point: broken under the barrel"], float("inf"))], 1)
    ideas, items = REASONING.ideas(setup), list(setup.items)
    pins = next(
        place
        for place, idea in enumerate(ideas)
        if idea.say == "unplug the left weapon and hold both pins of its cord on the guard"
    )
    rest = next(place for place, idea in enumerate(ideas) if idea.say == REST)
    steps = (Step(Deed.TRIAL, rest), Step(Deed.TRIAL, pins), Step(Deed.NAME, items.index("left cord") + 1))
    talk = talk_about(REASONING, Attempt(made, ideas, steps))
    assert not talk.judged.right
    named = talk.lines[-1]
    assert named.cleared == 1, "with its pins bridged the cord carried the loop, so the lamp went out"
    assert named.share < 0.2
    assert named.best
    assert "set on one item" in {flaw.name for flaw in talk.flaws}
    assert [plan.right for plan in talk.plans] == [True, True, True]


# --- surfaces ---------------------------------------------------------------------------------------------------------


def test_the_terminal_hides_a_fault_and_talks_about_it() -> None:
    import typer  # noqa: PLC0415

    app = typer.Typer()
    app.command()(fault_command)
    lines = "\nleft cord\nleft cord 1\nagain\nleft cord 99\nit is left weapon\ntalk\n"
    done = CliRunner().invoke(app, ["--weapon", "foil", "--number", "3"], input=lines, env={"COLUMNS": "200"})
    assert done.exit_code == 0, done.output
    for said in (
        "I hit the lamé and it came up white",
        "hit and touch",
        "left white all along",
        "there is no number 99",
        "Right.",
        "broken under the barrel",
        "a master",
    ):
        assert said in done.output
