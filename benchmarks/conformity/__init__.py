"""Whether the probability of conformity can be believed near a limit, and whether a chosen risk is kept."""
