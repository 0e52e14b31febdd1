"""A weapon in; out, how its circuit works step by step, each step worked out by the model that finds faults."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.kit import kit_stamp, load_setup
from foible.practice import LampMeaning, StepShown, Walk, lamp_meanings, load_walk, worked

if TYPE_CHECKING:
    from pathlib import Path

    from foible.services.reasoning import Reasoning

__all__ = ["LampMeaning", "StepShown", "Walk", "lamps_of", "step_shown", "walk_of"]

STEPS = 64
"""Steps of which the workings stay in memory: more than all weapons have together."""


def walk_of(reasoning: Reasoning, weapon: str) -> Walk:
    """Return the steps in which the circuit of a weapon is gone through; a weapon of a kit folder may have none."""
    return load_walk(reasoning.setup(weapon))


def lamps_of(reasoning: Reasoning, weapon: str) -> tuple[LampMeaning, ...]:
    """Return what each lamp of a weapon means."""
    return lamp_meanings(reasoning.weapon(weapon))


def step_shown(reasoning: Reasoning, weapon: str, name: str) -> StepShown:
    """Return a step by its name, worked out. Raises UnknownNameError."""
    return _worked(reasoning.weapon(weapon).name, name, reasoning.overlays, kit_stamp(reasoning.overlays))


@lru_cache(maxsize=STEPS)
def _worked(weapon: str, name: str, overlays: tuple[Path, ...], stamp: object) -> StepShown:
    del stamp
    setup = load_setup(weapon, overlays=overlays)
    return worked(setup, load_walk(setup).step(name))
