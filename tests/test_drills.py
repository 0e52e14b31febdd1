"""Drills: of every kind, about every idea, at every weapon exactly one right answer, found again by another way than they use.

Lamps are worked out one by one by the explanation of a trial, not from the table of all faults; readings by networkx on a network
that is put together here; gauges, fingers and movements from the kit's own numbers.
"""

from __future__ import annotations

import math
from functools import cache
from random import Random
from typing import TYPE_CHECKING, Any

import networkx as nx
import pytest

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.errors import UnknownNameError
from foible.kit import Setup, load_setup
from foible.practice import subjects
from foible.practice.drills import ANY, CHOICES, Drill, DrillSet, drilled_ideas, one_drill, pool_of
from foible.trials import Idea, arranged, load_catalogue

if TYPE_CHECKING:
    from foible.kit import Failure

pytestmark = pytest.mark.once

WEAPONS = ("foil", "épée", "sabre")
EACH = 1
"""Drills of each kind, idea and weapon that are looked at."""


@cache
def setup_of(weapon: str) -> Setup:
    return load_setup(weapon)


@cache
def ideas_of(weapon: str) -> dict[str, Idea]:
    return {idea.say: idea for idea in load_catalogue(setup_of(weapon))}


@cache
def made(weapon: str) -> tuple[Drill, ...]:
    """Return drills of every kind about every idea at a weapon."""
    setup, used, found = setup_of(weapon), set[tuple[str, ...]](), []
    for idea in subjects():
        for kind in pool_of(setup, idea.name).kinds:
            for number in range(EACH):
                drill = one_drill(setup, idea.name, kind, Random(f"{kind} {number}"), but=used)  # noqa: S311 — no secret
                assert drill is not None, (weapon, idea.name, kind)
                used.add(drill.alike)
                found.append(drill)
    return tuple(found)


def choice_words(words: str) -> str:
    """Return a choice of lamps as sights have them."""
    return words[0].lower() + words[1:].replace(" + ", " and ")


def lit(setup: Setup, idea: Idea, failure: Failure | None) -> str:
    """Return which lamps light, asked of one network alone."""
    shown = explain_lamps(
        setup, load_profile(setup.profile), idea.trial.arrangement, [(failure, failure.usual_ohms)] if failure else []
    )
    found = []
    for side in ("left", "right"):
        for lamp in setup.kind.lamps:
            if not lamp.optional:
                chance = shown[side].lamps[lamp.kind]
                assert not 0.05 < chance < 0.95, "a drill asks for nothing that is in doubt"
                found += [f"{side} {lamp.names[side]}"] if chance > 0.5 else []
    return " and ".join(found) or "no lamp"


def ohms(setup: Setup, idea: Idea, failure: Failure) -> float:
    """Return what a meter reads [Ω], by networkx on the network of the arrangement with the fault put in by hand."""
    network = arranged(setup, idea.trial.arrangement).network(setup.network)
    size = failure.usual_ohms
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    ends = {branch.name: (branch.a, branch.b) for branch in network.branches}
    values = {branch.name: branch.ohms for branch in network.branches}
    for name in failure.raises:
        values[name] += size
    values |= failure.sets
    if failure.exchange:
        first, second = failure.exchange
        ends[first], ends[second] = (ends[first][0], ends[second][1]), (ends[second][0], ends[first][1])
    joined = ((*pair, size) for pair in failure.joins)
    every = (*((*ends[name], value) for name, value in values.items()), *joined)
    graph.add_edges_from((a, b, {"weight": r}) for a, b, r in every if math.isfinite(r))
    assert idea.trial.meter
    source, sink = (setup.places[place] for place in idea.trial.meter)
    graph.add_nodes_from((source, sink))
    if not nx.has_path(graph, source, sink):
        return math.inf
    part = graph.subgraph(nx.node_connected_component(graph, source))
    between: Any = nx.resistance_distance(part, source, sink, weight="weight", invert_weight=True)
    return float(between)


def found_by_hand(idea: Idea, failure: Failure) -> bool:
    """Return whether gauge, eye or finger find a fault, from the kit's numbers."""
    if idea.trial.gauge:
        return failure.item == f"{idea.trial.gauge[0]} weapon" and failure.gauges.get(idea.trial.gauge[1], 0) >= 0.6
    return failure.part in idea.trial.examine or failure.item in idea.trial.examine


def moved(setup: Setup, idea: Idea, failure: Failure) -> float:
    return max(setup.parts[failure.part].moved_by.get(move, 0.0) for move in idea.trial.moves)


def differs(setup: Setup, drill: Drill, idea: Idea, failure: Failure) -> bool | str:
    """Return what tells faults apart in a trial: the lamps, or whether a hand finds it, or a movement brings it on."""
    match pool_of(setup, drill.subject).table.seen:
        case "lamps":
            return lit(setup, idea, failure)
        case "hand":
            found = found_by_hand(idea, failure)
            return found and (bool(idea.trial.gauge) or max(failure.signs, key=lambda sign: failure.signs[sign]))
    return (
        f"{lit(setup, idea, failure)} {lit(setup, idea, None)}" if moved(setup, idea, failure) >= 0.5 else lit(setup, idea, None)
    )


def failure_in(setup: Setup, words: str) -> Failure:
    """Return the fault that a choice names, with or without how bad it is behind it."""
    return max((each for each in setup.failures.values() if words.startswith(each.id)), key=lambda each: len(each.id))


def answers(setup: Setup, drill: Drill) -> list[bool]:  # noqa: PLR0911 — one for each kind
    """Return for each choice whether it is right, worked out once more."""
    idea, (failure,) = drill.shown
    words, ideas = [choice.words for choice in drill.choices], ideas_of(drill.weapon)
    trials = {say[0].upper() + say[1:]: each for say, each in ideas.items()}
    match drill.kind:
        case "lamps":
            return [choice_words(each) == lit(setup, idea, failure) for each in words]
        case "meter":
            read = ohms(setup, idea, failure)
            place = 3 if math.isinf(read) else sum(read > edge for edge in (10, 100, 1000))
            return [number == place for number in range(CHOICES)]
        case "culprit":
            seen = differs(setup, drill, idea, failure)
            return [differs(setup, drill, idea, failure_in(setup, each)) == seen for each in words]
        case "innocent":
            all_seen = [differs(setup, drill, idea, failure_in(setup, each)) for each in words]
            return [all_seen.count(each) == 1 for each in all_seen]
        case "split":
            pair = [setup.failures[name] for name in drill.about[1:]]
            return [
                differs(setup, drill, trials[each], pair[0]) != differs(setup, drill, trials[each], pair[1]) for each in words
            ]
    if pool_of(setup, drill.subject).table.seen == "moves":
        shares = [moved(setup, trials[each], failure) for each in words]
        return [share >= 0.5 and share > 2 * max(x for x in (*shares, 0) if x != share) for share in shares]
    return [found_by_hand(trials[each], failure) for each in words]


@pytest.mark.parametrize("weapon", WEAPONS)
def test_each_drill_has_one_right_answer_and_it_is_the_one_that_is_marked(weapon: str) -> None:
    setup = setup_of(weapon)
    for drill in made(weapon):
        assert answers(setup, drill) == [choice.right for choice in drill.choices], drill
        assert [choice.right for choice in drill.choices].count(True) == 1
        assert len({choice.words for choice in drill.choices}) == CHOICES


def test_there_are_four_kinds_for_every_idea_and_weapon_and_no_two_are_alike() -> None:
    """Of the issue: drills of at least four kinds for every idea and weapon, no two alike in network and question."""
    ideas = {subject.name for subject in subjects()}
    assert len(ideas) == 6
    for weapon in WEAPONS:
        assert set(drilled_ideas(weapon)) == ideas
        for idea in ideas:
            assert len({drill.kind for drill in made(weapon) if drill.subject == idea}) >= 4, (weapon, idea)
        told = [(drill.given, drill.question, frozenset(choice.words for choice in drill.choices)) for drill in made(weapon)]
        assert len({drill.alike for drill in made(weapon)}) == len(set(told)) == len(told)


def test_every_wrong_choice_says_what_is_wrong_with_it() -> None:
    for weapon in WEAPONS:
        assert all(choice.because or choice.right for drill in made(weapon) for choice in drill.choices)


def test_the_same_seed_makes_the_same_drills_and_another_one_others() -> None:
    setup = setup_of("foil")
    one, again, other = (DrillSet(setup, ANY, seed) for seed in ("a", "a", "b"))
    first = [one.drill(number) for number in range(1, 25)]
    assert [again.drill(number) for number in range(1, 25)] == first
    assert len({drill.alike for drill in first}) == 24
    assert {drill.subject for drill in first} == set(drilled_ideas("foil"))
    assert sum(other.drill(number) == drill for number, drill in enumerate(first, start=1)) < 3
    with pytest.raises(UnknownNameError, match="luck"):
        DrillSet(setup, "luck", "a")
