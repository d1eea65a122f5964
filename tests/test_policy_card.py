"""The policy card: its limits against single cases, and its page and table read back and compared."""

import csv
import dataclasses
import datetime
import json
import re
from pathlib import Path

import numpy as np
import pytest
from commands import run
from pypdf import PdfReader

from decide.answers.answer import decided
from decide.answers.policy_card import AGES, Card, card_of
from decide.economics.case import WITHOUT, Case, vary
from decide.economics.decision import decide
from decide.economics.flows import paid_today
from decide.economics.uncertainty import Range
from decide.economics.weigh import weigh
from decide.errors import CaseError
from decide.load.cases.case_file import complete
from decide.load.cases.ranges import ranges_of
from decide.load.jobs.export import write_table
from decide.load.tables.draws import points, sureness
from decide.load.tables.tables import tables
from decide.show.pdf.policy_card import card_page
from decide.show.text.policy_card import cells, notes, table_rows
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

DAY = datetime.date(2026, 3, 14)
PAGES = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""ISO 216 and ANSI/ASME Y14.1. [mm]"""


@pytest.fixture(scope="module", params=["US", "DE"])
def card(request: pytest.FixtureRequest) -> Card:
    return card_of(request.param, DAY, shop="Example Repairs")


def page_text(path: Path) -> str:
    (page,) = PdfReader(path).pages
    return re.sub(r"\s+", " ", page.extract_text())


def test_each_limit_and_each_word_is_that_of_the_door(card: Card) -> None:
    for row in card.rows[:: max(1, len(card.rows) // 4)]:
        for at, age in enumerate(card.ages):
            if age not in (6.0, 15.0) or np.isnan(row.limits[at]):  # states are drawn at these ages
                continue
            entries = {"appliance": {"class": row.kind, "age": age}, "household": {"place": card.place}}
            alone = decided(complete(entries))
            near = 0.02 * row.price + 5  # fewer draws
            assert row.limits[at] == pytest.approx(alone.repair_limit, abs=near)
            assert row.ruler[at, 0] == pytest.approx(alone.zones.clear_repair, abs=3 * near)
            assert row.ruler[at, 3] == pytest.approx(alone.zones.clear_other, abs=3 * near)


def test_what_is_beyond_the_data_has_no_amount_and_a_young_one_asks_the_maker_first(card: Card) -> None:
    words = Words.for_place(card.place)
    for row in card.rows:
        mean = complete({"appliance": {"class": row.kind, "age": 1}, "household": {"place": card.place}}).case.appliance
        shown = cells(words, card, row)
        for age, limit, (amount, below) in zip(card.ages, row.limits, shown, strict=True):
            assert (below == words.say("card.beyond")) == (not amount)
            assert np.isnan(limit) == (age > 1.5 * float(mean.mean_life)) == (not amount)
            assert amount.endswith("*") == (limit > 0 and age <= row.owed_until)
    assert any("*" in cell for row in card.rows for cell, _ in cells(words, card, row))


def with_a_used_one(place: str, kind: str, age: float = 10.0) -> tuple[Case, list[Range]]:
    """The usual case of a class as the card has it, with a used one as one more way; and what is not known of it.

    The used one is that of somebody's stay, where it is one of the options.
    """
    entries = {"appliance": {"class": kind, "age": age, "fault": "other"}, "household": {"place": place}}
    endless = complete(entries)
    staying = complete({**entries, "household": {"place": place, "study_period": 13.5}})
    options = tuple(each for each in staying.case.options if each.action != WITHOUT)
    case = dataclasses.replace(staying.case, household=endless.case.household, options=options)
    of_units = tuple(each for each in staying.defaults if not each.field.startswith(("household.", "without.")))
    both = dataclasses.replace(staying, case=case, defaults=of_units)
    of_people = [each for each in ranges_of(endless) if all(path.startswith("household.") for path in each.paths)]
    return case, [*of_people, *ranges_of(both)]


@pytest.mark.parametrize("place", sorted(tables().known_places))
def test_nowhere_is_a_limit_above_a_new_one_or_a_used_one(place: str) -> None:
    ages, known = np.array(AGES), tables()
    for kind in known.classes(known.region_of(place)):
        case, _ = with_a_used_one(place, kind.kind)
        assert float(case.household.leaving_rate) > 0  # a need that may end, by the published spread of stays
        weighed = weigh(vary(case, "appliance.age", ages))
        rest = np.asarray(weighed.repair.present_cost)
        shared = [(np.asarray(each.present_cost) - rest, each.option) for each in weighed.options if each.option.price]
        assert len(shared) == 1 + kind.sold_used(known.region_of(place))
        beyond = ages > 1.5 * float(case.appliance.mean_life)
        of_new = sum(
            float(paid_today(case, shared[0][1])[part])
            for part in ("price", "tax", "delivery", "installation", "haul_away")
        )
        for limit, _ in shared:
            assert np.all(shared[0][0][~beyond] <= np.minimum(of_new, limit[~beyond] + 0.04 * of_new)), kind.kind


def test_under_all_that_is_not_known_no_limit_of_the_card_is_above_a_used_one(card: Card) -> None:
    for row in card.rows:
        if np.isnan(row.used):
            continue
        assert row.used < row.new
        case, ranges = with_a_used_one(card.place, row.kind)
        found = decide(case, ranges, points(len(ranges)), sureness(tables(), card.place))
        new, used = found.others.mean(axis=1)  # what a limit is held to, at every age alike
        assert new <= used + 0.03 * row.new, row.kind
    assert all(np.all(np.nan_to_num(row.limits) <= row.new) for row in card.rows)


def test_the_bands_of_a_book_stand_on_the_page(tmp_path: Path) -> None:
    book = ["--book", "data/demo/jobs.csv", "--mapping", "data/demo/jobs.toml"]
    given = ["card", "--classes", "dishwasher", *book, "--out", str(tmp_path / "card.pdf")]
    assert run(*given).exit_code == 0
    found = run("bands", "data/demo/jobs.csv", "--mapping", "data/demo/jobs.toml", "--json")
    thresholds = json.loads(found.stdout)["bands_on_quote_over_limit"]
    low, high = (f"{thresholds[end]:.0%}" for end in ("repair_up_to", "replace_above"))
    assert f"Say repair up to {low} of the customer's repair limit, say replace above {high}" in page_text(
        tmp_path / "card.pdf"
    )


def test_the_shops_terms_stand_on_the_card_as_far_as_they_are_said(tmp_path: Path) -> None:
    given = ["card", "--classes", "dishwasher", "--fee", "89", "--markup", "0.5", "--out", str(tmp_path / "card.pdf")]
    assert run(*given).exit_code == 0
    assert "Our terms: diagnostic fee $89; 50% on parts." in page_text(tmp_path / "card.pdf")
    assert not any("terms" in note for note in notes(Words.for_place("US"), card_of("US", DAY, ["dishwasher"])))


def test_every_class_of_the_place_is_on_it_with_its_price(card: Card) -> None:
    region = tables().region_of(card.place)
    assert [row.kind for row in card.rows] == [kind.kind for kind in tables().classes(region)]
    for row in card.rows:
        alone = tables().figure("price", row.kind, region)
        whole = tables().installed_price(row.kind, region)
        installed = region in tables().kind(row.kind).sold_installed
        assert row.price == pytest.approx((whole if installed else alone).value)


@pytest.mark.parametrize("size", list(PAGES))
def test_it_is_one_page_of_that_size_and_says_every_figure(card: Card, size: str, tmp_path: Path) -> None:
    words = Words.for_place(card.place)
    (tmp_path / "card.pdf").write_bytes(card_page(words, card, size))
    (page,) = PdfReader(tmp_path / "card.pdf").pages
    wide, high = (float(side) * 25.4 / 72 for side in (page.mediabox.width, page.mediabox.height))
    assert (wide, high) == pytest.approx(PAGES[size], abs=0.1)
    text = page_text(tmp_path / "card.pdf")
    for part in (words.say("card.title"), words.place(card.place), "2026-03-14", "Example Repairs"):
        assert part in text
    for sentence in (words.say("caution.last"), words.say("card.answer"), words.say("card.how")):
        assert sentence in text
    for status in card.standing:
        assert words.say(f"assumption.{status.replace(' ', '_')}") in text
    for row in card.rows:
        shown = [part for cell in cells(words, card, row) for part in cell if part]
        assert re.sub(r"\s+", " ", " ".join(shown)) in text
    if card.currency == "EUR":
        assert "€" in text


def test_nothing_is_drawn_below_the_page_or_over_its_edge(card: Card, tmp_path: Path) -> None:
    for size in PAGES:
        (tmp_path / "card.pdf").write_bytes(card_page(Words.for_place(card.place), card, size))
        (page,) = PdfReader(tmp_path / "card.pdf").pages
        places: list[tuple[float, float]] = []

        def seen(text: str, _cm: list, tm: list, _font: dict, _size: float, into: list = places) -> None:
            if text.strip():
                into.append((tm[4], tm[5]))

        page.extract_text(visitor_text=seen)
        across, along = np.array(places).T
        assert across.min() > 20
        assert across.max() < float(page.mediabox.width) - 20
        assert along.min() > 20
        assert len(places) > 100


def test_the_table_says_what_the_page_says(card: Card, tmp_path: Path) -> None:
    words = Words.for_place(card.place)
    write_table(tmp_path / "card.csv", table_rows(words, card))
    with (tmp_path / "card.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(card.rows) * len(card.ages)
    (tmp_path / "card.pdf").write_bytes(card_page(words, card))
    text = page_text(tmp_path / "card.pdf")
    for row, values in zip(rows, table_rows(words, card), strict=True):
        assert {name: str(value) for name, value in values.items()} == row
        limit = float(row["limit"] or "nan")
        claim = words.say("card.claim") if row["claim_first"] == "True" else ""
        shown = words.money(limit) + claim if limit > 0 else words.say("card.none" if row["limit"] else "card.beyond")
        assert re.sub(r"\s", " ", shown) in text
        share = limit / float(row["price_of_new"])
        assert float(row["share_of_price"] or "nan") == pytest.approx(share, abs=1e-4, nan_ok=True)


def test_what_is_not_worth_repairing_for_free_has_no_amount(card: Card) -> None:
    row = card.rows[0]
    worthless = dataclasses.replace(row, limits=np.full(len(card.ages), -12.0))
    shown = cells(Words.for_place(card.place), card, worthless)
    assert set(shown) == {("\N{EN DASH}", "")}


def test_a_shops_name_cannot_become_a_formula_and_odd_letters_are_drawn_as_a_sign(tmp_path: Path) -> None:
    card = card_of("US", DAY, ["dishwasher"], shop="=HYPERLINK(1) \N{GRINNING FACE}")
    words = Words.for_place("US")
    write_table(tmp_path / "card.csv", table_rows(words, card))
    assert "'=HYPERLINK(1)" in (tmp_path / "card.csv").read_text("utf-8")
    (tmp_path / "card.pdf").write_bytes(card_page(words, card))
    assert "=HYPERLINK(1)" in page_text(tmp_path / "card.pdf")


def test_an_unknown_class_or_place_or_too_many_classes_are_refused() -> None:
    with pytest.raises(CaseError, match="class"):
        card_of("US", DAY, ["toaster"])
    with pytest.raises(CaseError, match="place"):
        card_of("Nowhere", DAY)
    with pytest.raises(CaseError, match="at most"):
        card_of("US", DAY, ["dishwasher"] * 29)


# the command


def test_the_command_writes_the_page_of_the_place_and_the_table(tmp_path: Path) -> None:
    for place, wide in (("US", 215.9), ("FR", 210.0)):
        out = tmp_path / f"{place}.pdf"
        ran = run("card", "--place", place, "--out", str(out))
        assert ran.exit_code == 0, ran.output
        assert float(PdfReader(out).pages[0].mediabox.width) * 25.4 / 72 == pytest.approx(wide, abs=0.1)
    out = tmp_path / "two.csv"
    kinds = "dishwasher, clothes_washer"
    ran = run("card", "--classes", kinds, "--shop", "Example", "--out", str(out))
    assert ran.exit_code == 0
    assert {line.split(",")[0] for line in out.read_text("utf-8").splitlines()[1:]} == {"dishwasher", "clothes_washer"}


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (["--out", "card.doc"], ".pdf"),
        (["--out", "card.pdf", "--paper", "a5"], "letter"),
        (["--out", "card.pdf", "--classes", "toaster"], "toaster"),
        (["--out", "missing/card.pdf"], "missing"),
    ],
)
def test_the_command_refuses_what_it_cannot_use(given: list[str], text: str, monkeypatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run("card", *given)
    assert ran.exit_code == 2
    assert text in ran.stderr
