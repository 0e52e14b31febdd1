"""Every lesson that Foible brings, held against the rules as printed and a search for ways, neither of which it was made with.

`lesson_rules` has Annex B of the FIE Material Rules (Book 3), August 2026, in its own words; limits stand here with clauses.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import chain, combinations
from typing import TYPE_CHECKING

import networkx as nx
import pytest

from foible.kit import all_weapons, load_setup
from foible.practice import subjects
from foible.practice.lessons import check_lessons, list_lessons, load_lesson
from foible.trials import read_reading
from lesson_rules import graph_of, joined, lamps_by_rule, usable

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.kit import Failure
    from foible.practice.lessons import Choice, Lesson, LessonStep, Question, Situation
    from foible.trials import Arrangement

LISTED = list_lessons()
SETUPS = {weapon.name: load_setup(weapon.name) for weapon in all_weapons()}
TAUGHT = [(weapon.name, each) for weapon in all_weapons() for each in LISTED if each.about(weapon)]
QUESTIONS = [
    pytest.param(weapon, each.name, place, id=f"{each.name}/{question.name}")
    for weapon, each in TAUGHT
    for place, question in enumerate(each.table.question if each.table else ())
]


@cache
def lessons() -> dict[tuple[str, str], Lesson]:
    """Return every lesson for every weapon that it is about; whoever only collects tests need not have them worked out."""
    return {(weapon, each.name): load_lesson(SETUPS[weapon], each.name) for weapon, each in TAUGHT}


ASKED = {
    "the circle that opens and closes": {"foil": "foil-loop", "épée": "epee-loop", "sabre": "sabre-loop"},
    "lines A, B, C": {"foil": "foil-lines", "épée": "epee-lines", "sabre": "sabre-lines"},
    "why foil is closed at rest": {"foil": "foil-closed-at-rest"},
    "what each lamp means": {"foil": "foil-lamps", "épée": "epee-lamps", "sabre": "sabre-lamps"},
    "why tape": {"foil": "foil-tape", "épée": "epee-insulation", "sabre": "sabre-insulation"},
    "why a piste is earthed": {"foil": "foil-piste", "épée": "epee-piste", "sabre": "sabre-piste"},
    "how épée and sabre differ": {"épée": "epee-differs", "sabre": "sabre-differs"},
    "reading a meter": {"foil": "foil-meter", "épée": "epee-meter", "sabre": "sabre-meter"},
    "a test box": {"foil": "foil-box", "épée": "epee-box", "sabre": "sabre-box"},
    "springs, weights and shims": {"foil": "foil-springs", "épée": "epee-springs"},  # a sabre has no spring
    "ten weird faults": {"foil": "foil-weird", "épée": "epee-weird", "sabre": "sabre-weird"},
    "intermittents, an idea of ideas.toml": {
        "foil": "foil-comes-and-goes",
        "épée": "epee-comes-and-goes",
        "sabre": "sabre-comes-and-goes",
    },
}
"""The subjects that lessons were asked for, with the lesson about each for every weapon where it differs."""


def test_there_are_lessons_on_every_subject_for_every_weapon_where_it_differs() -> None:
    wanted = {(weapon, name) for of_weapons in ASKED.values() for weapon, name in of_weapons.items()}
    assert wanted == lessons().keys()
    assert len(wanted) >= 24
    taught = {(lesson.table.subject, lesson.setup.weapon) for lesson in lessons().values()}
    assert {each.name for each in subjects()} == {subject for subject, _ in taught}


def test_nothing_is_wrong_with_any_lesson_and_each_has_three_questions_a_trap_and_its_sources() -> None:
    assert not [problem for found in check_lessons([each.path for each in LISTED]).values() for problem in found]
    for lesson in lessons().values():
        assert len(lesson.questions) >= 3, lesson.name
        assert any(question.table.trap for question in lesson.questions), lesson.name
        words = " ".join(lesson.table.sources)
        assert any(each in words for each in ("August 2026", "no source", "judgement")), lesson.name


def test_a_lesson_takes_five_minutes_at_most() -> None:
    """At 150 words a minute, slow for a reader of plain English (judgement), and the usual time of each question."""
    for lesson in lessons().values():
        said = chain(lesson.table.say, *(step.table.say for step in lesson.steps), (each.table.ask for each in lesson.questions))
        words = sum(len(text.split()) for text in said)
        assert words / 150 + sum(each.table.usual_s for each in lesson.questions) / 60 <= 5, lesson.name


def test_ten_weird_faults_are_ten() -> None:
    assert sum(len(lessons()[at, name].steps) for at, name in ASKED["ten weird faults"].items()) == 10


def test_the_right_choice_does_not_always_stand_first() -> None:
    first = [question.choices[0].right for lesson in lessons().values() for question in lesson.questions]
    assert 0.2 < sum(first) / len(first) < 0.7


# --- what is seen, by the rules as printed ----------------------------------------------------------------------------


def seen_by_rule(situation: Situation, arrangement: Arrangement, made: list[tuple[Failure, float]]) -> set[str]:
    """Return the lamps that light, and of an apparatus set wrongly those of the weapon it is set to."""
    setting = next((each.mode.removeprefix("set to ") for each, _ in made if each.mode.startswith("set to ")), None)
    return lamps_by_rule(setting or situation.setup.weapon, graph_of(situation.setup, arrangement, made))


def _shown_steps() -> list[tuple[Lesson, LessonStep]]:
    found = [(lesson, step) for lesson in lessons().values() for step in lesson.steps if step.situation]
    return [(lesson, step) for lesson, step in found if not (step.situation and step.situation.trial.meter)]


def test_every_step_lights_what_the_rules_say() -> None:
    shown = _shown_steps()
    assert len(shown) > 40
    for lesson, step in shown:
        assert step.situation
        wanted = seen_by_rule(step.situation, step.situation.trial.arrangement, list(step.situation.made))
        assert step.situation.lamps == wanted, f"{lesson.name}/{step.name}"


TRADE = [
    ("foil", "foil-lines", "clip-off", {"left white"}, "American Fencer, Nov 2023: a valid hit shows white, work back along A"),
    ("foil", "foil-tape", "bare", set(), "Brooklyn Bridge FC blog: with less than 15 cm of tape hits are missing"),
    (
        "foil",
        "foil-loop",
        "cannot-tell",
        {"left white"},
        "Swordplay LA, The Foil, 2018: any loose joint looks like an off-target hit",
    ),
    ("foil", "foil-closed-at-rest", "other-way", set(), "Sword and Cord: a short hides the hit"),
    ("foil", "foil-piste", "lead", set(), "Annex B, A.1(b)5: no hit on the piste"),
    ("foil", "foil-lamps", "own-lame", {"left yellow"}, "Annex B, A.2: own jacket on own weapon"),
    ("épée", "epee-lines", "c-broken", {"left coloured"}, "Falun: a guard that counts, look along the C of whoever is hit"),
    ("épée", "epee-piste", "lead", {"left yellow"}, "Annex B, B(d), B(e)4"),
    ("épée", "epee-loop", "a-break", set(), "Annex B, B(a): open at rest; common practice, no source: a dead épée is quiet"),
    ("sabre", "sabre-loop", "a-break", {"left white"}, "Annex B, C(a)6, C(b)7: the control loop"),
    ("sabre", "sabre-piste", "only-a", set(), "Annex B, C: only the opponent's jacket is asked"),
    ("sabre", "sabre-insulation", "lining-worn", {"left yellow"}, "Annex B, C(a)5; m.24.5: the guard is lined"),
]


@pytest.mark.parametrize(("weapon", "name", "step", "lamps", "source"), TRADE)
def test_lamps_agree_with_what_the_trade_says(weapon: str, name: str, step: str, lamps: set[str], source: str) -> None:
    found = next(each for each in lessons()[weapon, name].steps if each.name == step)
    assert found.situation
    assert found.situation.lamps == lamps, source


# --- which choices are right ------------------------------------------------------------------------------------------


def _lamps(question: Question, choice: Choice) -> bool:
    situation = question.situation
    return choice.answer == frozenset(seen_by_rule(situation, situation.trial.arrangement, list(situation.made)))


def _where(question: Question, choice: Choice) -> bool:
    """Return whether the circuit closes once the place is bridged, or opens once it is taken away."""
    situation, name = question.situation, choice.words
    setup, measured = situation.setup, situation.setup.kind.measurement(situation.circuit)
    graph = graph_of(setup, situation.trial.arrangement, situation.made)
    rival = {"left": "right", "right": "left"}[situation.side]

    def nodes(inputs: tuple[str, ...]) -> list[str]:
        own = {"piste": "apparatus.piste"} | {letter: f"apparatus.{situation.side}_{letter.lower()}" for letter in "ABC"}
        return [own.get(each) or f"apparatus.{rival}_{each[-1].lower()}" for each in inputs]

    parts = {each.id for each in setup.parts.values() if name in (each.item, each.id)}
    pins = set(setup.connections[name].pins.values()) if name in setup.connections else set()
    of_place = [branch for branch in setup.network.branches if branch.name in parts | pins]
    if question.table.kind == "way":
        graph.remove_edges_from([edge for edge in graph.edges(keys=True) if edge[2] in {each.name for each in of_place}])
        return not joined(graph, nodes(measured.sources), nodes(measured.sinks))
    graph.add_edges_from((branch.a, branch.b) for branch in of_place)
    return joined(graph, nodes(measured.sources), nodes(measured.sinks))


def _reads(question: Question, choice: Choice) -> bool:
    situation = question.situation
    assert situation.trial.meter
    ends = [situation.setup.places[name] for name in situation.trial.meter]
    graph = graph_of(situation.setup, situation.trial.arrangement, situation.made)
    reading = read_reading(choice.words)
    if not joined(graph, ends[:1], ends[1:]):
        return choice.words == "open"
    whole = graph.subgraph(nx.node_connected_component(graph, ends[0]))
    ohms = nx.resistance_distance(whole, ends[0], ends[1], weight="weight")
    assert isinstance(ohms, float)
    return reading.low <= ohms <= reading.high < math.inf


def _box_by_ways(situation: Situation, made: list[tuple[Failure, float]]) -> set[str]:
    nodes = situation.setup.items[str(situation.trial.box)].box
    graph = graph_of(situation.setup, situation.trial.arrangement, made)
    return {f"{one}-{two}" for one, two in combinations(nodes, 2) if joined(graph, [nodes[one]], [nodes[two]])}


def _box(question: Question, choice: Choice) -> bool:
    return choice.answer == frozenset(_box_by_ways(question.situation, list(question.situation.made)))


def _seen(situation: Situation, made: list[tuple[Failure, float]]) -> object:
    trial = situation.trial
    if trial.gauge:
        return any(each.gauges.get(trial.gauge[1], 0.0) >= 0.5 for each, _ in made)
    if trial.box:
        return _box_by_ways(situation, made)
    if trial.meter:
        ends = [situation.setup.places[name] for name in trial.meter]
        return joined(graph_of(situation.setup, trial.arrangement, made), ends[:1], ends[1:])
    lamps = [seen_by_rule(situation, trial.arrangement, made)]
    return lamps + ([seen_by_rule(situation, trial.arrangement.before_press(), made)] if trial.arrangement.press else [])


def _cause(question: Question, choice: Choice) -> bool:
    situation, setup = question.situation, question.situation.setup
    covered = [each for each in setup.failures.values() if choice.words in (each.id, each.part, each.item)]
    assert covered, choice
    gone = [each for each in covered if each.item in situation.trial.swapped]
    rows = [[(each, ohms)] for each in covered if each not in gone for ohms, _ in each.ladder if usable(ohms)] + [
        [] for _ in gone
    ]
    could = any(_seen(situation, row) == _seen(situation, list(situation.made)) for row in rows)
    return could is (question.table.kind == "cause")


LIMITS: dict[str, tuple[Callable[[float], bool], str]] = {
    "foil-piste/how-good": (lambda ohms: ohms <= 5, "m.57.1"),
    "epee-piste/how-good": (lambda ohms: ohms <= 5, "m.57.1"),
    "foil-meter/which-keep": (lambda ohms: ohms <= 1, "m.29.1.c"),
    "epee-meter/which-keep": (lambda ohms: ohms <= 2, "m.5.4.a"),
    "sabre-meter/weapon-rule": (lambda ohms: ohms <= 1, "m.5.4.a"),
    "sabre-meter/mask-rule": (lambda ohms: ohms < 5, "m.32.5"),
    "foil-springs/which-springs": (lambda grams: grams > 500, "m.11.3"),
    "foil-springs/travel-q": (lambda mm: mm <= 1, "m.11.4"),
    "epee-springs/which-springs": (lambda grams: grams > 750, "m.19.2"),
    "epee-springs/travel-q": (lambda mm: mm > 1.5, "m.19.4.b"),
}
"""The limits asked about, from the FIE Material Rules (Book 3), August 2026, by lesson and question."""
STIRS = {
    "left weapon wire along the blade": "bend left weapon blade",
    "left weapon A wire along the blade": "bend left weapon blade",
    "left weapon A wire behind the guard": "twist left weapon grip",
    "left cord B wire at the weapon plug": "tug left cord weapon plug",
    "left cuff contact with the sleeve": "tug left cuff elastic",
}
"""What brings a bad part on: common practice, no source, but for blade and wire (Blackheath FC, Armoury Tip 3)."""


def _rule(question: Question, choice: Choice) -> bool:
    name = next(f"{lesson.name}/{question.name}" for lesson in lessons().values() if question in lesson.questions)
    figure = choice.words.split(" ")[0]
    return LIMITS[name][0](math.inf if figure == "open" else float(figure))


def _brings(question: Question, choice: Choice) -> bool:
    return choice.words == STIRS[question.situation.failures[0].part]


JUDGES: dict[str, Callable[[Question, Choice], bool]] = {
    "lamps": _lamps, "cut": _where, "way": _where, "reads": _reads, "box": _box, "cause": _cause, "excludes": _cause,
    "rule": _rule, "brings": _brings,
}  # fmt: skip


@pytest.mark.parametrize(("weapon", "lesson", "place"), QUESTIONS)
def test_the_right_choices_are_those_of_an_independent_way(weapon: str, lesson: str, place: int) -> None:
    question = lessons()[weapon, lesson].questions[place]
    judge = JUDGES[question.table.kind]
    assert {each.words for each in question.choices if each.right} == {
        each.words for each in question.choices if judge(question, each)
    }


def test_every_kind_of_question_is_asked() -> None:
    assert {question.table.kind for lesson in lessons().values() for question in lesson.questions} == JUDGES.keys()


def test_marking_tells_no_wrong_answer_as_right() -> None:
    """Every set of choices of every question: right only where it is the right ones and nothing else."""
    for lesson in lessons().values():
        for question in lesson.questions:
            numbers = range(len(question.choices))
            right = [choice.words for choice in question.choices if choice.right]
            for taken in chain.from_iterable(combinations(numbers, size) for size in range(len(numbers) + 1)):
                assert question.is_right(taken) is ([question.choices[number].words for number in taken] == right)


@pytest.mark.parametrize("kind", JUDGES)
def test_a_wrong_answer_is_told_why_by_the_model(kind: str) -> None:
    question = next(each for lesson in lessons().values() for each in lesson.questions if each.table.kind == kind)
    wrong = next(number for number, choice in enumerate(question.choices) if not choice.right)
    marked = question.marked([wrong])
    assert not marked.right
    assert question.marker.because(question.choices[wrong].answer) in marked.reasons
    assert {choice.words for choice in marked.missed} == {choice.words for choice in question.choices if choice.right}


def test_whoever_falls_into_a_trap_is_told_the_belief() -> None:
    question = next(each for each in lessons()["foil", "foil-loop"].questions if each.table.trap)
    tempting = next(number for number, choice in enumerate(question.choices) if choice.tempting)
    assert any(question.table.belief in reason for reason in question.marked([tempting]).reasons)
