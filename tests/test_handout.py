"""The hand-out against the case: its text read back, one page whatever the case, and nothing left behind."""

import datetime
import io
import itertools
import math
import re
import struct
import tomllib
import zlib
from pathlib import Path
from typing import Any

import pytest
from code_reader import decoded
from commands import run
from conftest import ROOT
from PIL import Image
from pypdf import PdfReader

from decide.answers.answer import Answer, answer
from decide.errors import ReadError
from decide.load.cases.case_file import Entries
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.pdf.handout import handout
from decide.show.pdf.logo import MOST_BYTES, MOST_PIXELS, Shop
from decide.show.pdf.paper import MARGIN, Paper
from decide.show.pdf.paper_charts import draw_paid, draw_ruler
from decide.show.pdf.sheet import message_of, questions, sheet_of, sheet_text
from decide.show.text.phrases import languages
from decide.show.text.report import first_layer
from decide.show.text.words import Words

DAY = datetime.date(2026, 11, 25)
SIZES = ["A4", "Letter"]
POINTS = 72 / 25.4
"""Points in a millimetre."""
DEMO: Entries = tomllib.loads((ROOT / "data" / "demo" / "refrigerator.toml").read_text("utf-8"))
MOST_WORDS = 200
LEAST_POINTS = 10.0
LONG = "A name that goes on and on without an end in sight, from the shop behind the corner "

# Invented.
CASES: dict[str, Entries] = {
    "demo": DEMO,
    "gas leak": {
        "appliance": {"class": "furnace_gas", "age": 14, "fault": "gas_leak"},
        "household": {"place": "US"},
        "repair": {"quote": 400},
    },
    "no quote": {
        "appliance": {"class": "clothes_washer", "age": 6, "fault": "drain_pump"},
        "household": {"place": "FR", "study_period": 6},
        "leave": {"annual_loss_of_use": 80},
    },
    "not even for free": {
        "appliance": {"class": "refrigerator", "age": 25, "fault": "compressor", "electricity": 2200},
        "household": {"place": "US"},
        "repair": {"quote": 300, "remaining_life_factor": 0.4},
    },
    "ruled out": {
        "appliance": {"class": "water_heater_electric", "age": 11, "fault": "tank_leak"},
        "household": {"place": "DE"},
        "repair": {"quote": 250.5},
    },
    "close": {**DEMO, "repair": {"remaining_life_factor": 0.8, "quote": 150}},
    "many options": {
        **DEMO,
        "title": LONG * 5,
        "replace": [*DEMO["replace"], *({"name": f"{n}. {LONG}", "price": 700 + 90 * n} for n in range(6))],
        "leave": {"annual_loss_of_use": 60},
    },
}


def found(entries: Entries, language: str = "en") -> tuple[Words, Answer]:
    result = answer(entries)
    return Words.for_place(result.case.household.place, language), result


def printed(words: Words, result: Answer, size: str = "A4", **more: Any) -> bytes:
    return handout(words, result, sheet_of(words, result, on=DAY, **more), size)  # type: ignore[arg-type]


def read(data: bytes) -> str:
    """The text of the only page, its white space made alike."""
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 1
    return alike(pages[0].extract_text())


def alike(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def png(width: int, height: int, body: bytes = b"") -> bytes:
    """A PNG whose head says what its body may not hold."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = body or zlib.compress(bytes(100))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def picture(kind: str, size: tuple[int, int] = (200, 90)) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, "#205070").save(held, kind)
    return held.getvalue()


# Invented.
SHOP = Shop("Corner Repairs", "12 Mill Street", picture("PNG"), "555-0142", "HV-20417", "A. Example", 30)
FOUND = ("Compressor hums, then clicks off.", "Supply 118 V: as it should be.")


def words_of(data: bytes) -> list[str]:
    """What is read on the only page: every piece with a letter in it, names and units too."""
    pieces: list[str] = []  # each as it was written: a line of the whole page would join what stands side by side
    PdfReader(io.BytesIO(data)).pages[0].extract_text(visitor_text=lambda text, *_: pieces.append(text))
    return [each for each in " ".join(pieces).split() if re.search(r"[^\W\d_]", each)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", CASES)
def test_the_page_says_what_the_case_says(name: str, size: str) -> None:
    words, result = found(CASES[name])
    text, sheet = read(printed(words, result, size)), sheet_of(words, result, on=DAY)
    assert [line for line in sheet.cautions if alike(line) not in text.replace("/ ", "/")] == []
    assert "November 25, 2026" in text or "25 November 2026" in text
    assert all(box in text for box in ("Name", "Signature", "Date"))
    if sheet.layer.stopped:
        return
    assert alike(f"{words.verdict(result)} {words.headline(result)}") in text
    for card in sheet.layer.cards:
        assert all(alike(cell) in text for cell in card.values)
    if sheet.layer.ruler is not None:
        assert words.say(f"ruler.{sheet.layer.ruler.other}") in text
    assert "Your choice" in text


@pytest.mark.parametrize("name", CASES)
def test_the_plain_text_says_all_that_the_page_says(name: str) -> None:
    words, result = found(CASES[name])
    sheet = sheet_of(words, result, on=DAY, shop=SHOP, found=FOUND)
    text = sheet_text(words, sheet)
    sentences = [*sheet.cautions, *sheet.sender, *sheet.dates, *sheet.closing, *(part for _, part in sheet.notice)]
    if not sheet.layer.stopped:
        sentences += [sheet.layer.verdict, *sheet.layer.sentences, *FOUND]
        sentences += [value for card in sheet.layer.cards for value in card.values]
    assert [each for each in sentences if each not in text] == []


# Made safe first, and no word of money beside it: common practice, no source.
STOPS: list[tuple[str, str, str]] = [
    ("furnace_gas", "US", "cracked_heat_exchanger"),
    ("water_heater_gas", "DE", "gas_leak"),
    ("boiler_gas", "ES", "flue_gas_leak"),
    ("microwave", "US", "microwave_door"),
    ("range_electric", "US", "glass_top"),
    ("dishwasher", "FR", "flooded"),
]


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize(("kind", "place", "fault"), STOPS)
def test_an_order_to_stop_prints_a_notice_of_danger_and_no_money(
    kind: str, place: str, fault: str, language: str
) -> None:
    entries = {"appliance": {"class": kind, "age": 12, "fault": fault}, "household": {"place": place}}
    words, result = found({**entries, "repair": {"quote": 400}}, language)
    data = printed(words, result, shop=SHOP, found=FOUND)
    text = read(data)
    assert result.weighing.stopped_by
    for key in ("danger", "wrong", "order", "never", "call", "off", "off_power", "off_tag", "told", "signature"):
        assert words.say(f"sheet.{key}") in text, key
    assert (words.say("sheet.off_gas") in text.split()) == (kind in ("furnace_gas", "water_heater_gas", "boiler_gas"))
    assert alike(words.headline(result)) in text  # the order stands whole
    assert alike(words.fault(fault)[1:]) in text
    assert alike(FOUND[0]) in text
    assert "911" in text if place == "US" else "112" in text
    assert SHOP.phone in text
    assert words.say("sheet.never_repair") in text or not result.weighing.repair.blocked_by
    assert not re.search(r"[$€]", text)
    assert not re.search(r"[$€]", sheet_text(words, sheet_of(words, result, on=DAY, shop=SHOP)))
    assert len(words_of(data)) <= MOST_WORDS
    assert sizes(data)[0] >= LEAST_POINTS


def worst(kind: str, region: str) -> str:
    """The fault of a class with the most to mind."""
    known = tables()

    def applicable_cautions(fault: str) -> int:
        words = Words.of(region=region)
        return sum(
            len(words.caution_text(each)) for each in known.cautions(kind, fault, region) if each.reader != "technician"
        )

    faults = [name for name, fault in known.known_faults.items() if kind in fault.classes or "*" in fault.classes]
    return max(faults, key=applicable_cautions)


CLASSES = [(kind.kind, region) for region in CURRENCIES for kind in tables().classes(region)]


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "region"), CLASSES)
def test_every_class_fits_on_one_page_with_its_longest_texts(kind: str, region: str) -> None:
    entries: Entries = {
        "title": LONG * 3,
        "appliance": {"class": kind, "age": 9, "fault": worst(kind, region)},
        "household": {"place": region},
        "repair": {"quote": 98_765.43},
        "replace": [{"name": f"{n}. {LONG}", "price": 900 + 100 * n} for n in range(3)],
        "leave": {"annual_loss_of_use": 60},
    }
    words, result = found(entries)
    shop = Shop(LONG * 2, LONG * 2, picture("PNG"))
    for size in SIZES:
        data = printed(words, result, size, shop=shop, found=(LONG, LONG))
        text, lines = read(data), sheet_of(words, result, on=DAY).cautions
        assert [line for line in lines if alike(line) not in text.replace("/ ", "/")] == []
        assert min(base_lines(data)) > MARGIN * POINTS


def base_lines(data: bytes) -> set[float]:
    """Heights at which text stands on the page. [point]"""
    heights: set[float] = set()
    PdfReader(io.BytesIO(data)).pages[0].extract_text(
        visitor_text=lambda text, _cm, matrix, _font, _size: heights.add(matrix[5]) if text.strip() else None
    )
    return heights


@pytest.mark.parametrize("fault", ["compressor", "reversing_valve", "blower"])
def test_who_opens_the_circuit_is_asked_for_a_licence(fault: str) -> None:
    found = answer({"appliance": {"class": "heat_pump_air", "age": 6, "fault": fault}, "repair": {"quote": 900}})
    words = Words.of(region="US")
    assert (words.say("question.sealed") in questions(words, found)) == tables().known_faults[fault].sealed


@pytest.mark.parametrize(("language", "name"), list(itertools.product(languages(), ["many options", "gas leak"])))
def test_every_language_fits_on_one_page(language: str, name: str) -> None:
    words, result = found(CASES[name], language)
    for size in SIZES:
        said = words.say("sheet.danger") if result.weighing.stopped_by else words.verdict(result)
        assert alike(said) in read(printed(words, result, size))


@pytest.mark.parametrize(("language", "amount"), [("en", "€80.50"), ("es", "80,50 €")])
def test_money_and_numbers_stand_as_the_language_writes_them(language: str, amount: str) -> None:
    words, result = found({**CASES["no quote"], "repair": {"quote": 80.5}}, language)
    assert amount in read(printed(words, result))


def test_the_same_answer_on_the_same_day_has_the_same_bytes() -> None:
    words, result = found(DEMO)
    shop = Shop("Corner Repairs", logo=picture("JPEG"))
    assert printed(words, result, shop=shop) == printed(words, result, shop=shop)


def test_name_address_and_logo_of_the_shop_stand_above() -> None:
    words, result = found(DEMO)
    for kind in ("PNG", "JPEG"):
        data = printed(words, result, shop=Shop("Łódź Repairs", "Calle Mayor 3, Año", picture(kind)))
        assert read(data).startswith("Łódź Repairs Calle Mayor 3, Año")
        assert len(PdfReader(io.BytesIO(data)).pages[0].images) == 2  # the logo and the code


REFUSED = {
    "too many bytes": (picture("PNG") + bytes(MOST_BYTES), "larger than"),
    "no picture": (b"<svg/>", "PNG or JPEG"),
    "another kind": (picture("GIF"), "PNG or JPEG"),
    "cut off": (picture("JPEG")[:300], "PNG or JPEG"),
    "wider than allowed": (png(MOST_PIXELS + 1, 1), "pixels"),
    "a bomb": (png(100_000, 100_000), "PNG or JPEG"),
    "a bomb below the bound of bytes": (png(12_000, 12_000, zlib.compress(bytes(20_000_000), 9)), "PNG or JPEG"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_logo_that_cannot_be_used_is_refused_before_it_is_unpacked(name: str) -> None:
    logo, reason = REFUSED[name]
    words, result = found(DEMO)
    with pytest.raises(ReadError, match=reason):
        printed(words, result, shop=Shop("Corner", logo=logo))


# Invented, each with the words of the clearest or the longest answer.
WORDED: dict[str, Entries] = {
    **{name: case for name, case in CASES.items() if name != "many options"},
    "clear": {"appliance": {"class": "refrigerator", "age": 6, "fault": "icemaker"}, "repair": {"quote": 95}},
    "close call": {"appliance": {"class": "refrigerator", "age": 12, "fault": "compressor"}, "repair": {"quote": 400}},
    "claim": {
        "appliance": {"class": "dishwasher", "age": 1, "fault": "drain_pump"},
        "household": {"place": "ES"},
        "repair": {"quote": 160},
    },
}


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", WORDED)
def test_the_page_is_two_hundred_words_at_ten_points(name: str, language: str) -> None:
    words, result = found(WORDED[name], language)
    data = printed(words, result, shop=SHOP, found=FOUND)
    assert len(words_of(data)) <= MOST_WORDS
    assert sizes(data)[0] >= LEAST_POINTS


def test_a_clear_case_a_close_call_and_a_stop_are_what_they_are_called() -> None:
    assert not found(WORDED["clear"])[1].close
    assert found(WORDED["close call"])[1].close
    assert found(WORDED["gas leak"])[1].weighing.stopped_by


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "region"), CLASSES)
def test_no_class_takes_more_words_for_the_fault_with_the_most_to_mind(kind: str, region: str) -> None:
    entries: Entries = {"appliance": {"class": kind, "age": 9, "fault": worst(kind, region)}}
    entries |= {"household": {"place": region}}
    limit = answer(entries).weighing.repair_limit
    if limit > 0:
        entries |= {"repair": {"quote": round(limit)}}  # as close as it can be: the longest answer
    for language in languages():
        words, result = found(entries, language)
        assert len(words_of(printed(words, result, shop=SHOP, found=FOUND[1:]))) <= MOST_WORDS, language


def test_who_came_until_when_the_price_stands_and_who_keeps_the_visit_stand_there() -> None:
    words, result = found(DEMO)
    text = read(printed(words, result, shop=SHOP, found=FOUND))
    for said in ("Technician: A. Example", "Lic. HV-20417", "555-0142", "Price valid until Dec 25, 2026", *FOUND):
        assert said in text
    assert "We keep this visit. Call us to delete it." in text
    bare = read(printed(words, result))
    assert not re.search("Technician|Lic\\.|valid|keep this visit", bare)
    words, unquoted = found(CASES["no quote"])
    assert "valid until" not in read(printed(words, unquoted, shop=SHOP))


def code_on(data: bytes) -> tuple[tuple[int, ...], ...]:
    """The cells of the code on the page, dark ones 1, without the white edge; read from the picture itself."""
    images = PdfReader(io.BytesIO(data)).pages[0].images
    grey = next(image.image for image in images if image.image and image.image.width == image.image.height).convert("L")
    dark = [[grey.getpixel((x, y)) < 128 for x in range(grey.width)] for y in range(grey.height)]  # type: ignore[operator]
    rows = [y for y, row in enumerate(dark) if any(row)]
    edge, cell = rows[0], next(at for at, each in enumerate(dark[rows[0]][rows[0] :]) if not each) // 7
    assert edge == 4 * cell  # ISO/IEC 18004: four cells of white around it; its corners are seven cells wide
    places = range(edge + cell // 2, grey.width - edge, cell)
    return tuple(tuple(int(dark[y][x]) for x in places) for y in places)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", WORDED)
def test_the_code_holds_the_answer_with_the_shop_s_phone_and_no_address(name: str, language: str) -> None:
    words, result = found(WORDED[name], language)
    data, message = printed(words, result, shop=SHOP), message_of(words, result, SHOP)
    assert message.endswith(f" {SHOP.name}, {SHOP.phone}.")
    assert not re.search(r"https?:|//|localhost|\\xa0", message)
    assert alike(words.verdict(result)).lower() in message.lower()
    assert decoded(code_on(data)) == message.encode()


def test_the_message_is_two_sentences_unless_it_is_an_order() -> None:
    for name in ("clear", "close call", "demo", "not even for free"):
        words, result = found(WORDED[name])
        assert len(re.findall(r"[.!?](?: |$)", message_of(words, result, Shop()))) == 2, name
    words, result = found(CASES["gas leak"])
    assert words.headline(result) in message_of(words, result, SHOP)
    assert "$" not in message_of(words, result, SHOP)


@pytest.mark.parametrize("language", languages())
def test_the_message_gives_the_range_that_the_page_gives(language: str) -> None:
    """Beside $430 to $810 on the page, what was sent said $470 to $770."""
    for name in ("clear", "demo"):
        words, result = found(WORDED[name], language)
        (on_page,), (sent,) = (re.findall(r"\(.*?\)", each) for each in (words.headline(result), words.message(result)))
        assert sent == on_page


def sizes(data: bytes) -> list[float]:
    """Sizes of all that is written, smallest first. [point]"""
    seen: list[float] = []
    PdfReader(io.BytesIO(data)).pages[0].extract_text(
        visitor_text=lambda text, _cm, _matrix, _font, size: seen.append(round(size, 1)) if text.strip() else None
    )
    return sorted(seen)


@pytest.mark.parametrize("name", CASES)
def test_the_ruler_and_the_lines_on_paper_are_named(name: str) -> None:
    words, result = found(CASES[name])
    layer, drawn = first_layer(words, result), Paper(on=DAY)
    drawn.text("a line", gap=0)
    if layer.ruler is not None:
        draw_ruler(drawn, words, layer.ruler, (20, 20), 150)
    if layer.paid is not None:
        draw_paid(drawn, words, layer.paid, (20, 60), (150, 50))
    text = read(drawn.output())
    if layer.ruler is not None and math.isfinite(layer.ruler.quote):
        assert alike(words.money(layer.ruler.quote, cents=layer.ruler.quote % 1 > 0)) in text
    if layer.paid is not None:
        assert all(f"year {year}" in text for year in layer.paid.marked)


def test_the_command_writes_the_page_and_nothing_else(tmp_path: Path) -> None:
    case, logo = tmp_path / "case.toml", tmp_path / "logo.png"
    case.write_text((ROOT / "data" / "demo" / "refrigerator.toml").read_text("utf-8"), "utf-8")
    logo.write_bytes(picture("PNG"))
    output = run(
        "handout",
        str(case),
        "--out",
        str(tmp_path / "page.pdf"),
        "--shop",
        "Corner",
        "--logo",
        str(logo),
        "--phone",
        "555-0142",
        "--licence",
        "HV-1",
        "--technician",
        "A. Example",
        "--valid",
        "30",
        "--found",
        "Burnt relay.",
    )
    assert output.exit_code == 0, output.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["case.toml", "logo.png", "page.pdf"]
    data = (tmp_path / "page.pdf").read_bytes()
    assert float(PdfReader(io.BytesIO(data)).pages[0].mediabox.width) == pytest.approx(612)  # Letter, as in Ohio
    assert all(
        said in read(data) for said in ("Corner", "555-0142", "HV-1", "A. Example", "valid until", "Burnt relay.")
    )


def test_the_command_prints_plain_text_and_refuses_what_it_cannot_use(tmp_path: Path) -> None:
    case = ROOT / "data" / "demo" / "refrigerator.toml"
    output = run("handout", str(case), "--text")
    assert output.exit_code == 0
    assert "Replace it" in output.stdout
    for stray in (["--paper", "a5"], ["--logo", str(case)], ["--out", str(tmp_path)], ["--valid", "999"]):
        refused = run("handout", str(case), "--out", str(tmp_path / "x.pdf"), *stray)
        assert refused.exit_code == 2, stray
    named = run("handout", str(case), "--out", str(tmp_path / "x.doc"))
    assert named.exit_code == 2
    assert "must end in .pdf or .txt" in named.stderr
    assert list(tmp_path.iterdir()) == []
    run("handout", str(case), "--out", str(tmp_path / "x.txt"))
    assert (tmp_path / "x.txt").read_text("utf-8") == output.stdout
