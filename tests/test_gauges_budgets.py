"""Gauges and weights, the stroke that two shims prove, and the budget of a loop: by hand, and as the pages show them."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from command import foible
from foible.control.budget import Measured, budget, ways
from foible.control.conformity import DecisionRule
from foible.control.shims import gauge_checked, gauges, stroke_proved
from foible.errors import InputError, UnknownNameError
from foible.records import CaseStore, Database
from foible.rules import editions, requirements
from foible.services.cases import Cases
from foible.services.control.budgets import budgets_of, parts_of
from foible.services.control.verdicts import tools_checked
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

RULES = requirements()
GAUGES = gauges(RULES)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Yield a client from this machine."""
    url = f"sqlite:///{tmp_path_factory.mktemp('control') / 'records.db'}"
    store = CaseStore(Database(url), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    with TestClient(FromHere(create_app(Cases(REASONING, store), Settings())), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


@pytest.mark.parametrize(
    ("name", "value", "outcome"),
    [
        # FIE Material Rules, August 2026, m.19.4.a and b: ± 0.05 mm; m.11.3: ± 2 g; m.19.3: ± 3 g.
        ("1.5 mm shim", 1.44, "fail"),
        ("1.5 mm shim", 1.45, "pass"),
        ("1.5 mm shim", 1.55, "pass"),
        ("1.5 mm shim", 1.56, "fail"),
        ("0.5 mm shim", 0.44, "fail"),
        ("0.5 mm shim", 0.45, "pass"),
        ("0.5 mm shim", 0.56, "fail"),
        ("500 g weight", 497.9, "fail"),
        ("500 g weight", 498.0, "pass"),
        ("500 g weight", 502.1, "fail"),
        ("750 g weight", 746.9, "fail"),
        ("750 g weight", 753.0, "pass"),
        ("750 g weight", 753.1, "fail"),
    ],
)
def test_gauges_at_just_under_and_just_over_their_tolerance(name: str, value: float, outcome: str) -> None:
    assert gauge_checked(GAUGES[name], value, 0.005, rule=DecisionRule.PLAIN).conformity.outcome == outcome


def test_two_shims_prove_the_stroke_between_them() -> None:
    """1.46 ± 0.01 and 0.52 ± 0.01 mm prove more than 0.94 ± 0.0141 mm; a legal pair anything from 0.90 to 1.10 mm. By hand."""
    checked = {name: gauge_checked(GAUGES[name], value, 0.01) for name, value in (("1.5 mm shim", 1.46), ("0.5 mm shim", 0.52))}
    stroke = stroke_proved(RULES, checked)
    assert stroke is not None
    assert (stroke.proof.value, stroke.proof.u) == pytest.approx((0.94, 0.01414), abs=1e-5)
    assert (stroke.least_legal, stroke.most_legal) == pytest.approx((0.90, 1.10))
    assert stroke.proof.requirement.clause == "m.19.4.a"
    assert stroke.proof.short_by == pytest.approx(0.06)
    assert stroke.proof.enough < 0.001
    assert stroke_proved(RULES, {"1.5 mm shim": checked["1.5 mm shim"]}) is None


def test_a_shim_that_is_thin_leaves_some_of_the_rule_unproved_and_a_heavy_weight_asks_too_much() -> None:
    found = tools_checked({"1.5 mm shim": (1.46, 0.01), "500 g weight": (501.0, 0.2)}, rule=DecisionRule.PLAIN).checked
    assert found["1.5 mm shim"].proof.short_by == pytest.approx(0.04)
    assert (found["1.5 mm shim"].to_lower, found["1.5 mm shim"].to_upper) == pytest.approx((0.01, 0.09))
    assert found["500 g weight"].proof.short_by == pytest.approx(-1.0)
    with pytest.raises(UnknownNameError, match="no gauge called"):
        tools_checked({"sieve": (1.0, 0.1)}, rule=DecisionRule.PLAIN)


@pytest.mark.parametrize(
    ("weapon", "way", "legal", "stands"),
    [
        # Sums of m.5.4.a, m.29, m.31, m.55, m.28, m.27, m.32 by hand (derived, no rule gives a total); Annex B A.1(b)4, A.1(b)2,
        # B(c), C(b)2. FIE Material Rules, August 2026.
        ("foil", "loop", 15.0, 200.0),
        ("foil", "line A", 11.5, 500.0),
        ("foil", "line A from the bib", 17.5, 500.0),
        ("épée", "loop", 15.0, 100.0),
        ("sabre", "loop", 14.0, 100.0),
        ("sabre", "line A", 11.5, 100.0),
        ("sabre", "line A from the mask", 17.5, 100.0),
    ],
)
def test_the_legal_maxima_add_up(weapon: str, way: str, legal: float, stands: float) -> None:
    for edition in editions():
        found = budget(ways(requirements(edition), weapon)[way], {})
        assert (found.legal, found.total, found.stands) == (legal, legal, stands)


def test_a_loop_that_was_read_is_summed_with_its_uncertainty_in_quadrature() -> None:
    """2.0 + 2 × (0.9 + 2.6 + 2.1) = 13.2 Ω; seven parts of 0.05 Ω make √7 · 0.05 = 0.132 Ω. By hand."""
    way = ways(RULES, "foil")["loop"]
    ohms = dict(zip(way.parts, (2.0, 0.9, 2.6, 2.1, 0.9, 2.6, 2.1), strict=True))
    found = budget(way, {name: Measured(value, 0.05) for name, value in ohms.items()})
    assert (found.total, found.u) == pytest.approx((13.2, 0.1323), abs=1e-4)
    assert found.whole
    assert found.say.startswith("loop 13.2 Ω ± 0.26 Ω: the sum of the legal maxima is 15 Ω (derived); the apparatus stands 200 Ω")
    assert found.say.endswith("reel line B is the largest share of what was read")
    assert sum(line.share for line in found.lines) == pytest.approx(1)


def test_a_part_over_its_own_limit_shows_even_where_the_sum_is_fine() -> None:
    lines = {line.name: line for line in budgets_of("foil", {"reel line B": "3,1", "weapon": "2"}).ways[0].lines}
    assert lines["reel line B"].over
    assert not lines["weapon"].over


def test_slips_in_a_budget_are_named() -> None:
    with pytest.raises(UnknownNameError, match="no part called “reel line Q”"):
        budgets_of("foil", {"reel line Q": "1"})
    with pytest.raises(InputError, match="weapon: “open” is no figure"):
        budgets_of("foil", {"weapon": "open"})
    with pytest.raises(UnknownNameError, match="no weapon called"):
        budgets_of("rapier", {})
    assert "mask cord" in parts_of("sabre")


def test_the_pages_show_what_was_measured(client: TestClient) -> None:
    shims = client.get("/control/shims", params={"1.5 mm shim": "1,46", "1.5 mm shim by": "micrometer, 0.01 mm"}).text
    assert "against 1.45–1.55 mm (m.19.4.b)" in shims
    assert "goes unproved" in shims
    budgets = client.get("/control/budget", params={"weapon": "foil", "read reel line B": "3.2"}).text
    assert "200 Ω: no white lamp (Annex B A.1(b)4)" in budgets
    assert "Reel line B is the largest share" in budgets
    meter = client.get("/control/meter", params={"limit": "cord-wire", "instrument": "multimeter, 0.01 Ω"}).text
    assert "One wire of a body cord: ≤ 1 Ω (m.29.1.c)." in meter
    assert "too close to call" in meter


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("/control/shims?1.5+mm+shim=thin", "1.5 mm shim: “thin” is no figure"),
        ("/control/budget?weapon=foil&read+weapon=x", "Weapon: “x” is no figure"),
        ("/control/meter?instrument=my+own&step=abc", "Smallest step: “abc” is no figure"),
        ("/control/meter?limit=nothing-like-it", "There is no limit called"),
    ],
)
def test_a_slip_is_told_on_the_page_with_all_that_was_typed(client: TestClient, address: str, says: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 422
    assert says in answer.text
    typed = address.rpartition("=")[2]
    assert f'value="{typed}"' in answer.text or typed == "nothing-like-it"


def test_the_command_prints_a_budget_and_its_json() -> None:
    printed = foible("budget", "sabre", "weapon=0.8").stdout
    assert "the sum of the legal maxima is 14 Ω (derived)" in printed
    said = json.loads(foible("budget", "sabre", "weapon=0.8", "--json").stdout)
    assert said["ways"][0]["legal"] == 14
    assert said["ways"][0]["lines"][0]["read"] == 0.8
    refused = foible("budget", "sabre", "weapon")
    assert refused.returncode == 2
    assert "write a part and its ohms" in refused.stderr
