"""What was written from known figures, in anybody's habit, is read back as those figures or refused, never as others.

What is compared with was worked out here, by plain loops that share nothing with the readers and the bills.
"""

import contextlib
import csv
import datetime
import io
import json
import math

import numpy as np
import pytest
from babel.numbers import format_currency, format_decimal
from fuzzing import TARIFFS, _espi
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from referees_tariff import tariff_of_record
from whole_books import read_jobs

from decide.energy.load_profile import evenly
from decide.energy.tariff import total
from decide.errors import ReadError
from decide.load.cases.case_file import complete, parse_case, write_case
from decide.load.files.toml_text import toml_of
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.meters.interval_data import parse_intervals
from decide.load.meters.meter_log import read_meter_log
from decide.load.meters.tariff_file import parse_tariff
from decide.load.tables.typed import TwoReadings, typed_number

pytestmark = pytest.mark.slow

UNHURRIED = settings(suppress_health_check=list(HealthCheck))

LOCALES = (
    "en_US",
    "en_GB",
    "de_DE",
    "de_AT",
    "de_CH",
    "fr_FR",
    "es_ES",
    "es_MX",
    "it_IT",
    "nl_NL",
    "pt_BR",
    "pl_PL",
    "sv_SE",
)
CENTS = st.integers(0, 999_999_999).map(lambda cents: cents / 100)


@UNHURRIED
@given(value=CENTS, locale=st.sampled_from(LOCALES), known=st.booleans(), sign=st.booleans())
def test_an_amount_in_anybodys_habit_is_read_as_it_was(value: float, locale: str, known: bool, sign: bool) -> None:
    currency = format_currency(value, "EUR", "¤ #,##0.00", locale) if sign else None
    text = currency or format_decimal(value, "#,##0.00", locale)
    assert typed_number(text, "repair.quote", locale if known else None, "money") == value


@UNHURRIED
@given(thousandths=st.integers(0, 10**9), locale=st.sampled_from(LOCALES), known=st.booleans())
def test_a_number_that_could_be_two_is_refused_unless_the_locale_says_which(
    thousandths: int, locale: str, known: bool
) -> None:
    value = thousandths / 1000
    text = format_decimal(value, "#,##0.###", locale)
    readings = [value]
    try:
        readings = [typed_number(text, "x", locale if known else None)]
    except TwoReadings as two:
        readings = [float(two.large), float(two.small)]
    assert value in readings
    assert len(readings) == 1 or not known


HABITS = st.fixed_dictionaries(
    {
        "separator": st.sampled_from([";", "\t", "|"]),
        "mark": st.sampled_from([".", ","]),
        "unit": st.sampled_from(["W", "kW", "Wh", "kWh counter"]),
        "time": st.sampled_from(["%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%SZ", "%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p",
        "epoch"]),
        "backwards": st.booleans(),
        "encoding": st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
        "end": st.sampled_from(["\n", "\r\n"]),
    }
)  # fmt: skip
TENTHS = st.lists(st.integers(0, 25_000), min_size=4, max_size=40)
FIRST = datetime.datetime(2026, 1, 20, tzinfo=datetime.UTC)  # no change of clocks, and a day that is no month


def log_written(tenths: list[int], minutes: int, habit: dict[str, str]) -> bytes:
    """A log of powers, each for so many minutes [W/10], as somebody's meter would write it."""
    hours, rows, counter = minutes / 60, [], 7.0
    for at, tenth in enumerate(tenths):
        watts = tenth / 10
        figure = {"W": f"{watts:.1f}", "kW": f"{watts / 1000:.4f}", "Wh": f"{watts * hours:.6f}",
                  "kWh counter": f"{counter:.9f}"}[habit["unit"]]  # fmt: skip
        counter += watts * hours / 1000
        moment = FIRST + datetime.timedelta(minutes=minutes * at)
        stamp = f"{moment.timestamp():.0f}" if habit["time"] == "epoch" else moment.strftime(habit["time"])
        rows.append(f"{stamp}{habit['separator']}{figure.replace('.', habit['mark'])}")
    head = f"Time{habit['separator']}{'usage Wh' if habit['unit'] == 'Wh' else habit['unit']}"
    return habit["end"].join([head, *(reversed(rows) if habit["backwards"] else rows), ""]).encode(habit["encoding"])


@UNHURRIED
@given(tenths=TENTHS, minutes=st.sampled_from([5, 15, 30]), habit=HABITS)
def test_a_log_in_anybodys_habit_holds_the_energy_that_was_written(
    tenths: list[int], minutes: int, habit: dict[str, str]
) -> None:
    written, may_be_refused = log_written(tenths, minutes, habit), habit["unit"] in ("Wh", "kWh counter")
    log = None
    with contextlib.suppress(*([ReadError] if may_be_refused else [])):  # few figures may not tell which of the two
        log = read_meter_log(written).log
    assume(log is not None)
    read = float((log.watts * log.seconds).sum()) / 3.6e6
    counted = tenths[:-1] if habit["unit"] == "kWh counter" else tenths
    assert read == pytest.approx(sum(counted) / 10 * minutes / 60 / 1000, rel=1e-6, abs=1e-8)


@UNHURRIED
@given(tenths=TENTHS, at=st.integers(0, 39), other=st.integers(0, 25_000), habit=HABITS)
def test_a_figure_that_is_changed_changes_the_energy_by_as_much_or_is_refused(
    tenths: list[int], at: int, other: int, habit: dict[str, str]
) -> None:
    habit = {**habit, "unit": "W"}
    changed = [other if place == at % len(tenths) else tenth for place, tenth in enumerate(tenths)]
    try:
        before, after = (read_meter_log(log_written(each, 30, habit)).log for each in (tenths, changed))
    except ReadError:
        assume(False)
    energies = [float((log.watts * log.seconds).sum()) for log in (before, after)]
    assert energies[1] - energies[0] == pytest.approx((other - tenths[at % len(tenths)]) / 10 * 1800, abs=1e-3)


@UNHURRIED
@given(
    values=st.lists(st.integers(0, 10**7), min_size=1, max_size=50),
    power=st.integers(-3, 3),
    uom=st.sampled_from([72, 31]),
)
def test_a_feed_holds_the_energy_that_was_written(values: list[int], power: int, uom: int) -> None:
    readings = "".join(
        f"<IntervalReading><timePeriod><duration>900</duration><start>{1_767_225_600 + 900 * at}</start></timePeriod>"
        f"<value>{value}</value></IntervalReading>"
        for at, value in enumerate(values)
    )
    form = f"<commodity>1</commodity><powerOfTenMultiplier>{power}</powerOfTenMultiplier><uom>{uom}</uom>"
    (meter,) = parse_intervals(_espi(readings, form)).meters
    kwh = sum(values) * 10.0**power / (1000 if uom == 72 else 3.6e6)
    assert float(meter.value.sum()) == pytest.approx(kwh, rel=1e-9)


# A bill made by plain loops

DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
PRICES = st.integers(-500, 5000).map(lambda tenths: tenths / 10_000)
BOUNDS = st.lists(st.integers(1, 2000), max_size=3, unique=True).map(sorted)


def plain_bill(yearly, band_of, prices, bounds, per, fixed, least, share):  # type: ignore[no-untyped-def]
    """The year's bill of an even use: `band_of` gives the band of an hour, `prices` those of its blocks."""
    bill, day_of_year = 0.0, 0
    for month, days in enumerate(DAYS):
        used: dict[int, float] = {}
        for day in range(day_of_year, day_of_year + days):
            for hour in range(24):
                band = band_of(month, day % 7 >= 5, hour)
                used[band] = used.get(band, 0.0) + yearly / 8760
        day_of_year += days
        times = {"month": 1, "day": days, "year": days / 365, "prorated month": days * 12 / 365}[per]
        whole, energy, below = sum(used.values()), 0.0, 0.0
        for block, upto in enumerate([*(bound * times for bound in bounds), math.inf]):
            filled = max(0.0, min(whole, upto) - below)
            energy += sum(part / whole * filled * prices[band][block] for band, part in used.items())
            below = upto
        lines = energy + fixed
        lines += max(0.0, least - lines)
        bill += lines * (1 + share)
    return bill


@UNHURRIED
@given(
    data=st.data(), bounds=BOUNDS, per=st.sampled_from(["month", "day", "year", "prorated month"]),
    months=st.tuples(st.integers(1, 12), st.integers(1, 12)).filter(lambda ends: ends[0] != ends[1] + 1),
    hours=st.tuples(st.integers(0, 23), st.integers(1, 24)).filter(lambda ends: ends[0] != ends[1]),
    days=st.sampled_from(["all", "weekday", "weekend"]), fixed=st.integers(0, 30), least=st.integers(0, 60),
    share=st.integers(0, 30).map(lambda percent: percent / 100), yearly=st.integers(1, 20_000),
)  # fmt: skip
def test_a_tariff_that_was_written_bills_what_plain_loops_do(
    data, bounds, per, months, hours, days, fixed, least, share, yearly
) -> None:  # type: ignore[no-untyped-def]
    prices = [data.draw(st.lists(PRICES, min_size=len(bounds) + 1, max_size=len(bounds) + 1)) for _ in range(2)]
    blocks = [
        [{"price": price, "upto": upto} for price, upto in zip(each, bounds, strict=False)] + [{"price": each[-1]}]
        for each in prices
    ]
    claim = {"months": f"{months[0]}-{months[1]}", "hours": f"{hours[0]}-{hours[1]}", "days": days}
    page = {
        "commodity": "electricity",
        "source": "invented",
        "line": [
            {"name": "energy", "per": per, "band": [{"blocks": blocks[0], **claim}, {"blocks": blocks[1]}]},
            {"name": "standing", "amount": fixed},
            {"name": "least", "minimum": least},
            {"name": "tax", "share": share},
        ],
    }

    def within(value: int, first: int, last: int) -> bool:
        return first <= value <= last if first <= last else value >= first or value <= last

    def band_of(month: int, weekend: bool, hour: int) -> int:
        claimed = within(month + 1, *months) and within(hour, hours[0], (hours[1] - 1) % 24)
        return 0 if claimed and days in ("all", "weekend" if weekend else "weekday") else 1

    read = float(total(parse_tariff(write_case(page).encode()), evenly(float(yearly))).sum())
    assert read == pytest.approx(
        plain_bill(yearly, band_of, prices, bounds, per, fixed, least, share), rel=1e-9, abs=1e-6
    )


@UNHURRIED
@given(data=st.data(), bounds=BOUNDS, daily=st.booleans(), fixed=st.integers(0, 30), least=st.integers(0, 60),
       yearly=st.integers(1, 20_000))  # fmt: skip
def test_a_record_that_was_written_bills_what_plain_loops_do(data, bounds, daily, fixed, least, yearly) -> None:  # type: ignore[no-untyped-def]
    hours = st.lists(st.integers(0, 2), min_size=24, max_size=24)
    week, weekend = (data.draw(st.lists(hours, min_size=12, max_size=12)) for _ in range(2))
    periods = 1 + max(map(max, week + weekend))
    prices = [data.draw(st.lists(PRICES, min_size=len(bounds) + 1, max_size=len(bounds) + 1)) for _ in range(periods)]
    unit = "kWh daily" if daily else "kWh"
    tiers = [
        [{"rate": price, "max": upto, "unit": unit} for price, upto in zip(each, bounds, strict=False)]
        + [{"rate": each[-1] - 0.01, "adj": 0.01, "unit": unit}]
        for each in prices
    ]
    record = {
        "energyweekdayschedule": week, "energyweekendschedule": weekend, "energyratestructure": tiers,
        "fixedchargefirstmeter": fixed, "mincharge": least,
    }  # fmt: skip
    read = float(total(tariff_of_record(record), evenly(float(yearly))).sum())
    plain = plain_bill(
        yearly, lambda month, late, hour: (weekend if late else week)[month][hour], prices, bounds,
        "day" if daily else "month", fixed, least, 0.0,
    )  # fmt: skip
    assert read == pytest.approx(plain, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("tariff", TARIFFS)
def test_a_price_that_is_changed_changes_the_bill_in_proportion(tariff: bytes) -> None:
    page = toml_of(tariff, "tariff")
    line = page if "price" in page else next(each for each in page["line"] if {"price", "blocks", "band"} & set(each))
    bills = []
    for times in (1, 2, 3):
        priced = json.loads(json.dumps(line), object_hook=lambda cells, times=times: {
            name: value * times if name == "price" else value for name, value in cells.items()
        })  # fmt: skip
        only = {"line": [{"name": "energy", **priced}]} if line is page else {"line": [priced]}
        only = {
            "line": [
                {
                    name: cell
                    for name, cell in only["line"][0].items()
                    if name in ("name", "price", "blocks", "band", "per", "unit", "filling")
                }
            ]
        }
        head = {name: cell for name, cell in page.items() if name not in ("line", "price", "rounding", "currency")}
        bills.append(float(total(parse_tariff(write_case({**head, **only}).encode()), evenly(3800.0)).sum()))
    assert bills[1] - bills[0] == pytest.approx(bills[2] - bills[1])
    assert bills[1] == pytest.approx(2 * bills[0])


# Cases and books


@UNHURRIED
@given(
    quote=CENTS.filter(lambda value: value <= 100_000),
    age=st.floats(0, 60),
    price=CENTS.filter(lambda v: 1 < v < 50_000),
)
def test_a_case_that_was_written_is_completed_with_the_numbers_that_it_holds(
    quote: float, age: float, price: float
) -> None:
    entries = {
        "appliance": {"class": "clothes_washer", "age": age},
        "repair": {"quote": quote},
        "replace": [{"price": price}],
    }
    read = parse_case(write_case(entries).encode())
    assert read == entries
    case = complete(read).case
    amounts = (case.options[0].quote.amount, case.appliance.age, case.options[1].price)
    assert amounts == (quote, age, price)


ROWS = st.lists(st.tuples(CENTS.filter(lambda value: 0 < value < 20_000), st.integers(0, 30)), min_size=3, max_size=30)


@UNHURRIED
@given(rows=ROWS, locale=st.sampled_from(["en_US", "de_DE", "fr_FR"]), whole=st.booleans())
def test_a_book_in_anybodys_habit_is_read_as_it_was_or_its_rows_are_set_apart(
    rows: list[tuple[float, int]], locale: str, whole: bool
) -> None:
    rows = [(round(quote) or 1, age) for quote, age in rows] if whole else rows
    text = io.StringIO()
    writer = csv.writer(text, delimiter=",")
    writer.writerow(["Appliance", "Age", "Quote"])
    form = "#,##0" if whole else "#,##0.00"
    writer.writerows(["Dishwasher", age, format_decimal(quote, form, locale)] for quote, age in rows)
    book = open_book(text.getvalue().encode(), "jobs.csv")
    jobs, skipped = read_jobs(book, guess_mapping(book))
    assert len(jobs) + len(skipped) == len(rows)
    expected = [rows[line - 2] for line in np.asarray(jobs.row).tolist()]
    assert list(zip(jobs.quote.tolist(), jobs.age.tolist(), strict=True)) == [(float(q), float(a)) for q, a in expected]
