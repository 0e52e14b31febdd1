"""Pages of the rulebook."""
