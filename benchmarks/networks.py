"""Networks solved per second on the foil set-up at rest: star-mesh elimination beside direct solves.

    OPENBLAS_NUM_THREADS=1 python benchmarks/networks.py

One thread, as ours has no more, and as more of them only slow LAPACK down at this size.

All ways start from the same branch conductances and end in the same lamps; that they agree is checked before anything is
timed. The peers are what NumPy and SciPy offer for many small systems: the Laplacians of all networks, grounded at the
piste, as a stack for `numpy.linalg.solve` or `numpy.linalg.inv` (batched dense LAPACK), or as the blocks of one sparse
matrix for `scipy.sparse.linalg.splu`. They are spared the making of the conductances, which is part of our own figure for
an arrangement. Rates are the best of several repeats; a ratio says how many times as fast ours is.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING
from unittest.mock import patch

import numpy as np
from scipy.sparse import csc_array, eye_array
from scipy.sparse.linalg import splu

from foible.apparatus import lamp_chances, load_profile, weapon_ports
from foible.circuit import Shape, port_resistances
from foible.diagnosis.shown.hypotheses import all_hypotheses
from foible.diagnosis.shown.lamps import Dictionary
from foible.kit import SIDES, load_setup, weapon_at
from foible.trials import Arrangement

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from foible.apparatus import Profile

BATCH = 256
"""Networks per stack of Laplacians: some 70 MB of doubles."""
LEAK = 1e-12
"""From every node to ground, so that no Laplacian is singular where nodes fall apart [S]."""
LARGE = 50_000
"""Networks of the large batch."""
PEER_LARGE = 2_048
"""How many of them a peer gets: it works through them in stacks of `BATCH`, so more would not change its rate."""
REPEATS, PEER_REPEATS = 30, 5
"""A peer takes a hundred times as long."""

OHMS_THAT_COUNT = 1e6
"""Above this the leak shows, and every apparatus takes the circuit for open [Ω]."""
TOLERANCE = 1e-3
"""Largest difference that is let pass: relative for a resistance, absolute for the probability of a lamp."""


@dataclass(frozen=True)
class DirectSolves:
    """The peers: terminal meshes of networks of one shape from their grounded Laplacians."""

    shape: Shape

    @cached_property
    def ends(self) -> NDArray[np.intp]:
        """Node numbers of each branch, shape (branches, 2): terminals first, but the last of them, the ground, last."""
        *terminals, ground = self.shape.terminals
        nodes = [node for pair in self.shape.ends for node in pair if node != ground]
        number = {name: i for i, name in enumerate((*dict.fromkeys([*terminals, *nodes]), ground))}
        return np.array([(number[a], number[b]) for a, b in self.shape.ends])

    @property
    def order(self) -> int:
        """Unknowns per network."""
        return int(self.ends.max())

    @property
    def live(self) -> int:
        """Terminals besides the ground."""
        return len(self.shape.terminals) - 1

    def laplacians(self, siemens: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the grounded Laplacians, shape (networks, order, order) [S]."""
        stack = np.zeros((siemens.shape[1], self.order + 1, self.order + 1))
        for row, (a, b) in zip(siemens, self.ends.tolist(), strict=True):
            stack[:, a, a] += row
            stack[:, b, b] += row
            stack[:, a, b] -= row
            stack[:, b, a] -= row
        each = np.arange(self.order)
        stack[:, each, each] += LEAK
        return stack[:, :-1, :-1]

    def dense_solve(self, siemens: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return volts at the live terminals for 1 A into each of them, shape (networks, live, live) [Ω]."""
        volts = np.linalg.solve(self.laplacians(siemens), np.eye(self.order, self.live))
        return np.asarray(volts[:, : self.live], dtype=np.float64)

    def dense_inverse(self, siemens: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the same as a corner of the whole inverse."""
        inverse = np.linalg.inv(self.laplacians(siemens))
        return np.asarray(inverse[:, : self.live, : self.live], dtype=np.float64)

    def sparse_lu(self, siemens: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the same from one sparse matrix with a block for each network."""
        count = siemens.shape[1]
        a, b = self.ends.T
        rows, columns = np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])
        alive = (rows < self.order) & (columns < self.order)
        values = np.concatenate([siemens, siemens, -siemens, -siemens])[alive]
        blocks = self.order * np.arange(count)
        places = ((rows[alive, None] + blocks).ravel(), (columns[alive, None] + blocks).ravel())
        size = count * self.order
        matrix = csc_array((values.ravel(), places), shape=(size, size)) + LEAK * eye_array(size, format="csc")
        # Diagonally dominant, so it needs no pivoting and may keep its symmetric order.
        factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        volts = factors.solve(np.tile(np.eye(self.order, self.live), (count, 1)))
        return volts.reshape(count, self.order, self.live)[:, : self.live]

    def conductances(self, siemens: NDArray[np.float64], solver: Solver) -> NDArray[np.float64]:
        """Return what `Shape.conductances` returns: the mesh between the terminals, shape (pairs, networks) [S]."""
        out = np.empty((len(self.shape.pairs), siemens.shape[1]))
        for start in range(0, siemens.shape[1], BATCH):
            part = slice(start, start + BATCH)
            response = np.linalg.inv(solver(self, siemens[:, part]))
            for row, (i, j) in enumerate(self.shape.pairs):
                mesh = response[:, i].sum(axis=1) if j == self.live else -response[:, i, j]
                out[row, part] = np.maximum(mesh, 0.0)  # rounding may leave a hair below nothing
        return out


Solver = Callable[[DirectSolves, "NDArray[np.float64]"], "NDArray[np.float64]"]

PEERS: dict[str, Solver] = {
    "dense LAPACK, solve": DirectSolves.dense_solve,
    "dense LAPACK, inv": DirectSolves.dense_inverse,
    "sparse LU of all blocks": DirectSolves.sparse_lu,
}


def branch_conductances(dictionary: Dictionary, arrangement: Arrangement) -> tuple[Shape, NDArray[np.float64]]:
    """Return the shape of an arrangement and the branch conductances of all its networks, as the dictionary makes them."""
    with patch.object(Shape, "conductances", autospec=True, side_effect=Shape.conductances) as calls:
        dictionary.solve(arrangement)
    shape, siemens = calls.call_args_list[0].args  # the ports of the lamps follow, on meshes of a few terminals
    return shape, siemens


def check_agreement(
    profile: Profile, shape: Shape, ours: NDArray[np.float64], theirs: NDArray[np.float64]
) -> tuple[float, float]:
    """Return the largest differences between resistances (relative) and between lamps (absolute).

    AssertionError where they are too large, or where one way finds a circuit open that the other finds closed.
    """
    ports = [port for side in SIDES for port in weapon_ports(weapon_at("foil"), side).values()]
    first, second = (port_resistances(shape, mesh, ports) for mesh in (ours, theirs))
    closed = first < OHMS_THAT_COUNT
    assert np.array_equal(closed, second < OHMS_THAT_COUNT), "open by one way and closed by the other"
    ohms = float(np.abs(second[closed] / first[closed] - 1).max())
    lamps = float(np.abs(lamp_chances(profile, shape, theirs) - lamp_chances(profile, shape, ours)).max())
    assert max(ohms, lamps) < TOLERANCE, f"resistances differ by {ohms:.1e} (relative), lamps by {lamps:.1e}"
    return ohms, lamps


def best_rate(networks: int, repeats: int, work: Callable[[], object]) -> float:
    """Return networks per second in the fastest of several repeats."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return networks / min(seconds)


def print_table(title: str, ours: tuple[str, float], peers: dict[str, float]) -> None:
    """Print networks per second, ours first, and how many times each of the others ours is."""
    print(f"\n{title:58} {'networks/s':>12} {'ours is':>9}")
    print(f"  {ours[0]:56} {ours[1]:12,.0f}")
    for name, rate in peers.items():
        print(f"  {name:56} {rate:12,.0f} {ours[1] / rate:7.0f} ×")


def time_to_lamps(dictionary: Dictionary, profile: Profile, shape: Shape, siemens: NDArray[np.float64]) -> None:
    """Print the rates for all failures in one arrangement."""
    peer, count, rest = DirectSolves(shape), siemens.shape[1], Arrangement()

    def lamps(solver: Solver) -> object:
        return lamp_chances(profile, shape, peer.conductances(siemens, solver))

    print_table(
        f"{count:,} networks, to lamps",
        ("star-mesh, making of the conductances included", best_rate(count, REPEATS, partial(dictionary.solve, rest))),
        {name: best_rate(count, PEER_REPEATS, partial(lamps, solver)) for name, solver in PEERS.items()},
    )


def time_to_meshes(shape: Shape, siemens: NDArray[np.float64]) -> None:
    """Print the rates for a large batch, made of the same networks over and over."""
    peer, large = DirectSolves(shape), np.tile(siemens, -(-LARGE // siemens.shape[1]))[:, :LARGE]
    print_table(
        f"{LARGE:,} networks, to meshes",
        ("star-mesh", best_rate(LARGE, REPEATS, partial(shape.conductances, large))),
        {
            name: best_rate(PEER_LARGE, PEER_REPEATS, partial(peer.conductances, large[:, :PEER_LARGE], solver))
            for name, solver in PEERS.items()
        },
    )


def main() -> None:
    """Check that all ways agree, then time them."""
    setup = load_setup("foil")
    profile = load_profile(setup.profile)
    dictionary = Dictionary(setup, profile, all_hypotheses(setup))
    shape, siemens = branch_conductances(dictionary, Arrangement())
    peer, ours = DirectSolves(shape), shape.conductances(siemens)
    print(f"Foil set-up at rest: {siemens.shape[1]:,} networks of {peer.order + 1} nodes, {len(siemens)} branches.")
    for name, solver in PEERS.items():
        ohms, lamps = check_agreement(profile, shape, ours, peer.conductances(siemens, solver))
        print(f"Agrees with {name}: resistances within {ohms:.0e} (relative), lamps within {lamps:.0e}.")
    time_to_lamps(dictionary, profile, shape, siemens)
    time_to_meshes(shape, siemens)


if __name__ == "__main__":
    main()
