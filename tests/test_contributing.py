"""CONTRIBUTING.md: each of its examples does what the page says, laid over Foible or put into it as the page tells."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pytest
from fastapi.routing import APIRoute
from jinja2 import ChoiceLoader, DictLoader

from client import FromHere, TestClient
from foible.kit import load_setup
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.given_names import GivenNames
from foible.services.reasoning import Reasoning
from foible.trials import former_names
from foible.web import Settings, create_app, shared
from foible.web.lanes import lane_of

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"```(?:toml|python|html)\n(?:#|\{#) (at the end of )?(\S+?)(?: #\})?\n(.*?)```", re.DOTALL)
OF_THE_SOURCES = {"src/foible/kit/data/": "", "src/foible/trials/data/": ""}
"""Where a folder laid over the kit has what Foible has in one of its own."""


@cache
def blocks() -> dict[str, tuple[bool, str]]:
    """Return by the file that a block names whether it is to be added to that file, and the block."""
    return {name: (bool(added), text) for added, name, text in BLOCK.findall(PAGE)}


@pytest.fixture(scope="module")
def kit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder that has everything which the page says of the kit."""
    folder = tmp_path_factory.mktemp("my-kit")
    for name, (added, text) in blocks().items():
        if name.endswith(".toml"):
            above = next(each for each in ("my-kit/", *OF_THE_SOURCES) if name.startswith(each))
            path = folder / OF_THE_SOURCES.get(above, "") / name.removeprefix(above)
            path.parent.mkdir(exist_ok=True)
            path.write_text(((ROOT / name).read_text(encoding="utf-8") if added else "") + text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def reasoning(kit: Path) -> Reasoning:
    return Reasoning(overlays=[kit])


def test_every_block_of_data_or_code_is_tested_here() -> None:
    assert len(blocks()) == len(re.findall(r"```(?:toml|python|html)\n", PAGE)) == 6


def test_the_failure_cuts_the_line_that_it_is_in(reasoning: Reasoning) -> None:
    """A hit on the right lamé with line A of the right floor cable broken is white: the way to the lamé is cut."""
    failure = reasoning.failure("right floor cable A wire: crushed by a trolley", weapon="foil")
    assert failure.repair in reasoning.setup("foil").repairs
    idea = reasoning.idea(reasoning.setup("foil"), "press the left point on the front of the right lamé")
    assert idea is not None
    lamps = reasoning.shown("foil", [(failure, float("inf"))], idea)["left"].lamps
    assert lamps["white"] > 0.99


def test_the_trial_is_one_of_the_catalogue_for_each_side(reasoning: Reasoning) -> None:
    """A point pressed on what does not conduct is white at foil (FIE Material Rules (Book 3), August 2026, Annex B, A.1)."""
    setup = reasoning.setup("foil")
    for side, other in (("left", "right"), ("right", "left")):
        idea = reasoning.idea(setup, f"rest the {side} point lightly on the {other} mask mesh")
        assert idea is not None
        assert reasoning.shown("foil", [], idea)[side].lamps["white"] > 0.99


def test_the_lamp_lights_on_earthed_metal_and_says_so(reasoning: Reasoning) -> None:
    assert [lamp.kind for lamp in reasoning.weapon("épée").lamps] == ["coloured", "yellow", "white"]
    on_guard = reasoning.idea(reasoning.setup("épée"), "press the left point on the right guard")
    assert on_guard is not None
    shown = reasoning.shown("épée", [], on_guard)["left"]
    assert shown.lamps["white"] > 0.99
    assert "White lights: the hit was on metal that is earthed." in shown.text


def test_the_former_name_is_read_as_todays(kit: Path) -> None:
    given = GivenNames([kit])
    assert given.part("left cord clip jaw", "foil") == "left cord clip bite"
    assert [str(notice) for notice in given.notices] == [
        "“left cord clip jaw” is now called “left cord clip bite” (since version 2 of the names)"
    ]
    assert "left cord clip bite" in load_setup("foil").parts
    assert "part" in {former.what for former in former_names([kit]).entries}


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """Yield a client of an application that has the page."""
    (module,) = (text for name, (_, text) in blocks().items() if name.endswith(".py"))
    pages: dict[str, Any] = vars(ModuleType("spares_pages"))
    exec(compile(module, "CONTRIBUTING.md", "exec"), pages)  # noqa: S102 — our own page
    assert all(lane_of(route.endpoint) for route in pages["router"].routes if isinstance(route, APIRoute))
    (template,) = ({Path(name).name: text} for name, (_, text) in blocks().items() if name.endswith(".html"))
    environment = shared._environment()
    assert environment.loader is not None
    monkeypatch.setattr(environment, "loader", ChoiceLoader([DictLoader(template), environment.loader]))
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'records.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    app = create_app(Cases(Reasoning(), store), Settings())
    app.include_router(pages["router"])
    with TestClient(FromHere(app), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


def test_the_page_lists_what_to_pack(client: TestClient) -> None:
    answer = client.get("/spares/epee")
    assert answer.status_code == 200
    assert "<h1>What to pack for épée</h1>" in answer.text
    listed = re.findall(r"<li>([^:<]+):", answer.text)
    assert {"left weapon", "left cord", "right reel"} <= set(listed)
    assert client.get("/spares/rapier").status_code == 404


def test_commands_of_the_page_are_those_of_the_makefile() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for target in re.findall(r"(?:^|`)make ([a-z-]+)", PAGE, re.MULTILINE):
        assert f"\n{target}:" in makefile, target
