"""The shop as it stands on what is printed: how it signs, and its logo."""

from dataclasses import dataclass
from typing import Final

from PIL import Image

from ...load.files.pictures import drawn_anew

MOST_MB: Final = 1
MOST_BYTES: Final = MOST_MB * 1024 * 1024
MOST_PIXELS: Final = 3000
"""Of either side."""
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


def logo_of(logo: bytes) -> Image.Image:
    """A logo, ready to be printed; `ReadError`: it is too large, too wide, or no PNG or JPEG picture."""
    return drawn_anew("logo", logo, MOST_MB, MOST_PIXELS, SHOWN_PIXELS)
