"""The terminal surface: thin over the façade, no reasoning in it."""

import os

__all__: list[str] = []

# Matrices are small here: more threads only fight over the cores. It counts when it is set before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
