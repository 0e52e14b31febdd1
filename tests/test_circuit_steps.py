"""How a circuit works, step by step: what the steps show agrees with the rulebook, and none of them says it by itself.

Clauses: FIE Material Rules (Book 3), August 2026.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from html import unescape
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.errors import ProblemsError
from foible.kit import SIDES, load_setup, weapon_names
from foible.practice import lamp_meanings, load_walk, worked
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from pathlib import Path

    from foible.kit import Setup

LIT, DARK = 0.95, 0.05
SETUPS = {weapon: load_setup(weapon) for weapon in weapon_names()}
SHOWN = {weapon: {step.name: worked(setup, step) for step in load_walk(setup).steps} for weapon, setup in SETUPS.items()}
STEPS = [(weapon, step) for weapon, steps in SHOWN.items() for step in steps]


def lit(weapon: str, step: str) -> set[str]:
    """Return the lamps that light in a step, as “left white”; every other one is certainly dark."""
    shown = {f"{side} {lamp}": chance for side in SIDES for lamp, chance in SHOWN[weapon][step].lamps[side].items()}
    assert all(chance > LIT or chance < DARK for chance in shown.values()), shown
    return {lamp for lamp, chance in shown.items() if chance > LIT}


RULEBOOK = [
    ("foil", "at-rest", set(), "m.11.6: the circuit is closed at rest"),
    ("foil", "a-hit", {"left white"}, "Annex B, A.1(a): a hit off the target"),
    ("foil", "on-the-lame", {"left coloured"}, "Annex B, A.1(a): a valid hit"),
    ("foil", "on-the-guard", set(), "Annex B, A.1(b)5: no signal on guard or blade"),
    ("foil", "on-the-piste", set(), "Annex B, A.1(b)5: nor on the piste"),
    ("foil", "own-lame", {"left yellow"}, "Annex B, A.1: jacket and weapon of one side in contact"),
    ("foil", "hit-on-it", {"left yellow", "right coloured"}, "Annex B, A.2: anti-blocking"),
    ("foil", "clip-off", {"left white"}, "an international club's notice of 2023: valid hit shows white, work back along A"),
    ("épée", "at-rest", set(), "Annex B, B(a): the circuit is open at rest"),
    ("épée", "a-hit", {"left coloured"}, "Annex B, B(a)"),
    ("épée", "on-the-guard", {"left yellow"}, "Annex B, B(d), B(e)4: no hit on a guard, and the earth lamp where there is one"),
    ("épée", "a-on-c", {"left yellow"}, "Annex B, B(e)4"),
    ("sabre", "at-rest", set(), "m.24.3–4: a closed loop"),
    ("sabre", "a-cut", {"left coloured"}, "Annex B, C"),
    ("sabre", "off-target", set(), "Annex B, C: no lamp for hits off the target"),
    ("sabre", "broken-b", {"left white"}, "Annex B, C(a)6: the control loop"),
    ("sabre", "own-lame", {"left yellow"}, "Annex B, C"),
]


@pytest.mark.parametrize(("weapon", "step", "lamps", "source"), RULEBOOK)
def test_a_step_shows_what_the_rulebook_asks_of_an_apparatus(weapon: str, step: str, lamps: set[str], source: str) -> None:
    assert lit(weapon, step) == lamps, source


@pytest.mark.parametrize(("weapon", "step"), STEPS)
def test_no_step_says_which_lamps_light(weapon: str, step: str) -> None:
    table = SHOWN[weapon][step].step.table
    words = set(re.findall(r"\w+", " ".join((table.title, *table.say)).lower()))
    assert not words & {"white", "red", "green", "coloured", "yellow", "orange", "lit", "dark", "flickers"}


@pytest.mark.parametrize("weapon", SETUPS)
def test_every_lamp_lights_somewhere_and_everything_measured_is_seen_open_and_closed(weapon: str) -> None:
    lamps = {lamp.split(" ")[1] for name, step in STEPS if name == weapon for lamp in lit(weapon, step)}
    assert lamps == {lamp.kind for lamp in SETUPS[weapon].kind.lamps}
    seen = {(name, math.isinf(ohms)) for step in SHOWN[weapon].values() for name, _, ohms in step.measured}
    assert seen == {(name, is_open) for name, _ in seen for is_open in (True, False)}


def test_a_lamp_means_what_its_measurements_say() -> None:
    """Annex B, C(a)6 for the control loop; m.35 for the pins."""
    means = {each.lamp.kind: each.when for each in lamp_meanings(SETUPS["sabre"].kind)}
    assert means["white"] == (("B to C", "open"),)
    assert means["coloured"] == (("B or C to the opponent’s A", "closed"),)


def _with_steps(folder: Path, text: str) -> Setup:
    (folder / "circuits").mkdir()
    (folder / "circuits" / "foil.toml").write_text(f'edition = "none"\n{text}', encoding="utf-8")
    return load_setup("foil", overlays=[folder])


def test_a_file_of_steps_is_refused_with_every_slip_on_its_line(tmp_path: Path) -> None:
    step = '[[step]]\nname = "one"\ntitle = "T"\nsay = "S"\ncircuit = "loop"\n'
    wrong = (
        step + '[[step]]\nname = "one"\ntitle = "T"\nsay = "S"\ncircuit = "coil"\nfailures = "left cord: gone"\n'
        'trial = { press = "middle", saw = "left white" }\n'
    )
    with pytest.raises(ProblemsError) as caught:
        load_walk(_with_steps(tmp_path, wrong))
    found = {(problem.line, problem.seen) for problem in caught.value.problems}
    assert {line for line, _ in found} == {8, 11, 12, 13}
    for words in ("“one” is defined twice", "no measurement called “coil”", "left cord: gone", "middle", "cannot say “saw”"):
        assert any(words in seen for _, seen in found), words


def test_a_weapon_of_a_kit_folder_may_bring_its_own_steps(tmp_path: Path) -> None:
    step = '[[step]]\nname = "one"\ntitle = "T"\nsay = "S"\ncircuit = "leak"\ntrial = { unplugged = "left clip" }\n'
    (only,) = load_walk(_with_steps(tmp_path, step)).steps
    assert only.trial.arrangement.unplugged == ("left clip",)


@pytest.mark.parametrize("weapon", SETUPS)
def test_plain_links_lead_from_the_start_page_through_every_step_to_its_lamps(weapon: str, tmp_path: Path) -> None:
    """Nothing here needs a script: the address of each step is in the page before it."""
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    word = SETUPS[weapon].kind.word
    with TestClient(FromHere(create_app(Cases(Reasoning(), store), Settings())), base_url="http://localhost") as client:
        start = client.get("/").text
        assert f'href="/circuit/{word}"' in start
        assert "There are no cases yet: touch a weapon above to begin one." in start
        assert f'href="/circuit/{word}"' in client.get("/help").text
        address, seen = re.search(rf'href="(/circuit/{word}/[^"]*)">start', client.get(f"/circuit/{word}").text), []
        while address:
            text = unescape(client.get(address[1]).text)
            step = address[1].rpartition("/")[2]
            seen.append(step)
            on = set(re.findall(r'class="bulb lamp-(\w+) lit"', text))
            named = (lamp.split(" ") for lamp in lit(weapon, step))
            assert on == {SETUPS[weapon].kind.lamp_name(lamp, side) for side, lamp in named}, step
            address = re.search(rf'rel="next" href="(/circuit/{word}/[^"]*)"', text)
        assert seen == list(SHOWN[weapon])
        assert client.get(f"/circuit/{word}/nowhere").status_code == 404
    store.database.dispose()
