"""The hand-out against the case: its text read back, one page whatever the case, and nothing left behind."""

import datetime
import io
import itertools
import math
import re
import struct
import tomllib
import zlib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT
from PIL import Image
from pypdf import PdfReader
from typer.testing import CliRunner

from decide.answers.answer import Answer, answer
from decide.answers.carbon import carbon_answer
from decide.errors import ReadError
from decide.load.cases.case_file import Entries, write_case
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.cli.main import app
from decide.show.pdf.handout import handout
from decide.show.pdf.logo import MOST_BYTES, MOST_PIXELS, Shop
from decide.show.pdf.paper import MARGIN, SMALL, Paper
from decide.show.pdf.paper_charts import draw_paid, draw_ruler
from decide.show.pdf.sheet import handout_text, sheet_of
from decide.show.text.carbon_words import carbon_headline, landlord_text
from decide.show.text.phrases import languages
from decide.show.text.report import first_layer
from decide.show.text.words import Words

DAY = datetime.date(2026, 11, 25)
SIZES = ["A4", "Letter"]
POINTS = 72 / 25.4
"""Points in a millimetre."""
DEMO: Entries = tomllib.loads((ROOT / "data" / "demo" / "refrigerator.toml").read_text("utf-8"))
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


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", CASES)
def test_the_page_says_what_the_case_says(name: str, size: str) -> None:
    words, result = found(CASES[name])
    text = read(printed(words, result, size))
    assert alike(words.verdict(result)) in text
    assert alike(words.headline(result)) in text
    assert alike(words.once_safe(result)) in text
    for line in sheet_of(words, result, on=DAY).cautions:
        assert alike(line.text) in text.replace("/ ", "/"), line.text
    layer = first_layer(words, result)
    for card in layer.cards:
        assert all(alike(cell) in text for cell in card.values)
    for line in layer.gains:
        assert alike(line.text) in text
    if layer.ruler is not None and not layer.stopped:
        assert words.say(f"ruler.{layer.ruler.other}") in text
    assert "November" in text
    assert "2026" in text


@pytest.mark.parametrize("name", CASES)
def test_the_plain_text_says_all_that_the_page_says_and_each_assumption_besides(name: str) -> None:
    words, result = found(CASES[name])
    signed = Shop("Corner Repairs", "12 Mill Street")
    text = handout_text(words, result, sheet_of(words, result, on=DAY, shop=signed, extra=("One line more.",)))
    sheet = sheet_of(words, result, on=DAY)
    sentences = [
        sheet.layer.verdict,
        *sheet.layer.sentences,
        *words.because(result),
        *sheet.questions,
        *(value for card in sheet.layer.cards for value in card.values),
    ]
    sentences += [line.text for line in sheet.cautions] + ["One line more."]
    sentences += [line.value for line in words.assumptions(result)]
    assert [each for each in sentences if each not in text] == []
    if sheet.layer.stopped:
        assert text.index(sheet.cautions[0].text) < text.index("$")


def test_where_the_use_must_stop_the_order_stands_before_any_money() -> None:
    words, result = found(CASES["gas leak"])
    text = read(printed(words, result))
    order = text.index(alike(words.headline(result)))
    assert order < text.index("$")
    assert order < text.index(alike(words.once_safe(result)))


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
        data = printed(words, result, size, shop=shop, extra=(LONG, LONG))
        text = read(data)
        cautions = sheet_of(words, result, on=DAY).cautions
        assert [line.text for line in cautions if alike(line.text) not in text.replace("/ ", "/")] == []
        foot, *above = sorted(base_lines(data))
        assert foot > 10 * POINTS
        assert min(above) > (MARGIN + SMALL.height) * POINTS


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
    asked = words.say("question.sealed") in sheet_of(words, found, on=DAY).questions
    assert asked == tables().known_faults[fault].sealed


@pytest.mark.parametrize(("language", "name"), list(itertools.product(languages(), ["many options", "gas leak"])))
def test_every_language_fits_on_one_page(language: str, name: str) -> None:
    words, result = found(CASES[name], language)
    for size in SIZES:
        assert alike(words.verdict(result)) in read(printed(words, result, size))


def test_money_and_numbers_stand_as_the_place_writes_them() -> None:
    words, result = found({**CASES["no quote"], "repair": {"quote": 80.5}})
    assert "80,50 €" in read(printed(words, result))


def test_the_same_answer_on_the_same_day_has_the_same_bytes() -> None:
    words, result = found(DEMO)
    shop = Shop("Corner Repairs", logo=picture("JPEG"))
    assert printed(words, result, shop=shop) == printed(words, result, shop=shop)


def test_name_address_and_logo_of_the_shop_stand_above() -> None:
    words, result = found(DEMO)
    for kind in ("PNG", "JPEG"):
        data = printed(words, result, shop=Shop("Łódź Repairs", "Calle Mayor 3, Año", picture(kind)))
        assert read(data).startswith("Łódź Repairs Calle Mayor 3, Año")
        assert len(PdfReader(io.BytesIO(data)).pages[0].images) == 1


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


def test_the_page_is_two_hundred_words_at_ten_points() -> None:
    """Not counting the cautions, and the numbers of the drawings."""
    entries = {"appliance": {"class": "refrigerator", "age": 12, "fault": "compressor"}, "repair": {"quote": 400}}
    words, result = found(entries)
    data, sheet = printed(words, result), sheet_of(words, result, on=DAY)
    text = read(data)
    for line in sheet.cautions:
        text = text.replace(alike(line.text), "")
    assert len([each for each in text.split() if not re.fullmatch(r"[$€\d.,·+-]+", each)]) <= 200
    assert sizes(data)[0] >= 6.9
    assert min(size for size, count in Counter(sizes(data)).items() if count > 6) >= 8.4


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
        draw_ruler(drawn, words, layer.ruler, words.currency, (20, 20), 150)
    if layer.paid is not None:
        draw_paid(drawn, words, layer.paid, words.currency, (20, 60), (150, 50))
    text = read(drawn.output())
    if layer.ruler is not None and math.isfinite(layer.ruler.quote):
        assert alike(words.money(layer.ruler.quote, words.currency, layer.ruler.quote % 1 > 0)) in text
    if layer.paid is not None:
        assert all(f"year {year}" in text for year in layer.paid.told)


def test_the_command_says_what_a_landlord_s_amounts_mean_and_which_way_emits_less(tmp_path: Path) -> None:
    let = {"tax_rate": 0.24, "pays_energy": 1.0, "depreciation_years": 5}
    entries: Entries = {**DEMO, "household": {**DEMO["household"], "landlord": let}}
    case = tmp_path / "case.toml"
    case.write_text(write_case(entries), "utf-8")
    words, result = found(entries)
    landlord, carbon = landlord_text(words, result)[0], carbon_headline(words, carbon_answer(result))
    for command in ("handout", "weigh"):
        output = CliRunner().invoke(app, [command, str(case), *(["--text"] if command == "handout" else [])])
        assert output.exit_code == 0, output.output
        assert landlord in alike(output.stdout)
        assert (carbon in alike(output.stdout)) == (command == "handout")


def test_the_command_has_no_word_of_carbon_where_the_use_must_stop(tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text(write_case(CASES["gas leak"]), "utf-8")
    output = CliRunner().invoke(app, ["handout", str(case), "--text"])
    assert output.exit_code == 0, output.output
    assert "CO2" not in output.stdout


def test_the_command_writes_the_page_and_nothing_else(tmp_path: Path) -> None:
    case, logo = tmp_path / "case.toml", tmp_path / "logo.png"
    case.write_text((ROOT / "data" / "demo" / "refrigerator.toml").read_text("utf-8"), "utf-8")
    logo.write_bytes(picture("PNG"))
    output = CliRunner().invoke(
        app, ["handout", str(case), "--out", str(tmp_path / "page.pdf"), "--shop", "Corner", "--logo", str(logo)]
    )
    assert output.exit_code == 0, output.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["case.toml", "logo.png", "page.pdf"]
    data = (tmp_path / "page.pdf").read_bytes()
    assert float(PdfReader(io.BytesIO(data)).pages[0].mediabox.width) == pytest.approx(612)  # Letter, as in Ohio
    assert "Corner" in read(data)


def test_the_command_prints_plain_text_and_refuses_what_it_cannot_use(tmp_path: Path) -> None:
    case = ROOT / "data" / "demo" / "refrigerator.toml"
    output = CliRunner().invoke(app, ["handout", str(case), "--text"])
    assert output.exit_code == 0
    assert "Repair it" in output.stdout
    for stray in (["--paper", "a5"], ["--logo", str(case)], ["--out", str(tmp_path)]):
        refused = CliRunner().invoke(app, ["handout", str(case), "--out", str(tmp_path / "x.pdf"), *stray])
        assert refused.exit_code == 2, stray
    named = CliRunner().invoke(app, ["handout", str(case), "--out", str(tmp_path / "x.doc")])
    assert named.exit_code == 2
    assert "must end in .pdf or .txt" in named.stderr
    assert list(tmp_path.iterdir()) == []
    CliRunner().invoke(app, ["handout", str(case), "--out", str(tmp_path / "x.txt")])
    assert (tmp_path / "x.txt").read_text("utf-8") == output.stdout
