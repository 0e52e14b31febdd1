"""A weapon is a value from a file: found by name or word, replaceable, refused with its slips; and no code knows one by name."""

from __future__ import annotations

import ast
import re
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile, weapon_ports
from foible.circuit import Branch, Network, Shape, conductances_of
from foible.errors import NotFoundError, ProblemsError, UnknownNameError
from foible.kit import SIDES, Weapon, all_weapons, default_weapon, load_setup, weapon_at, weapon_names
from foible.trials import read_seen

SOURCES = Path(str(files("foible")))
WEAPONS = Path(str(files("foible.kit") / "data" / "weapons"))


def weapon_text(word: str = "foil") -> str:
    return (WEAPONS / f"{word}.toml").read_text(encoding="utf-8")


def overlay(folder: Path, **texts: str) -> Path:
    (folder / "weapons").mkdir()
    for word, text in texts.items():
        (folder / "weapons" / f"{word}.toml").write_text(text, encoding="utf-8")
    return folder


# --- finding one ------------------------------------------------------------------------------------------------------


def test_the_usual_weapon_comes_first() -> None:
    assert weapon_names() == ("foil", "épée", "sabre")
    assert default_weapon() == all_weapons()[0]


@pytest.mark.parametrize("name", ["épée", "epee", "Épée", "EPEE", " épée "])
def test_a_weapon_is_found_by_name_or_word_capitals_and_accents_aside(name: str) -> None:
    assert (weapon_at(name).name, weapon_at(name).word) == ("épée", "epee")
    assert load_setup(name).kind == weapon_at(name)


@pytest.mark.parametrize("name", ["rapier", "sabres", "", "foi", "../weapons/foil"])
def test_an_unknown_weapon_is_refused_with_all_there_are_however_near_one_is(name: str) -> None:
    with pytest.raises(UnknownNameError, match="there is foil, épée, sabre"):
        weapon_at(name)


def test_a_name_that_is_not_found_at_an_address_says_the_same_with_another_status() -> None:
    there, here = (error(what="weapon", name="rapier", known=weapon_names()) for error in (NotFoundError, UnknownNameError))
    assert str(there) == str(here)
    assert (there.http_status, here.http_status, there.exit_code) == (404, 422, 2)


# --- what the shipped files say ---------------------------------------------------------------------------------------


def test_the_lamps_are_those_of_annex_b() -> None:
    """FIE Material Rules (Book 3), August 2026, Annex B.

    A.1(a)4: an apparatus for foil shows white or coloured for one hit; B(e)4: the orange lamp for an earthed line is optional at
    épée (that there is no white one: common practice, no source); C(a)5, C(b)7: sabre has white for the control loop and yellow
    for a leak.
    """
    words = {weapon.name: {lamp.word for lamp in weapon.lamps} for weapon in all_weapons()}
    assert words == {
        "foil": {"white", "coloured", "yellow"},
        "épée": {"coloured", "orange"},
        "sabre": {"white", "coloured", "yellow"},
    }
    optional = [(weapon.name, lamp.word) for weapon in all_weapons() for lamp in weapon.lamps if lamp.optional]
    assert optional == [("épée", "orange")]
    for weapon in all_weapons():
        assert [weapon.lamp_name("coloured", side) for side in SIDES] == ["red", "green"]
        groups = [lamp.group for lamp in weapon.lamps if lamp.kind != "yellow"]
        assert set(groups) == ({"hit", "control"} if weapon.name == "sabre" else {"hit"})


@pytest.mark.parametrize("weapon", all_weapons(), ids=lambda weapon: weapon.word)
def test_every_lamp_can_be_reported_by_the_word_that_its_weapon_has_for_it(weapon: Weapon) -> None:
    for lamp in weapon.lamps:
        assert read_seen([f"left {lamp.word}"]).looks


def test_what_is_measured_stands_in_the_rulebook() -> None:
    """FIE Material Rules (Book 3), August 2026, Annex B.

    The loop of foil and sabre lies between lines B and C, that of épée between A and B.
    """
    ports = {weapon.name: weapon_ports(weapon, "right")["loop"] for weapon in all_weapons()}
    assert ports["foil"].sources == ("apparatus.right_b",)
    assert ports["foil"].sinks == ("apparatus.right_c",)
    assert weapon_ports(weapon_at("foil"), "right")["earth"].sinks == ("apparatus.left_c", "apparatus.piste")
    assert (ports["épée"].sources, ports["épée"].sinks) == (("apparatus.right_a",), ("apparatus.right_b",))
    assert (ports["sabre"].sources, ports["sabre"].sinks) == (("apparatus.right_b",), ("apparatus.right_c",))


# --- files laid over them ---------------------------------------------------------------------------------------------


def test_a_file_of_the_same_name_replaces_ours_and_changes_what_lights(tmp_path: Path) -> None:
    """A foil apparatus that shows yellow for a broken loop instead of a leak: sound kit at rest, then the left loop open."""
    text = weapon_text().replace('lights = ["leak closed"]', 'lights = ["loop open"]')
    folder = overlay(tmp_path, foil=text)
    ours, theirs = load_profile("fie-2026-foil"), load_profile("fie-2026-foil", [folder])
    right = Branch("right loop", "apparatus.right_b", "apparatus.right_c", 1.0)
    network = Network((right,))
    shape = Shape.of(network, TERMINALS)
    mesh = shape.conductances(conductances_of(network))
    assert lamp_chances(ours, shape, mesh)[0, :, Lamp.YELLOW].tolist() == [0.0, 0.0]
    assert lamp_chances(theirs, shape, mesh)[0, :, Lamp.YELLOW].tolist() == [1.0, 0.0]
    assert np.array_equal(lamp_chances(ours, shape, mesh)[0, :, Lamp.WHITE], lamp_chances(theirs, shape, mesh)[0, :, Lamp.WHITE])


def test_a_fourth_weapon_is_a_file_and_can_be_the_usual_one(tmp_path: Path) -> None:
    """The weapon is invented."""
    folder = overlay(
        tmp_path,
        foil=weapon_text().replace("default = true", "default = false"),
        colichemarde=weapon_text("epee").replace('name = "épée"', 'name = "Colichemarde"\ndefault = true'),
    )
    assert weapon_names([folder]) == ("Colichemarde", "épée", "foil", "sabre")
    assert weapon_names() == ("foil", "épée", "sabre")
    with pytest.raises(UnknownNameError, match="there is Colichemarde, épée, foil, sabre"):
        weapon_at("rapier", [folder])


SLIPS = {
    "no input": ('from = "B"\nto = "opponent A"', 'from = "D"\nto = "opponent A"', "input should be"),
    "an input at both ends": ('from = "A"\nto = "C"', 'from = "A"\nto = ["C", "A"]', "both ends"),
    "a measurement twice": ('name = "leak"', 'name = "target"', "“target” is defined twice"),
    "in place of nothing": ('instead_of = "earth"', 'instead_of = "lop"', "“lop” is not a measurement"),
    "in place of something, never": ('when_opponent = "leak closed"\n', "", "go together"),
    "a lamp of no kind": ('kind = "yellow"', 'kind = "blue"', "input should be"),
    "a lamp twice": ('kind = "yellow"\ngroup = "earth"', 'kind = "white"\ngroup = "hit"', "“white” is defined twice"),
    "a lamp in another group": ('group = "earth"', 'group = "hit"', "in the group “earth”"),
    "two lamps of a group that could light together": (
        'lights = ["loop open", "earth open", "target closed"]',
        'lights = ["leak open", "target open"]',
        "white and coloured could light together",
    ),
    "a lamp that lights by no measurement": (
        'lights = ["leak closed"]',
        'lights = ["leek closed"]',
        "“leek closed” is not a condition",
    ),
    "a lamp that lights by half a chance": ('lights = ["leak closed"]', 'lights = ["leak cut"]', "“leak cut” is not a condition"),
    "a lamp that never lights": ('lights = ["leak closed"]', "lights = []", "at least 1 item"),
    "a state that there is not": ('when = ["target closed"]', 'when = ["target shut"]', "“target shut” is not a condition"),
    "a field that there is not": ("({white.chance})", "({white.odds})", "no field “{white.odds}”"),
    "braces that do not match": ("({white.chance})", "({white.chance)", "braces"),
    "a name that is not the file's": ('name = "foil"', 'name = "fleuret"', "“fleuret” is in foil.toml"),
    "a key that there is not": ('kind = "yellow"', 'kind = "yellow"\ncolour = "yellow"', "extra inputs"),
}


@pytest.mark.parametrize(("right", "wrong", "seen"), SLIPS.values(), ids=SLIPS)
def test_a_slip_in_a_weapon_file_is_told_with_its_line(right: str, wrong: str, seen: str, tmp_path: Path) -> None:
    text = weapon_text()
    assert right in text
    with pytest.raises(ProblemsError) as caught:
        all_weapons([overlay(tmp_path, foil=text.replace(right, wrong))])
    problems = [problem for problem in caught.value.problems if seen in problem.seen.lower() or seen in problem.seen]
    assert problems, str(caught.value)
    assert all(problem.line and problem.file.endswith("foil.toml") and problem.remedy for problem in problems)


@pytest.mark.parametrize(("change", "seen"), [("default = false", "no weapon is the default"), ("", "default already")])
def test_one_weapon_is_the_usual_one(change: str, seen: str, tmp_path: Path) -> None:
    texts = {"foil": weapon_text().replace("default = true", change or "default = true")}
    if not change:
        texts["sabre"] = weapon_text("sabre").replace('name = "sabre"', 'name = "sabre"\ndefault = true')
    with pytest.raises(ProblemsError, match=seen):
        all_weapons([overlay(tmp_path, **texts)])


def test_a_set_up_says_which_weapon_it_is_of(tmp_path: Path) -> None:
    (tmp_path / "setups").mkdir()
    ours = (WEAPONS.parent / "setups" / "foil.toml").read_text(encoding="utf-8")
    (tmp_path / "setups" / "foil.toml").write_text(ours.replace('weapon = "foil"', 'weapon = "sabre"'), encoding="utf-8")
    with pytest.raises(ProblemsError, match="set-up of “foil”, not of “sabre”"):
        load_setup("foil", overlays=[tmp_path])


def test_a_profile_has_the_tables_of_what_its_weapon_measures(tmp_path: Path) -> None:
    ours = Path(str(files("foible.apparatus") / "data")) / "fie-2026-epee.toml"
    (tmp_path / "profiles").mkdir()
    text = ours.read_text(encoding="utf-8").replace("[earth]", "[target]").replace("fie-2026-epee", "odd")
    (tmp_path / "profiles" / "odd.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ProblemsError) as caught:
        load_profile("odd", [tmp_path])
    assert [problem.seen for problem in caught.value.problems] == [
        "the table [earth] is missing",
        "[target] is not a measurement at épée",
    ]
    (tmp_path / "profiles" / "odd.toml").write_text(text.replace('weapon = "épée"', 'weapon = "rapier"'), encoding="utf-8")
    with pytest.raises(ProblemsError, match=r"odd.toml:\d+: there is no weapon called “rapier” — name one of foil, épée, sabre"):
        load_profile("odd", [tmp_path])


# --- no code knows one by name ----------------------------------------------------------------------------------------

NAMES = {"foil", "foils", "épée", "épées", "epee", "epees", "sabre", "sabres"}
COMMENTS = {".html": r"\{#.*?#\}|<!--.*?-->", ".js": r"/\*.*?\*/|//[^\n]*", ".css": r"/\*.*?\*/"}


def words_in(text: str) -> set[str]:
    """Return the words of a text or an identifier, parts of identifiers like `foil_cord` and `FoilCord` among them."""
    parts = re.sub(r"(?<=[^\W\d_])(?=[A-Z][^\W\d_]*[a-zéè])", " ", text)
    return {word.casefold() for word in re.findall(r"[^\W\d_]+", f"{text} {parts}")}


def weapons_in(code: str) -> list[tuple[int, str]]:
    """Return line and text of whatever names a weapon in Python code: names and strings, docstrings and comments aside."""
    tree = ast.parse(code)
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)}
    found = []
    for node in ast.walk(tree):
        if id(node) in told:
            continue
        fields = (value for _, value in ast.iter_fields(node))
        texts = [each for value in fields for each in (value if isinstance(value, list) else [value]) if isinstance(each, str)]
        found += [(getattr(node, "lineno", 0), text) for text in texts if words_in(text) & NAMES]
    return found


def test_no_module_names_a_weapon() -> None:
    found = {path: weapons_in(path.read_text(encoding="utf-8")) for path in SOURCES.rglob("*.py")}
    assert len(found) > 100
    assert {str(path.relative_to(SOURCES)): wrong for path, wrong in found.items() if wrong} == {}


PAGES = [path for path in sorted((SOURCES / "web").rglob("*.*")) if path.suffix in COMMENTS and "vendor" not in path.parts]


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_no_page_names_a_weapon(path: Path) -> None:
    text = re.sub(COMMENTS[path.suffix], "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert words_in(text) & NAMES == set()


@pytest.mark.parametrize(
    "code",
    [
        'weapon = "foil"',
        "x = f'the {side} sabre'",
        "def epee(): ...",
        "class FoilLamps: ...",
        "import tell_sabre",
        "from kit import Épée as weapon",
        "call(épée=1)",
        "x.foil_target",
        'match w:\n    case "sabre": ...',
        "def f(*, foil): ...",
        '"""Docs."""\nx = ["one", "the épée cord"]',
    ],
)
def test_a_weapon_is_seen_however_it_is_named(code: str) -> None:
    assert weapons_in(code)


@pytest.mark.parametrize(
    "code", ['"""Foil."""', "# sabre\nx = 1", "x = 1\n'''At épée.'''", "import foible", "x = 'tinfoil foible'"]
)
def test_docstrings_comments_and_other_words_may_say_what_they_like(code: str) -> None:
    assert weapons_in(code) == []
