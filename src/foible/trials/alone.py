"""The trials of a case in; out, the one item on which all of them were made, if there is one.

Who lays a foil on the bench and measures it asks about that foil. A strip set-up has two hundred other parts, each of which might
have failed somewhere; but nobody has complained of a strip, and no lamp of one was seen. What a meter, a gauge, a test box or an
eye finds is about the item that it was used on (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import job_parts, node_item

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Setup
    from foible.trials.trial import Trial

__all__ = ["made_alone"]


def made_alone(setup: Setup, trials: Sequence[Trial]) -> str | None:
    """Return the item that every trial was made on by itself; None where there are several, or lamps of a strip were seen.

    Nor is it enough that somebody looked and found nothing: at the piste that rules an item out.
    """
    looked = all(trial.examine and trial.found == ("fine",) for trial in trials)
    if looked or any(trial.seen or trial.swapped for trial in trials):
        return None
    items = {item for trial in trials for item in _items(setup, trial)}
    return items.pop() if len(items) == 1 else None


def _items(setup: Setup, trial: Trial) -> Iterator[str]:
    """Yield the items that a trial without lamps of a strip is made on."""
    if trial.box:
        yield trial.box
    for place in trial.meter or ():
        yield node_item(setup.places[place])
    if trial.gauge:
        yield f"{trial.gauge[0]} weapon"
    for name in (*trial.examine, *trial.mended):
        yield setup.parts[name].item if name in setup.parts else job_parts(name)[0]
    if trial.meter or trial.box:  # what is still plugged in is measured with it
        yield from (name for name in setup.connections if name not in trial.arrangement.unplugged)
