"""Drills of a minute: the model makes the question, the right answer and the wrong ones."""

from foible.practice.drills.drill import CHOICES, Choice, Drill
from foible.practice.drills.making import ANY, DrillSet, one_drill
from foible.practice.drills.pools import drilled_ideas, kind_table, pool_of

__all__ = ["ANY", "CHOICES", "Choice", "Drill", "DrillSet", "drilled_ideas", "kind_table", "one_drill", "pool_of"]
