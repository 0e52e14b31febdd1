"""What does the rule say: found by words, in the terminal, as JSON and in the browser."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from command import foible, said
from foible.errors import UnknownNameError
from foible.output.rules_json import differences_json, rules_json
from foible.records import CaseStore, Database
from foible.rules import found, requirements
from foible.services.cases import Cases
from foible.services.rulebook import Asked, Rulebook
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples" / "rules" / "lanternfield-2026.toml"
RULEBOOK = Rulebook()


def first(words: str, **asked: str) -> str:
    """Return the id of what is found first."""
    return RULEBOOK.said(Asked(words, **asked)).answers[0].requirement.id


def ids(words: str, **asked: str) -> list[str]:
    """Return the ids of all that is found."""
    return [each.requirement.id for each in RULEBOOK.said(Asked(words, **asked)).answers]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("lamé", "lame-resistance.foil"),
        ("LAME ohms sabre", "lame-resistance.sabre"),
        ("body wire resistance épée", "cord-wire.epee"),
        ("how long may a mask wire be", "mask-cord-length.foil"),
        ("750 g", "spring-weight.epee"),
        ("curve sabre", "blade-curve.sabre"),
        ("bent foil", "blade-curve.foil"),
        ("spool", "reel-wire"),
        ("flexib epee", "blade-droop.epee"),
        ("guard eccentric", "guard-eccentricity.epee"),
        ("tape foil", "tape-length.foil"),
        ("punch", "mask-punch"),
        ("lockout sabre", "blocking-time.sabre"),
        ("shim 1.5", "shim-long.epee"),
        ("coil", "mask-cord-straight.foil"),
        ("crocodile width", "clip-width"),
    ],
)
def test_people_find_what_they_mean_in_their_own_words(words: str, wanted: str) -> None:
    """Other names for things (body wire, mask wire, spool, lockout) are the rules' own or common practice, no source."""
    assert first(words) == wanted


def test_a_clause_finds_itself_then_what_is_below_it_and_not_its_namesakes() -> None:
    """m.5.4.a has the three weapons' ohms; m.2.1 is not below m.25.7."""
    assert set(ids("m.5.4.a")) == {f"weapon-resistance.{weapon}" for weapon in ("foil", "epee", "sabre")}
    assert ids("m5.4") == ids("M.5.4.") == ids("m.5.4")
    below = RULEBOOK.said(Asked("m.29.2")).answers
    assert {each.requirement.clause for each in below if each.requirement.kind == "cord"} == {"m.29.2.a", "m.29.2.b", "m.29.2.c"}
    assert "mesh-opening" not in ids("m.2")
    assert first("m.28.5.a") == "lame-resistance.foil"
    assert "lame-resistance.sabre" in ids("m.28.5.a"), "it cites that clause"


def test_every_requirement_is_found_by_its_kind_and_its_clause() -> None:
    for edition in ("fie-2026", "usa-2025"):
        for each in requirements(edition):
            for words in (each.clause, f"{each.kind_words} {each.quantity}"):
                assert each in found(requirements(edition, kind=each.kind), words), (each.id, words)


def test_words_that_nothing_has_bring_near_ones() -> None:
    nothing = RULEBOOK.said(Asked("resistence"))
    assert (nothing.total, nothing.answers) == (0, ())
    assert "resistance" in nothing.near
    assert RULEBOOK.said(Asked("zzzz")).near == ()


def test_kind_and_weapon_narrow_down_in_any_spelling() -> None:
    assert set(ids("", kind="Body Cord", weapon="EPEE")) == set(ids("", kind="cord", weapon="épée"))
    with pytest.raises(UnknownNameError, match="no kind of item in the rules"):
        ids("", kind="mitten")
    with pytest.raises(UnknownNameError, match="there is foil, épée, sabre"):
        ids("", weapon="rapier")


def test_an_answer_stands_beside_the_other_editions() -> None:
    """FIE Material Rules, August 2026, and USA Fencing Rules, November 2025: m.25.7.d and m.25.7.e; m.29.1.c in both."""
    (bib,) = RULEBOOK.said(Asked("m.25.7.d bib")).answers
    (other,) = bib.beside
    assert other.requirement
    assert (other.same, other.requirement.text) == (False, "≥ 350 N (m.25.7.e)")
    (cord,) = RULEBOOK.said(Asked("one wire of a body cord", kind="cord", weapon="foil")).answers
    assert [each.same for each in cord.beside] == [True]
    (plug,) = RULEBOOK.said(Asked("transparent", kind="cord", weapon="épée")).answers
    assert [(each.requirement, each.why) for each in plug.beside] == [(None, "transparent plugs are not asked for")]


# --- the terminal -----------------------------------------------------------------------------------------------------


def test_the_terminal_prints_figure_clause_how_and_what_is_open() -> None:
    told = said(foible("limits", "mask", "sabre", "clip", "any", "point"))
    for words in ("< 5 Ω the sabre mask, clip to any point, sabre (m.32.5)", "tested at control", "zeroing the meter"):
        assert words in told
    assert "FIE Material Rules (Book 3), August 2026" in told


def test_the_terminal_prints_how_two_editions_differ_and_own_rules() -> None:
    told = said(foible("limits", "--beside", "usa-2025", "--item", "mask", width=160))
    for words in ("strength of the bib's cloth: ≥ 1600 N (m.25.7.d)", "≥ 350 N (m.25.7.e)", "one horizontal safety strap"):
        assert words in told
    ours = said(foible("limits", "lamé", "any", "two", "--weapon", "foil", "--rules", EXAMPLE))
    assert "≤ 4 Ω" in ours
    assert "FIE Material Rules (Book 3), August 2026: a lamé between any two points, ≤ 5 Ω (m.28.5.a)" in ours


@pytest.mark.parametrize(
    ("option", "given", "words"),
    [
        ("--edition", "fie-1914", "there is no edition of the rules called “fie-1914” — there is fie-2026, usa-2025"),
        pytest.param("--item", "mitten", "there is no kind of item in the rules called “mitten”", marks=pytest.mark.slow),
        pytest.param("--rules", "nowhere.toml", "nowhere.toml: the file cannot be read", marks=pytest.mark.slow),
    ],
)
def test_the_terminal_refuses_what_there_is_not(option: str, given: str, words: str) -> None:
    result = foible("limits", option, given)
    assert result.returncode == 2
    assert words in " ".join(result.stderr.split())
    assert "Traceback" not in result.stderr


def test_json_has_the_documented_keys_and_nothing_else() -> None:
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    described = set(re.findall(r"`(\w+)(?:\[\])?`", page.split("## `foible.rules/1`")[1].split("## The API")[0]))
    asked = Asked("m.25.7")
    told = rules_json(RULEBOOK.said(asked))
    answer = next(each for each in told["requirements"] if each["id"] == "mask-bib-cloth")
    differing = differences_json("fie-2026", "usa-2025", RULEBOOK.differences(asked, "usa-2025"))
    one = next(each for each in differing["differences"] if each["id"] == "mask-bib-cloth")
    assert (told["schema"], differing["schema"]) == ("foible.rules/1", "foible.rules-difference/1")
    assert {*told, *answer, *answer["beside"][0], *differing, *one} - {"schema"} <= described
    assert (answer["lower"], answer["lower_open"], answer["upper"], answer["unit"]) == (1600, False, None, "N")
    assert (one["was"]["clause"], one["now"]["clause"]) == ("m.25.7.d", "m.25.7.e")


@pytest.mark.slow
def test_the_terminal_prints_the_same_json() -> None:
    assert json.loads(foible("limits", "m.25.7", "--json").stdout) == rules_json(RULEBOOK.said(Asked("m.25.7")))
    differing = differences_json("fie-2026", "usa-2025", RULEBOOK.differences(Asked("m.25.7"), "usa-2025"))
    assert json.loads(foible("limits", "m.25.7", "--beside", "usa-2025", "--json").stdout) == differing


@pytest.mark.slow
def test_nothing_is_served_with_a_slip_in_the_rules(tmp_path: Path) -> None:
    path = tmp_path / "ours.toml"
    path.write_text('title = "Ours (invented)"\nbeside = "fie-2026"\n[[drop]]\nid = "nothing"\nwhy = "none"\n', encoding="utf-8")
    result = foible("serve", "--rules", path, "--data", tmp_path / "records.db", "--no-browse", "--port", "1")
    assert result.returncode == 2
    assert f"{path}:3: there is no requirement called “nothing”" in result.stderr
    assert not (tmp_path / "records.db").exists()


# --- the browser ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Yield a client from this machine, of a server with own rules."""
    url = f"sqlite:///{tmp_path_factory.mktemp('rules') / 'records.db'}"
    store = CaseStore(Database(url), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    app = create_app(Cases(REASONING, store), Settings(rules=(EXAMPLE,)))
    with TestClient(FromHere(app), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


def test_the_page_shows_the_kinds_then_what_is_found(client: TestClient) -> None:
    page = client.get("/rules").text
    assert 'href="/rules?kind=mask&amp;edition=lanternfield-2026"' in page
    found = client.get("/rules?words=lam%C3%A9&kind=lam%C3%A9&edition=fie-2026").text
    assert "≤ 5 Ω" in found
    assert "No tolerance on the 5 Ω is given." in found
    assert "≤ 4 Ω" in client.get("/rules?words=lam%C3%A9").text, "own rules are asked where there are any"


def test_a_script_gets_the_answers_alone(client: TestClient) -> None:
    part = client.get("/rules?words=curve&edition=fie-2026", headers={"HX-Request": "true"}).text
    assert "<html" not in part
    assert part.count("<summary>") == 4
    assert "Slip in the text:" in part


def test_what_is_not_found_suggests_words_and_escapes_those_typed(client: TestClient) -> None:
    page = client.get("/rules?words=resistence").text
    assert 'href="/rules?words=resistance&amp;edition=lanternfield-2026"' in page
    assert "<script>x" not in client.get("/rules?words=%3Cscript%3Ex").text


def test_the_page_of_differences_has_both_editions(client: TestClient) -> None:
    page = client.get("/rules/difference?edition=fie-2026&beside=usa-2025&kind=mask").text
    for words in ("≥ 1600 N", "≥ 350 N", "not there: one horizontal safety strap is asked for instead"):
        assert words in page
    assert "in the clause alone" in client.get("/rules/difference?edition=fie-2026&beside=usa-2025").text
    assert "coiled mask cords are allowed" in client.get("/rules/difference?edition=fie-2026&beside=lanternfield-2026").text
    assert client.get("/rules/difference").status_code == 200


@pytest.mark.parametrize("query", ["edition=fie-1914", "kind=mitten", "weapon=rapier"])
def test_a_name_that_there_is_not_is_refused(client: TestClient, query: str) -> None:
    for path in ("/rules", "/rules/difference"):
        answer = client.get(f"{path}?{query}")
        assert answer.status_code == 422
        assert "there is no" in answer.text.lower()


def test_the_start_page_and_the_help_lead_there(client: TestClient) -> None:
    assert 'href="/rules"' in client.get("/").text
    assert 'href="/rules"' in client.get("/help").text
