"""The printed field card, followed step by step against simulated faults."""
