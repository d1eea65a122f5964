"""Commands for a shop: build a quote, find the bands of advice of a job book, write the policy card.

`cli.py` adds them to the command `mendpoint`; status and errors are as described there.
"""

import datetime
from pathlib import Path
from typing import Annotated

import typer

from ...errors import CaseError
from ..terminal.outlet import print_json, tell
from . import given
from .given import PHRASES, argument, option

HourCost = Annotated[float | None, option("shop.own_hour_cost", "--hour-cost")]
WayCost = Annotated[float | None, option("shop.own_way_cost", "--way-cost")]
Overhead = Annotated[float | None, option("shop.overhead", "--overhead")]
MarkupNow = Annotated[float | None, option("shop.markup_now", "--markup-now")]
"""What work costs the shop, where its book does not tell."""


def quote(
    case: given.CaseFile,
    parts: Annotated[float, option("shop.parts")] = 0.0,
    markup: Annotated[float, option("shop.markup")] = 0.0,
    hours: Annotated[float, option("shop.hours")] = 0.0,
    rate: Annotated[float | None, option("shop.rate")] = None,
    flat: Annotated[float | None, option("shop.flat")] = None,
    trip: Annotated[float, option("shop.trip")] = 0.0,
    hour_cost: Annotated[float | None, option("shop.hour_cost")] = None,
    way_cost: Annotated[float | None, option("shop.way_cost")] = None,
    overhead: Annotated[float, option("shop.overhead")] = 0.0,
    tax: Annotated[float, option("shop.tax")] = 0.0,
    tax_labour: Annotated[float | None, option("shop.tax_labour")] = None,
    margin: Annotated[float | None, option("shop.margin")] = None,
    fee: Annotated[float, option("shop.fee")] = 0.0,
    fee_terms: Annotated[str, option("shop.fee_terms")] = "charged",
    warranty: Annotated[float | None, option("shop.warranty")] = None,
    figures: given.Figures = None,
    json: given.Json = False,
) -> None:
    """Build a quote and hold it to the limit of a case."""
    from ...answers.shop_quote import quote_of_shop
    from ...load.cases.case_file import complete
    from ...load.tables.tables import tables
    from ...shop.quoting import TERMS
    from ..terminal.shop import quote_data, show_quote
    from ..text.words import Words

    way = _choice("--fee-terms", fee_terms, TERMS)
    filled = complete(given.entries_of(case), given.tables_with(figures), case.parent)
    asked = filled.case
    typed = {
        "parts": parts, "markup": markup, "hours": hours, "rate": rate, "flat": flat, "trip": trip, "margin": margin,
        "hour_cost": hour_cost, "way_cost": way_cost, "overhead": overhead, "tax": tax, "tax_labour": tax_labour,
        "fee": fee, "days": warranty,
    }  # fmt: skip
    found = quote_of_shop(filled, {name: value for name, value in typed.items() if value is not None}, way)
    if json:
        print_json(quote_data(found))
    else:
        words = Words.for_household(asked.household)
        show_quote(words, found)
        if rate is None and hours > 0:
            usual = tables().usual("labour_rate", asked.household.region)
            facts = {"rate": words.money(usual.value), "status": words.status(usual.status)}
            typer.echo(words.say("quoting.usual_rate", **facts))


def bands(
    book: Annotated[Path, argument("shop.book")],
    mapping: Annotated[Path | None, option("shop.mapping")] = None,
    place: given.BookPlace = None,
    mended: given.Mended = None,
    sheet: given.Sheet = None,
    answers: given.Answers = None,
    attention: Annotated[float | None, option("shop.attention")] = None,
    spread: Annotated[float | None, option("shop.spread")] = None,
    cost: Annotated[float | None, option("shop.cost")] = None,
    hour_cost: HourCost = None,
    way_cost: WayCost = None,
    overhead: Overhead = None,
    markup_now: MarkupNow = None,
    dearer: Annotated[float | None, option("shop.dearer")] = None,
    rate: Annotated[float | None, option("shop.tried_rate")] = None,
    markup: Annotated[float | None, option("shop.tried_markup")] = None,
    fee: Annotated[float | None, option("shop.tried_fee")] = None,
    fee_terms: Annotated[str, option("shop.fee_terms")] = "charged",
    warranty: Annotated[float | None, option("shop.warranty")] = None,
    calls_lost: Annotated[float | None, option("shop.calls_lost")] = None,
    unit_margin: Annotated[float | None, option("shop.unit_margin")] = None,
    figures: given.Figures = None,
    json: given.Json = False,
) -> None:
    """Find the bands of advice of a job book, what they are worth, and what a change of policy would bring."""
    from ...answers.shop_bands import shop_bands
    from ...answers.shop_policy import usual_practice
    from ...shop.quoting import TERMS
    from ..terminal.records import coverage_data
    from ..terminal.shop import bands_data, show_bands

    asked = given.asked_book(book, mapping, place, mended, answers, figures, sheet)
    stated = {
        "attention": attention, "spread": spread, "cost": cost, "hour_cost": hour_cost, "way_cost": way_cost,
        "overhead": overhead, "markup_now": markup_now, "dearer": dearer, "rate": rate, "markup": markup, "fee": fee,
        "warranty": warranty, "calls_lost": calls_lost, "unit_margin": unit_margin,
    }  # fmt: skip
    way = _choice("--fee-terms", fee_terms, TERMS)
    place = asked.columns.place
    practice = usual_practice(place, asked.reference, way=way, **stated)
    found = None if asked.held else shop_bands(asked.jobs, place, practice, asked.reference)
    if json:
        print_json(
            {"coverage": coverage_data(asked.coverage, asked.held)} | ({} if found is None else bands_data(found))
        )
        return
    asked.say_first()
    if found is not None:
        show_bands(asked.words, found)


def compare(
    book: Annotated[Path, argument("shop.book")],
    mapping: Annotated[Path | None, option("shop.mapping")] = None,
    place: given.BookPlace = None,
    mended: given.Mended = None,
    sheet: given.Sheet = None,
    answers: given.Answers = None,
    since: Annotated[datetime.datetime | None, option("shop.since", formats=["%Y-%m-%d"])] = None,
    hour_cost: HourCost = None,
    way_cost: WayCost = None,
    overhead: Overhead = None,
    markup_now: MarkupNow = None,
    json: given.Json = False,
) -> None:
    """Compare technicians, postcodes, months and classes of a job book, and before and after a day."""
    from ...answers.shop_groups import compared
    from ...answers.shop_policy import usual_practice
    from ..terminal.records import coverage_data
    from ..terminal.shop import comparison_data, show_comparison

    asked = given.asked_book(book, mapping, place, mended, answers, sheet=sheet)
    stated = {"hour_cost": hour_cost, "way_cost": way_cost, "overhead": overhead, "markup_now": markup_now}
    columns, day = asked.columns, since and since.date()
    practice = usual_practice(columns.place, asked.reference, **stated)
    found = compared(asked.jobs, columns.place, practice, asked.reference, day, columns.callbacks)
    if json:
        coverage = coverage_data(asked.coverage, asked.held)
        print_json({"coverage": coverage} | ({} if asked.held else comparison_data(found)))
        return
    asked.say_first()
    if not asked.held:
        show_comparison(asked.words, found)


def card(
    out: Annotated[Path, option("shop.out")],
    place: given.Place = "US",
    classes: Annotated[str, option("shop.classes")] = "",
    shop: Annotated[str, option("shop.shop")] = "",
    book: Annotated[Path | None, option("shop.card_book")] = None,
    mapping: Annotated[Path | None, option("shop.mapping")] = None,
    fee: Annotated[float | None, option("shop.fee", min=0)] = None,
    rate: Annotated[float | None, option("shop.rate", min=0)] = None,
    markup: Annotated[float | None, option("shop.markup", min=0)] = None,
    warranty: Annotated[float | None, option("shop.warranty", min=0)] = None,
    paper: given.PaperSize = None,
    figures: given.Figures = None,
    force: given.Force = False,
) -> None:
    """Write the policy card."""
    from ...answers.policy_card import card_of
    from ...answers.shop_bands import shop_bands
    from ...answers.shop_policy import usual_practice
    from ...load.files.plain_file import write_file
    from ...load.jobs.export import write_table
    from ..pdf.policy_card import card_page
    from ..text.policy_card import table_rows
    from ..text.words import Words

    given.GIVEN.set(given.home_of(place))
    ending = _choice("--out", out.suffix.lower(), (".pdf", ".csv"))
    given.ready_to_write(force, (figures, book, mapping), out)
    words = Words.for_place(place)
    size = given.size_of(words, paper)
    kinds = [each.strip() for each in classes.split(",") if each.strip()]
    entered = {"fee": fee, "rate": rate, "markup": markup, "days": warranty}
    terms = {name: value for name, value in entered.items() if value is not None}
    reference, bands = given.tables_with(figures), None
    if book is not None:
        asked = given.asked_book(book, mapping, place, None, None, figures)
        asked.say_first()
        if not asked.held:
            bands = shop_bands(asked.jobs, place, usual_practice(place, reference), reference).bands
    made = card_of(place, datetime.date.today(), kinds, shop.strip(), reference, terms, bands)
    if ending == ".csv":
        write_table(out, table_rows(words, made), force)
    else:
        write_file(out, card_page(words, made, size), force)
    tell(PHRASES.say("command.shop.written", path=str(out)))


def _choice(option: str, word: str, choices: object) -> str:
    """One of a few words."""
    known = list(choices)  # type: ignore[call-overload]
    if word not in known:
        raise CaseError(option, "must be one of {choices}, got {given}", ", ".join(known), word)
    return word
