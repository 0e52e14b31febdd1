"""What a registered item and the makes of its parts add to a club's own rates, failure by failure.

In a club's items of one kind failure f was found N times. Of item i, in use for yᵢ years, there were to be expected

    E = N · wᵢ / Σⱼ wⱼ,   w = y × the factors that are known already,

and n were found: a factor m with n ~ Poisson(E m), m ~ Gamma(k, k) (`learning.rates`, with spreads that shrink hard). First come
the makes, slot by slot, each as the group of all items with it; then the item itself, against what its makes leave to be
explained. So nothing counts twice, and what nobody found changes next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.learning import ALIKE, multipliers
from foible.services.register.learned import lines_of, years_used

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from foible.learning import Learned
    from foible.records.experience import Find, ItemFacts
    from foible.services.register.learned import Line

    Floats = np.ndarray

__all__ = ["KindHistory", "OwnHistory"]

LEAST = 1e-3
"""The fewest failures that are expected of anything: a new item has not been in use yet."""


@dataclass(frozen=True)
class OwnHistory:
    """What one item's history, and that of the makes in it, say of its F failures."""

    code: str
    names: tuple[str, ...]
    """Failures by their name without a side."""
    own: Learned
    """Of the item itself, against others of its kind and makes, shape (F,)."""
    makes: Mapping[str, Learned]
    """By make: of items with it, against all of their kind here, shape (F,)."""

    @cached_property
    def times(self) -> dict[str, float]:
        """By what the club's own rate of each failure is multiplied, makes and item together."""
        whole = np.prod([each.mean for each in (self.own, *self.makes.values())], axis=0)
        return dict(zip(self.names, whole.tolist(), strict=True))

    @property
    def lines(self) -> tuple[Line, ...]:
        """What was found at least once, the item's own first; the kind of a line is its make."""
        return tuple(
            line
            for kind, learned in (("", self.own), *self.makes.items())
            for line in sorted(_found(self.names, kind, learned), key=lambda line: -line.count)
        )


class KindHistory:
    """The items of one kind, N of them, with the F failures found in them up to a moment."""

    def __init__(self, items: Sequence[ItemFacts], finds: Sequence[Find], now: datetime) -> None:
        self.items = tuple(items)
        self.names = tuple(dict.fromkeys(find.failure for find in finds))
        row = {item.id: number for number, item in enumerate(self.items)}
        column = {name: number for number, name in enumerate(self.names)}
        self._count = np.zeros((len(self.items), len(self.names)))
        for find in finds:
            if find.item_id in row:
                self._count[row[find.item_id], column[find.failure]] += 1
        years = np.array([years_used(item, now) for item in self.items])
        self._weight = np.repeat(years[:, None], len(self.names), axis=1)
        self._makes: dict[tuple[str, str], Learned] = {}
        if self.names:
            for slot in sorted({slot for item in self.items for slot in item.made_by}):
                self._learn_makes(slot)

    def of(self, code: str) -> OwnHistory | None:
        """Return what is known of one item; None where it is not among them, or nothing was ever found."""
        number = next((number for number, item in enumerate(self.items) if item.code == code), None)
        if number is None or not self.names:
            return None
        own = multipliers(self._count[number], self._expected()[number], ALIKE)
        made_by = self.items[number].made_by
        makes = {f"{make} ({slot})": self._makes[slot, make] for slot, make in sorted(made_by.items())}
        return OwnHistory(code, self.names, own, makes)

    def _learn_makes(self, slot: str) -> None:
        """Learn what each make in a slot is found with; weights take it in from here on."""
        groups: dict[str, list[int]] = {}
        for number, item in enumerate(self.items):
            if slot in item.made_by:
                groups.setdefault(item.made_by[slot], []).append(number)
        expected, width = self._expected(), len(self.names)
        counts = np.array([self._count[rows].sum(axis=0) for rows in groups.values()])
        wanted = np.array([expected[rows].sum(axis=0) for rows in groups.values()])
        learned = multipliers(counts.ravel(), wanted.ravel(), ALIKE)
        for number, (make, rows) in enumerate(groups.items()):
            self._makes[slot, make] = learned.taken(range(number * width, (number + 1) * width))
            self._weight[rows] *= self._makes[slot, make].mean

    def _expected(self) -> Floats:
        """Return how often each failure was to be expected in each item, shape (N, F)."""
        whole = np.maximum(self._weight.sum(axis=0), 1e-9)
        return np.asarray(np.maximum(self._count.sum(axis=0) * self._weight / whole, LEAST))


def _found(names: Sequence[str], kind: str, learned: Learned) -> list[Line]:
    """Return what was found at least once."""
    places = np.flatnonzero(learned.count).tolist()
    return lines_of([names[place] for place in places], [kind] * len(places), learned.taken(places))
