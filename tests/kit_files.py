"""Kit files of one's own for a test, and the mistakes that are marked in them."""

from __future__ import annotations

import re
from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

from foible.circuit import Network, Port, Shape, conductances_of, port_resistances
from foible.errors import ProblemsError
from foible.kit import Setup, load_setup

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from foible.errors import Problem


def kit_folder(folder: Path, files_of_it: Mapping[str, str]) -> Path:
    """Write kit files below `folder`."""
    for name, text in files_of_it.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dedent(text), encoding="utf-8")
    return folder


def problems_of(overlay: Path, **fitted: Mapping[str, str]) -> list[Problem]:
    """Return the problems for which a set-up with `overlay` is refused."""
    with pytest.raises(ProblemsError) as caught:
        load_setup("foil", overlays=[overlay], fitted=fitted)
    assert all(problem.remedy for problem in caught.value.problems)
    assert len(set(caught.value.problems)) == len(caught.value.problems)
    return list(caught.value.problems)


def assert_as_marked(problems: list[Problem], overlay: Path) -> None:
    """Check that the problems are those that “# <- words” marks in the files: on that line, with those words."""
    marks = {
        (str(path), number, words)
        for path in overlay.rglob("*.toml")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        for words in re.findall(r"<- ([^;]+)", line)
    }
    found = {mark for mark in marks for p in problems if (p.file, p.line) == mark[:2] and mark[2] in p.seen}
    assert found == marks
    assert len(problems) == len(marks), problems


def ohms_between(setup: Setup, item: str, a: str, b: str) -> float:
    """Return what an ohmmeter reads between two nodes of `item` taken out of the set-up [Ω]."""
    own = [each for each in setup.network.branches if each.name in setup.parts and setup.parts[each.name].item == item]
    network = Network(tuple(own))
    ends = (f"{item}.{a}", f"{item}.{b}")
    shape = Shape.of(network, ends)
    mesh = shape.conductances(conductances_of(network))
    return float(port_resistances(shape, mesh, [Port.between(*ends)])[0, 0])
