"""Foible works back from what lit to the part that failed."""

__version__ = "0.1.0"
__all__ = ["__version__"]
