"""The shop as it stands on what is printed: how it signs, and a logo that is checked before it is decoded."""

import io
import warnings
from dataclasses import dataclass
from typing import Final

from PIL import Image

from ...errors import ReadError

MOST_MB: Final = 1
MOST_BYTES: Final = MOST_MB * 1024 * 1024
MOST_PIXELS: Final = 3000
"""Of either side."""
UNREADABLE: Final = "is not a PNG or JPEG picture that can be read"
LONGEST_VALID: Final = 365
"""A price that is handed over stands for no longer. [day]"""
SHOWN_PIXELS: Final = 600
"""To which a side is brought down: 40 mm at 380 dots an inch."""


@dataclass(frozen=True)
class Shop:
    """How a shop signs what it hands over."""

    name: str = ""
    address: str = ""
    logo: bytes = b""
    """A PNG or JPEG picture; empty for none."""
    phone: str = ""
    licence: str = ""
    technician: str = ""
    valid_days: int = 0
    """For how long a price stands that is handed over; 0 where nobody says. [day]"""


def logo_of(shop: Shop) -> Image.Image | None:
    """The logo, ready to be printed; none where there is none.

    Its size is read from its head and judged before a single pixel is unpacked. Raises `ReadError`: it is too large,
    too wide, or no PNG or JPEG picture.
    """
    if not shop.logo:
        return None
    if len(shop.logo) > MOST_BYTES:
        raise ReadError("logo", "is larger than {most} MB", MOST_MB)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(shop.logo), formats=("PNG", "JPEG"))
            wide = max(picture.size) > MOST_PIXELS
            shown = None if wide else picture.convert("RGBA")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise ReadError("logo", UNREADABLE) from None
    if shown is None:
        raise ReadError("logo", "is more than {most:,} pixels wide or high", MOST_PIXELS)
    shown.thumbnail((SHOWN_PIXELS, SHOWN_PIXELS))
    flat = Image.new("RGB", shown.size, "white")
    flat.paste(shown, mask=shown.getchannel("A"))
    return flat
