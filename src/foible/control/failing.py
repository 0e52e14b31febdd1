"""How often tests fail: Beta–binomial with partial pooling; tests done and failed in, chances out.

Of n items that came to a test, f failed it:

    f ~ Binomial(n, p),   p ~ Beta(k, k (1 − μ) / μ)   (mean μ),   so p | f ~ Beta(k + f, k (1 − μ) / μ + n − f).

μ is the usual chance times a level L that all tests of the day share: a careless field fails more of everything. The shape k says
how alike tests are to what is usual, in the same terms as `learning.rates`: with a large one counts move little, with a small
one they are believed. Neither is known; `SPREADS` by `LIKELY` and `LEVELS` by `LEVEL_LIKELY` are weighed beforehand, and then by
the Beta–binomial chance of the counts. (Conjugate pair and pooling: Gelman et al., Bayesian Data Analysis, 3rd ed., 2.4 and 5.3.)

An item leaves a station at its first failure, so what comes later in the order sees fewer items, and n counts those that
it saw. Where tests fail independently of each other this is no bias.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.learning.gammas import log_gamma
from foible.learning.rates import SPREADS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["LEVELS", "LIKELY", "BetaMixture", "failure_chances"]

LIKELY = (1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.2, 0.1, 0.1, 0.1)
"""How likely each of `SPREADS` is beforehand. Judgement: no counted rejections of a weapon control have been published that we
know of, so the usual chances are weak, and few results may overrule them."""
LEVELS = tuple(2.0**power for power in (-3, -2, -1, 0, 1, 2, 3))
LEVEL_LIKELY = (0.05, 0.1, 0.2, 0.3, 0.2, 0.1, 0.05)
"""How likely it is that everything fails an eighth … eight times as often as is usual. Judgement."""
MOST_USUAL = 0.9
"""No level lifts a usual chance above it, so that both parameters stay above 0."""
LOGIT_GRID = np.linspace(-16.0, 12.0, 2801)
"""Where distributions are tabulated, evenly by the log odds; a step is 1 % of the odds."""
NEGLIGIBLE = 1e-5
SURE = (0.05, 0.95)


@dataclass(frozen=True)
class BetaMixture:
    """T chances, each a mixture of the same C components: Beta distributions with their own `a` and `b`.

    `weight`: of the components, shape (C,), adds up to 1. `a`, `b`: shape (C, T).
    """

    weight: Floats
    a: Floats
    b: Floats

    @property
    def mean(self) -> Floats:
        """The mean of each chance, shape (T,): that the next item fails."""
        return np.asarray(self.weight @ (self.a / (self.a + self.b)))

    def interval(self, sure: tuple[float, float] = SURE) -> tuple[Floats, Floats]:
        """Return between what each chance lies, shape (T,) twice; usually with 90 %. Right to about 1 % of its odds."""
        density = np.zeros((len(LOGIT_GRID), self.a.shape[1]))
        log_p, log_q = -np.logaddexp(0, -LOGIT_GRID)[:, None], -np.logaddexp(0, LOGIT_GRID)[:, None]
        for weight, a, b in zip(self.weight, self.a, self.b, strict=True):
            if weight > NEGLIGIBLE:
                density += weight * np.exp(a * log_p + b * log_q - _log_beta(a, b))
        below = np.vstack([np.zeros(density.shape[1]), np.cumsum((density[1:] + density[:-1]) / 2, axis=0)])
        below /= below[-1]
        low, high = (np.array([np.interp(chance, column, LOGIT_GRID) for column in below.T]) for chance in sure)
        return 1 / (1 + np.exp(-low)), 1 / (1 + np.exp(-high))


def failure_chances(failed: Floats, tested: Floats, usual: Floats) -> BetaMixture:
    """Return what is believed of the chance to fail each test after `failed` of `tested` items did; shape (T,) each.

    `usual`: the chance that would be no surprise, above 0 and below 1.
    Raises ValueError for shapes that differ, counts that cannot be, and usual chances outside.
    """
    if not failed.shape == tested.shape == usual.shape or (failed < 0).any() or (failed > tested).any():
        msg = f"{failed} failed of {tested}: give as many of each as there are tests, and no more failed than tested"
        raise ValueError(msg)
    if not ((usual > 0) & (usual < 1)).all():
        msg = f"usual chances to fail {usual}: give chances above 0 and below 1"
        raise ValueError(msg)
    spread, level = (each.ravel() for each in np.meshgrid(SPREADS, LEVELS, indexing="ij"))
    likely = np.outer(LIKELY, LEVEL_LIKELY).ravel()
    mean = np.minimum(level[:, None] * usual, MOST_USUAL)
    a = np.broadcast_to(spread[:, None], mean.shape)
    b = a * (1 - mean) / mean
    logs = (_log_beta(a + failed, b + tested - failed) - _log_beta(a, b)).sum(axis=1)
    weight = likely * np.exp(logs - logs.max())
    return BetaMixture(weight / weight.sum(), a + failed, b + tested - failed)


def _log_beta(a: Floats, b: Floats) -> Floats:
    return log_gamma(np.asarray(a)) + log_gamma(np.asarray(b)) - log_gamma(np.asarray(a + b))
