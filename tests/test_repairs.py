"""How failures are mended: every one can be, with the cautions and the clauses that belong to the work."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

from foible.errors import ProblemsError
from foible.kit import Failure, Repair, Setup, load_setup

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.errors import Problem

SHIPPED = Path(str(files("foible.kit") / "data" / "repairs"))
CAUTIONS: dict[str, str] = tomllib.loads((SHIPPED / "cautions.toml").read_text(encoding="utf-8"))["cautions"]
BAYONET = {side: {"socket": "bayonet"} for side in ("left", "right")}
SETUPS = [load_setup("foil"), load_setup("foil", fitted=BAYONET), load_setup("épée"), load_setup("sabre")]
FOIL, _, EPEE, SABRE = SETUPS
REPAIRS = FOIL.repairs.values()


def failures_of(*setups: Setup) -> list[Failure]:
    return [failure for setup in setups for failure in setup.failures.values()]


def mending(setup: Setup, *parts: str) -> set[str]:
    """Return the names of the repairs of parts of the left weapon, given by patterns."""
    wanted = re.compile(f"left weapon ({'|'.join(parts)})")
    return {failure.repair or "none" for failure in setup.failures.values() if wanted.fullmatch(failure.part)}


def words_of(repair: Repair) -> str:
    return " ".join([repair.name, *repair.steps, *repair.tools, *repair.supplies]).casefold()


def having(repairs: Iterable[Repair], pattern: str) -> set[str]:
    return {repair.name for repair in repairs if re.search(pattern, words_of(repair))}


def warning_of(key: str) -> set[str]:
    return {repair.name for repair in REPAIRS if CAUTIONS[key] in repair.cautions}


# --- what ships -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("setup", SETUPS, ids=["foil", "foil with bayonet sockets", "épée", "sabre"])
def test_every_failure_can_be_mended(setup: Setup) -> None:
    assert [failure.id for failure in failures_of(setup) if failure.repair is None or failure.repair not in setup.repairs] == []


def test_every_repair_mends_something() -> None:
    assert {failure.repair for failure in failures_of(*SETUPS)} == set(FOIL.repairs)


def test_every_caution_belongs_to_a_repair() -> None:
    assert {sentence for repair in REPAIRS for sentence in repair.cautions} == set(CAUTIONS.values())


@pytest.mark.parametrize("repair", REPAIRS, ids=lambda repair: repair.name)
def test_a_repair_can_be_read_at_the_bench(repair: Repair) -> None:
    assert 2 <= len(repair.steps) <= 6
    assert all(step.endswith(".") and step[0].isupper() and len(step) <= 160 for step in repair.steps)
    assert all(sentence.endswith(".") for sentence in repair.cautions)
    assert repair.clause is None or re.search(r"Rules.* 20\d\d, [mt]\.\d+", repair.clause), "rulebook, edition, clause"
    assert repair.source in FOIL.citations
    assert 0 < repair.minutes <= 60
    assert 0 <= repair.price <= 120
    assert repair.supplies or repair.price == 0 or "workshop" in repair.name, "what costs something is named"


def test_a_part_where_something_can_be_seen_says_how_long_a_look_takes() -> None:
    for setup in SETUPS:
        showing = {failure.part for failure in failures_of(setup) if failure.signs}
        assert [part for part in showing if setup.parts[part].look_s is None] == []


def test_nobody_looks_into_the_apparatus() -> None:
    """Mains-powered apparatus is opened by qualified people only: common practice, no source."""
    inside = [part for part in FOIL.parts.values() if re.fullmatch(r"apparatus (.* input|piste input|inputs .*)", part.id)]
    assert len(inside) == 11
    assert {part.look_s for part in inside} == {None}
    repairs = {failure.repair for failure in failures_of(FOIL) if failure.item == "apparatus"}
    outside = {"set the apparatus to the weapon", "plug the floor cables in on their own sides"}
    assert repairs - outside == warning_of("mains")


def test_opening_a_reel_takes_longer_than_anything_on_a_weapon() -> None:
    weapon = [part.look_s or 0 for part in FOIL.parts.values() if part.item == "left weapon"]
    assert (FOIL.parts["left reel A slip ring"].look_s or 0) > max(weapon)


# --- cautions ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("caution", "pattern"),
    [
        ("soldering", r"\bsolder(ed|ing)?\b"),
        ("solvents", r"\b(solvent|contact cleaner|acetone|alcohol|spirit)\b"),
        ("glue", r"\b(glue|lacquer|varnish)\b"),
        ("tension", r"\bbow (the|a) blade\b"),
        ("small springs", r"\b(point|tip) screws\b|\bpoint(,| and) springs?\b"),
        ("wire ends", r"\bside cutters\b"),
        ("needles", r"\bneedle\b"),
    ],
)
def test_who_does_it_is_warned_and_who_does_not_is_left_in_peace(caution: str, pattern: str) -> None:
    """The cautions themselves are common practice, no source."""
    assert having(REPAIRS, pattern) - warning_of(caution) <= FALSE_FRIENDS.get(caution, set())
    assert warning_of(caution) - having(REPAIRS, pattern) <= ALSO.get(caution, set())


FALSE_FRIENDS = {
    "glue": {
        "wipe the point face",
        "renew the blade tape",
        "polish the guard",
    },  # old glue or lacquer is taken off, none is put on
}
ALSO = {
    "wire ends": {"exchange the socket"},  # wires are bare while they are off
}


def test_everything_done_to_a_reel_warns_of_its_spring() -> None:
    of_reels = {failure.repair for failure in failures_of(FOIL) if failure.item == "left reel"}
    assert of_reels == warning_of("reel spring")


def test_everything_done_to_a_sabre_mask_warns_of_masks_that_fail_and_cites_their_end() -> None:
    """FIE Material Rules (Book 3), August 2026, m.38.6: a mask that fails control is visibly made unusable."""
    of_masks = {failure.repair for failure in failures_of(SABRE) if failure.item == "left mask"}
    assert of_masks == warning_of("mask")
    assert all("m.38.6" in (FOIL.repairs[name or ""].clause or "") for name in of_masks)


@pytest.mark.parametrize("setup", [FOIL, SABRE], ids=["foil", "sabre"])
def test_a_broken_blade_is_taken_out_of_use_first(setup: Setup) -> None:
    """Common practice, no source."""
    (name,) = mending(setup, "blade")
    assert CAUTIONS["broken blade"] in setup.repairs[name].cautions
    assert "out of use" in setup.repairs[name].steps[0]


# --- what the rulebook forbids ----------------------------------------------------------------------------------------

BLADE = ("blade", "blade surface", "blade tape", "([AB] )?wire along the blade", "([AB] )?wire at the point", "tang in the guard")
BARREL = ("wire at the point", "barrel thread", "point travel")
HOT = r"\b(heat|heated|flame|torch|weld|braz|anneal|temper)"
ABRASIVE = r"\b(grind|ground|file\b|filing|emery|sandpaper|abrasive|rasp)"


@pytest.mark.parametrize("setup", [FOIL, EPEE, SABRE], ids=["foil", "épée", "sabre"])
def test_no_repair_of_a_blade_heats_grinds_or_files_it(setup: Setup) -> None:
    """FIE Material Rules (Book 3), August 2026, m.1.3: between guard and tip, groove included."""
    for name in mending(setup, *BLADE):
        repair = setup.repairs[name]
        assert not re.search(f"{HOT}|{ABRASIVE}|solder", words_of(repair)), name
        assert "m.1.3" in (repair.clause or ""), name
        assert CAUTIONS["blade steel"] in repair.cautions or name == "renew the blade tape", name


def test_nothing_is_soldered_at_a_foil_button() -> None:
    """FIE Material Rules (Book 3), August 2026, m.12.3: no soldering, brazing or tempering heat."""
    repairs = [FOIL.repairs[name] for name in mending(FOIL, *BARREL)]
    assert len(repairs) == 3
    for repair in repairs:
        assert not re.search(f"{HOT}|solder", words_of(repair)), repair
        assert "m.12.3" in (repair.clause or ""), repair


@pytest.mark.parametrize("setup", [FOIL, EPEE], ids=["foil", "épée"])
def test_a_wire_behind_the_guard_keeps_its_one_sheath(setup: Setup) -> None:
    """FIE Material Rules (Book 3), August 2026, m.5.2: one sheath up to the socket, no bare wire beyond the terminal."""
    for name in mending(setup, "([AB] )?wire at the socket", "([AB] )?wire behind the guard"):
        assert "m.5.2" in (setup.repairs[name].clause or ""), name
        assert re.search("sheath", " ".join(setup.repairs[name].steps)), name


@pytest.mark.parametrize(
    ("repair", "clause", "figure"),
    [
        ("exchange the pressure spring", "m.11.3", "500 g"),
        ("exchange the return spring", "m.19.2", "750 g"),
        ("set the contact spring", "m.19.4", "0.5 mm"),
        ("renew the blade tape", "m.13.1", "15 cm"),
        ("wash the lamé", "m.28.5", "5 Ω"),
        ("shorten the reel cable", "m.55.3", "20 m"),
        ("renew the wire of the mask cord", "m.27.3", "30 to 40 cm"),
    ],
)
def test_a_repair_ends_within_the_limit_of_its_clause(repair: str, clause: str, figure: str) -> None:
    """FIE Material Rules (Book 3), August 2026; the clause stands in the table."""
    assert f"August 2026, {clause}" in (FOIL.repairs[repair].clause or "")
    assert figure in " ".join(FOIL.repairs[repair].steps)


# --- published times --------------------------------------------------------------------------------------------------


def test_most_foil_repairs_other_than_a_rewire_take_under_ten_minutes() -> None:
    """Foil repair article, Sask Sword, April 1986."""
    others = [f for f in failures_of(FOIL) if f.item == "left weapon" and f.repair != "rewire the foil blade"]
    quick = sum(failure.rate for failure in others if FOIL.repairs[failure.repair or ""].minutes < 10)
    assert quick > 0.5 * sum(failure.rate for failure in others)
    sourced = [repair for repair in REPAIRS if repair.source == "ten minutes"]
    assert sourced
    assert all(repair.minutes < 10 for repair in sourced)


def test_a_broken_cord_end_is_remade_in_20_to_30_minutes() -> None:
    """Repair-guide mirror page on foil and sabre cords."""
    assert 20 <= FOIL.repairs["remake the cord end"].minutes <= 30


def test_a_rewire_is_so_long_that_quick_glue_can_save_30_minutes_of_it() -> None:
    """Armourer's tips, Northampton fencing."""
    assert {repair.name for repair in REPAIRS if repair.minutes > 30 and repair.name.startswith("rewire")} == {
        "rewire the foil blade",
        "rewire the épée blade",
    }


def test_breaks_of_the_wire_in_the_blade_are_one_job_and_those_at_the_socket_another() -> None:
    """Repair page, Sheffield: reconnect a wire snapped at the socket; rewire, or solder delicately, at the foot of the blade."""
    by_id = FOIL.failures
    rewire = by_id["left weapon wire along the blade: broken in the groove"].repair
    assert rewire == by_id["left weapon wire at the point: broken under the barrel"].repair
    socket = by_id["left weapon wire at the socket: off or snapped at the screw"].repair
    foot = FOIL.repairs[by_id["left weapon wire behind the guard: crushed or broken"].repair or ""]
    assert len({rewire, socket, foot.name}) == 3
    assert "solder" in words_of(foot)
    assert "rewire" in words_of(foot)


# --- files of one's own -----------------------------------------------------------------------------------------------

WASHER = """
    [[repair]]
    name = "renew the washer, invented for this test"
    steps = ["Undo the grip.", "Fit a new washer."]
    tools = ["grip key"]
    supplies = ["washer"]
    minutes = 6
    price = 0.3
    cautions = ["blade steel", "washers"]
    source = "judgement"

    [cautions]
    "washers" = "Toothed washers cut: wear gloves."
"""
CRACKED = """
    [[failure]]
    part = "weapon grip nut"
    mode = "washer cracked, invented for this test"
    raise = ["grip nut"]
    severity = "joint"
    rate = 1
    source = "judgement"
"""


def folder_with(path: Path, **texts: str) -> Path:
    """Write `group/club.toml` below `path` for every group."""
    for group, text in texts.items():
        (path / group).mkdir(parents=True)
        (path / group / "club.toml").write_text(dedent(text), encoding="utf-8")
    return path


def problems_of(overlays: Sequence[Path]) -> list[Problem]:
    with pytest.raises(ProblemsError) as caught:
        load_setup("foil", overlays=overlays)
    return list(caught.value.problems)


def test_an_overlay_adds_a_repair_for_a_failure_of_its_own(tmp_path: Path) -> None:
    name = "renew the washer, invented for this test"
    named = CRACKED.replace("rate = 1", f'rate = 1\n    repair = "{name}"')
    setup = load_setup("foil", overlays=[folder_with(tmp_path, repairs=WASHER, failures=named)])
    failure = setup.failures["left weapon grip nut: washer cracked, invented for this test"]
    assert failure.repair == name
    assert setup.repairs[name] == Repair(
        name=name,
        steps=("Undo the grip.", "Fit a new washer."),
        tools=("grip key",),
        supplies=("washer",),
        minutes=6.0,
        price=0.3,
        cautions=(CAUTIONS["blade steel"], "Toothed washers cut: wear gloves."),
        clause=None,
        source="judgement",
    )
    assert set(setup.repairs) - set(FOIL.repairs) == {name}


def test_an_overlay_may_leave_the_repair_of_its_failure_out(tmp_path: Path) -> None:
    setup = load_setup("foil", overlays=[folder_with(tmp_path, failures=CRACKED)])
    assert setup.failures["right weapon grip nut: washer cracked, invented for this test"].repair is None


def test_an_overlay_replaces_a_repair_of_the_same_name_and_a_caution_of_the_same_key(tmp_path: Path) -> None:
    own = WASHER.replace("renew the washer, invented for this test", "tighten the grip nut").replace('"washers"', '"soldering"')
    setup = load_setup("foil", overlays=[folder_with(tmp_path, repairs=own)])
    assert setup.repairs["tighten the grip nut"].steps == ("Undo the grip.", "Fit a new washer.")
    assert setup.repairs["resolder the clip"].cautions[0] == "Toothed washers cut: wear gloves."
    assert list(setup.repairs) == list(FOIL.repairs)


def test_an_unknown_repair_is_refused_at_its_line_with_near_ones(tmp_path: Path) -> None:
    slip = CRACKED.replace("rate = 1", 'repair = "tighten the grip knut"\n    rate = 1')
    overlay = folder_with(tmp_path, failures=slip)
    (problem,) = problems_of([overlay])
    assert (problem.file, problem.line) == (str(overlay / "failures" / "club.toml"), 7)
    assert problem.seen == "there is no repair “tighten the grip knut”"
    assert "“tighten the grip nut”" in problem.remedy


def test_slips_in_a_repair_are_refused_together_at_their_lines(tmp_path: Path) -> None:
    slips = WASHER.replace('"blade steel"', '"blade stele"').replace('source = "judgement"', 'source = "hearsay"')
    overlay = folder_with(tmp_path, repairs=slips)
    found = {problem.line: (problem.seen, problem.remedy) for problem in problems_of([overlay])}
    assert set(found) == {9, 10}
    assert found[9][0] == "there is no caution “blade stele”"
    assert "blade steel" in found[9][1]
    assert found[10][0] == "the source “hearsay” is unknown"


def test_a_repair_that_stands_twice_in_one_folder_is_refused(tmp_path: Path) -> None:
    overlay = folder_with(tmp_path, repairs=WASHER)
    (overlay / "repairs" / "more.toml").write_text(dedent(WASHER.partition("[cautions]")[0]), encoding="utf-8")
    (problem,) = problems_of([overlay])
    assert (problem.file, problem.line) == (str(overlay / "repairs" / "more.toml"), 3)
    assert "defined twice" in problem.seen


@pytest.mark.parametrize(
    ("right", "wrong", "line"),
    [
        ("minutes = 6", "minutes = 0", 7),
        ("price = 0.3", "price = -1", 8),
        ('steps = ["Undo the grip.", "Fit a new washer."]', 'steps = ["Fit it."]', 4),
    ],
)
def test_a_repair_without_sense_is_refused_at_its_line(tmp_path: Path, right: str, wrong: str, line: int) -> None:
    overlay = folder_with(tmp_path, repairs=WASHER.replace(right, wrong))
    (problem,) = problems_of([overlay])
    assert problem.line == line


def test_the_repair_of_the_kit_files_page_loads(tmp_path: Path) -> None:
    page = (Path(__file__).parent.parent / "docs" / "kit-files.md").read_text(encoding="utf-8")
    (block,) = [each for each in re.findall(r"```toml\n(.*?)```", page, re.DOTALL) if "[[repair]]" in each]
    (sources,) = [each for each in re.findall(r"```toml\n(.*?)```", page, re.DOTALL) if "[sources]" in each]
    setup = load_setup("foil", overlays=[folder_with(tmp_path, repairs=block, sources=sources)])
    assert setup.repairs["renew the washer of the tang"].source == "our armoury book"
