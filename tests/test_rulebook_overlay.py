"""Rules of one's own: a file laid over an edition, its problems by line, and editions beside each other."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from foible.errors import ProblemsError, UnknownNameError
from foible.rules import differences, edition_named, editions, limits_of, requirements
from foible.services.rulebook import Asked, Rulebook

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples" / "rules" / "lanternfield-2026.toml"
HEAD = 'title = "Lanternfield rules (invented)"\nbeside = "fie-2026"\n'
GLOVE = """\
[[requirement]]
id = "glove-holes"
kind = "glove"
part = "cloth"
quantity = "no holes"
clause = "5"
station = "marks"
"""


def written(folder: Path, text: str, name: str = "ours") -> Path:
    """Return a file of rules with a text."""
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems(path: Path) -> list[str]:
    """Return what is wrong with a file, each with its line."""
    with pytest.raises(ProblemsError) as refused:
        requirements(path.stem, overlays=[path])
    return [f"{each.line}: {each.seen} — {each.remedy}" for each in refused.value.problems]


def test_the_example_changes_adds_and_drops_and_leaves_the_rest() -> None:
    theirs = {each.id: each for each in requirements()}
    ours = {each.id: each for each in requirements("lanternfield-2026", overlays=[EXAMPLE])}
    assert set(ours) - set(theirs) == {"glove-holes"}
    assert set(theirs) - set(ours) == {"mask-cord-straight.foil"}
    assert ours["lame-resistance.foil"].text == "≤ 4 Ω (Lanternfield 3)"
    assert ours["lame-resistance.foil"].source == "Lanternfield club rules, 2026 (invented)"
    assert ours["lame-resistance.sabre"].text == theirs["lame-resistance.sabre"].text
    assert ours["lame-resistance.sabre"].source == "FIE Material Rules (Book 3), August 2026"
    assert {each.edition for each in ours.values()} == {"lanternfield-2026"}


def test_the_file_of_the_page_is_that_of_the_examples() -> None:
    """The page leaves out what it need not show twice."""
    (block,) = re.findall(r"```toml\n(.*?)```", (ROOT / "docs" / "rules.md").read_text(encoding="utf-8"), re.DOTALL)
    shown, whole = tomllib.loads(block), tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))
    assert {key: value for key, value in shown.items() if key != "change"} == {
        key: value for key, value in whole.items() if key != "change"
    }
    assert all(change in whole["change"] for change in shown["change"])
    assert "invented" in whole["title"]


def test_an_overlay_changes_no_other_edition_and_no_limit_that_cases_are_judged_by() -> None:
    before = requirements()
    requirements("lanternfield-2026", overlays=[EXAMPLE])
    assert requirements(overlays=[EXAMPLE]) == before
    assert [limit.text for limit in limits_of("foil") if limit.table.clause == "m.28.5.a"] == ["≤ 5 Ω (m.28.5.a)"]


def test_editions_are_listed_by_name_with_those_of_one_s_own_last() -> None:
    assert dict(editions()) == {
        "fie-2026": "FIE Material Rules (Book 3), August 2026",
        "usa-2025": "USA Fencing Rules, November 2025",
    }
    assert list(editions([EXAMPLE])) == ["fie-2026", "usa-2025", "lanternfield-2026"]
    assert Rulebook([EXAMPLE]).usual == "lanternfield-2026"
    assert Rulebook().usual == "fie-2026"
    with pytest.raises(UnknownNameError, match="there is fie-2026, usa-2025"):
        requirements("fie-1914")


def test_own_rules_can_stand_beside_others_that_are_given_before_them(tmp_path: Path) -> None:
    text = 'title = "Juniors (invented)"\nbeside = "lanternfield-2026"\n[[change]]\nid = "glove-holes"\nclause = "J 1"\n'
    juniors = written(tmp_path, text)
    found = {each.id: each.clause for each in requirements("ours", overlays=[EXAMPLE, juniors])}
    assert found["glove-holes"] == "J 1"
    assert found["lame-resistance.foil"] == "Lanternfield 3"
    (said,) = problems(juniors)
    assert said.startswith("2: there is no edition called “lanternfield-2026” to stand beside — there is fie-2026, usa-2025;")


def test_rules_that_stand_alone_have_only_what_they_say(tmp_path: Path) -> None:
    path = written(tmp_path, f'title = "Alone (invented)"\n{GLOVE}')
    assert [each.id for each in requirements("ours", overlays=[path])] == ["glove-holes"]


def test_what_another_book_of_the_edition_states_can_be_changed_too(tmp_path: Path) -> None:
    """FIE Technical Rules, August 2026, t.117; USA Fencing Athlete Handbook 2026-27, 2.17; Annex B is Appendix B there."""
    path = written(tmp_path, f'{HEAD}[[change]]\nid = "at-piste.weapons"\nat_least = 3\n')
    found = {each.id: each for each in requirements("ours", overlays=[path])}
    assert (found["at-piste.weapons"].figure, found["at-piste.weapons"].source) == (
        "≥ 3 weapons",
        "Lanternfield rules (invented)",
    )
    assert found["at-piste.cords"].source == "FIE Technical Rules (Book 1), August 2026"
    american = HEAD.replace("fie-2026", "usa-2025")
    written(tmp_path, f'{american}[[change]]\nid = "blade-size-0.foil"\nat_most = 780\n')
    found = {each.id: each for each in requirements("ours", overlays=[path])}
    assert found["blade-size-0.foil"].figure == "≤ 780 mm"
    assert found["blade-size-2.foil"].source == "USA Fencing Athlete Handbook 2026-27"
    assert found["blocking-time.foil"].text == "275–325 ms (Appendix B A.1(a)6)"
    assert not {each.id for each in differences("fie-2026", "usa-2025") if each.either.id == "blocking-time.foil"}


def test_a_new_figure_replaces_both_ends(tmp_path: Path) -> None:
    change = '[[change]]\nid = "blade-droop.foil"\nbelow = 9\n'
    path = written(tmp_path, f"{HEAD}{change}")
    assert [each.figure for each in requirements("ours", overlays=[path]) if each.id == "blade-droop.foil"] == ["< 9 cm"]


def test_a_changed_file_is_read_anew(tmp_path: Path) -> None:
    path = written(tmp_path, f'{HEAD}[[change]]\nid = "cord-wire"\nat_most = 2\n')
    assert [each.figure for each in requirements("ours", overlays=[path]) if each.id == "cord-wire"] == ["≤ 2 Ω"]
    written(tmp_path, f'{HEAD}[[change]]\nid = "cord-wire"\nat_most = 0.75\n')
    assert [each.figure for each in requirements("ours", overlays=[path]) if each.id == "cord-wire"] == ["≤ 0.75 Ω"]


MISTAKES = {
    "no title": (GLOVE, "1: these rules have no title"),
    "an unknown key": (f'{HEAD}{GLOVE}limit = "≤ 1"\n', "10: requirement [1] limit: extra inputs are not permitted"),
    "an unknown kind": (HEAD + GLOVE.replace('"glove"', '"mitten"'), "3: glove-holes: there is no kind “mitten”"),
    "an unknown tool": (f'{HEAD}{GLOVE}tool = "nose"\n', "3: glove-holes: there is no tool “nose”"),
    "an unknown weapon": (f'{HEAD}{GLOVE}weapons = ["rapier"]\n', "3: glove-holes: there is no weapon “rapier”"),
    "an unknown book": (f'{HEAD}{GLOVE}book = "diary"\n', "3: glove-holes: there is no book “diary”"),
    "an unknown station": (HEAD + GLOVE.replace('"marks"', '"bar"'), "9: requirement [1] station: input should be"),
    "a figure without a unit": (f"{HEAD}{GLOVE}at_most = 3\n", "3: requirement [1]: value error, a figure needs a unit"),
    "a unit without a figure": (f'{HEAD}{GLOVE}unit = "mm"\n', "3: requirement [1]: value error, a figure needs a unit"),
    "two upper ends": (f'{HEAD}{GLOVE}unit = "mm"\nat_most = 3\nbelow = 3\n', "3: requirement [1]: value error, give one lower"),
    "ends the wrong way round": (f'{HEAD}{GLOVE}unit = "mm"\nat_most = 3\nat_least = 4\n', "is above the upper end, 3"),
    "a requirement there is": (HEAD + GLOVE.replace("glove-holes", "cord-wire"), "3: there is a requirement “cord-wire” already"),
    "a change of nothing": (
        f'{HEAD}[[change]]\nid = "cord-wires"\nat_most = 2\n',
        "3: there is no requirement called “cord-wires”",
    ),
    "a drop of nothing": (f'{HEAD}[[drop]]\nid = "cord-wires"\nwhy = "none"\n', "3: there is no requirement called “cord-wires”"),
    "a change that makes nonsense": (
        f'{HEAD}[[change]]\nid = "groove-up.foil"\nat_most = 2\n',
        "3: with this change, value error, a figure needs a unit",
    ),
    "no TOML": (f"{HEAD}[[change\n", "3: this is not TOML"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_slip_is_told_with_its_line(name: str, tmp_path: Path) -> None:
    text, told = MISTAKES[name]
    (said,) = problems(written(tmp_path, text))
    assert told in said


def test_all_problems_are_told_at_once(tmp_path: Path) -> None:
    text = f'{HEAD}[[drop]]\nid = "nothing"\nwhy = "none"\n[[change]]\nid = "nobody"\n{GLOVE}tool = "nose"\n'
    assert [said.split(":")[0] for said in problems(written(tmp_path, text))] == ["3", "6", "8"]


def test_a_file_that_there_is_not_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="cannot be read"):
        requirements("nowhere", overlays=[tmp_path / "nowhere.toml"])


def test_two_editions_cannot_have_one_name(tmp_path: Path) -> None:
    path = written(tmp_path, HEAD, name="fie-2026")
    with pytest.raises(ProblemsError, match="give the file another name"):
        editions([path])


def test_the_difference_of_own_rules_is_what_they_say() -> None:
    found = {each.id: (each.what, each.otherwise, each.why) for each in differences("fie-2026", "lanternfield-2026", [EXAMPLE])}
    assert found == {
        "lame-resistance.foil": ("changed", ("figure", "note", "clause"), ""),
        "blade-label": ("changed", ("whether control has to", "note"), ""),
        "mask-cord-straight.foil": ("dropped", (), "coiled mask cords are allowed on club evenings"),
        "glove-holes": ("added", (), ""),
    }


def test_the_difference_turns_round() -> None:
    there = {each.id: each.what for each in differences("fie-2026", "usa-2025")}
    back = {each.id: each.what for each in differences("usa-2025", "fie-2026")}
    turned = {"added": "dropped", "dropped": "added"}
    assert back == {key: turned.get(what, what) for key, what in there.items()}
    assert differences("usa-2025", "usa-2025") == ()


def test_the_american_rules_differ_where_a_reader_found_them_to() -> None:
    """What was noted when FIE Material Rules, August 2026, and USA Fencing Rules, November 2025, were read side by side."""
    found = {each.id: each for each in differences("fie-2026", "usa-2025")}
    clauses = {key: (each.was.clause, each.now.clause) for key, each in found.items() if each.was and each.now}
    assert found["tape-length.foil"].now
    assert found["tape-length.foil"].now.figure == "15 cm"  # 15 cm ± 1 cm, or plain 15 cm
    assert clauses["weapon-resistance.sabre"] == ("m.5.4.a", "m.24.5")
    assert clauses["guard-outside.sabre"] == ("m.24.6", "m.24.7")
    assert clauses["blade-curve.sabre"] == ("m.23.3", "m.23.4")
    for dropped in ("plug-clear", "socket-holes.epee", "mask-two-systems", "blade-steel", "mask-cord-straight.sabre"):
        assert found[dropped].what == "dropped", dropped
    figures = {key: (each.was.figure, each.now.figure) for key, each in found.items() if each.was and each.now}
    assert figures["mask-bib-cloth"] == ("≥ 1600 N", "≥ 350 N")
    assert figures["lamp-output-coloured"] == ("≥ 2600 lm", "≥ 150 W")
    assert {"same-side-lock.foil", "yellow-piste.foil", "button-unheated.foil", "mask-punch"} <= set(found)
    same = {"cord-wire", "reel-wire", "blade-curve.foil", "blocking-time.sabre", "spring-weight.epee", "mask-cord-length.foil"}
    assert not same & set(found)


def test_each_clause_tells_its_slips_and_what_it_leaves_open() -> None:
    """FIE Technical Rules, August 2026, t.72 cites m.23.4 for the sabre's curve; m.5.4.a says nothing of probe points."""
    curve, resistance, punch, mark = (
        Rulebook().said(Asked(words)).answers[0] for words in ("m.23.3", "m.5.4.a", "m.25.7.c", "m.41.1")
    )
    assert curve.slips == ("t.72 of the technical rules cites the sabre's curve as m.23.4; it is now m.23.3.",)
    assert any("probe points" in gap for gap in resistance.gaps)
    assert any("12 kg" in gap for gap in punch.gaps)
    assert any("t.158–170" in slip for slip in mark.slips)
    assert Rulebook().said(Asked("m.23.4", edition="usa-2025")).answers[0].slips == ()
    assert any("exactly on a limit" in gap.say for gap in edition_named("usa-2025").gaps if not gap.clauses)
