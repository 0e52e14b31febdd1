"""Measurements: speed as ratios in one run, accuracy on simulated faults."""
