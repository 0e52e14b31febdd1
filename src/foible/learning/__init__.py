"""What the records of a club teach: how often things fail, how long they last, what will be needed, what is worth mending."""

from foible.learning.choice import Choice, KeptCost, mend_or_retire
from foible.learning.demand import Demand, enough
from foible.learning.gammas import GammaMixture
from foible.learning.lives import Life, Survival, Weibull, fitted_weibull, product_limit
from foible.learning.rates import ALIKE, SPREADS, Learned, multipliers, normalised

__all__ = [
    "ALIKE",
    "SPREADS",
    "Choice",
    "Demand",
    "GammaMixture",
    "KeptCost",
    "Learned",
    "Life",
    "Survival",
    "Weibull",
    "enough",
    "fitted_weibull",
    "mend_or_retire",
    "multipliers",
    "normalised",
    "product_limit",
]
