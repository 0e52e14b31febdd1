"""Draw the field card of each weapon up and play what is printed in three worlds: `python -m benchmarks.cards`."""

from __future__ import annotations

import argparse
import time
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.cards.play import WORLDS, Game
from foible.apparatus import load_profile
from foible.diagnosis import Reasoner, build_plan
from foible.kit import load_setup
from foible.output import card_of
from foible.services.complained import complained
from foible.situation import Situation
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from numpy.typing import NDArray

TOOLS = {"foil": ("spare",), "épée": ("spare", "weight", "shims"), "sabre": ("spare",)}
"""What is at hand for each weapon's card."""
BUDGET_S = 180.0


def _weapon(weapon: str, tools: tuple[str, ...], cases: int, seed: int) -> None:
    setup = load_setup(weapon)
    reasoner = Reasoner(setup, load_profile(setup.profile), ideas=load_catalogue(setup))
    situation = Situation(tools=tools)
    complaints = complained(setup, situation.facts)
    began = time.perf_counter()
    plan = build_plan(reasoner, situation, BUDGET_S, complaints)
    drawn = time.perf_counter() - began
    card = card_of(setup, plan)
    print(f"{weapon}, {', '.join(tools)}: {len(card.steps)} steps, drawn up in {drawn:.0f} s")
    print(f"  the card says: right {plan.right:.0%}, undecided {plan.undecided:.0%}")
    hearsay = {each.say: each.shown.hearsay for each in complaints}
    shown = {each.say: each.shown for each in complaints}
    for world in WORLDS:
        game = Game(reasoner, plan, card, world, seed)
        rows = []
        for tree in plan.trees:
            for say, share in ((tree.say, tree.share), *tree.mirrored):
                runs = list(game.play(tree, shown[tree.say], hearsay[say], cases))
                means = np.mean([(run.right, not run.decided, run.seconds) for run in runs], axis=0)
                rows.append((say, share, means))
        shares, table = np.array([share for _, share, _ in rows]), np.stack([means for _, _, means in rows])
        print(f"  {world.name:15}  {_told(shares @ table)};  all complaints alike: {_told(table.mean(axis=0))}")
        for say, share, means in rows:
            print(f"      {share:4.0%}  {say:45} {_told(means)}")


def _told(means: NDArray[np.float64]) -> str:
    right, undecided, seconds = means.tolist()
    return f"right {right:4.0%}, undecided {undecided:4.0%}, {seconds:3.0f} s"


def main() -> None:
    """Play the card of each weapon, or of those named."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.cards", description=__doc__)
    parser.add_argument("weapons", nargs="*", default=list(TOOLS), help="foil, épée, sabre; by default all")
    parser.add_argument("--cases", type=int, default=400, help="cases for each complaint and world")
    parser.add_argument("--seed", type=int, default=2026)
    given = parser.parse_args()
    for weapon in given.weapons:
        _weapon(weapon, TOOLS.get(weapon, ("spare",)), given.cases, given.seed)


if __name__ == "__main__":
    main()
