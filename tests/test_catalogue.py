"""The catalogue of trials worth making: what it covers, what its ideas need, how its files are told wrong."""

from __future__ import annotations

import math
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

import pytest

from foible.circuit import Port, Shape, conductances_of, port_resistances
from foible.errors import ProblemsError
from foible.kit import SIDES, Setup, load_setup, plain
from foible.situation import TOOLS
from foible.trials import Idea, TrialTable, arranged, load_catalogue, read_trial

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from foible.errors import Problem

WEAPONS = ("foil", "épée", "sabre")
BAYONET = {"left": {"socket": "bayonet"}}


@cache
def kit(weapon: str) -> Setup:
    return load_setup(weapon)


@cache
def ideas(weapon: str) -> tuple[Idea, ...]:
    return load_catalogue(kit(weapon))


def bench(weapon: str, kind: str) -> list[Idea]:
    """Return the ideas for the bench about items of a kind, such as “cord”, both sides."""
    return [idea for idea in ideas(weapon) if idea.item and idea.item.partition(" ")[2] == kind]


def offered(weapon: str, tools: Collection[str]) -> set[str]:
    """Return the sentences of the ideas that can be made with these tools at hand."""
    return {idea.say for idea in ideas(weapon) if set(idea.needs) <= set(tools)}


# --- the shipped catalogues -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_idea_names_things_that_the_kit_has(weapon: str) -> None:
    setup = kit(weapon)
    for idea in ideas(weapon):
        trial = idea.trial
        assert idea.item is None or idea.item in list(setup.items)
        assert set(trial.examine) <= {*setup.parts, *setup.items}
        assert set(trial.meter or ()) <= set(setup.places)
        assert set(trial.arrangement.unplugged) <= set(setup.connections)
        assert set(trial.moves) <= {*setup.movements, *(f"fence {side}" for side in SIDES)}


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_sentence_and_every_trial_stands_once(weapon: str) -> None:
    assert len({plain(idea.say) for idea in ideas(weapon)}) == len(ideas(weapon))
    assert len({(idea.place, idea.table) for idea in ideas(weapon)}) == len(ideas(weapon))
    assert not [idea.say for idea in ideas(weapon) if "{" in idea.say or "{" in idea.table.model_dump_json()[1:-1]]


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_trial_for_the_bench_is_about_the_item_that_lies_there(weapon: str) -> None:
    """And one without an item is for the piste; a side is that of its item."""
    setup = kit(weapon)
    for idea in ideas(weapon):
        assert idea.place == ("bench" if idea.item else "piste")
        if idea.item is None:
            continue
        assert idea.side == setup.items[idea.item].side
        assert idea.trial.box in (None, idea.item)
        assert {setup.parts[part].item for part in idea.trial.examine} <= {idea.item}
        if idea.trial.meter:
            assert any(place.startswith(idea.item) for place in idea.trial.meter)
        if idea.trial.gauge:
            assert idea.item == f"{idea.trial.gauge[0]} weapon"


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_trial_needs_what_it_uses(weapon: str) -> None:
    for idea in ideas(weapon):
        needs = set(idea.needs)
        assert needs <= set(TOOLS)
        assert ("meter" in needs) == bool(idea.trial.meter or "tools meter" in idea.trial.examine)
        assert ("spare" in needs) == bool(idea.trial.swapped)
        assert "box" in needs or not idea.trial.box
        if idea.trial.gauge:
            assert ("weight" if "weight" in idea.trial.gauge[1] else "shims") in needs
        assert ("take" in idea.say or "open" in idea.say) == ("screwdriver" in needs), idea.say


def test_a_trial_with_two_needs_is_made_only_with_both() -> None:
    """A test box shows whether the spring lifts the weight: common practice, no source."""
    both = next(idea for idea in ideas("foil") if set(idea.needs) == {"box", "weight"})
    assert both.trial.gauge == ("left", "500 g weight")
    assert both.say in offered("foil", ["box", "weight", "meter"])
    assert both.say not in offered("foil", ["box", "meter"]) | offered("foil", ["weight", "meter"]) | offered("foil", [])


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_part_that_shows_a_sign_is_looked_at(weapon: str) -> None:
    setup = kit(weapon)
    seen = {part for idea in ideas(weapon) for part in idea.trial.examine}
    on_bench = {part for idea in ideas(weapon) if idea.item for part in idea.trial.examine}
    showing = {failure.part for failure in setup.failures.values() if failure.signs}
    assert showing <= seen
    # What shows only while all is worn and plugged in is looked at on the piste; so are the piste, the apparatus and the gauges.
    of_the_place = ("piste", "app", "tools")
    on_strip = {part for part in showing if part.endswith("plug seat") or "handling" in part or part.startswith(of_the_place)}
    assert showing - on_strip <= on_bench
    assert not on_strip & on_bench


GAUGES = {
    "foil": {"500 g weight", "1 mm travel gauge"},
    "épée": {"750 g weight", "0.5 mm shim", "1.5 mm shim"},
    "sabre": set[str](),
}


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_gauge_that_can_fail_the_weapon_is_tried_on_the_bench(weapon: str) -> None:
    """Weights of 500 g and 750 g, shims of 0.5 mm and 1.5 mm: FIE Technical Rules, 2026, t.68; foil travel 1 mm: m.11.4."""
    setup = kit(weapon)
    own = [failure for failure in setup.failures.values() if setup.items[failure.item].side]
    known = {gauge for failure in own for gauge in failure.gauges}
    tried = {idea.trial.gauge for idea in ideas(weapon) if idea.item and idea.trial.gauge}
    assert tried == {(side, gauge) for side in SIDES for gauge in known}
    assert known == GAUGES[weapon]


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_part_that_a_movement_provokes_is_worked_under_meter_or_box(weapon: str) -> None:
    """But for what shows only in a bout, with the kit worn or plugged in, or with sweat in a plug; and the piste's earth lead."""
    setup = kit(weapon)
    working = [idea for idea in ideas(weapon) if idea.item and idea.trial.moves]
    assert all(idea.trial.meter or idea.trial.box for idea in working)
    worked = {move for idea in working for move in idea.trial.moves}
    not_there = ("fence", "wet", "tug piste lead")
    for part in setup.parts.values():
        movements = {move for move in part.moved_by if not move.startswith(not_there)}
        assert not movements or movements & worked, part.id


# --- what the meter reads on sound kit -----------------------------------------------------------------------------------


def ohms(weapon: str, idea: Idea) -> float:
    """Return what a meter reads in an idea on sound kit [Ω]; insulation is far above 1 MΩ."""
    setup, trial = kit(weapon), idea.trial
    assert trial.meter
    ends = (setup.places[trial.meter[0]], setup.places[trial.meter[1]])
    network = arranged(setup, trial.arrangement).network(setup.network)
    shape = Shape.of(network, ends)
    return float(port_resistances(shape, shape.conductances(conductances_of(network)), [Port.between(*ends)])[0, 0])


# FIE Material Rules (Book 3), August 2026: m.29.1 and m.31 (cord), m.55.1 (reel), m.55.5 (floor cable), per line [Ω].
@pytest.mark.parametrize("weapon", WEAPONS)
@pytest.mark.parametrize(("kind", "limit"), [("cord", 1.0), ("reel", 3.0), ("floor cable", 2.5)])
def test_every_line_is_measured_end_to_end_and_between_lines(weapon: str, kind: str, limit: float) -> None:
    measured = [idea for idea in bench(weapon, kind) if idea.trial.meter and not idea.trial.moves]
    along = [idea for idea in measured if "both ends of" in idea.say]
    between = [idea for idea in measured if "between lines" in idea.say]
    for side in SIDES:
        lines = [line for line in "ABC" for idea in along if idea.side == side and f"line {line} " in f"{idea.say} "]
        assert sorted(lines) == ["A", "B", "C"]
        pairs = [idea.say for idea in between if idea.side == side]
        assert all(sum(f"lines {a} and {b} " in f"{say} " for say in pairs) == 1 for a, b in combinations("ABC", 2))
    assert all(0.1 < ohms(weapon, idea) <= limit for idea in along)
    assert all(ohms(weapon, idea) > 1e6 for idea in between)


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_line_is_measured_while_each_of_its_ends_is_worked(weapon: str) -> None:
    """Lines are read while both ends are pulled: Salle Boise troubleshooting guide (about 2000)."""
    clip = "clip" if weapon != "épée" else "weapon plug"
    for side in SIDES:
        for line, far in (("A", clip), ("B", "weapon plug"), ("C", "weapon plug")):
            tugged = {
                move
                for idea in bench(weapon, "cord")
                if idea.side == side and idea.trial.meter and f"ends of line {line} " in idea.say
                for move in idea.trial.moves
            }
            assert {f"tug {side} cord {far}", f"tug {side} cord reel plug", f"bend {side} cord middle"} <= tugged


@pytest.mark.parametrize("weapon", WEAPONS)
def test_what_must_be_insulated_is_and_what_is_exchanged_is_not_connected(weapon: str) -> None:
    apart = [idea for idea in ideas(weapon) if idea.trial.meter and ("insulated" in idea.say or "exchanged" in idea.say)]
    assert len(apart) >= 4
    assert all(ohms(weapon, idea) > 1e6 for idea in apart)


def test_published_readings_of_foil_and_epee_come_out_of_the_ideas_that_take_them() -> None:
    """Armoury Tip 3, Blackheath FC (undated): foil loop at most about 2 Ω and open when pressed, wire side near 0.9 Ω.

    Épée open at rest, about 2 Ω when pressed.
    """
    foil = {idea.say: ohms("foil", idea) for idea in bench("foil", "weapon") if idea.trial.meter}
    assert 1 < foil["hold the meter to the B and C contacts of the left foil's socket, point up"] <= 2
    assert foil["hold the meter to the B and C contacts of the left foil's socket and press the point"] > 1e6
    assert 0.8 < foil["hold the meter to the wire screw of the left foil's socket and to its point"] < 1.3
    epee = {idea.say: ohms("épée", idea) for idea in bench("épée", "weapon") if idea.trial.meter}
    assert epee["hold the meter to the A and B contacts of the left épée's socket, point up"] > 1e6
    assert 1 < epee["hold the meter to the A and B contacts of the left épée's socket and press the point"] <= 2


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_every_spot_of_the_lame_is_measured_and_reads_what_the_rule_allows(weapon: str) -> None:
    """At most 5 Ω between any two places (FIE Material Rules, August 2026, m.28.5.a)."""
    measured = [idea for idea in bench(weapon, "lamé") if idea.trial.meter]
    assert {place for idea in measured for place in idea.trial.meter or ()} >= {
        place for place in kit(weapon).places if " lamé " in place and "clip" not in place
    }
    assert all(0 < ohms(weapon, idea) <= 5 for idea in measured)


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_meter_never_measures_two_things_that_nothing_joins_without_saying_so(weapon: str) -> None:
    """An open reading on sound kit is expected only where the sentence asks for one."""
    says_open = ("insulated", "between lines", "exchanged", "point up", "press", "without pressing", "and C contacts", "taped")
    for idea in ideas(weapon):
        if idea.trial.meter and not any(words in idea.say for words in says_open):
            assert ohms(weapon, idea) < 10, idea.say
        assert not idea.trial.meter or not math.isnan(ohms(weapon, idea))


# --- ideas and cases -----------------------------------------------------------------------------------------------------


ANSWERS = {
    "examine": {"found": "fine"},
    "gauge": {"found": "passes"},
    "meter": {"reads": "1.5"},
    "box": {"lights": "nothing"},
}


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_idea_can_be_recorded_as_a_trial_of_a_case(weapon: str) -> None:
    for idea in ideas(weapon):
        table = idea.table.model_dump()
        report = {
            "examine": {"found": "fine"},
            "gauge": {"found": "passes"},
            "meter": {"reads": "1.5"},
            "box": {"lights": "nothing"},
        }
        answer = next((answer for key, answer in report.items() if table[key]), {"saw": "nothing"})
        trial, wrong = read_trial(kit(weapon), TrialTable.model_validate({**table, **answer}))
        assert not wrong
        assert (trial.arrangement, trial.moves, trial.meter) == (idea.trial.arrangement, idea.trial.moves, idea.trial.meter)


def test_another_kind_of_socket_is_looked_at_where_it_is_fitted() -> None:
    examined = {part for idea in load_catalogue(load_setup("foil", fitted=BAYONET)) for part in idea.trial.examine}
    assert {"left weapon socket spring plate", "left cord weapon plug C shell", "right weapon socket C contact"} <= examined
    assert not {"left weapon socket C contact", "right weapon socket shell"} & examined


def test_every_condition_on_the_fitting_is_met_by_some_set_up() -> None:
    """A misspelt `only_with` would leave its idea out for ever."""
    sayings = {idea.say for fitted in (None, BAYONET) for idea in load_catalogue(load_setup("foil", fitted=fitted))}
    sayings |= {idea.say for idea in ideas("sabre")}
    assert {
        "feel the two pins of the left cord's weapon plug: springy, clean, screws tight",
        "look at pin and shell of the left cord's weapon plug: clean and firm",
        "look at the B contact of the left weapon's socket: clean, gripping",
        "look at the spring plate of the left weapon's socket",
        "look at the shell of the left weapon's socket: clean, gripping",
        "look which kind of socket the left weapon has",
    } <= sayings


# --- catalogues of one's own -----------------------------------------------------------------------------------------------


def overlay(folder: Path, **texts: str) -> Path:
    """Write an overlay folder with files of trials."""
    (folder / "catalogues").mkdir()
    for name, text in texts.items():
        (folder / "catalogues" / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def refused(folder: Path) -> tuple[Problem, ...]:
    """Return the problems of the foil's catalogue in an overlay folder."""
    with pytest.raises(ProblemsError) as caught:
        load_catalogue(kit("foil"), overlays=[folder])
    return tuple(caught.value.problems)


def test_an_idea_stands_for_one_trial_per_entry_and_side(tmp_path: Path) -> None:
    folder = overlay(
        tmp_path,
        foil='[[idea]]\nitem = "{side} lamé"\neach = ["back to flank", "front to shoulder"]\nseconds = 9\n'
        'say = "{side}: {x}"\nmeter = ["{side} lamé {first}", "{side} lamé {second}"]\n'
        '[[idea]]\neach = "bend blade"\nsay = "{first} the {side} {second}"\nseconds = 4\n'
        'move = "{first} {side} weapon {second}"\n',
    )
    found = load_catalogue(kit("foil"), overlays=[folder])
    assert [(i.say, i.place, i.needs, i.trial.meter, i.trial.moves) for i in found] == [
        ("left: back to flank", "bench", ("meter",), ("left lamé back", "left lamé flank"), ()),
        ("right: back to flank", "bench", ("meter",), ("right lamé back", "right lamé flank"), ()),
        ("left: front to shoulder", "bench", ("meter",), ("left lamé front", "left lamé shoulder"), ()),
        ("right: front to shoulder", "bench", ("meter",), ("right lamé front", "right lamé shoulder"), ()),
        ("bend the left blade", "piste", (), None, ("bend left weapon blade",)),
        ("bend the right blade", "piste", (), None, ("bend right weapon blade",)),
    ]


def test_files_that_several_weapons_share_come_after_and_can_be_replaced(tmp_path: Path) -> None:
    look = '[[idea]]\nsay = "look"\nseconds = 1\nonce = true\n'
    bib = '[[idea]]\nsay = "look at the {side} bib"\nseconds = 1\nexamine = "{side} bib cloth"\n'
    folder = overlay(tmp_path, foil=f'also = ["jacket", "body-cord"]\n{look}', jacket=bib)
    says = [idea.say for idea in load_catalogue(kit("foil"), overlays=[folder])]
    assert says[:3] == ["look", "look at the left bib", "look at the right bib"]
    assert "look at the joint of wire and clip of the left cord" in says


SOUND = '[[idea]]\nsay = "look {side}"\nseconds = 3\n[[idea]]\nsay = "{side} {x}"\nseconds = 4\n'


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('item = "{side} lamé"\nmeter = ["{side} lamé front", "{side} lamé bak"]\n', 8, "no place called “left lamé bak”"),
        ('each = ["front", "bck"]\nmeter = ["{side} lamé {x}", "{side} lamé flank"]\n', 8, "no place called “left lamé bck”"),
        ('item = "{side} weapn"\n', 7, "no item called “left weapn”"),
        ('needs = ["metre"]\n', 7, "no tool called “metre”"),
        ('box = "{side} reel"\n', 7, "does not go into a test box"),
        ('gauge = "{side} 600 g weight"\n', 7, "no gauge called"),
        ('examine = ["{side} weapon point seet"]\n', 7, "no part or item called"),
        ('plugged = ["{side} bck plug"]\n', 7, "no connection called"),
        ('found = "loose"\n', 7, "extra inputs"),
    ],
)
def test_a_mistake_in_a_trial_for_the_bench_is_refused_at_its_line(tmp_path: Path, text: str, line: int, words: str) -> None:
    folder = overlay(tmp_path, foil=SOUND + text)
    problems = refused(folder)
    assert {(problem.file, problem.line) for problem in problems} == {(str(folder / "catalogues" / "foil.toml"), line)}
    assert any(words in str(problem) for problem in problems)


def test_a_mistake_in_a_shared_file_is_told_with_that_files_name(tmp_path: Path) -> None:
    shared = '[[idea]]\nsay = "{side}"\nseconds = 4\nexamine = ["{side} bib cloht"]\n'
    folder = overlay(tmp_path, foil=f'also = "jacket"\n{SOUND}', jacket=shared)
    assert {(problem.file, problem.line) for problem in refused(folder)} == {(str(folder / "catalogues" / "jacket.toml"), 4)}


@pytest.mark.parametrize("name", ["jaket", "../secret"])
def test_a_shared_file_that_is_not_there_is_refused(tmp_path: Path, name: str) -> None:
    folder = overlay(tmp_path, foil=f'\nalso = ["{name}"]\n{SOUND}')
    (problem,) = refused(folder)
    assert problem.line == 2
    assert f"no trials file called “{name}”" in str(problem)


def test_a_shared_file_names_no_further_ones(tmp_path: Path) -> None:
    """So that two files cannot name each other."""
    folder = overlay(tmp_path, foil=f'also = "jacket"\n{SOUND}', jacket=f'also = "jacket"\n{SOUND}')
    (problem,) = refused(folder)
    assert "also" in str(problem)
    assert problem.line == 1
