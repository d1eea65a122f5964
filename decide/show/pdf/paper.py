"""Sheets of paper: text and plain drawings, turned into a PDF.

It knows nothing of appliances. Lengths are millimetres from the upper left corner, letters are in points. The bytes
depend on what is written and on the day it is dated, and on nothing else. Its letters travel with the program.
"""

import bisect
import datetime
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from fpdf import FPDF
from fpdf.enums import MethodReturnValue

from ..charts.palette import INK, MUTED, RULE

FONTS: Final = Path(__file__).resolve().parent / "fonts"
FACES: Final = {"": "DejaVuSansCondensed.ttf", "B": "DejaVuSansCondensed-Bold.ttf"}

Size = Literal["A4", "Letter"]
Across = Literal["left", "centre", "right"]
Pair = tuple[float, float]
"""A place from the upper left corner, or a width and a height. [mm]"""

SIZES: Final[tuple[Size, ...]] = ("A4", "Letter")
USUAL_SIZE: Final[Mapping[str, Size]] = {"US": "Letter", "EU": "A4"}
"""What is usual in a region."""

MARGIN: Final = 13.0
"""Left, right and above; below it stands the foot as well. [mm]"""
POINT: Final = 25.4 / 72
"""[mm]"""
LACKING: Final = "\ufffd"
"""What stands for a character that the letters lack."""
HATCH: Final = 1.5
"""Between two lines of a pattern. [mm]"""


@dataclass(frozen=True)
class Letters:
    """How text looks: its size in points, weight, colour, and the height of a line against the size."""

    size: float = 8.5
    bold: bool = False
    colour: str = INK
    lead: float = 1.3

    @property
    def height(self) -> float:
        """Height of a line. [mm]"""
        return self.size * self.lead * POINT


PLAIN: Final = Letters()
STRONG: Final = Letters(bold=True)
SMALL: Final = Letters(7.0, colour=MUTED)
TITLE: Final = Letters(15, bold=True, lead=1.2)
HEADING: Final = Letters(9.5, bold=True, lead=1.4)


class Paper:
    """Pages in portrait, written from the top down from `y`; what does not fit goes on to a new page."""

    def __init__(self, size: Size = "A4", language: str = "en", title: str = "", *, on: datetime.date) -> None:
        pdf = FPDF(format=size)
        pdf.set_creation_date(datetime.datetime(on.year, on.month, on.day, tzinfo=datetime.UTC))
        pdf.set_title(title)
        pdf.set_lang(language)
        pdf.set_auto_page_break(False)
        pdf.set_margin(0)
        pdf.c_margin = 0
        for style, file in FACES.items():
            pdf.add_font("letters", style, FONTS / file)
        fonts: list[Any] = list(pdf.fonts.values())
        for font in fonts:
            _hold(font)
        self._pdf = pdf
        self._known = frozenset.intersection(*(frozenset(font.cmap) for font in fonts))
        """Characters that every face has."""
        self._wrapped: dict[tuple[str, Letters, float], list[str]] = {}
        self._breadths: dict[tuple[str, Letters], float] = {}
        self._inked = True
        self.left, self.top = MARGIN, MARGIN
        self.width, self.bottom = pdf.w - 2 * MARGIN, pdf.h - MARGIN - SMALL.height
        pdf.add_page()
        self.y = self.top

    @property
    def pages(self) -> int:
        """How many pages there are so far."""
        return int(self._pdf.page)

    @property
    def room(self) -> float:
        """What is left of the page. [mm]"""
        return self.bottom - self.y

    def new_page(self) -> None:
        """End the page and begin another."""
        self._write_number()
        self._pdf.add_page()
        self.y = self.top

    def output(self) -> bytes:
        """End the last page; the PDF."""
        if self.pages > 1:
            self._write_number()
        return bytes(self._pdf.output())

    def _write_number(self) -> None:
        at, right = self.bottom + 1.5, self.left + self.width
        self.line((self.left, at), (right, at))
        self.say(str(self.pages), (right, at + 1), SMALL, "right")

    # measuring

    def printable(self, text: str) -> str:
        """The text with what the letters lack replaced by a sign that is seen; line breaks become spaces."""
        return "".join(each if ord(each) in self._known else " " if ord(each) < ord(" ") else LACKING for each in text)

    @contextmanager
    def measuring(self) -> Iterator[None]:
        """Lay out without ink, to see how much room it takes; `y` is as before afterwards."""
        inked, y = self._inked, self.y
        self._inked = False
        try:
            yield
        finally:
            self._inked, self.y = inked, y

    def breadth(self, text: str, letters: Letters = PLAIN) -> float:
        """How wide a line of text is. [mm]"""
        known = (text, letters)
        if known not in self._breadths:
            self._take(letters)
            self._breadths[known] = float(self._pdf.get_string_width(self.printable(text)))
        return self._breadths[known]

    def wrapped(self, text: str, width: float, letters: Letters = PLAIN) -> list[str]:
        """The lines of a text folded at words to a width."""
        known = (text, letters, width)
        if known not in self._wrapped:
            self._take(letters)
            lines: Any = self._pdf.multi_cell(width, text=self.printable(text), align="L", dry_run=True, output=LINES)
            self._wrapped[known] = [str(line).rstrip() for line in lines] if text else []
        return self._wrapped[known]

    def fitted(self, text: str, width: float, letters: Letters = PLAIN) -> str:
        """The text on one line of a width, cut with an ellipsis where it is too long."""
        if self.breadth(text, letters) <= width:
            return self.printable(text)
        cuts = range(len(text))
        fits = bisect.bisect_right(cuts, width, key=lambda end: self.breadth(f"{text[:end]}…", letters))
        return self.printable(f"{text[: max(fits - 1, 0)].rstrip()}…")

    # writing, at a place

    def say(self, text: str, at: Pair, letters: Letters = PLAIN, across: Across = "left") -> None:
        """Write one line with its upper edge at a place."""
        shift = {"left": 0.0, "centre": 0.5, "right": 1.0}[across]
        x, shown = at[0] - shift * self.breadth(text, letters), self.printable(text)
        if self._inked and shown:
            self._take(letters)
            self._pdf.set_text_color(letters.colour)
            self._pdf.text(x, at[1] + (letters.height + 0.72 * letters.size * POINT) / 2, shown)

    def block(self, text: str, at: Pair, width: float, letters: Letters = PLAIN) -> float:
        """Write a text folded to a width; where it ends. [mm]"""
        x, y = at
        for line in self.wrapped(text, width, letters):
            self.say(line, (x, y), letters)
            y += letters.height
        return y

    def line(self, start: Pair, end: Pair, colour: str = RULE, thick: float = 0.2, dash: float = 0) -> None:
        """Draw a straight line, whole or in dashes of a length."""
        if self._inked:
            self._pdf.set_draw_color(colour)
            self._pdf.set_line_width(thick)
            self._pdf.set_dash_pattern(dash, 0.7 * dash)
            self._pdf.line(*start, *end)
            self._pdf.set_dash_pattern()

    def box(self, at: Pair, size: Pair, fill: str = "", pattern: str = "", edge: str = "", thick: float = 0.35) -> None:
        """Fill a rectangle, white lines of a pattern over it (`/`, `\\`, `x`, `-`, `.`); or draw its edge; or both."""
        if not self._inked or min(size) <= 0:
            return
        pdf, (x, y), (w, h) = self._pdf, at, size
        if fill:
            pdf.set_fill_color(fill)
            pdf.rect(x, y, w, h, style="F")
        with pdf.rect_clip(x, y, w, h):
            for start, end in _hatching(at, size, pattern):
                self.line(start, end, "#ffffff", 0.25, 0.5 if pattern == "." else 0)
        if edge:
            pdf.set_draw_color(edge)
            pdf.set_line_width(thick)
            pdf.rect(x, y, w, h)

    def mark(self, at: Pair, sides: int = 0, colour: str = INK, reach: float = 1.2) -> None:
        """Draw a small open mark around a point: a circle, or a diamond where it has four sides."""
        if self._inked:
            self._pdf.set_draw_color(colour)
            self._pdf.set_fill_color("#ffffff")
            self._pdf.set_line_width(0.55)
            x, y = at
            if sides:
                corners = [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)]
                self._pdf.polygon(corners, style="DF")
            else:
                self._pdf.circle(x, y, reach, style="DF")

    def picture(self, image: Any, at: Pair, size: Pair, alt: str) -> None:
        """Put a picture, as Pillow holds one, into a rectangle as large as its sides' proportion allows."""
        if self._inked:
            self._pdf.image(image, *at, *size, keep_aspect_ratio=True, alt_text=self.printable(alt))

    # writing, from the top down

    def text(self, text: str, letters: Letters = PLAIN, gap: float = 0.8) -> None:
        """Write a paragraph over the whole width, and leave a gap below it."""
        for line in self.wrapped(text, self.width, letters):
            if letters.height > self.room and self.y > self.top:
                self.new_page()
            self.say(line, (self.left, self.y), letters)
            self.y += letters.height
        self.y += gap

    def _take(self, letters: Letters) -> None:
        self._pdf.set_font("letters", "B" if letters.bold else "", letters.size)


LINES: Final = MethodReturnValue.LINES


def _hold(font: Any) -> None:
    """Keep the file of a face in memory, so that none stays open for as long as the paper lives."""
    opened = font.ttfont.reader.file
    opened.seek(0)
    font.ttfont.reader.file = io.BytesIO(opened.read())
    opened.close()


def _hatching(at: Pair, size: Pair, pattern: str) -> Iterator[tuple[Pair, Pair]]:
    """Lines of a pattern that cross a rectangle, and stick out of it."""
    (x, y), (w, h) = at, size
    steps = range(int((w + h) / HATCH) + 1)
    for step in steps if pattern in ("/", "x") else ():
        yield (x + step * HATCH, y), (x + step * HATCH - h, y + h)
    for step in steps if pattern in ("\\", "x") else ():
        yield (x + step * HATCH - h, y), (x + step * HATCH, y + h)
    for step in range(1, int(h / HATCH) + 1) if pattern in ("-", ".") else ():
        yield (x, y + step * HATCH), (x + w, y + step * HATCH)
