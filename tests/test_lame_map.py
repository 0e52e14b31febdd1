"""The map of a lamé: which squares fail at the limit of m.28.5.a, what is advised, and the trend over washes."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import product
from math import prod
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from foible.control.trend import trend_of
from foible.drawing import lame_map_svg
from foible.errors import InputError
from foible.records.register import ItemState, Reading, RegisteredItem
from foible.services.control.lame_map import FACES, LameMap, Layout, history_of, lame_map, layout_for, map_typed

DAY = datetime(2026, 10, 3, tzinfo=UTC)


def jacket(weapon: str = "foil", kind: str = "lamé") -> RegisteredItem:
    """Return an invented jacket."""
    return RegisteredItem(
        1, "j23", kind, weapon, "", {}, {}, None, ItemState.IN_USE, None, None, None, None, None, "", 1, DAY, DAY
    )


LAYOUT: Layout = layout_for(jacket())


def made(dead: dict[tuple[str, int, int], float] | None = None, rest: float = 0.6, *, washed: bool = True) -> LameMap:
    """Return a map that reads `rest` everywhere but where it is said."""
    typed = {f"{face}-{row}-{column}": str(ohms) for (face, row, column), ohms in (dead or {}).items()}
    return lame_map(LAYOUT, map_typed(LAYOUT, typed, str(rest)), washed=washed)


@pytest.mark.parametrize(
    ("ohms", "state"),
    [(0.5, "sound"), (4.85, "sound"), (4.99, "too close to call"), (5.0, "too close to call"), (5.2, "dead"), (9999, "dead")],
)
def test_a_square_is_held_against_5_ohms_with_the_uncertainty_of_the_meter(ohms: float, state: str) -> None:
    """FIE Material Rules, August 2026, m.28.5.a: at most 5 Ω between any two points."""
    square = next(each for each in made({("front", 2, 1): ohms}).squares if each.ohms == ohms)
    assert square.state == state
    assert "5 Ω (m.28.5.a)" in made().limit


def test_at_the_limit_a_square_conforms_with_even_chances() -> None:
    """JCGM 106:2012, 7.2.1: a reading on the limit, nothing known before."""
    square = made({("front", 2, 1): 5.0}).squares
    assert next(each for each in square if each.ohms == 5.0).conforms == pytest.approx(0.5)


def test_dead_squares_that_touch_are_one_place_and_front_and_back_are_two() -> None:
    places = made({("front", 1, 3): 99, ("front", 2, 3): 99, ("back", 2, 1): 99}).dead
    assert [len(place) for place in places] == [2, 1]


def test_squares_that_touch_at_a_corner_are_two_places() -> None:
    assert len(made({("front", 1, 1): 99, ("front", 2, 2): 99}).dead) == 2


@pytest.mark.parametrize(
    ("dead", "rest", "washed", "advice"),
    [
        ({}, 0.6, False, "sound"),
        ({}, 3.0, False, "wash"),
        ({("front", 3, 2): 99.0}, 0.6, False, "patch"),
        ({("front", 3, 2): 99.0}, 3.5, False, "wash"),
        ({("front", r, c): 99.0 for r in range(1, 7) for c in (1, 2)}, 0.6, False, "wash"),
        ({("front", r, c): 99.0 for r in range(1, 7) for c in (1, 2)}, 0.6, True, "retire"),
    ],
)
def test_little_and_local_is_patched_much_is_washed_and_what_a_wash_has_not_helped_is_retired(
    dead: dict[tuple[str, int, int], float], rest: float, *, washed: bool, advice: str
) -> None:
    """Common practice, no source; that oxidised patches end a jacket: FIE Material Rules, August 2026, m.28.5.b."""
    told = made(dead, rest, washed=washed)
    assert told.advice == advice
    assert advice != "retire" or "m.28.5.b" in told.why


@given(st.lists(st.floats(0, 1), min_size=1, max_size=7))
def test_how_many_squares_are_above_the_limit_is_summed_over_every_case(chances: list[float]) -> None:
    """Second method: all 2ⁿ cases."""
    from foible.services.control.lame_map import _interval  # noqa: PLC0415 — its own sum is what is checked

    law = [0.0] * (len(chances) + 1)
    for case in product((0, 1), repeat=len(chances)):
        law[sum(case)] += prod(p if each else 1 - p for p, each in zip(chances, case, strict=True))
    low, high = _interval(chances)
    assert sum(law[:low]) <= 0.05 + 1e-9
    assert sum(law[: high + 1]) >= 0.95 - 1e-9


def test_an_empty_square_is_asked_for_unless_the_rest_was_swept() -> None:
    with pytest.raises(InputError, match="front, row 1, column 1 is empty"):
        map_typed(LAYOUT, {}, "")
    assert map_typed(LAYOUT, {"front-1-1": "2,5"}, "0.7")[0] == (2.5, *(0.7,) * (2 * LAYOUT.columns - 1))


@pytest.mark.parametrize("text", ["many", "-1", "nan", "1e9"])
def test_what_is_no_figure_is_refused_with_its_square(text: str) -> None:
    with pytest.raises(InputError, match="back, row 2, column 1"):
        map_typed(LAYOUT, {"back-2-1": text}, "0.5")


def test_only_a_lame_has_a_map() -> None:
    with pytest.raises(InputError, match="is no lamé"):
        layout_for(jacket("épée", "weapon"))


def test_sleeves_make_a_sabre_jacket_wider() -> None:
    assert layout_for(jacket("sabre")).columns > LAYOUT.columns


def test_a_dead_square_is_told_by_figure_and_pattern_not_by_colour_alone() -> None:
    squares = {("front", 1, 1): (99.0, "dead"), ("back", 1, 1): (0.6, "sound"), ("back", 2, 1): (5.0, "too close to call")}
    drawn = lame_map_svg(FACES, 2, 1, squares, words="two faces")
    assert drawn.count('class="fd-square-hatch"') == 9 + 4
    assert set(re.findall(r">([\d.]+)</text>", drawn)) == {"99", "0.6", "5"}
    assert ">front<" in drawn
    assert ">back<" in drawn


def test_the_slope_is_the_median_of_all_pairs() -> None:
    """Theil 1950, by hand: slopes of all ten pairs of five figures."""
    x, y = [0, 1, 2, 3, 4], [0.5, 0.7, 0.6, 1.1, 1.6]
    pairs = [(y[j] - y[i]) / (x[j] - x[i]) for i in range(5) for j in range(i + 1, 5)]
    found = trend_of(x, y)
    assert found is not None
    assert found.slope == pytest.approx(median(pairs))
    assert found.tau == pytest.approx((9 - 1) / 10)  # nine pairs rise, one falls
    assert found.low <= found.slope <= found.high


@pytest.mark.parametrize("figures", [[1.0, 2.0, 3.0], []])
def test_of_fewer_than_four_figures_nothing_is_said(figures: list[float]) -> None:
    assert trend_of(list(range(len(figures))), figures) is None


def test_figures_that_never_change_have_no_trend() -> None:
    found = trend_of([0, 1, 2, 3], [1.0] * 4)
    assert found is not None
    assert (found.slope, found.by_chance, found.rises) == (0.0, 1.0, False)


def test_a_jacket_that_gets_worse_with_every_wash_is_told() -> None:
    """Maps between washes, the middle figure up by 0.5 Ω each time."""
    washes = [DAY + timedelta(days=60 * n + 30) for n in range(4)]
    readings = [
        Reading(
            n, 1, None, "a lamé", "", 1.0, "Ω", "", None, ((0.5 + 0.5 * n,) * 2 * LAYOUT.columns,) * LAYOUT.rows, None,
            DAY + timedelta(days=60 * n), None,
        )
        for n in range(5)
    ]  # fmt: skip
    history = history_of(LAYOUT, readings, washes)
    assert [point[1] for point in history.points] == [0, 1, 2, 3, 4]
    assert history.over == "wash"
    assert history.middle is not None
    assert history.middle.slope == pytest.approx(0.5)
    assert history.middle.rises
