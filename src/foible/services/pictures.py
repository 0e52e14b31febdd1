"""The bytes of somebody's photo in; out, two clean JPEGs of bounded size, with nothing of the file but what can be seen."""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from foible.errors import InputError

__all__ = ["MOST_BYTES", "MOST_PIXELS", "Picture", "cleaned"]

MOST_BYTES = 15_000_000
"""The largest photo that is taken [byte]; those of phones have 2 to 12 MB."""
MOST_PIXELS = 64_000_000
"""The largest photo that is decoded, width times height; a file of a few kB can claim any number of them."""
LARGE, SMALL = 1600, 320
"""The longer side of what is kept, and of what lists and paper show [px]."""
QUALITY = 82
"""Of the JPEGs, on the scale of the library that writes them; judgement, no source."""
KINDS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True)
class Picture:
    """A photo as it is kept: large and small, each a JPEG without any words of the file that it came from."""

    large: bytes = field(repr=False)
    small: bytes = field(repr=False)


def cleaned(raw: bytes) -> Picture:
    """Return a photo upright, sized down, and without place, time, device or any other note in its file.

    The limits hold before anything is decoded. Raises InputError where the file is none of the kinds, too large or broken.
    """
    if len(raw) > MOST_BYTES:
        raise InputError(seen=f"the photo has {len(raw) / 1e6:.0f} MB", remedy=f"send at most {MOST_BYTES / 1e6:.0f} MB")
    try:
        with Image.open(BytesIO(raw), formats=KINDS) as opened:
            _check_size(*opened.size)
            opened.draft("RGB", (LARGE, LARGE))  # a JPEG is decoded no larger than needed
            upright = _on_white(_upright(opened))
    except UnidentifiedImageError as error:
        raise InputError(seen="this file is not a photo", remedy="send a JPEG, PNG or WebP picture") from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_large() from error
    except (OSError, SyntaxError, ValueError) as error:  # what the library raises for a file that breaks off, or that lies
        raise InputError(seen="the photo cannot be read to its end", remedy="take it again, or send another one") from error
    return Picture(_jpeg(upright, LARGE), _jpeg(upright, SMALL))


def _check_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise _too_large()


def _too_large() -> InputError:
    most = f"{MOST_PIXELS / 1e6:.0f} million pixels"
    return InputError(seen=f"the photo has more than {most}", remedy="send a smaller one")


def _upright(opened: Image.Image) -> Image.Image:
    """Return a picture turned as its file says; one that says it in a broken way stays as it lies."""
    try:
        return ImageOps.exif_transpose(opened)
    except Exception:  # noqa: BLE001 — notes break in many ways, and none of them matters; a broken picture fails again later
        return opened


def _on_white(picture: Image.Image) -> Image.Image:
    """Return a picture in plain colours; what is transparent becomes white."""
    whole = Image.new("RGB", picture.size, "white")  # a new one has none of the notes that the opened one carries along
    clear = picture.convert("RGBA") if "A" in picture.getbands() or "transparency" in picture.info else None
    whole.paste(clear or picture.convert("RGB"), mask=clear)
    return whole


def _jpeg(picture: Image.Image, longest: int) -> bytes:
    sized = picture.copy()
    sized.thumbnail((longest, longest))
    out = BytesIO()
    sized.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
