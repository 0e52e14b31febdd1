"""Days of weapon control, simulated by a script of their own, and how well the end of each is forecast halfway."""
