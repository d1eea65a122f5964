"""Tariffs from files, and as records of the open rate database have them, against bills that others computed."""

import copy
import math
from pathlib import Path

import numpy as np
import pytest
from referees_tariff import Hourly, a_day, a_year, tariff_of_record

from decide.energy.consumption import KWH_PER_THERM
from decide.energy.load_profile import Calendar, Schedule, Totals, evenly
from decide.energy.tariff import Tariff, Usage, in_order_of_time, marginal_price, total
from decide.errors import ReadError
from decide.load.meters.tariff_file import LARGEST_FILE, parse_tariff, read_tariff

HOURS = np.arange(8760)
EVENING_LOAD = np.where((HOURS % 24 >= 17) & (HOURS % 24 < 20), 1.5, 0.5)
MONTH = Calendar(periods=(30,))


def ours(text: str, commodity: str = "electricity") -> Tariff:
    return parse_tariff(f'commodity = "{commodity}"\nsource = "invented"\n{text}'.encode(), "page.toml")


def usage(tariff: Tariff) -> Usage:
    return next(line for line in tariff.lines if isinstance(line, Usage))


def refused(text: str, commodity: str = "electricity") -> str:
    with pytest.raises(ReadError) as caught:
        ours(text, commodity)
    return str(caught.value)


# ---- Our own page ----


def test_the_simplest_page_is_a_price() -> None:
    tariff = ours("price = 0.30")
    assert total(tariff, Totals(np.array([100.0])), MONTH)[0] == pytest.approx(30.0)
    assert tariff.source == "invented"


# City of Seymour, electricity billing example, summer: 2,000 kWh come to 277.88.
SEYMOUR = """
rounding = 0.01
[[line]]
name = "energy"
blocks = [{ price = 0.064, upto = 250 }, { price = 0.049, upto = 700 },
          { price = 0.0475, upto = 1250 }, { price = 0.0446 }]
[[line]]
name = "power cost"
price = 0.085
[[line]]
name = "customer"
amount = 7.5
[[line]]
name = "tax"
share = 0.01
"""


@pytest.mark.published("City of Seymour, electricity billing example, summer", "tar-seymour-summer")
def test_a_page_with_blocks_and_a_tax_comes_to_the_printed_bill() -> None:
    tariff = ours(SEYMOUR)
    assert total(tariff, Totals(np.array([2000.0])), MONTH)[0] == pytest.approx(277.88, abs=1e-9)
    assert tariff.rounding == 0.01


# NREL-PySAM 7.1.1.post1, module Utilityrate5: 0.40 on June-September weekdays 16-21, else 0.15, 12 a month.
PYSAM_TOU = """
[[line]]
name = "energy"
[[line.band]]
name = "peak"
price = 0.40
months = "6-9"
days = "weekday"
hours = "16-21"
[[line.band]]
name = "rest"
price = 0.15
[[line]]
name = "fixed"
amount = 12
per = "month"
"""


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-tou")
def test_a_page_with_time_bands_agrees_with_pysam() -> None:
    bills = total(ours(PYSAM_TOU), Hourly(EVENING_LOAD))
    assert [bills[6], bills.sum()] == pytest.approx([112.0, 1083.5], abs=1e-4)


# The same program: seasonal tiers, 1.0 kW and 1.6 in June-September, 9.5 a month; year 1,765.712.
PYSAM_SEASONS = """
[[line]]
name = "energy"
[[line.band]]
blocks = [{ price = 0.13, upto = 500 }, { price = 0.21, upto = 1000 }, { price = 0.29 }]
months = "6-9"
[[line.band]]
blocks = [{ price = 0.11, upto = 400 }, { price = 0.16 }]
[[line]]
name = "fixed"
amount = 9.5
"""


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-seasonal-tier")
def test_a_page_with_seasons_agrees_with_pysam() -> None:
    month = (np.datetime64("2001-01-01T00") + HOURS).astype("datetime64[M]").astype(int) % 12
    load = np.where((month >= 5) & (month <= 8), 1.6, 1.0)
    assert total(ours(PYSAM_SEASONS), Hourly(load)).sum() == pytest.approx(1765.712, abs=1e-4)


def test_spans_go_over_the_turn_of_day_and_year() -> None:
    page = """
[[line]]
name = "energy"
[[line.band]]
price = 0.1
months = "11-2, 7"
hours = "22-6, 12"
[[line.band]]
price = 0.2
"""
    schedule = usage(ours(page)).schedule
    assert [month for month in range(12) if 0 in schedule.weekday[month]] == [0, 1, 6, 10, 11]
    assert [hour for hour in range(24) if schedule.weekend[0][hour] == 0] == [0, 1, 2, 3, 4, 5, 12, 22, 23]


def test_a_page_says_how_blocks_and_bands_fill_and_what_bounds_count_for() -> None:
    page = """
[[line]]
name = "energy"
per = "day"
filling = "in order of time"
[[line.band]]
blocks = [{ price = 0.3, upto = 10 }, { price = 0.4 }]
hours = "16-21"
[[line.band]]
blocks = [{ price = 0.1, upto = 10 }, { price = 0.2 }]
"""
    line = usage(ours(page))
    assert line.allocation is in_order_of_time
    assert line.per is a_day


# Gas: by definition of the units; 100,000 Btu a therm.
@pytest.mark.parametrize(
    ("page", "money_a_kwh"),
    [
        ('unit = "kWh"', 1.0),
        ('unit = "therm"', 1 / KWH_PER_THERM),
        ('unit = "ccf"\ntherms_per_ccf = 1.085', 1 / (KWH_PER_THERM * 1.085)),
        ('unit = "Mcf"\ntherms_per_ccf = 1.085', 1 / (KWH_PER_THERM * 10.85)),
        ('unit = "m3"\ncalorific_value = 39.5', 3.6 / 39.5),
        ('unit = "m3"\ncalorific_value = 39.5\ncorrection = 1.02264', 3.6 / 39.5 / 1.02264),
    ],
)
def test_gas_may_be_priced_in_any_unit_and_is_used_in_kilowatt_hours(page: str, money_a_kwh: float) -> None:
    tariff = ours(f"{page}\nprice = 1.0", "gas")
    assert tariff.unit == "kWh"
    assert marginal_price(tariff, evenly(0.0), evenly(500.0)) == pytest.approx(money_a_kwh)


def test_water_and_sewer_are_priced_on_the_same_volume() -> None:
    # City of Goodland (Kansas): 1.35 per 100 cubic feet and 0.032 per 1,000 gallons;
    # 1,000 cubic feet make 13.50 and 0.24.
    page = """
rounding = 0.01
[[line]]
name = "water"
unit = "100 cubic feet"
price = 1.35
[[line]]
name = "state fee"
unit = "1000 gallons"
price = 0.032
[[line]]
name = "sewer"
amount = 14
"""
    tariff = ours(page, "water")
    assert tariff.unit == "m3"
    cubic_metres = 1000 * 0.3048**3
    assert total(tariff, Totals(np.array([cubic_metres])), MONTH)[0] == pytest.approx(13.50 + 0.24 + 14, abs=1e-9)


REFUSED = [
    ("", "must have a price, or lines, and not both"),
    ("price = 0.3\n[[line]]\nname='a'\nprice=1", "must have a price, or lines, and not both"),
    ("prize = 0.3", "prize is not known here"),
    ("price = '0.3'", "price must be a number, got '0.3'"),
    ("price = nan", "price must be a number, got nan"),
    ("price = true", "price must be a number, got True"),
    ("price = 0.3\nrounding = 0", "rounding must be 1e-06 or more, got 0"),
    ("price = 0.3\nunit = 'therm'", "unit must be one of kWh, got 'therm'"),
    ("[[line]]\nprice = 0.3", "line 1: name must be given as text"),
    ("[[line]]\nname = 'a'", "line 1: must have one of price, blocks, band, amount, minimum, share, got none"),
    ("[[line]]\nname = 'a'\nprice = 1\namount = 2", "got price, amount"),
    ("[[line]]\nname = 'a'\nprice = 1\nhours = '1-2'", "line 1: hours is not known here"),
    ("[[line]]\nname = 'a'\namount = 1\nper = 'week'", "line 1 (a): per must be one of month, prorated month, day"),
    ("[[line]]\nname = 'a'\nminimum = -1", "line 1 (a): minimum must be 0 or more, got -1"),
    ("[[line]]\nname = 'a'\nshare = 0.1\nof = 'b'", "line 1 (a): of must be a list of names"),
    ("[[line]]\nname = 'a'\nshare = 0.1\nof = ['b']", "may be a share of lines before it only"),
    ("[[line]]\nname = 'a'\nblocks = [{price = 0.1}, {price = 0.2}]", "must rise, the last without one"),
    ("[[line]]\nname = 'a'\nblocks = [{price = 0.1, upto = 5}]", "must rise, the last without one"),
    ("[[line]]\nname = 'a'\nblocks = 3", "blocks must be a list of tables"),
    ("[[line]]\nname = 'a'\nblocks = [{price = 0.1, up = 5}]", "line 1 (a), block 1: up is not known here"),
    ("[[line]]\nname = 'a'\n[[line.band]]\nhours = '1-2'", "band 1: must have a price or blocks"),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\nhours = '1-2'", "no band claims 0:00 of a weekday in month 1"),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\nhours = '5-25'", "hours must be spans such as \"0-24\""),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\nhours = '7-7'", "hours must be spans"),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\nmonths = '0-3'", "months must be spans such as \"1-12\""),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\nmonths = 'June'", "months must be spans"),
    ("[[line]]\nname = 'a'\n[[line.band]]\nprice = 1\ndays = 'monday'", "days must be one of all, weekday, weekend"),
    ("price = [", "is no TOML file"),
]  # fmt: skip


@pytest.mark.parametrize(("page", "text"), REFUSED)
def test_a_page_that_cannot_be_is_refused_with_its_place(page: str, text: str) -> None:
    message = refused(page)
    assert text in message
    assert message.startswith("page.toml")


def test_gas_by_volume_needs_its_heat() -> None:
    assert "therms_per_ccf must be a number, got None" in refused('unit = "ccf"\nprice = 1', "gas")
    assert "calorific_value must be a number" in refused('unit = "m3"\nprice = 1', "gas")
    assert "commodity must be one of electricity, gas, water" in refused("price = 1", "steam")


def test_the_simplest_page_is_one_line() -> None:
    tariff = parse_tariff(b"price = 0.20", "mine.toml")
    assert (tariff.unit, tariff.source, tariff.currency) == ("kWh", "mine.toml", "")
    with pytest.raises(ReadError, match="source must be given as text"):
        parse_tariff(b'commodity = "gas"\nsource = 3\nprice = 0.1')


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        read_tariff(tmp_path / "none.toml")
    (tmp_path / "big.toml").write_bytes(b"#" * (LARGEST_FILE + 1))
    with pytest.raises(ReadError, match="is larger than 2,000,000 bytes"):
        read_tariff(tmp_path / "big.toml")
    with pytest.raises(ReadError, match="is not UTF-8 text"):
        parse_tariff(b"\xff\xfe")


# ---- The open utility rate database ----
# Figures of record 618940545457a35a1c4097ec (residential time of use) of the OpenEI utility rate database, as stored
# in NREL/pysam (BSD-3), Examples/. What it costs is PySAM's own answer;
# its year is the sum of months printed to four decimals, hence abs=6e-4 there.

WEEKDAY = {
    "summer": [0] * 9 + [3] * 5 + [4] * 4 + [3] * 3 + [0] * 3,
    "winter": [0] * 9 + [1] * 5 + [2] * 4 + [1] * 3 + [0] * 3,
}
WEEKEND = {"summer": [0] * 9 + [3] * 12 + [0] * 3, "winter": [0] * 9 + [1] * 12 + [0] * 3}
SEASONS = ["winter"] * 5 + ["summer"] * 4 + ["winter"] * 3
RATES = [(0.06387, 0.035187), (0.08623, 0.0085112), (0.10858, 0.049546), (0.11816, 0.0070699), (0.17246, 0.047412)]
PYSAM_MONTHS = [
    54.9409,
    50.0294,
    54.7508,
    53.1136,
    54.9409,
    63.3148,
    65.3201,
    65.604,
    63.0309,
    54.9409,
    53.3038,
    54.5606,
]


def record(**changes: object) -> dict[str, object]:
    return {
        "label": "618940545457a35a1c4097ec",
        "uri": "https://apps.openei.org/IURDB/rate/view/618940545457a35a1c4097ec",
        "sector": "Residential",
        "description": "the Customer&#x;fffds energy use",
        "energyratestructure": [[{"unit": "kWh", "rate": rate, "adj": adj}] for rate, adj in RATES],
        "energyweekdayschedule": [WEEKDAY[season] for season in SEASONS],
        "energyweekendschedule": [WEEKEND[season] for season in SEASONS],
        "fixedchargefirstmeter": 5.71,
        "fixedchargeunits": "$/month",
        "country": "USA",
    } | changes


@pytest.mark.published("OpenEI record 618940545457a35a1c4097ec, by NREL-PySAM 7.1.1.post1", "pysam-urdb-retou")
def test_a_record_comes_to_the_bills_that_pysam_makes_of_it() -> None:
    tariff = tariff_of_record(record())
    assert total(tariff, Hourly(EVENING_LOAD)) == pytest.approx(PYSAM_MONTHS, abs=2e-4)
    assert total(tariff, Hourly(EVENING_LOAD)).sum() == pytest.approx(687.8507, abs=6e-4)
    assert total(tariff, Hourly(EVENING_LOAD - 0.05)).sum() == pytest.approx(639.331, abs=2e-4)
    assert "618940545457a35a1c4097ec" in tariff.source


@pytest.mark.published("OpenEI record 618940545457a35a1c4097ec, by NREL-PySAM 7.1.1.post1", "pysam-urdb-retou")
def test_the_last_kilowatt_hour_costs_less_than_the_average_of_the_record() -> None:
    # PySAM: 48.5197 saved for 438 kWh is 0.110776; the average, with the fixed charge, is 0.125635.
    flow = evenly(438.0)
    price = marginal_price(tariff_of_record(record()), Hourly(EVENING_LOAD) - flow, flow)
    assert price == pytest.approx(0.110776, abs=1e-6)
    assert 687.8507 / EVENING_LOAD.sum() == pytest.approx(0.125635, abs=1e-6)


@pytest.mark.published(
    "NREL-PySAM 7.1.1.post1, UtilityRateTools, whose converter shifts them", "urdb-converter-mutation"
)
def test_reading_a_record_twice_does_not_shift_its_periods() -> None:
    # PySAM's own converter raises the schedule in place at each call: a 1 has become 3 after two.
    mine = record()
    before = copy.deepcopy(mine)
    first, second = tariff_of_record(mine), tariff_of_record(mine)
    assert mine == before
    assert (
        usage(first).schedule
        == usage(second).schedule
        == Schedule(
            tuple(map(tuple, before["energyweekdayschedule"])), tuple(map(tuple, before["energyweekendschedule"]))
        )
    )


def test_an_adjustment_is_part_of_the_price() -> None:
    prices = [blocks[0].price for blocks in usage(tariff_of_record(record())).bands]
    assert prices == pytest.approx([0.099057, 0.0947412, 0.158126, 0.1252299, 0.219872], abs=1e-12)


# NREL-PySAM: 1.1 kW constant, 22.1918 "kWh daily" at 0.1097, 0.1408 above: 1,104.838587 a year.
ALWAYS = [[0] * 24] * 12
DAILY = [[{"max": 22.1918, "rate": 0.1097, "unit": "kWh daily"}, {"rate": 0.1408, "unit": "kWh daily"}]]


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-daily-baseline")
def test_tiers_in_kilowatt_hours_a_day_agree_with_pysam() -> None:
    tariff = tariff_of_record(
        record(
            energyratestructure=DAILY,
            energyweekdayschedule=ALWAYS,
            energyweekendschedule=ALWAYS,
            fixedchargefirstmeter=0,
        )
    )
    assert total(tariff, Hourly(np.full(8760, 1.1))).sum() == pytest.approx(1104.838587, abs=1e-4)


def test_tiers_are_bounded_by_running_totals_and_the_last_by_nothing() -> None:
    tiers = [[{"max": 300, "rate": 0.1, "sell": 0.03}, {"max": 600, "rate": 0.15}, {"max": 1e6, "rate": 0.25}]]
    tariff = tariff_of_record(
        record(energyratestructure=tiers, energyweekdayschedule=ALWAYS, energyweekendschedule=ALWAYS)
    )
    assert [(block.upto, block.price) for block in usage(tariff).bands[0]] == [
        (300, 0.1),
        (600, 0.15),
        (math.inf, 0.25),
    ]


# NREL-PySAM: 0.02 kW at 0.2, 5 a month, at least 12: the minimum is held against energy plus fixed.
@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-minimum")
def test_a_minimum_charge_agrees_with_pysam() -> None:
    changes = {"mincharge": 12, "energyratestructure": [[{"rate": 0.2}]], "fixedchargefirstmeter": 5}
    tariff = tariff_of_record(record(energyweekdayschedule=ALWAYS, energyweekendschedule=ALWAYS, **changes))
    assert total(tariff, Hourly(np.full(8760, 0.02))) == pytest.approx([12.0] * 12, abs=1e-4)


def test_fixed_charges_a_day_and_a_year_are_what_they_say() -> None:
    nothing = Hourly(np.zeros(8760))
    daily = tariff_of_record(record(fixedchargefirstmeter=0.4, fixedchargeunits="$/day"))
    assert total(daily, nothing) == pytest.approx(0.4 * np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]))
    yearly = tariff_of_record(record(fixedchargefirstmeter=73, fixedchargeunits="$/year"))
    assert total(yearly, nothing).sum() == pytest.approx(73)
    assert yearly.lines[1].per is a_year


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('\ufeffcommodity = "electricity"\nsource = "invented"\nprice = 0.3', "utf-8")
    assert marginal_price(read_tariff(tmp_path / "mine.toml"), evenly(0.0), evenly(1.0)) == pytest.approx(0.3)
