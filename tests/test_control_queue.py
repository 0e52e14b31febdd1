"""Queues: Erlang's and Pollaczek's formulas against published values, limits and SimPy; the stage that is simulated, too."""

from __future__ import annotations

from math import exp, factorial
from typing import TYPE_CHECKING

import numpy as np
import pytest
import simpy

from foible.control.posts import Closed, Work, done_with
from foible.control.queueing import (
    chance_blocked,
    chance_of_waiting,
    fewest_servers,
    wait_any_service,
    wait_exponential,
    wait_one_server,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


def by_simpy(came: Sequence[float], seconds: Sequence[float], servers: int) -> list[float]:
    """Return when each is done, first come, first served; SimPy's own resource keeps the queue."""
    world, done = simpy.Environment(), [0.0] * len(came)
    desk = simpy.Resource(world, servers)

    def one(number: int) -> Iterator[simpy.Event]:
        yield world.timeout(came[number])
        with desk.request() as turn:
            yield turn
            yield world.timeout(seconds[number])
        done[number] = world.now

    for number in range(len(came)):
        world.process(one(number))
    world.run()
    return done


def alike(ready: np.ndarray, seconds: np.ndarray, posts: int, closed: Sequence[Closed] = ()) -> np.ndarray:
    return done_with(ready, Work(seconds, np.zeros_like(seconds)), np.ones((len(ready), posts)), closed)


class TestFormulas:
    @pytest.mark.parametrize(
        ("servers", "load", "last"),
        [
            (1, 0.0101, 1e-4),
            (2, 0.153, 1e-3),
            (5, 1.36, 1e-2),
            (10, 4.46, 1e-2),
            (20, 12.0, 0.1),
            (50, 37.9, 0.1),
            (100, 84.1, 0.1),
        ],
    )
    def test_erlang_b_is_the_published_table_at_one_per_cent(self, servers: int, load: float, last: float) -> None:
        """The usual table of the traffic that N lines carry at 1 % blocking, three figures, as any teletraffic handbook has it.

        From memory. The load that gives 1 % rounds to the one in the table: `last` is the unit of its last figure.
        """
        assert chance_blocked(servers, load - last / 2) <= 0.01 <= chance_blocked(servers, load + last / 2)

    def test_the_eye_clinic(self) -> None:
        """M/M/3, six an hour, twenty minutes each: p0 = 1/9, Lq = 8/9, Wq = 4/27 h = 8.9 min.

        Gross, Shortle, Thompson & Harris, Fundamentals of Queueing Theory, the example of an eye clinic; figures from memory, and
        3! (3 − 2) / 2³ … worked by hand: Lq = p0 r³ ρ / (3! (1 − ρ)²) with r = 2, ρ = 2/3.
        """
        found = wait_exponential(6 / 3600, 1200, 3)
        assert found.mean / 3600 == pytest.approx(4 / 27)
        assert found.chance == pytest.approx(4 / 9)
        assert found.busy == pytest.approx(2 / 3)

    @pytest.mark.parametrize(("servers", "load"), [(1, 0.3), (4, 2.5), (12, 11.0)])
    def test_erlang_c_is_the_sum_that_defines_it(self, servers: int, load: float) -> None:
        top = load**servers / factorial(servers) * servers / (servers - load)
        whole = sum(load**number / factorial(number) for number in range(servers)) + top
        assert chance_of_waiting(servers, load) == pytest.approx(top / whole)

    def test_one_server_by_hand(self) -> None:
        """M/M/1: Wq = ρ / (μ − λ), P(W > t) = ρ exp(−(μ − λ) t); M/D/1 waits half as long."""
        found = wait_exponential(0.8, 1.0, 1)
        assert found.mean == pytest.approx(0.8 / 0.2)
        assert found.longer_than(5) == pytest.approx(0.8 * exp(-0.2 * 5))
        assert wait_one_server(0.8, 1.0, 1.0).mean == pytest.approx(found.mean)
        assert wait_one_server(0.8, 1.0, 0.0).mean == pytest.approx(found.mean / 2)

    def test_any_service_is_exact_at_both_ends(self) -> None:
        assert wait_any_service(0.8, 1.0, 0.4, 1).mean == pytest.approx(wait_one_server(0.8, 1.0, 0.4).mean)
        assert wait_any_service(2.0, 1.0, 1.0, 3).mean == pytest.approx(wait_exponential(2.0, 1.0, 3).mean)

    def test_the_fewest_servers_are_just_enough(self) -> None:
        enough = fewest_servers(0.05, 60, 0.7, wait=120)
        assert wait_any_service(0.05, 60, 0.7, enough).mean <= 120
        assert enough == 4 or wait_any_service(0.05, 60, 0.7, enough - 1).mean > 120

    def test_more_than_the_servers_can_carry_is_refused(self) -> None:
        with pytest.raises(ValueError, match="give 4 or more"):
            wait_exponential(3.0, 1.0, 3)
        with pytest.raises(ValueError, match="1 server or more"):
            chance_blocked(0, 1.0)
        assert chance_of_waiting(2, 5.0) == 1.0


class TestStage:
    @pytest.mark.parametrize("posts", [1, 2, 5])
    def test_it_is_simpys_queue_to_the_second(self, posts: int) -> None:
        rng = np.random.default_rng(posts)
        came = np.sort(rng.uniform(0, 3000, 120))
        seconds = rng.lognormal(3, 1, 120)
        assert alike(came[None], seconds[None], posts)[0].tolist() == pytest.approx(
            by_simpy(came.tolist(), seconds.tolist(), posts)
        )

    def test_many_draws_at_once_are_each_by_themselves(self) -> None:
        rng = np.random.default_rng(3)
        ready, seconds = rng.uniform(0, 900, (4, 30)), rng.exponential(60, (4, 30))
        together = alike(ready, seconds, 3)
        assert together == pytest.approx(np.vstack([alike(ready[[i]], seconds[[i]], 3) for i in range(4)]))

    @pytest.mark.parametrize(("servers", "variation"), [(1, 1.0), (1, 0.5), (3, 1.0)])
    def test_long_runs_wait_as_long_as_the_formulas_say(self, servers: int, variation: float) -> None:
        """M/M/1, M/G/1 with gamma service and M/M/3, a load of 0.7 for each server; 400 runs, the first 300 in each left out."""
        rng = np.random.default_rng(11)
        runs, count, service = 400, 1200, 60.0
        rate = 0.7 * servers / service
        came = np.cumsum(rng.exponential(1 / rate, (runs, count)), axis=1)
        seconds = rng.gamma(variation**-2, service * variation**2, (runs, count))
        waits = (alike(came, seconds, servers) - came - seconds)[:, 300:].mean(axis=1)
        expected = wait_any_service(rate, service, variation, servers).mean
        off = 4 * waits.std() / np.sqrt(runs)
        assert off < 0.1 * expected
        assert waits.mean() == pytest.approx(expected, abs=off)

    def test_simpy_waits_as_long_as_erlang_says(self) -> None:
        """M/M/3 at a load of 0.7 each, ten runs of 1,000."""
        rng = np.random.default_rng(5)
        waits = []
        for _ in range(10):
            came, seconds = np.cumsum(rng.exponential(20 / 0.7, 1000)), rng.exponential(60, 1000)
            waits.append(float(np.mean(np.array(by_simpy(came.tolist(), seconds.tolist(), 3)) - came - seconds)))
        expected = wait_exponential(0.7 / 20, 60, 3).mean
        assert np.mean(waits) == pytest.approx(expected, abs=4 * float(np.std(waits)) / np.sqrt(10))

    def test_a_closed_post_begins_nothing_and_finishes_later_what_it_has(self) -> None:
        """One post, closed from 100 to 400; bags of 80 s ready at 0, 50 and 200: 80; 80 … 100 and 400 … 460; 540."""
        done = alike(np.array([[0.0, 50.0, 200.0]]), np.full((1, 3), 80.0), 1, [Closed(0, 100, 400)])
        assert done.tolist() == [[80, 460, 540]]

    def test_another_post_takes_what_a_closed_one_cannot(self) -> None:
        done = alike(np.zeros((1, 3)), np.full((1, 3), 80.0), 2, [Closed(0, -np.inf, 200)])
        assert done.tolist() == [[80, 160, 240]]

    def test_who_closes_for_good_finishes_what_was_begun(self) -> None:
        done = alike(np.zeros((1, 2)), np.full((1, 2), 80.0), 1, [Closed(0, 50, np.inf)])
        assert done.tolist() == [[80, np.inf]]

    def test_what_has_nothing_to_do_here_passes_at_once(self) -> None:
        done = alike(np.array([[0.0, 10.0]]), np.array([[80.0, 0.0]]), 1)
        assert done.tolist() == [[80, 10]]

    def test_a_slower_post_takes_longer_and_an_absence_as_long_whatever_the_post(self) -> None:
        work = Work(np.array([[60.0]]), np.array([[300.0]]))
        assert done_with(np.zeros((1, 1)), work, np.array([[1.5]])).tolist() == [[390]]
