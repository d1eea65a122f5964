"""Pictures that come from outside: judged by their head before a pixel is unpacked, and drawn anew.

What is drawn anew holds pixels alone: no place, no time, no other file behind the picture.
"""

import io
import struct
import warnings
from typing import Final

from PIL import Image, ImageOps

from ...errors import ReadError

PHOTO_MB: Final = 20  # A photo beyond this is refused. [MB]
PHOTO_PIXELS: Final = 8_200  # The most of either side: cameras of 50 million pixels have fewer.
KEPT_PIXELS: Final = 1_600  # To which the longer side is brought down: a rating plate stays readable.
KEPT_BYTES: Final = 400_000
QUALITIES: Final = (85, 70, 55, 40)  # Of JPEG, tried one after the other; then the picture is made smaller.


def drawn_anew(field: str, content: bytes, most_mb: int, most_pixels: int, shown: int) -> Image.Image:
    """Draw a picture upright, on white and with sides of `shown` pixels at most.

    Raises `ReadError`: it is larger than `most_mb`, a side has more than `most_pixels`, or it is no picture.
    """
    if len(content) > most_mb * 1024 * 1024:
        raise ReadError(field, "is larger than {most} MB", most_mb)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what a camera wrote wrongly beside the pixels
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture: Image.Image = Image.open(io.BytesIO(content), formats=("PNG", "JPEG"))
            wide = max(picture.size) > most_pixels
            if not wide:
                picture.draft(None, (shown, shown))  # a JPEG is unpacked at half its size or less, where that will do
                picture = ImageOps.exif_transpose(picture.convert("RGBA"))
    except (
        OSError, ValueError, SyntaxError, LookupError, TypeError, OverflowError, struct.error,
        Image.DecompressionBombError, Image.DecompressionBombWarning,
    ):  # fmt: skip
        raise ReadError(field, "is not a PNG or JPEG picture that can be read") from None
    if wide:
        raise ReadError(field, "is more than {most:,} pixels wide or high", most_pixels)
    picture.thumbnail((shown, shown))
    flat = Image.new("RGB", picture.size, "white")
    flat.paste(picture, mask=picture.getchannel("A"))
    return flat


def photo(field: str, content: bytes) -> bytes:
    """Draw a photo anew as a JPEG picture that is small enough to be kept with a visit; `ReadError` as `drawn_anew`."""
    picture = drawn_anew(field, content, PHOTO_MB, PHOTO_PIXELS, KEPT_PIXELS)
    while True:
        for quality in QUALITIES:
            made = io.BytesIO()
            picture.save(made, "JPEG", quality=quality)
            if made.tell() <= KEPT_BYTES:
                return made.getvalue()
        picture = picture.reduce(2)
