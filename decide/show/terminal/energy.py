"""Lays a meter's log and a year's bills out for a terminal, and as plain data for other programs."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ...arrays import Floats
from ...energy.load_profile import ALWAYS, CALENDAR_MONTHS, Use
from ...energy.metering import Annual, AnnualOfRuns
from ...energy.power_log import covered_hours, missing_share
from ...energy.tariff import Tariff, bill, marginal_price
from ...errors import CaseError, OutOfRange
from ...load.cases.measured import AgainstRated, LogReport
from ...load.meters.meter_log import Quantity
from ...load.tables.tables import CURRENCIES
from ..text.words import Words
from .as_json import against_rated, interval
from .layout import Page
from .outlet import attributes

KINDS: Final = {Quantity.POWER: "power", Quantity.ENERGY: "energy", Quantity.COUNTER: "counter"}
WRITTEN: Final = {"w": "W", "kw": "kW", "wh": "Wh", "kwh": "kWh"}
ERROR_SOURCES: Final = ("scatter", "daily", "season", "defrost", "ambient")
MONTHS: Final = 12


# A meter's log


def show_meter(words: Words, report: LogReport) -> None:
    """Show what a log says of a year first, then how it was read and what it shows."""
    page, energy = Page(), report.found.energy
    ends = {name: words.number(float(getattr(energy, name)), 0) for name in ("low", "high")}
    value = words.quantity(round(float(energy.value)), "kWh", "")
    page.line(words.say("meter.year", value=value, **ends), "bold")
    for sentence in _longer(words, report):
        page.line(sentence)
    if report.against is not None:
        group = "cooling" if isinstance(report.found, Annual) else "other"
        for sentence in words.against_rated(AgainstRated("", group, report.rated, report.against)):
            page.line(sentence)
    page.heading(words.say("meter.seen"))
    page.table(("", ""), list(_seen(words, report)))
    if isinstance(report.found, Annual):
        page.heading(words.say("meter.doubt"))
        page.table(("", ""), list(_doubt(words, report.found)), (1,))
    page.heading(words.say("meter.log"))
    page.table(("", ""), list(_as_read(words, report)))


def _longer(words: Words, report: LogReport) -> Iterator[str]:
    found, more = report.found, report.longer
    if isinstance(found, Annual) and found.rough:
        yield words.say("meter.rough")
    if more is None:
        yield words.say("meter.enough")
    elif math.isnan(more.runs):
        share = words.percent(more.precision)
        yield words.say("meter.longer_hours", hours=words.number(math.ceil(more.hours), 0), share=share)
    else:
        runs = words.quantity(more.runs, "cycle", "")
        yield words.say("meter.longer_runs", runs=runs, share=words.percent(more.precision))


def _seen(words: Words, report: LogReport) -> Iterator[tuple[str, str]]:
    found = report.found
    if isinstance(found, AnnualOfRuns):
        yield from _runs_seen(words, report, found)
        return
    watts = words.say("meter.watts", watts=words.number(found.mean_watts, 1))
    yield words.say("meter.mean_power"), watts
    defrosts, starts = found.defrosts, report.starts
    if not math.isnan(defrosts.count) and starts.begin.size > 1:
        running = words.say(
            "meter.compressor_cycles",
            n=words.number(starts.begin.size, 0),
            minutes=words.number(float(starts.seconds.mean()) / 60, 0),
            share=words.percent(float(starts.seconds.sum()) / 3600 / found.hours, 0),
        )
        yield words.say("meter.compressor"), running
    if math.isnan(defrosts.count):
        text = words.say("meter.defrosts_unseen")
    elif math.isnan(defrosts.hours_between):
        text = words.number(defrosts.count, 0)
    else:
        text = words.say(
            "meter.defrosts_apart",
            n=words.number(defrosts.count, 0),
            hours=words.number(defrosts.hours_between, 0),
            share=words.percent(defrosts.share, 1),
        )
    yield words.say("meter.defrosts"), text


def _runs_seen(words: Words, report: LogReport, found: AnnualOfRuns) -> Iterator[tuple[str, str]]:
    cut = words.number(report.starts.begin.size - found.runs, 0)
    yield words.say("meter.runs"), words.say("meter.runs_whole", whole=words.number(found.runs, 0), cut=cut)
    ends = {name: words.number(float(getattr(found.per_run, name)), 2) for name in ("value", "low", "high")}
    yield words.say("meter.per_run"), words.say("meter.per_run_between", **ends)
    known = not math.isnan(found.standby_watts)
    standby = words.say("meter.watts", watts=words.number(found.standby_watts, 1)) if known else ""
    yield words.say("meter.standby"), standby or words.say("meter.standby_unseen")


def _doubt(words: Words, found: Annual) -> Iterator[tuple[str, str]]:
    for source in ERROR_SOURCES:
        share = float(getattr(found.spread, source))
        if round(share, 3):
            yield words.say(f"meter.{source}"), words.percent(share, 1)
    yield words.say("meter.instrument"), words.percent(float(found.spread.meter), 1)


def _as_read(words: Words, report: LogReport) -> Iterator[tuple[str, str]]:
    read = report.read
    hours, gaps = words.number(covered_hours(read.log), 1), words.percent(missing_share(read.log), 0)
    yield words.say("meter.covered"), words.say("meter.hours", hours=hours, share=gaps)
    rows, missing = words.number(read.rows, 0), words.number(read.missing_rows, 0)
    yield words.say("meter.rows"), words.say("meter.rows_read", rows=rows, missing=missing)
    yield words.say("meter.time_column"), read.time_column
    kind = words.say(f"meter.{KINDS[read.quantity]}")
    column = words.say("meter.value_read", column=read.value_column, unit=WRITTEN[read.unit], kind=kind)
    yield words.say("meter.value_column"), column
    if read.day_first is not None:
        order = words.say("meter.day_first") if read.day_first else words.say("meter.month_first")
        yield words.say("meter.date_order"), order
    if read.clock_changes:
        yield words.say("meter.clock_changes"), words.say("meter.clock_undone", n=str(read.clock_changes))


def meter_data(report: LogReport) -> dict[str, Any]:
    """Lay what a log says out as plain data; names are kept stable."""
    found, read = report.found, report.read
    data: dict[str, Any] = {
        "energy": interval(found.energy),
        **attributes(found, "hours", "missing"),
        **attributes(read, "rows", "missing_rows", "time_column", "value_column", "unit"),
        "quantity": KINDS[read.quantity],
        **attributes(read, "day_first", "clock_changes"),
        "longer": None if report.longer is None else {**vars(report.longer)},
        "against_rated": None if report.against is None else against_rated(report.against),
    }
    if isinstance(found, AnnualOfRuns):
        run = {"whole": found.runs, "seen": report.starts.begin.size, "spread": found.run_spread}
        return {**data, "runs": {**run, "energy": interval(found.per_run)}, "standby_watts": found.standby_watts}
    starts = {"seen": report.starts.begin.size, "seconds": float(report.starts.seconds.sum())}
    parts = {"spread": vars(found.spread), "cycles": starts, "defrosts": vars(found.defrosts)}
    return {**data, **attributes(found, "mean_watts", "rough"), **parts}


# A year's bills


@dataclass(frozen=True)
class Bills:
    """A year of bills by month, and what one part of the use adds to them."""

    tariff: Tariff
    use: Floats
    lines: dict[str, Floats]
    flow: float | None
    without: Floats | None
    marginal: float

    @property
    def total(self) -> Floats:
        """Each month's bill. [money]"""
        return np.asarray(sum(self.lines.values()))


def bills_of(tariff: Tariff, use: Use, flow: Use | None) -> Bills:
    """Bills with all of a household's use, and without one flow of it where one is given."""
    months = use.in_bands(ALWAYS, CALENDAR_MONTHS).sum(axis=-1)
    lines = bill(tariff, use)
    if flow is None:
        return Bills(tariff, months, lines, None, None, math.nan)
    rest = use - flow
    try:
        without = np.asarray(sum(bill(tariff, rest).values()))
    except OutOfRange as error:
        raise CaseError("without", "is more than what is drawn at some time of the year") from error
    drawn = float(flow.drawn(CALENDAR_MONTHS))
    return Bills(tariff, months, lines, drawn, without, float(marginal_price(tariff, rest, flow)))


def show_bills(words: Words, bills: Bills) -> None:
    """Show what the year comes to, what the flow adds, and each month line by line."""
    page, unit = Page(), bills.tariff.unit
    used, total = float(bills.use.sum()), float(bills.total.sum())
    average = _each(words, bills, total / used) if used else ""
    page.line(words.say("bill.year", total=_money(words, bills, total), average=average), "bold")
    if bills.flow is not None and bills.without is not None:
        saved = total - float(bills.without.sum())
        page.line(
            words.say(
                "bill.without",
                flow=words.quantity(bills.flow, unit, ""),
                total=_money(words, bills, total - saved),
                saving=_money(words, bills, saved),
                marginal=_each(words, bills, bills.marginal),
            )
        )
        page.line(words.say("bill.evenly"), "dim")
    page.line()
    heads = [words.say("bill.month"), words.say("bill.use"), *bills.lines, words.say("bill.total")]
    columns = [bills.use, *bills.lines.values(), bills.total]
    if bills.without is not None:
        heads += [words.say("bill.bill_without"), words.say("bill.difference")]
        columns += [bills.without, bills.total - bills.without]
    rows = [_row(words, bills, str(month + 1), [column[month] for column in columns]) for month in range(MONTHS)]
    rows.append(_row(words, bills, words.say("bill.all_months"), [column.sum() for column in columns]))
    page.table(heads, rows, range(1, len(heads)))
    page.line(words.say("bill.source", text=bills.tariff.source), "dim")


def _row(words: Words, bills: Bills, name: str, numbers: list[Any]) -> tuple[str, ...]:
    used, *amounts = (float(number) for number in numbers)
    return (name, words.number(used, 1), *(_money(words, bills, amount) for amount in amounts))


def _money(words: Words, bills: Bills, amount: float) -> str:
    """An amount in the tariff's money; a plain number where it does not say which."""
    currency = bills.tariff.currency
    return words.money(amount, currency, cents=True) if currency else words.number(amount, 2)


def _each(words: Words, bills: Bills, price: float) -> str:
    currency = bills.tariff.currency
    amount = words.figure(price, f"{currency}/{bills.tariff.unit}", currency) if currency else words.number(price, 4)
    return words.say("bill.each", amount=amount, unit=words.unit(bills.tariff.unit, ""))


def region_of(tariff: Tariff) -> str:
    """The region that pays in the tariff's money; the first where it does not say."""
    return next((region for region, money in CURRENCIES.items() if money == tariff.currency), next(iter(CURRENCIES)))


def bill_data(bills: Bills) -> dict[str, Any]:
    """Lay a year's bills out as plain data; names are kept stable."""
    total = bills.total
    without = None
    if bills.without is not None:
        without = {"flow": bills.flow, "total": bills.without, "difference": total - bills.without}
        without["marginal_price"] = bills.marginal
    return {
        "unit": bills.tariff.unit,
        "currency": bills.tariff.currency or None,
        "source": bills.tariff.source,
        **attributes(bills, "use", "lines"),
        "total": total,
        "without": without,
    }
