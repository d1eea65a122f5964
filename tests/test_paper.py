"""Sheets of paper: what is written comes out again, nothing is lost to a missing letter, and the bytes are the same."""

import datetime
import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from decide.show.pdf.paper import FACES, FONTS, LACKING, TITLE, Letters, Paper

DAY = datetime.date(2026, 2, 3)

# Own rows: letters of the places that the tables know, and signs that the sentences use.
SIGNS = "€ £ $ ° ² ³ ½ – — … “ ” ‘ ’ · − × ≤ ≥ → ← ↑ ↓ ● ○ □ ✓"  # noqa: RUF001
POLISH = "Zażółć gęślą jaźń"
SPANISH = "¿Cuánto? ¡Año, niño, pingüino!"
CZECH, GREEK, CYRILLIC = "Příliš žluťoučký kůň", "Επισκευή", "Ремонт"


def read(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


@pytest.mark.parametrize("text", [SIGNS, POLISH, SPANISH, CZECH, GREEK, CYRILLIC])
def test_letters_and_signs_of_every_place_come_out_as_written(text: str) -> None:
    paper = Paper(on=DAY)
    paper.text(text)
    paper.text(text, TITLE)
    assert read(paper.output())[0].count(text) == 2
    assert LACKING not in paper.printable(text)


def test_a_character_that_the_letters_lack_is_replaced_by_a_sign_that_is_seen() -> None:
    paper = Paper(on=DAY)
    paper.text("a" + chr(0x1F600) + "b" + chr(0xD800) + "c" + chr(7) + "d\ne")
    assert f"a{LACKING}b{LACKING}c d e" in read(paper.output())[0]


def test_the_same_paper_has_the_same_bytes_and_another_day_others() -> None:
    def written(day: datetime.date) -> bytes:
        paper = Paper("Letter", "es", "A title", on=day)
        paper.text("Head", TITLE)
        paper.text("one and two")
        paper.box((20, 100), (30, 10), "#2c4a6b", "x", "#000000")
        return paper.output()

    assert written(DAY) == written(DAY)
    assert written(DAY) != written(datetime.date(2026, 2, 4))


# ISO 216: A4 is 210 mm by 297 mm. ANSI A: Letter is 8.5 in by 11 in. Common knowledge of the trade.
@pytest.mark.parametrize(("size", "across", "along"), [("A4", 210.0, 297.0), ("Letter", 215.9, 279.4)])
def test_a_page_has_the_size_of_its_standard(size: str, across: float, along: float) -> None:
    box = PdfReader(io.BytesIO(Paper(size, on=DAY).output())).pages[0].mediabox  # type: ignore[arg-type]
    assert float(box.width) * 25.4 / 72 == pytest.approx(across, abs=0.05)
    assert float(box.height) * 25.4 / 72 == pytest.approx(along, abs=0.05)


def test_text_longer_than_a_page_goes_on_over_the_next_and_loses_no_line() -> None:
    paper = Paper(on=DAY)
    for n in range(100):
        paper.text(f"row{n}.")
    pages = read(paper.output())
    assert len(pages) == paper.pages > 1
    assert all("row" in page and page.strip().endswith(str(number)) for number, page in enumerate(pages, 1))
    assert [f"row{n}." in "".join(pages) for n in range(100)] == [True] * 100


def test_a_text_that_is_cut_to_a_width_keeps_within_it_and_says_that_it_is_cut() -> None:
    paper = Paper(on=DAY)
    long = "All that is too long for one line is cut " * 5
    for width in (8.0, 20.0, 61.7):
        cut = paper.fitted(long, width)
        assert cut.endswith("…")
        assert long.startswith(cut[:-1])
        longer = f"{long[: len(cut) + 1]}…"  # a space before the ellipsis is dropped
        assert paper.breadth(cut) <= width < paper.breadth(longer)
    assert paper.fitted("short", 50) == "short"


def test_measuring_leaves_no_ink_and_no_trace() -> None:
    blank, measured = Paper(on=DAY), Paper(on=DAY)
    with measured.measuring():
        measured.text("nothing of this", Letters(12))
        measured.line((10, 10), (20, 20))
        measured.mark((10, 10))
    assert measured.y == blank.y

    def drawn(paper: Paper) -> bytes:
        return PdfReader(io.BytesIO(paper.output())).pages[0].get_contents().get_data()  # type: ignore[union-attr]

    assert drawn(measured) == drawn(blank)


def test_the_letters_travel_with_their_licence() -> None:
    assert all((FONTS / file).stat().st_size < 100_000 for file in FACES.values())
    assert "Permission is hereby granted" in (FONTS / "LICENSE.txt").read_text("utf-8")
    assert Path(FONTS).is_relative_to(Path(__file__).parents[1] / "decide")
