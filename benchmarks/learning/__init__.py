"""What a club's own repairs are worth to the advice, on simulated clubs."""
