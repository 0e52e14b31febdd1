"""A case file for a test, written from a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def written(folder: Path, text: str) -> Path:
    """Write a case file."""
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8")
    return path
