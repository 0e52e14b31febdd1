"""How right, how fast and how honest the advice is, on simulated faults."""
