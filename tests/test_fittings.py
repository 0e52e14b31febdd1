"""What is fitted on each side is said and changed at any time: by the service, on the page, by the API and in a case file."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.errors import InputError, UnknownNameError
from foible.kit import load_setup, slots_of, weapon_names
from foible.practice import load_walk, worked
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.fitting import describe, fitted_named
from foible.trials import TrialTable, headed_text
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LIT = 0.95


@pytest.fixture
def cases(tmp_path: Path) -> Iterator[Cases]:
    database = Database(f"sqlite:///{tmp_path / 'r.db'}")
    yield Cases(REASONING, CaseStore(database, clock=lambda: datetime(2026, 10, 3, tzinfo=UTC)))
    database.dispose()


@pytest.mark.parametrize("weapon", weapon_names())
def test_what_is_offered_works_as_the_weapon_should(weapon: str) -> None:
    """m.11.6, m.19, m.24.3: with any socket offered, the steps of a sound circuit show the same lamps."""
    sound = [step for step in load_walk(load_setup(weapon)).steps if not step.failures]
    for slot in slots_of(weapon):
        assert slot.models[0][0] == slot.usual
        for model, _ in slot.models:
            setup = load_setup(weapon, fitted={"left": {slot.name: model}})
            for step in sound:
                usual, fitted = worked(load_setup(weapon), step).lamps, worked(setup, step).lamps
                assert {s: {lamp for lamp, p in by.items() if p > LIT} for s, by in usual.items()} == {
                    s: {lamp for lamp, p in by.items() if p > LIT} for s, by in fitted.items()
                }, (model, step.name)


def test_a_foil_has_two_kinds_of_socket() -> None:
    """Two-pin and bayonet: common practice, no source."""
    assert [(slot.name, [model for model, _ in slot.models]) for slot in slots_of("foil")] == [("socket", ["two-pin", "bayonet"])]


def test_each_side_is_fitted_for_itself_and_the_usual_model_is_not_written_down(cases: Cases) -> None:
    name = cases.open("foil").id
    assert describe(cases, name, fitted=fitted_named(["left socket bayonet"])).fitted == {"left": {"socket": "bayonet"}}
    kept = describe(cases, name, piste="3", fitted=fitted_named(["right socket=bayonet", "left socket two-pin"]))
    assert (kept.fitted, kept.piste) == ({"right": {"socket": "bayonet"}}, "3")
    parts = cases.standing_of(kept).case.setup.parts
    assert "right weapon socket spring plate" in parts
    assert "left weapon socket spring plate" not in parts


def test_a_trial_of_what_is_no_longer_there_stays_and_is_marked(cases: Cases) -> None:
    name = cases.open("foil").id
    describe(cases, name, fitted={"left": {"socket": "bayonet"}})
    cases.note(name, TrialTable(examine=("left weapon socket spring plate",), found=("fine",)), token="looked")
    kept = describe(cases, name, fitted={"left": {"socket": ""}})
    (unread,) = cases.standing_of(kept).unread
    assert "left weapon socket spring plate" in unread.words
    assert len(kept.entries) == 1


@pytest.mark.parametrize(
    ("fitted", "error", "words"),
    [
        ({"left": {"socket": "moon"}}, UnknownNameError, "moon"),
        ({"left": {"moon": "bayonet"}}, UnknownNameError, "moon"),
        ({"middle": {"socket": "bayonet"}}, UnknownNameError, "middle"),
        ({"left": {"core": "jacket"}}, InputError, "does not fit"),
    ],
)
def test_what_the_kit_does_not_have_is_refused_and_nothing_is_changed(
    cases: Cases, fitted: dict[str, dict[str, str]], error: type[InputError], words: str
) -> None:
    kept = cases.open("foil")
    with pytest.raises(error, match=words):
        describe(cases, kept.id, piste="3", fitted=fitted)
    assert cases.store.case(kept.id) == kept


def test_page_and_api_change_it_and_say_what_there_is(cases: Cases) -> None:
    with TestClient(FromHere(create_app(cases, Settings())), base_url="http://localhost") as client:
        name = client.post("/api/cases", json={"weapon": "foil", "title": "White", "token": "t"}).json()["id"]
        assert '<option value="left socket two-pin" selected>' in client.get("/new/foil").text
        body = {"fitted": {"left": {"socket": "bayonet"}}}
        new = {"weapon": "foil", "complaint": "My white lamp is on all the time", "token": "u"}
        assert client.post("/api/cases", json={**new, **body}).json()["fitted"] == body["fitted"]
        assert client.post("/api/cases", json={**new, "fitted": {"left": {"socket": "moon"}}}).status_code == 422
        assert client.put(f"/api/cases/{name}/about", json=body).json()["fitted"] == {"left": {"socket": "bayonet"}}
        assert client.put(f"/api/cases/{name}/about", json={"fitted": {"middle": {}}}).status_code == 422
        page = client.get(f"/cases/{name}").text
        assert '<option value="left socket bayonet" selected>bayonet socket</option>' in page
        csrf = page.split('name="csrf" value="', 1)[1].split('"', 1)[0]
        form = {"csrf": csrf, "title": "White", "fitted": ["left socket two-pin", "right socket bayonet"]}
        assert client.post(f"/cases/{name}/about", data=form).status_code == 200
        started = client.post("/new/foil", data={**form, "left": "My white lamp is on all the time"}, follow_redirects=False)
        begun = started.headers["location"].rpartition("/")[2]
        assert cases.store.case(begun).fitted == {"right": {"socket": "bayonet"}}
        told = client.get(f"/api/cases/{name}").json()
        assert (told["fitted"], told["title"]) == ({"right": {"socket": "bayonet"}}, "White")


def test_the_top_of_a_case_file_changes_and_its_comments_and_trials_stay() -> None:
    text = (
        '# mine\nweapon = "foil"  # old\ntitle = "A"\n\n[left]\nsocket = "bayonet"\n\n'
        '[[trial]]\n# looked twice\nsaw = "left white"\n'
    )
    made = headed_text(headed_text(text, {"title": "B", "piste": "3"}), {"left": {}, "right": {"socket": "bayonet"}})
    assert tomllib.loads(made) == {
        "weapon": "foil",
        "title": "B",
        "piste": "3",
        "right": {"socket": "bayonet"},
        "trial": [{"saw": "left white"}],
    }
    assert {"# mine", "# looked twice"} <= set(made.splitlines())


@pytest.mark.parametrize("text", ['title = """\nA\nB"""\nweapon = "foil"\n', 'weapon = "foil"\nleft.socket = "bayonet"\n'])
def test_a_file_written_in_another_way_is_left_to_its_writer(text: str) -> None:
    with pytest.raises(InputError, match="by hand"):
        headed_text(text, {"title": "C", "left": {"socket": "two-pin"}})
