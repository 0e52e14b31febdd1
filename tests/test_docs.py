"""The documentation: made parts are current, code blocks run, links lead somewhere."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from benchmarks.accuracy import page as accuracy_page
from docs.build import build

from foible.kit import load_setup
from foible.trials import load_catalogue
from usual import REASONING, published_score

pytestmark = pytest.mark.once

ROOT = Path(__file__).parent.parent
PAGES = [*sorted(ROOT.glob("*.md")), *sorted((ROOT / "docs").glob("*.md")), *sorted(ROOT.glob("examples/**/*.md"))]
BLOCK = re.compile(r"```toml\n(.*?)```", re.DOTALL)


def test_pictures_and_tables_are_what_the_data_gives(tmp_path: Path) -> None:
    """`make docs` remakes them."""
    for made in build(tmp_path):
        name = made.relative_to(tmp_path)
        assert (ROOT / "docs" / name).read_text(encoding="utf-8") == made.read_text(encoding="utf-8"), f"{name}: run make docs"


def test_the_page_of_figures_is_what_its_figures_give() -> None:
    """`make accuracy` takes half an hour, so its words may be mended by hand, in the page and in what writes it."""
    figures = json.loads((ROOT / "docs" / "accuracy.json").read_text(encoding="utf-8"))
    assert (ROOT / "docs" / "accuracy.md").read_text(encoding="utf-8") == accuracy_page.page(figures)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_to_files(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        assert "://" not in target, "pages work offline"
        assert (page.parent / target).exists(), target


def test_the_readme_leads_to_every_page() -> None:
    linked = set(re.findall(r"\]\(([^)#]+)\)", (ROOT / "README.md").read_text(encoding="utf-8")))
    pages = {page.relative_to(ROOT).as_posix() for page in PAGES} - {"README.md"}
    assert pages <= linked, pages - linked


@pytest.mark.parametrize("page", [ROOT / "README.md", ROOT / "docs" / "case-file.md"], ids=lambda page: page.name)
def test_the_case_of_a_page_can_be_diagnosed(page: Path, tmp_path: Path) -> None:
    blocks = BLOCK.findall(page.read_text(encoding="utf-8"))
    assert blocks
    for block in blocks:
        path = tmp_path / "case.toml"
        path.write_text(block, encoding="utf-8")
        reasoning = REASONING
        assert reasoning.diagnose(reasoning.case(path)).finding.items[0].name in ("right lamé", "right cord")


def test_the_worked_example_of_the_meter_page_comes_out_as_it_says(tmp_path: Path) -> None:
    (block,) = BLOCK.findall((ROOT / "docs" / "meter.md").read_text(encoding="utf-8"))
    path = tmp_path / "case.toml"
    path.write_text(block, encoding="utf-8")
    reasoning = REASONING
    finding = reasoning.diagnose(reasoning.case(path)).finding
    assert [suspect.part for suspect in finding.suspects[:2]] == ["left weapon grip nut", "left weapon socket nut"]
    assert sum(suspect.probability for suspect in finding.suspects[:2]) > 0.9
    assert finding.items[0].name == "left weapon"


def test_the_kit_files_of_the_page_can_be_laid_over(tmp_path: Path) -> None:
    for block in BLOCK.findall((ROOT / "docs" / "kit-files.md").read_text(encoding="utf-8")):
        name = block.split("\n")[0].removeprefix("# ")
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(block, encoding="utf-8")
        tomllib.loads(block)
    assert "left cord" in {idea.item for idea in load_catalogue(load_setup("foil"), overlays=[tmp_path])}
    failures = load_setup("foil", overlays=[tmp_path]).failures
    assert "right weapon tang in the guard: rust between tang and guard" in failures


def test_commands_of_the_readme_are_those_of_the_makefile_and_the_program() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for target in re.findall(r"^make (\w+)", readme, re.MULTILINE):
        assert f"\n{target}:" in makefile
    from foible.cli.main import command  # noqa: PLC0415 — only here

    names = {entry.callback.__name__ for entry in command.registered_commands if entry.callback}
    names |= {group.name for group in command.registered_groups if group.name}
    assert set(re.findall(r"^foible (\w+)", readme, re.MULTILINE)) <= names


def test_examples_load() -> None:
    reasoning = REASONING
    rules = ROOT / "examples" / "rules"
    for path in sorted(ROOT.glob("examples/**/*.toml")):
        if path.parent != rules:  # tests/test_rulebook_overlay.py reads those
            reasoning.case(path)


def test_invented_examples_say_so() -> None:
    for path in sorted((ROOT / "examples" / "lanternfield").glob("*.toml")):
        assert "invented" in path.read_text(encoding="utf-8")


def test_published_cases_name_their_source_and_cause() -> None:
    for path in sorted((ROOT / "examples" / "published").glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        assert table["source"], path.name
        assert table["expect"].get("parts") or table["expect"].get("unexplained"), path.name


def test_no_file_names_a_registry_host() -> None:
    """Locking is by name and exact version."""
    locks = sorted(ROOT.glob("requirements*.lock"))
    assert locks
    for path in (*locks, ROOT / "pyproject.toml", ROOT / "Makefile", ROOT / ".ci" / "run"):
        hosts = re.findall(r"https?://([^/\s\"]*)", path.read_text(encoding="utf-8"))
        assert all(host.endswith(".example") for host in hosts), path.name  # RFC 2606 reserves it: nobody is there
    for path in locks:
        for line in path.read_text(encoding="utf-8").splitlines():
            assert re.fullmatch(r"[A-Za-z0-9_.-]+==[^=\s]+", line), f"{path.name}: {line}"


@pytest.mark.slow
def test_the_readme_states_the_score_of_the_published_cases_as_it_is() -> None:
    score = published_score()
    readme = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    parts, items = sum(case.part_found for case in score.expressible), sum(case.item_found for case in score.expressible)
    assert f"{len(score.cases)} published fault-finding cases" in readme
    assert f"{len(score.expressible)} of them the model can express" in readme
    assert f"in {score.part_share:.0%} ({parts})".replace("%", " %") in readme
    assert f"in {score.item_share:.0%} ({items})".replace("%", " %") in readme


@pytest.mark.parametrize("page", ["reliability.md", "security.md"])
def test_the_tests_that_hold_a_promise_are_there(page: str) -> None:
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", (ROOT / "docs" / page).read_text(encoding="utf-8"))
    assert len(named) > 10
    for file, name in named:
        assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8"), f"{file}::{name}"
