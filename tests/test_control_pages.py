"""The control table's pages: from an empty competition to a reject form; clashes, procedures, figures, lists, labels."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from client import FromHere, TestClient, hidden, send
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from httpx import Response


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('control') / 'records.db'}")
    app = create_app(cases, Settings(secret="a", hosts=("testserver",)))
    with TestClient(FromHere(app)) as made:
        yield made


@pytest.fixture(scope="module")
def competition(client: TestClient) -> str:
    """Return the address of an invented competition."""
    made = send(client, "/control", "/control", name="Autumn Open (invented)", day="2026-10-03", edition="fie-2026")
    assert made.status_code == 200, made.text
    return made.url.path


def fencer(client: TestClient, competition: str, name: str, **fields: object) -> str:
    made = send(client, competition, f"{competition}/fencers", name=name, **fields)
    assert made.status_code == 200, made.text
    return made.url.path


def taken_in(client: TestClient, fencer: str, what: str) -> str:
    """Return the address of an item that a fencer hands in."""
    page = send(client, fencer, fencer, kind=what)
    assert page.status_code == 200, page.text
    return str(re.findall(r'href="(/control/\d+/items/\d+)"', page.text)[-1])


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def keys_of(client: TestClient, item: str) -> list[str]:
    return re.findall(r'name="test" value="([^"]*)"', client.get(item).text)


def enter(client: TestClient, item: str, readings: dict[str, str], **fields: object) -> Response:
    """Type readings, by the beginning of the test that they are of."""
    tests = keys_of(client, item)
    typed = [next((value for key, value in readings.items() if test.startswith(key)), "") for test in tests]
    assert len(readings) == sum(bool(value) for value in typed), tests
    return send(client, item, item, test=tests, reading=typed, note=[""] * len(tests), **fields)


def test_a_cord_goes_over_the_table_and_its_form_says_why_it_was_rejected(client: TestClient, competition: str) -> None:
    """A body cord's wire may have 1 Ω at most: FIE Material Rules, August 2026, m.29.1.c."""
    wren = fencer(client, competition, "Wren Invented", club="Lanternfield")
    item = taken_in(client, wren, "cord|foil")
    form = enter(client, item, {"cord-wire|A": "0.4", "cord-wire|B": "1,4", "cord-wire|C": "0.5"})
    assert "/rejects/" in form.url.path
    assert "line B (middle pin): 1.4 Ω" in form.text, "where the line is: m.29.2.a"
    assert "≤ 1 Ω (m.29.1.c)" in form.text
    assert "line A" not in form.text, "what passed does not stand on the form"
    assert "after everybody" in form.text
    assert "7 other tests were not made this time." in form.text, "three of ten were"
    printed = client.get(f"{form.url.path}/form.pdf")
    assert printed.headers["content-type"] == "application/pdf"
    assert "m.29.1.c" in words_of(printed.content)
    sent_again = send(client, form.url.path, f"{form.url.path}/job")
    assert sent_again.url.path.startswith("/register/jobs/")
    assert "1.4 Ω" in sent_again.text
    again = send(client, form.url.path, f"{form.url.path}/job")
    assert again.url.path == sent_again.url.path, "one card, however often it is asked for"


def test_what_is_handed_in_as_a_fencer_is_entered_is_tested_next_and_both_are_entered_or_neither(
    client: TestClient, competition: str
) -> None:
    item = send(client, competition, f"{competition}/fencers", name="Perrin Invented", kind="cord|sabre")
    assert re.fullmatch(rf"{competition}/items/\d+", item.url.path)
    assert "Sabre body cord" in item.text
    assert "Perrin Invented" in item.text
    refused = send(client, competition, f"{competition}/fencers", name="Sorrel Invented", kind="reel|sabre")
    assert refused.status_code == 422
    assert "Sorrel Invented" not in client.get(f"{competition}/fencers").text


def test_whoever_has_something_to_test_is_listed_and_no_longer_once_it_is_tested(client: TestClient) -> None:
    at = send(client, "/control", "/control", name="Evening Open (invented)", day="2026-10-04", edition="fie-2026")
    waits, through = (fencer(client, at.url.path, f"{name} Invented") for name in ("Linnet", "Dunnock"))
    taken_in(client, waits, "cord|foil")
    enter(client, taken_in(client, through, "cord|foil"), {"cord-wire|A": "1.4"})
    page = client.get(f"{at.url.path}/fencers?to_test=1").text
    assert "Linnet" in page
    assert "Dunnock" not in page
    assert "Dunnock" in client.get(f"{at.url.path}/fencers").text
    assert "to_test=1" in client.get(at.url.path).text, "the count leads there"


@pytest.mark.parametrize(
    ("decision", "says"),
    [("guarded against false fail", "save it, past its limit"), ("plain limits", "it fails: write its form")],
)
def test_nobody_is_told_that_it_fails_where_a_figure_past_its_limit_may_be_too_close(
    client: TestClient, decision: str, says: str
) -> None:
    """A rule guarded against false rejection needs more than the limit: JCGM 106:2012, 8.3.3 (from memory)."""
    at = send(
        client, "/control", "/control", name=f"{decision} (invented)", day="2026-10-03", edition="fie-2026", decision=decision
    )
    page = send(client, at.url.path, f"{at.url.path}/fencers", name="Teal Invented", kind="cord|foil")
    assert f'data-fails="{says}"' in page.text


def test_nothing_that_has_to_be_tested_is_passed_over_unmarked(client: TestClient, competition: str) -> None:
    item = taken_in(client, fencer(client, competition, "Osric Invented"), "cord|foil")
    page = enter(client, item, {"cord-wire|A": "0.4"}, comes_to="rest is good")
    assert page.status_code == 200
    assert "still to be made here" in page.text
    assert "at the table" in page.text, "it has not passed"
    tests = keys_of(client, item)
    silent = send(client, item, item, test=tests, reading=[""] * len(tests), note=[""] * len(tests), left=["cord-wire|B"])
    assert silent.status_code == 422
    assert "Say why it was left out" in silent.text
    left = send(
        client, item, item, test=tests, reading=["" if test != "cord-wire|C" else "0.5" for test in tests],
        note=["plug too tight for the clip" if test == "cord-wire|B" else "" for test in tests], left=["cord-wire|B"],
        comes_to="rest is good",
    )  # fmt: skip
    assert "passed" in left.text
    assert "left out" in left.text


def test_two_stations_on_one_item_are_both_shown_and_one_is_chosen(client: TestClient, competition: str) -> None:
    item = taken_in(client, fencer(client, competition, "Thea Invented"), "mask cord|sabre")
    page = client.get(item).text
    (test, *_) = [test for test in keys_of(client, item) if test.startswith("mask-cord-wire")]
    for token, value in (("stationa", "0.6"), ("stationb", "1.7")):
        hidden_in = {name: hidden(page, name) for name in ("csrf", "version", "began")}
        answer = client.post(item, data=hidden_in | {"token": token, "test": test, "reading": value, "note": ""})
        assert answer.status_code == 200
    both = client.get(item).text
    assert "0.6 Ω: pass" in both
    assert "1.7 Ω: fail" in both
    assert "at the table" in both, "nothing is decided while they differ"
    entry = re.findall(r'name="entry" value="(\d+)"', both)[1]
    settled = send(client, item, f"{item}/chosen", entry=entry)
    assert "/rejects/" in settled.url.path
    assert "1.7 Ω" in settled.text


def test_what_is_over_the_quota_is_said_with_the_clause(client: TestClient, competition: str) -> None:
    """At most three body wires a fencer: FIE Material Rules, August 2026, m.38.1."""
    corin = fencer(client, competition, "Corin Invented", weapon=["épée"])
    for _ in range(3):
        taken_in(client, corin, "cord|épée")
    assert "Over quota" not in client.get(corin).text
    taken_in(client, corin, "cord|épée")
    assert "4 body cords handed in, 3 at most (m.38.1)" in client.get(corin).text


def test_a_mask_that_failed_is_not_handed_back_before_the_steps_nor_tested_again(client: TestClient, competition: str) -> None:
    """A failing mask is made visibly unusable in front of whoever presents it: FIE Material Rules, August 2026, m.38.6."""
    item = taken_in(client, fencer(client, competition, "Isolde Invented"), "mask|sabre")
    form = enter(client, item, {"mask-resistance.sabre": "9"})
    assert "visibly unusable in front of them" in form.text
    assert "not lent and not mended" in form.text
    assert "to the workshop" not in form.text
    refused = send(client, form.url.path, f"{item}/back")
    assert refused.status_code == 422
    assert "Not done yet" in refused.text
    assert send(client, form.url.path, f"{item}/again").status_code == 422
    for step in ("shown", "unusable", "signed"):
        assert send(client, form.url.path, f"{item}/step", step=step).status_code == 200
    kept = send(client, form.url.path, f"{item}/kept")
    assert "kept back" in kept.text


def test_what_the_rules_forbid_is_not_offered_and_a_refusal_leads_back(client: TestClient, competition: str) -> None:
    """A mask that failed is never tested again, nor handed back before m.38.6 is done: FIE Material Rules, August 2026."""
    item = taken_in(client, fencer(client, competition, "Corin Invented"), "mask|foil")
    form = enter(client, item, {}, bad=["mask-punch|"])
    page = client.get(item).text
    assert "Before it is handed back: " in page
    assert f'action="{item}/back"' not in page + form.text
    assert f'action="{item}/again"' not in page + form.text
    assert "Readings near a limit" not in form.text, "nothing was measured"
    sent = {"csrf": hidden(page, "csrf"), "version": "1"}
    refused = client.post(f"{item}/again", data=sent, headers={"Referer": f"http://testserver{item}?station=1"})
    assert refused.status_code == 422
    assert f'href="{item}?station=1">back to the page before' in refused.text
    elsewhere = client.post(f"{item}/again", data=sent, headers={"Referer": "http://elsewhere.example/a"})
    assert "back to the page before" not in elsewhere.text


def test_a_line_is_told_by_its_pin(client: TestClient, competition: str) -> None:
    """FIE Material Rules, August 2026, m.29.2.a: 15 mm, centre and 20 mm; that they are called A, B and C: common practice."""
    page = client.get(taken_in(client, fencer(client, competition, "Lorne Invented"), "cord|foil")).text
    for line, pin in zip("ABC", ("15 mm pin", "middle pin", "20 mm pin"), strict=True):
        assert re.search(rf"line {line} <small>[^<]* · {pin}</small>", page), line


def test_an_item_that_passes_is_marked_and_handed_back_with_a_tick(client: TestClient, competition: str) -> None:
    blythe = fencer(client, competition, "Blythe Invented")
    item = taken_in(client, blythe, "cord|foil")
    passed = enter(client, item, {f"cord-wire|{line}": "0.4" for line in "ABC"}, comes_to="rest is good")
    assert "passed" in passed.text
    assert send(client, item, f"{item}/mark").status_code == 200
    assert "tape on the cord" in client.get(item).text
    room = f"{competition}/room"
    assert "Blythe Invented" in client.get(room).text
    send(client, item, f"{item}/back", to="room")
    assert "Blythe Invented" not in client.get(room).text
    sheet = client.get(f"{blythe}/sheet.pdf")
    assert "Blythe Invented" in words_of(sheet.content)
    assert client.get(f"{blythe}/sheet.csv").text.count("cord, line") >= 0


def test_a_station_leads_from_item_to_item_and_retests_come_last(client: TestClient) -> None:
    made = send(client, "/control", "/control", name="Spring Open (invented)", day="2026-04-04", edition="fie-2026")
    competition = made.url.path
    edda = fencer(client, competition, "Edda Invented")
    first, second = (taken_in(client, edda, "mask cord|foil") for _ in range(2))
    station = send(client, competition, f"{competition}/stations", does="all", team="1")
    assert station.url.path == first
    asked = f"{first}?{station.url.query.decode()}"
    number = station.url.query.decode().removeprefix("station=")
    form = send(
        client, asked, first, station=number, test=["mask-cord-wire.foil|"], reading=["2"], note=[""], comes_to="rest is good"
    )
    assert "/rejects/" in form.url.path
    assert send(client, form.url.path, f"{first}/again").status_code == 200
    assert client.get(f"{competition}/stations/{number}").url.path == second, "a retest waits for everybody's first time (m.41.2)"


def test_a_list_is_tried_first_and_entered_whole_or_not_at_all(client: TestClient, competition: str) -> None:
    page = f"{competition}/import"
    wrong = send(client, page, page, text="name,club,weapon\nAda Invented,Millrace,foil\n,Millrace,\nIvo Invented,,lance\n")
    assert wrong.status_code == 422
    assert "row 3" in wrong.text
    assert "“lance” is no weapon" in wrong.text
    text = "Fencer;Salle;No;Event\nAda Invented;Millrace;71;foil/épée\nWren Invented;Lanternfield;;\n"
    tried = send(client, page, page, text=text)
    assert "1 fencer would be entered" in tried.text
    assert "1 are there already" in tried.text
    assert "Ada Invented" not in client.get(f"{competition}/fencers").text
    entered = send(client, page, page, text=text, do="enter")
    assert entered.url.path == f"{competition}/fencers"
    assert "71. Ada Invented" in entered.text
    assert client.get(f"{competition}/found?words=71").url.path.startswith(f"{competition}/fencers/")


def test_the_figures_have_no_names_and_no_cell_comes_alive(client: TestClient, competition: str) -> None:
    for name in ("Zita Invented", "Hugo Invented", "Rafe Invented"):
        item = taken_in(client, fencer(client, competition, name, club="=HYPERLINK(“x”)"), "mask cord|foil")
        enter(client, item, {"mask-cord-wire.foil": "1.5"}, comes_to="rest is good")
    for address in (f"{competition}/tally", "/control/season"):
        page, table = client.get(address), client.get(f"{address}.csv")
        assert "Invented" not in page.text.split("<main")[1].replace("(invented)", "")
        assert client.get(f"{address}.pdf").headers["content-type"] == "application/pdf"
        rows = list(csv.reader(io.StringIO(table.content.decode("utf-8-sig"))))
        assert rows[0][:4] == ["by", "name", "tested", "failed"]
        assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "@"))]
        assert ["clause", "m.27.3"] in [row[:2] for row in rows]
        assert ["club", "'=HYPERLINK(“x”)"] in [row[:2] for row in rows]
        assert "smaller clubs together" in page.text


def test_a_label_brings_the_item_and_what_the_register_knows(client: TestClient, competition: str) -> None:
    card = send(client, "/register/items/new", "/register/items", what="cord|foil", name="lab", complaint="cuts out", bench="yes")
    found = re.search(r"<code>(\w+)</code>", card.text)
    assert found
    send(client, card.url.path, card.url.path, comes_to="handed back")
    edda = fencer(client, competition, "Petra Invented")
    send(client, edda, edda, code=found[1])
    by_label = client.get(f"{competition}/found?words={found[1]}")
    assert "/items/" in by_label.url.path
    assert "What the register knows of it" in by_label.text
    assert "cuts out" in by_label.text


def test_the_api_says_the_same_and_keeps_a_token_once(client: TestClient) -> None:
    new = {"name": "Winter Open (invented)", "day": "2026-12-05", "token": "winter"}
    competition = client.post("/api/control", json=new).json()
    assert client.post("/api/control", json=new).json()["id"] == competition["id"]
    base = f"/api/control/{competition['id']}"
    entrant = client.post(f"{base}/fencers", json={"name": "Maud Invented", "token": "maud"}).json()
    item = client.post(
        f"{base}/fencers/{entrant['id']}/items", json={"kind": "mask cord", "weapon": "foil", "token": "cord1"}
    ).json()
    tests = {
        "tests": [{"requirement": "mask-cord-wire.foil", "reading": 0.3}],
        "rest_is_good": True, "version": item["version"], "token": "once",
    }  # fmt: skip
    for _ in range(2):
        kept = client.post(f"{base}/items/{item['id']}", json=tests)
        assert (kept.status_code, kept.json()["state"]) == (200, "passed")
    told = client.get(f"{base}/items/{item['id']}").json()
    assert [len(test["entries"]) for test in told["tests"] if test["requirement"] == "mask-cord-wire.foil"] == [1]
    assert client.get(base).json()["counts"] == {"passed": 1}
    assert client.get(f"{base}/tally").json()["passed"] == 1
    assert client.get("/api/control/99").status_code == 404
    sound = {"rest_is_good": True, "version": item["version"], "token": "looks"}
    handed_in = client.post(f"{base}/fencers/{entrant['id']}/items", json={"kind": "mask", "weapon": "foil", "token": "mask1"})
    looked_at = f"{base}/items/{handed_in.json()['id']}"
    assert [client.post(looked_at, json=sound).status_code for _ in range(2)] == [200, 200], (
        "sent again, it has nothing more to say"
    )
    other = client.post("/api/control", json=new | {"name": "Spring Open (invented)", "token": "spring"}).json()["id"]
    elsewhere = f"/api/control/{other}/items/{item['id']}"
    assert client.post(elsewhere, json=tests | {"token": "twice"}).status_code == 404
    assert client.get(elsewhere).status_code == 404
    own = client.get(f"/control/{competition['id']}/items/{item['id']}").text
    told = {"csrf": hidden(own, "csrf"), "entry": 1, "step": "1", "version": "1", "token": "elsewhere"}
    for what in ("mark", "back", "kept", "again", "step", "chosen", "decided"):
        answer = client.post(f"/control/{other}/items/{item['id']}/{what}", data=told, follow_redirects=False)
        assert answer.status_code == 404, what
