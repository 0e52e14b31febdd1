"""The terminal surface: thin over the services, no reasoning in it.

The command `foible` prints its version and its options at once: modules of commands import nothing heavy at their top, and each
command loads what it needs when it runs.
"""

__all__: list[str] = []
