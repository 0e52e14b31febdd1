"""PDFs as people see them: pages as pictures, and the codes on them as a scanner reads them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pypdfium2  # type: ignore[import-untyped]  # it says nothing about its types
import zxingcpp

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Read", "codes_of", "pictures", "scanned"]

POINT = 25.4 / 72
"""A point [mm]."""
SCALE = 200 / 72
"""200 dots to the inch: what a cheap printer and a phone's camera make of a page."""


@dataclass(frozen=True)
class Read:
    """A code that was read on a page: its text, and where its middle is [mm]."""

    text: str
    x: float
    y: float


def pictures(pdf: bytes) -> list[NDArray[Any]]:
    """Return the pages as pictures, rows of grey values."""
    document = pypdfium2.PdfDocument(pdf)
    found = [np.asarray(page.render(scale=SCALE, grayscale=True).to_pil()) for page in document]
    document.close()
    return found


def scanned(pdf: bytes) -> list[list[Read]]:
    """Return the QR codes on each page, in reading order."""
    return [sorted(codes_of(page), key=lambda each: (round(each.y / 5), each.x)) for page in pictures(pdf)]


def codes_of(page: NDArray[Any]) -> list[Read]:
    dot = POINT / SCALE
    found = []
    for each in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)):
        corners = (each.position.top_left, each.position.bottom_right)
        x, y = (sum(getattr(corner, way) for corner in corners) / 2 * dot for way in "xy")
        found.append(Read(each.text, x, y))
    return found
