"""Queues in the steady state: arrivals, service and servers in; waits and the chance of waiting out.

Arrivals come at random (Poisson) at rate λ [1/s] and are served in the order they came, a service taking E[S] = 1/μ [s].

- c servers, exponential service, M/M/c: with a = λ/μ and ρ = a/c < 1, the chance to wait is Erlang's second formula
  C(c, a) = c B / (c − a (1 − B)), B his first, B(c) = a B(c−1) / (c + a B(c−1)), B(0) = 1; the mean wait is
  W_q = C / (c μ − λ).
- one server, any service, M/G/1: W_q = λ E[S²] / (2 (1 − ρ)), Pollaczek–Khinchine.
- c servers, any service: W_q ≈ (1 + cv²)/2 · W_q(M/M/c), Lee & Longton 1959; exact for c = 1 and for cv = 1.

(Shortle, Thompson, Gross & Harris, Fundamentals of Queueing Theory, 5th ed., 3.3, 6.1 and 8.) A control table has no steady
state in the morning, when everybody comes at once: `forecast` and `planning` simulate. These formulas are what the simulation is
held to, and say how many stations can keep up at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, floor

__all__ = [
    "Wait",
    "chance_blocked",
    "chance_of_waiting",
    "fewest_servers",
    "wait_any_service",
    "wait_exponential",
    "wait_one_server",
]


@dataclass(frozen=True)
class Wait:
    """A queue in the steady state: how `busy` each server is [0 … 1), the `chance` to wait, the `mean` wait [s] of all."""

    busy: float
    chance: float
    mean: float

    def longer_than(self, seconds: float) -> float:
        """Return the chance to wait longer than this, P = C exp(−C t / W_q): exact where service is exponential."""
        return self.chance * exp(-self.chance * seconds / self.mean) if self.mean > 0 else 0.0


def chance_blocked(servers: int, load: float) -> float:
    """Return Erlang's B: the chance that all servers are busy where nobody waits. `load` a = λ/μ [erlang]."""
    _check(servers, load)
    blocked = 1.0
    for number in range(1, servers + 1):
        blocked = load * blocked / (number + load * blocked)
    return blocked


def chance_of_waiting(servers: int, load: float) -> float:
    """Return Erlang's C: the chance that who comes has to wait; 1 where the load is more than the servers can carry."""
    blocked = chance_blocked(servers, load)
    return servers * blocked / (servers - load * (1 - blocked)) if load < servers else 1.0


def wait_exponential(rate: float, service: float, servers: int) -> Wait:
    """Return the wait of M/M/c; `rate` λ [1/s], mean `service` [s]. Raises ValueError where the queue grows without end."""
    load = _keeps_up(rate, service, servers)
    chance = chance_of_waiting(servers, load)
    return Wait(load / servers, chance, chance * service / (servers - load))


def wait_one_server(rate: float, service: float, variation: float) -> Wait:
    """Return the wait of M/G/1; `variation` is the standard deviation of a service over its mean. Raises ValueError as above."""
    load = _keeps_up(rate, service, 1)
    return Wait(load, load, rate * service**2 * (1 + variation**2) / (2 * (1 - load)))


def wait_any_service(rate: float, service: float, variation: float, servers: int) -> Wait:
    """Return about the wait of M/G/c, its chance taken from M/M/c. Raises ValueError as above."""
    exponential = wait_exponential(rate, service, servers)
    return Wait(exponential.busy, exponential.chance, exponential.mean * (1 + variation**2) / 2)


def fewest_servers(rate: float, service: float, variation: float, *, wait: float) -> int:
    """Return how many servers keep the mean wait within `wait` [s], in the steady state."""
    servers = max(1, floor(rate * service) + 1)
    while wait_any_service(rate, service, variation, servers).mean > wait:
        servers += 1
    return servers


def _keeps_up(rate: float, service: float, servers: int) -> float:
    """Return the load; refuse one that the servers cannot carry."""
    load = rate * service
    _check(servers, load)
    if load >= servers:
        msg = f"{servers} servers cannot keep up with {load:.3g} that are needed without end: give {floor(load) + 1} or more"
        raise ValueError(msg)
    return load


def _check(servers: int, load: float) -> None:
    if servers < 1 or load < 0:
        msg = f"{servers} servers for a load of {load}: give 1 server or more, and a load from 0 on"
        raise ValueError(msg)
