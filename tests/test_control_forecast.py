"""When the queue is gone: what is learnt of times and arrivals, the forecast, plans; and the simulated days it is held to."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from benchmarks.control_order.__main__ import played
from benchmarks.control_order.days import drawn_day
from benchmarks.control_queue.__main__ import WITHIN, measured
from benchmarks.control_queue.days import FENCERS, drawn_law, run

from foible.control.arrivals import dispersion, drawn_arrivals
from foible.control.forecast import Post, Queue, Stage, forecast
from foible.control.planning import Plan, planned
from foible.control.service_times import Served, cycle_times, drawn_pace

NOW = datetime(2026, 10, 3, 12, tzinfo=UTC)
NONE = Served(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0))


def served(count: int, seconds: float = 60.0, posts: int = 1, variation: float = 0.05) -> Served:
    """Return `count` items of one kind, measured."""
    rng = np.random.default_rng(1)
    spread = rng.gamma(variation**-2, seconds * variation**2, count)
    return Served(np.zeros(count, dtype=np.intp), (np.arange(count) % posts).astype(np.intp), spread)


def queue(bags: int, *, posts: int = 1, to_come: int = 0, seen: int = 2000, stages: int = 1) -> Queue:
    """Return a table where `bags` of two items, 60 s each, wait."""
    names = tuple(Post(f"post {number}") for number in range(posts))
    waiting = np.full((bags, 1), 2.0)
    stage = Stage("electrics", names, np.array([60.0]), served(seen, posts=posts), waiting)
    return Queue(
        tuple(replace(stage, name=f"stage {number}") for number in range(stages)),
        waiting,
        np.array([2.0]),
        np.linspace(-3600, -60, bags),
        (-3600.0, 1800.0),
        to_come,
    )


class TestServiceTimes:
    def test_an_item_counts_from_when_it_was_there_and_the_post_free(self) -> None:
        """Post 0: done at 100, 160, 400, the last handed in at 350; post 1: done at 130, handed in at 20."""
        ready, ended = np.array([40.0, 50.0, 350.0, 20.0]), np.array([100.0, 160.0, 400.0, 130.0])
        assert cycle_times(ready, ended, np.array([0, 0, 0, 1])).tolist() == [60, 60, 50, 110]

    def test_many_measured_times_outweigh_the_plan(self) -> None:
        pace = drawn_pace(served(3000, 45, variation=0.6), np.array([120.0]), 1, np.random.default_rng(1), 400)
        assert pace.mean.mean() == pytest.approx(45, rel=0.03)
        # the standard error of the mean, 0.6 · 45 / √3000, and the drift of the day
        assert pace.mean.std() == pytest.approx(np.hypot(0.49, 0.02 * 45), rel=0.2)
        assert np.sqrt(pace.variance.mean()) == pytest.approx(0.6 * 45, rel=0.1)

    def test_before_anything_is_measured_the_plan_stands_and_is_doubted(self) -> None:
        pace = drawn_pace(NONE, np.array([40.0, 10.0]), 2, np.random.default_rng(1), 2000)
        assert pace.mean.mean(axis=0) == pytest.approx([40, 10], rel=0.05)
        assert pace.mean[:, 0].std() > 0.1 * 40

    def test_a_kind_not_seen_yet_goes_at_the_pace_of_the_others(self) -> None:
        pace = drawn_pace(served(200, 90), np.array([60.0, 20.0]), 1, np.random.default_rng(1), 1000)
        assert pace.mean[:, 1].mean() == pytest.approx(30, rel=0.1)

    def test_a_slow_post_is_known_as_slow_once_it_has_done_enough(self) -> None:
        rng = np.random.default_rng(2)
        post = np.arange(600) % 2
        seconds = rng.gamma(4, 60 / 4, 600) * np.where(post == 1, 1.3, 1.0)
        own = Served(np.zeros(600, dtype=np.intp), post.astype(np.intp), seconds)
        many = drawn_pace(own, np.array([60.0]), 3, rng, 500).post.mean(axis=0)
        few = drawn_pace(Served(own.kind[:6], own.post[:6], own.seconds[:6]), np.array([60.0]), 3, rng, 500).post.mean(axis=0)
        assert many[1] / many[0] == pytest.approx(1.3, abs=0.06)
        assert abs(few[1] / few[0] - 1) < 0.15
        assert many[2] == pytest.approx(1, abs=0.03)

    def test_a_long_gap_is_an_absence_and_no_item(self) -> None:
        plain = served(400)
        gone = Served(plain.kind, plain.post, np.where(np.arange(400) == 200, 1200.0, plain.seconds))
        before, after = (drawn_pace(own, np.array([60.0]), 1, np.random.default_rng(1), 500) for own in (plain, gone))
        assert after.mean.mean() == pytest.approx(before.mean.mean(), rel=0.01)
        assert after.away.mean() > before.away.mean()


class TestArrivals:
    def test_dispersion_of_random_arrivals_is_about_one_and_of_groups_about_their_size(self) -> None:
        rng = np.random.default_rng(4)
        alone = np.sort(rng.uniform(-36000, 0, 1500))
        groups = np.sort(np.repeat(rng.uniform(-36000, 0, 150), 10))
        assert dispersion(alone, -36000, 0) < 1.5
        assert dispersion(groups, -36000, 0) == pytest.approx(10, rel=0.35)

    def test_all_come_from_now_on_and_nearly_all_within_the_hours(self) -> None:
        came = np.linspace(-3600, -10, 100)
        drawn = drawn_arrivals(came, 80, (-3600.0, 5400.0), np.random.default_rng(1), 300)
        assert drawn.shape == (300, 80)
        assert drawn.min() >= 0
        assert (drawn < 5400 + 600).mean() > 0.98

    def test_who_has_not_come_by_a_late_hour_comes_late(self) -> None:
        """A tenth came in the first half: the shape rises towards the end, and so do the arrivals of the rest."""
        late = drawn_arrivals(np.linspace(-3600, 0, 20), 180, (-3600.0, 3600.0), np.random.default_rng(1), 300)
        even = drawn_arrivals(np.linspace(-3600, 0, 100), 100, (-3600.0, 3600.0), np.random.default_rng(1), 300)
        assert np.median(late) > np.median(even)

    def test_after_the_hours_whoever_is_missing_comes_soon(self) -> None:
        drawn = drawn_arrivals(np.array([-7000.0]), 5, (-7200.0, -60.0), np.random.default_rng(1), 300)
        assert 0 < np.median(drawn) < 1800


class TestForecast:
    def test_what_is_certain_is_forecast_by_hand(self) -> None:
        """40 bags of two items of 60 s, all waiting, one post: 80 minutes; as far as nobody leaves, which can only add."""
        found = forecast(queue(40), NOW, seed=1)
        assert found.low is not None
        assert found.at is not None
        assert found.low == pytest.approx(NOW + timedelta(minutes=80), abs=timedelta(minutes=4))
        assert found.at == pytest.approx(NOW + timedelta(minutes=82), abs=timedelta(minutes=4))
        assert found.by_stage[0].seconds == pytest.approx(60, rel=0.02)
        assert found.by_stage[0].waiting == 80

    def test_a_second_post_halves_it(self) -> None:
        saved = forecast(queue(40), NOW, seed=1).further[0]
        assert saved.saves == pytest.approx(timedelta(minutes=42), abs=timedelta(minutes=5))
        assert saved.low >= timedelta(0)

    def test_the_same_seed_says_the_same(self) -> None:
        assert forecast(queue(20, to_come=10), NOW, seed=3) == forecast(queue(20, to_come=10), NOW, seed=3)

    def test_of_two_stages_the_one_with_a_single_post_is_the_bottleneck(self) -> None:
        both = queue(40, posts=3, stages=2)
        slow = replace(both.stages[1], posts=both.stages[1].posts[:1], served=served(2000))
        found = forecast(replace(both, stages=(both.stages[0], slow)), NOW, seed=1)
        assert found.bottleneck is not None
        assert found.bottleneck.name == "stage 1"
        team, first, second = found.further
        assert second.saves > first.saves
        assert team.saves == pytest.approx(second.saves, abs=timedelta(minutes=3))

    def test_a_break_of_all_puts_it_off_by_as_long(self) -> None:
        plain = queue(40)
        resting = replace(plain.stages[0], posts=(Post("post", closed=((600.0, 2400.0),)),))
        free, held = forecast(plain, NOW, seed=1), forecast(replace(plain, stages=(resting,)), NOW, seed=1)
        assert free.at is not None
        assert held.at is not None
        assert held.at - free.at == pytest.approx(timedelta(minutes=30), abs=timedelta(seconds=5))

    def test_a_post_that_has_been_silent_is_waited_for(self) -> None:
        plain = queue(40)
        silent = replace(plain.stages[0], posts=(Post("post", silent=900.0),))
        free, held = forecast(plain, NOW, seed=1), forecast(replace(plain, stages=(silent,)), NOW, seed=1)
        assert free.at is not None
        assert held.at is not None
        assert held.at > free.at + timedelta(minutes=3)

    def test_posts_that_all_go_home_never_finish(self) -> None:
        plain = queue(40)
        leaving = replace(plain.stages[0], posts=(Post("post", closed=((600.0, np.inf),)),))
        found = forecast(replace(plain, stages=(leaving,)), NOW, seed=1)
        assert found.at is None
        assert found.further == ()

    def test_where_nothing_is_left_it_is_gone(self) -> None:
        assert forecast(queue(0), NOW, seed=1).at == NOW

    def test_who_is_to_come_is_waited_for(self) -> None:
        found = forecast(queue(1, posts=4, to_come=30), NOW, seed=1)
        assert found.at is not None
        assert found.at > NOW + timedelta(minutes=15)


class TestPlan:
    plan = Plan(
        60, {"dimensions": {"weapon": 60, "cord": 0}, "electrics": {"weapon": 30, "cord": 30}}, {"weapon": 2, "cord": 2},
        (NOW, NOW + timedelta(hours=1)),
    )  # fmt: skip

    def test_it_takes_at_least_the_work_there_is(self) -> None:
        """60 × 2 minutes at either stage: two hours for one team, an hour for two."""
        assert self.plan.load == {"dimensions": 120, "electrics": 120}
        one, two = planned(self.plan, [1, 2], seed=1)
        assert one.at >= NOW + timedelta(hours=1, minutes=55)
        assert two.at >= NOW + timedelta(minutes=58)
        assert one.surely > one.at
        assert one.long_wait > one.wait > two.wait

    def test_more_teams_are_never_slower(self) -> None:
        found = planned(self.plan, range(1, 7), seed=1)
        assert [each.at for each in found] == sorted((each.at for each in found), reverse=True)
        assert all(0 < each.busy <= 1 for each in found)

    def test_what_cannot_be_planned_is_refused(self) -> None:
        with pytest.raises(ValueError, match="0 fencers: give from 1"):
            replace(self.plan, fencers=0)
        with pytest.raises(ValueError, match="an end after the beginning"):
            replace(self.plan, hours=(NOW, NOW))
        with pytest.raises(ValueError, match="nothing to do"):
            replace(self.plan, bag={"glove": 1})
        with pytest.raises(ValueError, match="numbers from 1 to 30"):
            planned(self.plan, [0], seed=1)


def test_a_simulated_day_serves_everybody_and_keeps_its_law() -> None:
    rng = np.random.default_rng(9)
    law = drawn_law(rng, 1)
    day = run(law, rng)
    assert len(day.came) == FENCERS
    for stage in range(2):
        assert len([each for each in day.done if each.stage == stage]) == day.items.sum()
    quiet = [np.diff([each.at for each in day.done if each.post == post]).max() for post in range(4)]
    assert max(quiet) >= 20 * 60


@pytest.mark.slow
def test_halfway_the_end_is_forecast_within_ten_minutes_on_four_days_of_five() -> None:
    """The acceptance of the issue: 50 days by an independent script, laws and rates not given, one station away for 20 minutes."""
    days = [measured(number, seed=1) for number in range(50)]
    assert np.mean([abs(day.error) <= WITHIN for day in days]) >= 0.8
    assert 0.8 <= np.mean([day.held for day in days]) <= 0.97
    assert np.mean([abs(day.error) for day in days]) < np.mean([abs(day.peer) for day in days])


@pytest.mark.slow
def test_failing_items_are_known_in_four_fifths_of_the_time_of_clause_order() -> None:
    """The acceptance of the issue on six of its days; the benchmark has all 50."""
    days = [played(drawn_day(np.random.default_rng([1, number])), tools=False) for number in range(6)]
    mean = {name: np.mean([day[name].mean for day in days]) for name in days[0]}
    assert mean["learnt"] <= 0.8 * mean["clauses"]
    assert mean["best"] <= mean["learnt"]
    for day in days:
        assert day["learnt"].sound == pytest.approx(day["clauses"].sound)
        assert day["learnt"].count == day["clauses"].count
