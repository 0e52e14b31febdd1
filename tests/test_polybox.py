"""The polybox of the literature, fed through the reasoning of this project: which components may have failed, what to measure.

Johan de Kleer and Brian C. Williams, “Diagnosing multiple faults”, Artificial Intelligence 32 (1987) 97–130; the circuit is
Davis's. Multipliers M1, M2, M3 make X = A·C, Y = B·D, Z = C·E, adders A1, A2 make F = X + Y and G = Y + Z. Inputs A = 3, B = 2,
C = 2, D = 3, E = 3; seen are F = 10, where 12 is expected, and G = 12. What the paper finds is quoted from memory.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import combinations, product

import numpy as np
import pytest
from scipy.stats import entropy

from foible.circuit import Grid
from foible.diagnosis.advice.lookahead import Chooser, exact
from foible.diagnosis.advice.model import DecisionModel
from foible.diagnosis.belief.pairs import PairEvidence as Said  # under its own name pytest takes it for a class of tests
from foible.diagnosis.belief.pairs import Pairs, Sight
from foible.diagnosis.belief.posterior import Belief, believe
from foible.diagnosis.shown.hypotheses import SOUND, UNKNOWN, Activity, Hypotheses
from foible.kit import Failure

Failed = frozenset[str]
Wires = dict[str, int]

COMPONENTS = ("M1", "M2", "M3", "A1", "A2")
INPUTS = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3}
SEEN = {"F": 10, "G": 12}
OUTPUTS = range(13)
"""What a failed component may put out: anything from 0 to what is expected of F, all alike."""
FAILS = 0.01
"""Chance that a component has failed, each by itself; small and equal, as in the paper's example."""
NONE: Failed = frozenset()


# --- the circuit, by brute force ----------------------------------------------------------------------------------------


@lru_cache
def behaviours(failed: Failed) -> tuple[Wires, ...]:
    """Return all that the wires can carry so that F and G are as seen, the outputs of failed components being anything."""

    def out(component: str, sound: int, free: dict[str, int]) -> int:
        return free.get(component, sound)

    found = []
    for values in product(OUTPUTS, repeat=len(failed)):
        free = dict(zip(sorted(failed), values, strict=True))
        wires = {
            "X": out("M1", INPUTS["A"] * INPUTS["C"], free),
            "Y": out("M2", INPUTS["B"] * INPUTS["D"], free),
            "Z": out("M3", INPUTS["C"] * INPUTS["E"], free),
        }
        wires["F"] = out("A1", wires["X"] + wires["Y"], free)
        wires["G"] = out("A2", wires["Y"] + wires["Z"], free)
        if all(wires[name] == value for name, value in SEEN.items()):
            found.append(wires)
    return tuple(found)


def up_to(count: int) -> list[Failed]:
    """Return all sets of at most `count` components, the smaller ones first."""
    return [frozenset(chosen) for size in range(count + 1) for chosen in combinations(COMPONENTS, size)]


def minimal(diagnoses: list[Failed]) -> set[Failed]:
    return {one for one in diagnoses if not any(other < one for other in diagnoses)}


DIAGNOSES = {frozenset({"A1"}), frozenset({"M1"}), frozenset({"A2", "M2"}), frozenset({"M2", "M3"})}
"""The paper's four minimal diagnoses (from memory)."""


@pytest.mark.slow
def test_brute_force_finds_the_minimal_diagnoses_of_the_paper() -> None:
    """Over sets of any size, so that the reference of the tests below stands on the paper and not on itself."""
    assert minimal([failed for failed in up_to(5) if behaviours(failed)]) == DIAGNOSES


# --- the same through pairs and posterior -------------------------------------------------------------------------------


def failure(component: str) -> Failure:
    """Return the one failure of a component; nothing about it is electrical."""
    return Failure(
        id=f"{component}: failed",
        part=component,
        item=component,
        mode="failed",
        raises=(),
        joins=(),
        sets={},
        exchange=None,
        ladder=((math.inf, 1.0),),
        rate=1.0,
        intermittent=0.0,
        source="judgement",
        signs={},
        gauges={},
        spoils=None,
        profile=None,
        repair=None,
    )


def hypotheses() -> Hypotheses:
    """Return “nothing wrong”, “not in this model” and one steady failure of each component, all equally likely."""
    failures = tuple(failure(component) for component in COMPONENTS)
    count = len(failures)
    prior = np.array([(1 - FAILS) ** count, 1e-9, *[FAILS * (1 - FAILS) ** (count - 1)] * count])
    return Hypotheses(
        failures=failures,
        columns=tuple((each, math.inf) for each in failures),
        column=np.array([0, 0, *range(1, count + 1)]),
        failure=np.array([-1, -1, *range(count)]),
        ohms=np.array([np.nan, np.nan, *[math.inf] * count]),
        activity=np.full(count + 2, Activity.STEADY, dtype=np.intp),
        prior=prior / prior.sum(),
    )


def diagnosed() -> Belief:
    """Return the belief after F and G were seen: a set of failed components agrees with them for sure or not at all."""
    known = hypotheses()
    sets = up_to(2)
    row = {failed: number for number, failed in enumerate(sets)}
    agrees = np.array([float(bool(behaviours(failed))) for failed in sets])
    own = [NONE, *(frozenset({component}) for component in COMPONENTS)]
    two = np.array([[row[first | second] for second in own] for first in own], dtype=np.int32)
    always, never = np.ones(len(known)), np.zeros(len(known))
    pairs = Pairs(known)
    pair_evidence = Said((Sight(Grid.of(two), np.outer(agrees, agrees)),), (always, never, never))
    after = pairs.after(pairs.start, pair_evidence)
    singles = np.array([agrees[row[NONE]], 0.0, *(agrees[row[each]] for each in own[1:])])
    return believe(known, [singles], (pairs, after))


def test_the_single_failures_left_are_the_first_adder_and_the_first_multiplier() -> None:
    belief = diagnosed()
    alone = dict(zip(belief.hypotheses.part_names, belief.probability.tolist(), strict=True))
    assert {name for name, value in alone.items() if value > 1e-12} == {"A1", "M1"}
    assert alone["A1"] == pytest.approx(alone["M1"], rel=1e-9)
    assert alone[SOUND] == pytest.approx(0, abs=1e-12)
    assert alone[UNKNOWN] == pytest.approx(0, abs=1e-12)


def test_the_diagnoses_left_are_minimal_as_in_the_paper() -> None:
    """Every pair with weight agrees with what was seen, and those without A1 or M1 are {A2, M2} and {M2, M3}."""
    belief = diagnosed()
    pairs = {frozenset({a, b}) for a, b, share in belief.by_pair(100) if share > 1e-12}
    assert pairs == {failed for failed in up_to(2) if len(failed) == 2 and behaviours(failed)}
    assert {pair for pair in pairs if not pair & {"A1", "M1"}} == {frozenset({"A2", "M2"}), frozenset({"M2", "M3"})}
    alone = {
        frozenset({name})
        for name, value in zip(belief.hypotheses.part_names, belief.probability.tolist(), strict=True)
        if value > 1e-12
    }
    assert minimal([*alone, *pairs]) == DIAGNOSES


def test_pairs_that_agree_weigh_alike_and_everything_adds_up() -> None:
    belief = diagnosed()
    shares = [share for _, _, share in belief.by_pair(100)]
    assert shares == pytest.approx([shares[0]] * len(shares), rel=1e-5)
    assert belief.two == pytest.approx(sum(shares), rel=1e-9)
    assert belief.probability.sum() + belief.two == pytest.approx(1, abs=1e-9)


# --- what to measure next -----------------------------------------------------------------------------------------------


def weight(failed: Failed) -> float:
    return float(FAILS ** len(failed) * (1 - FAILS) ** (len(COMPONENTS) - len(failed)))


def measuring(diagnoses: list[Failed]) -> tuple[DecisionModel, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Return the model of telling diagnoses apart by measuring X, Y or Z, at the same cost, and the belief."""
    tables = []
    for wire in "XYZ":
        table = np.zeros((len(OUTPUTS), len(diagnoses)))
        for state, failed in enumerate(diagnoses):
            for wires in behaviours(failed):
                table[wires[wire], state] += 1 / len(behaviours(failed))
        tables.append(table.astype(np.float32))
    belief = np.array([weight(failed) for failed in diagnoses])
    count = len(diagnoses)
    made = DecisionModel(tuple(tables), np.full(3, 10.0), np.arange(count, dtype=np.intp), np.full(count, 60.0), 900.0)
    return made, belief / belief.sum()


def beginning_with(first: int, made: DecisionModel, belief: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    """Return the least cost to be done when a wire is measured first [s], by dynamic programming."""
    others = frozenset({X, Y, Z}) - {first}
    return float(made.cost[first]) + sum(exact(made, outcome, others) for outcome in made.tables[first] * belief if outcome.any())


X, Y, Z = range(3)


SMALLEST = sorted(DIAGNOSES, key=sorted)
ALL_PAIRS = [failed for failed in up_to(2) if behaviours(failed)]
"""Also those that contain a smaller diagnosis."""


@pytest.mark.parametrize("diagnoses", [SMALLEST, ALL_PAIRS], ids=["minimal", "up to two"])
def test_the_output_of_the_first_multiplier_tells_most(diagnoses: list[Failed]) -> None:
    """X says whether M1 or A1 has failed, and the two have nearly all the weight (the paper's own choice, from memory)."""
    made, belief = measuring(diagnoses)
    bits = Chooser(made).bits(belief, [X, Y, Z])
    assert bits[X] > 0.9
    assert bits[X] > 3 * max(bits[Y], bits[Z])


@pytest.mark.parametrize("diagnoses", [SMALLEST, ALL_PAIRS], ids=["minimal", "up to two"])
def test_the_output_of_the_first_multiplier_is_measured_next(diagnoses: list[Failed]) -> None:
    """As the best plan has it too, at prices of our own: 10 s a measurement, 60 s a repair, 900 s a wrong one (judgement)."""
    made, belief = measuring(diagnoses)
    assert min((X, Y, Z), key=lambda first: beginning_with(first, made, belief)) == X
    assert Chooser(made).choices(belief)[0].trial == X


def test_the_bits_of_the_three_measurements_are_those_of_the_entropies() -> None:
    """What a measurement says for sure in every minimal diagnosis, it says with the entropy of what it shows.

    X is 4 with M1 and 6 with the others; Y is 6 with A1 or M1 and 4 with the pairs; Z is 8 with {M2, M3} and 6 with the others.
    """
    shown = {"A1": (6, 6, 6), "M1": (4, 6, 6), "A2 M2": (6, 4, 6), "M2 M3": (6, 4, 8)}
    diagnoses = [frozenset(names.split()) for names in shown]
    for failed, values in zip(diagnoses, shown.values(), strict=True):
        assert [tuple(wires[wire] for wire in "XYZ") for wires in behaviours(failed)] == [values]
    made, belief = measuring(diagnoses)
    for measured, bits in zip((X, Y, Z), Chooser(made).bits(belief, [X, Y, Z]), strict=True):
        chances = [belief[[values[measured] == value for values in shown.values()]].sum() for value in (4, 6, 8)]
        assert bits == pytest.approx(float(entropy(chances, base=2)), abs=1e-5)
