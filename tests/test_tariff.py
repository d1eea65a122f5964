"""Bills, savings and marginal prices against worked bills that others printed, and against another's program."""

import math
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from referees_tariff import (
    ByBand,
    Hourly,
    PriceIndex,
    a_day,
    a_month,
    a_prorated_month,
    a_year,
    deflated,
    flat,
    index_levels,
    saving,
)

from decide.energy.consumption import KWH_PER_THERM
from decide.energy.load_profile import (
    M3_PER_CUBIC_FOOT,
    Calendar,
    Schedule,
    Together,
    Totals,
    evenly,
    gas_energy,
    hours_of_profile,
)
from decide.energy.tariff import (
    Block,
    Fixed,
    FractionLine,
    Minimum,
    Tariff,
    Usage,
    bill,
    half_up,
    in_order_of_time,
    in_proportion,
    marginal_price,
    price_pieces,
    steady_escalation,
    steady_levels,
    total,
)
from decide.errors import CaseError, NoSolution, OutOfRange
from decide.finance import indexed_uniform_present_value, nominal_rate

CENTS = 0.01
HOURS = np.arange(8760)
# Month of each hour by numpy's calendar of 2001, a year of 365 days that began on a Monday.
MONTH_OF_HOUR = (np.datetime64("2001-01-01T00") + HOURS).astype("datetime64[M]").astype(int) % 12


def month(days: int = 30) -> Calendar:
    return Calendar(periods=(days,))


def one(units: float) -> Totals:
    return Totals(np.array([units]))


def steps(*bounds_and_prices: tuple[float, float]) -> tuple[Block, ...]:
    return tuple(Block(price, bound) for bound, price in bounds_and_prices)


def priced(*lines: object, rounding: float = CENTS, unit: str = "kWh") -> Tariff:
    return Tariff(unit=unit, lines=lines, rounding=rounding)


# ---- Worked bills from suppliers' own pages. Printed to the cent, hence abs=0.005. ----

# City of Seymour, electricity billing example, summer: 2,000 kWh, subtotal 275.13, tax 2.75, total 277.88.
SEYMOUR_BLOCKS = ((250, 0.064), (700, 0.049), (1250, 0.0475), (math.inf, 0.0446))
SEYMOUR_PRINTED_LINES = [16.00, 22.05, 26.13, 33.45]


@pytest.mark.published("City of Seymour, electricity billing example, summer", "tar-seymour-summer")
def test_declining_blocks_with_a_tax_come_to_the_printed_bill() -> None:
    energy = Usage(name="energy", bands=(steps(*SEYMOUR_BLOCKS),))
    tariff = priced(
        energy,
        Usage(name="power cost", bands=((Block(0.085),),)),
        Fixed(name="customer", amount=7.5),
        FractionLine(name="tax", share=0.01),
    )
    lines = bill(tariff, one(2000), month())
    assert half_up(energy.amounts(one(2000), month(), {}), CENTS)[0] == pytest.approx(SEYMOUR_PRINTED_LINES, abs=1e-9)
    assert lines["tax"][0] == pytest.approx(2.75, abs=1e-9)
    assert total(tariff, one(2000), month())[0] == pytest.approx(277.88, abs=1e-9)


@pytest.mark.published("City of Seymour, electricity billing example, summer", "tar-seymour-summer")
def test_rounding_to_even_would_miss_a_printed_line_by_a_cent() -> None:
    assert round(26.125, 2) == 26.12
    assert float(half_up(np.array([550 * 0.0475]), CENTS)[0]) == pytest.approx(26.13, abs=1e-9)


@example(1005)  # 1.005 / 0.01 falls a hair short of 100.5
@given(st.integers(-10_000_000, 10_000_000))
def test_halves_go_up_as_in_decimal_arithmetic(thousandths: int) -> None:
    expected = (Decimal(thousandths) / 1000).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert float(half_up(np.array([thousandths / 1000]), CENTS)[0]) == pytest.approx(float(expected), abs=1e-9)


# City of Goodland (Kansas), utility rates page, residential example: 1,000 kWh and 1,000 cubic feet, before tax.
@pytest.mark.published("City of Goodland (Kansas), utility rates, residential example", "tar-goodland-bundle")
def test_electricity_sewer_waste_and_water_come_to_the_printed_bundle() -> None:
    electric = priced(
        Usage(name="energy", bands=((Block(0.127),),)),
        Fixed(name="meter", amount=15),
        Fixed(name="sewer", amount=14),
        Fixed(name="waste", amount=16.5),
    )
    water = priced(
        Usage(name="state fee", bands=((Block(0.032),),), units=7.48 / 1000),
        Usage(name="water", bands=(steps((40, 1.35), (math.inf, 1.5)),), units=1 / 100),
        Fixed(name="meter", amount=20),
        unit="cubic feet",
    )
    power, wet = bill(electric, one(1000), month()), bill(water, one(1000), month())
    parts = [power["energy"] + power["meter"], power["sewer"], power["waste"], wet["state fee"]]
    assert [float(part[0]) for part in parts] == pytest.approx([142.0, 14.0, 16.5, 0.24], abs=1e-9)
    assert float((wet["water"] + wet["meter"])[0]) == pytest.approx(33.5, abs=1e-9)
    both = total(electric, one(1000), month()) + total(water, one(1000), month())
    assert float(both[0]) == pytest.approx(206.24, abs=1e-9)


# Johnson City Power Board, residential example: readings 9975 and 8865; 105.56 and 18.48 are printed.
@pytest.mark.published("Johnson City Power Board, residential example", "tar-jcpb-flat")
def test_a_flat_rate_and_a_fee_come_to_the_printed_parts() -> None:
    tariff = priced(Usage(name="energy", bands=((Block(0.0951),),)), Fixed(name="fee", amount=18.48))
    lines = bill(tariff, one(9975 - 8865), month())
    assert [float(line[0]) for line in lines.values()] == pytest.approx([105.56, 18.48], abs=1e-9)


# Fayetteville PWC (North Carolina), time-of-use page: 1,000 kWh with 80 and 85 % off-peak; moving 50 kWh saves 2.26.
OFF_PEAK_HOURS = Schedule(((0,) * 15 + (1,) * 4 + (0,) * 5,) * 12)


@pytest.mark.parametrize(("off_share", "printed"), [(0.80, 93.78), (0.85, 91.52)])
@pytest.mark.published("Fayetteville PWC (North Carolina), time-of-use page", "tar-faypwc-tou")
def test_two_time_bands_come_to_the_printed_energy_charge(off_share: float, printed: float) -> None:
    tariff = priced(Usage(name="energy", bands=((Block(0.08473),), (Block(0.13),)), schedule=OFF_PEAK_HOURS))
    use = ByBand(np.array([[1000 * off_share, 1000 * (1 - off_share)]]))
    assert total(tariff, use, month())[0] == pytest.approx(printed, abs=0.006)


@pytest.mark.published("Fayetteville PWC (North Carolina), time-of-use page", "tar-faypwc-tou")
def test_moving_use_off_peak_saves_what_the_supplier_prints() -> None:
    bands = ((Block(0.08473),), (Block(0.13),))
    tariff = Tariff(unit="kWh", lines=(Usage(name="energy", bands=bands, schedule=OFF_PEAK_HOURS),))
    base, peak, off = (ByBand(np.array([pair])) for pair in ([800, 150], [0, 50], [50, 0]))
    assert saving(tariff, base, peak, off, month())[0] == pytest.approx(2.26, abs=0.005)


# BC Hydro, tiered rate page: 22.1918 kWh a day in step 1; 60 days print 1,332 kWh and 58 days 1,287.
# Hydro-Quebec, Rate D page: 40 kWh a day; 62 days print 2,480 kWh.
PRINTED_THRESHOLDS = [(22.1918, 60, 1332), (22.1918, 58, 1287), (40, 62, 2480)]


@pytest.mark.parametrize(("a_day_kwh", "days", "printed"), PRINTED_THRESHOLDS)
@pytest.mark.published(
    "BC Hydro, tiered rate page; Hydro-Quebec, Rate D page", "tar-bchydro-threshold", "tar-hq-threshold"
)
def test_a_threshold_in_units_a_day_grows_with_the_period(a_day_kwh: float, days: int, printed: int) -> None:
    usage = Usage(name="energy", bands=(steps((a_day_kwh, 0.1), (math.inf, 0.2)),), per=a_day)
    assert usage.bounds(month(days))[0, 0, 0] == pytest.approx(printed, abs=0.5)


# Otter Tail Power, sample bill notes: 29 days over a year end, 20 in one season and 9 in the next, 600 kWh;
# a customer charge of 9.75 for 365/12 days prints as 9.30, and the energy as 413.793103 and 186.206897 kWh.
@pytest.mark.published("Otter Tail Power, sample bill notes", "tar-ottertail-proration")
def test_a_period_over_two_seasons_is_split_by_days_as_printed() -> None:
    winter = Schedule(*(((1,) * 24, *((0,) * 24,) * 10, (0,) * 24),) * 2)
    usage = Usage(name="energy", bands=((Block(1.0),), (Block(1000.0),)), schedule=winter)
    over_new_year = Calendar(periods=(29,), first_day=345)
    costs = usage.amounts(one(600), over_new_year, {})[0]
    assert costs / [1.0, 1000.0] == pytest.approx([413.793103, 186.206897], abs=1e-6)
    charge = priced(Fixed(name="customer", amount=9.75, per=a_prorated_month))
    assert total(charge, one(600), over_new_year)[0] == pytest.approx(9.30, abs=1e-9)


# Hi-Desert Water District, water rates page. A defect of the source: its text says 6 units where its sum, 60.03, is
# for 8 (4 + 4); 6 units come to 47.69.
@pytest.mark.parametrize(("units", "amount"), [(8, 60.03), (6, 47.69)])
@pytest.mark.published("Hi-Desert Water District, water rates page", "tar-hdwd-water")
def test_water_in_two_tiers_comes_to_the_printed_sum_for_eight_units(units: int, amount: float) -> None:
    tariff = priced(Usage(name="water", bands=(steps((4, 3.65), (math.inf, 6.17)),)), Fixed(name="meter", amount=20.75))
    assert total(tariff, one(units), month())[0] == pytest.approx(amount, abs=1e-9)


# Energy Knowledge Base, "therm": 37 ccf at a billing factor of 1.085 are billed as 40 therms.
@pytest.mark.published("Energy Knowledge Base, 'therm'", "tar-gas-billing-factor")
def test_a_billing_factor_turns_volume_into_billed_therms() -> None:
    usage = Usage(name="gas", bands=((Block(1.0),),), units=1.085)
    therms = usage.amounts(one(37), month(), {})[0, 0]
    assert therms == pytest.approx(40.145, abs=1e-9)
    assert float(half_up(np.array([therms]), 1.0)[0]) == 40


# Published rates, with consumption chosen here: rates of BC Hydro's tiered page; Hydro-Quebec's Rate D of 1 April 2015;
# Ontario's RPP prices of 1 November 2022 (Wellington North Power's page).
@pytest.mark.published(
    "rates of BC Hydro, Hydro-Quebec (2015) and Ontario (2022), own consumption",
    "tar-bchydro-bill",
    "tar-hq-2015-bill",
    "tar-ontario-tier",
)
def test_published_rates_with_consumption_of_our_own() -> None:
    bc = Usage(name="energy", bands=(steps((22.1918, 0.1097), (math.inf, 0.1408)),), per=a_day)
    assert total(priced(bc, rounding=0.0), one(2000), month(60))[0] == pytest.approx(240.1901, abs=5e-4)
    quebec = (
        Fixed(name="access", amount=0.4064, per=a_day),
        Usage(name="energy", bands=(steps((30, 0.0568), (math.inf, 0.086)),), per=a_day),
    )
    assert total(Tariff(unit="kWh", lines=quebec), one(3000), month(60))[0] == pytest.approx(229.824, abs=1e-6)
    ontario = Usage(name="energy", bands=(steps((1000, 0.087), (math.inf, 0.103)),))
    assert total(priced(ontario), one(1200), month())[0] == pytest.approx(107.6, abs=1e-9)


# Ontario's winter time-of-use prices of 1 November 2022: weekdays on-peak 7-11 and 17-19, mid 11-17, else off.
@pytest.mark.published("Ontario's winter time-of-use prices of 1 November 2022, own load", "tar-ontario-tou-flatload")
def test_a_load_that_is_always_on_pays_the_hours_share_of_each_band() -> None:
    weekday = ((0,) * 7 + (2,) * 4 + (1,) * 6 + (2,) * 2 + (0,) * 5,) * 12
    bands = ((Block(0.074),), (Block(0.102),), (Block(0.151),))
    usage = Usage(name="energy", bands=bands, schedule=Schedule(weekday))
    week = Calendar(periods=(7,))
    refrigerator = Hourly(np.ones(168))
    assert marginal_price(Tariff(unit="kWh", lines=(usage,)), refrigerator, refrigerator, week) == pytest.approx(
        0.09275
    )
    assert usage.schedule.sums(np.ones(168), week)[0].tolist() == [108, 30, 30]


# ---- Another's program: NREL-PySAM 7.1.1.post1, module Utilityrate5, its output printed here. ----
# Its year begins on a Monday and has 365 days. abs=1e-4 as compared when it was run.

SUMMER_AFTERNOONS = Schedule(
    tuple((0,) * 16 + (1,) * 5 + (0,) * 3 if m in (5, 6, 7, 8) else (0,) * 24 for m in range(12))
)
EVENING_LOAD = np.where((HOURS % 24 >= 17) & (HOURS % 24 < 20), 1.5, 0.5)
PYSAM_TOU = [81.75, 75.0, 81.75, 79.5, 81.75, 108.375, 112.0, 113.375, 107.0, 81.75, 79.5, 81.75]
PYSAM_TOU_LESS_50_W = [76.17, 69.96, 76.17, 74.1, 76.17, 101.6625, 105.045, 106.3575, 100.35, 76.17, 74.1, 76.17]
PYSAM_SEASONAL = [108.54, 97.02, 108.54, 104.7, 108.54, 223.58, 234.716, 234.716, 223.58, 108.54, 104.7, 108.54]
PYSAM_DAILY = [93.835606, 84.754741, 93.835606, 90.808651, 93.835606, 90.808651, 93.835606, 93.835606, 90.808651,
               93.835606, 90.808651, 93.835606]  # fmt: skip


def time_of_use() -> Tariff:
    energy = Usage(name="energy", bands=((Block(0.15),), (Block(0.40),)), schedule=SUMMER_AFTERNOONS)
    return Tariff(unit="kWh", lines=(energy, Fixed(name="fixed", amount=12)))


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-tou", "pysam-tou-less50w")
def test_time_of_use_bills_agree_with_pysam() -> None:
    assert total(time_of_use(), Hourly(EVENING_LOAD)) == pytest.approx(PYSAM_TOU, abs=1e-4)
    assert total(time_of_use(), Hourly(EVENING_LOAD - 0.05)) == pytest.approx(PYSAM_TOU_LESS_50_W, abs=1e-4)


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-tou-less50w")
def test_the_saving_of_fifty_watts_is_the_difference_of_pysams_bills() -> None:
    base, flow, none = Hourly(EVENING_LOAD - 0.05), evenly(438.0), evenly(0.0)
    assert saving(time_of_use(), base, flow, none).sum() == pytest.approx(1083.5 - 1012.425, abs=1e-4)
    price = marginal_price(time_of_use(), base, flow)
    assert price == pytest.approx(71.075 / 438, abs=1e-6)
    assert price == pytest.approx((8330 * 0.15 + 430 * 0.40) / 8760)  # by hand: 86 summer weekdays of 5 hours


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5")
def test_tiers_agree_with_pysam() -> None:
    tiers = Usage(name="energy", bands=(steps((300, 0.10), (600, 0.15), (math.inf, 0.25)),))
    bills = total(Tariff(unit="kWh", lines=(tiers, Fixed(name="fixed", amount=10))), Hourly(np.ones(8760)))
    assert [bills[0], bills[1], bills.sum()] == pytest.approx([121.0, 103.0, 1410.0], abs=1e-4)


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-seasonal-tier")
def test_tiers_that_change_by_season_agree_with_pysam() -> None:
    rows = tuple((1,) * 24 if m in (5, 6, 7, 8) else (0,) * 24 for m in range(12))
    bands = (steps((400, 0.11), (math.inf, 0.16)), steps((500, 0.13), (1000, 0.21), (math.inf, 0.29)))
    usage = Usage(name="energy", bands=bands, schedule=Schedule(rows, rows))
    load = np.where(np.isin(MONTH_OF_HOUR, (5, 6, 7, 8)), 1.6, 1.0)
    tariff = Tariff(unit="kWh", lines=(usage, Fixed(name="fixed", amount=9.5)))
    assert total(tariff, Hourly(load)) == pytest.approx(PYSAM_SEASONAL, abs=1e-4)


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-daily-baseline")
def test_a_daily_baseline_agrees_with_pysam() -> None:
    usage = Usage(name="energy", bands=(steps((22.1918, 0.1097), (math.inf, 0.1408)),), per=a_day)
    assert total(Tariff(unit="kWh", lines=(usage,)), Hourly(np.full(8760, 1.1))) == pytest.approx(PYSAM_DAILY, abs=1e-4)


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-minimum")
def test_below_a_minimum_bill_pysam_agrees_that_a_saving_is_worth_nothing() -> None:
    lines = (
        Usage(name="energy", bands=((Block(0.2),),)),
        Fixed(name="fixed", amount=5),
        Minimum(name="minimum", amount=12),
    )
    tariff, load = Tariff(unit="kWh", lines=lines), Hourly(np.full(8760, 0.02))
    assert total(tariff, load) == pytest.approx([12.0] * 12, abs=1e-4)
    assert marginal_price(tariff, Hourly(np.full(8760, 0.01)), Hourly(np.full(8760, 0.01))) == pytest.approx(0.0)


def test_a_minimum_bill_adds_nothing_to_a_bill_above_it() -> None:
    # by hand: 200 kWh at 0.2 are 40, above the least bill of 12
    lines = (Usage(name="energy", bands=((Block(0.2),),)), Minimum(name="minimum", amount=12))
    assert total(Tariff(unit="kWh", lines=lines), one(200), month())[0] == pytest.approx(40.0)


BANDS_WITH_TIERS = (steps((300, 0.12), (math.inf, 0.18)), steps((300, 0.35), (math.inf, 0.45)))


def bands_with_tiers(allocation: object) -> Tariff:
    usage = Usage(name="energy", bands=BANDS_WITH_TIERS, schedule=SUMMER_AFTERNOONS, allocation=allocation)
    return Tariff(unit="kWh", lines=(usage, Fixed(name="fixed", amount=12)))


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-tou-tier")
def test_tiers_and_bands_together_split_in_proportion_as_pysam_does() -> None:
    bills = total(bands_with_tiers(in_proportion), Hourly(EVENING_LOAD))
    assert bills[6] == pytest.approx(107.247419, abs=1e-5)
    assert bills.sum() == pytest.approx(1028.80957, abs=1e-4)


@pytest.mark.published("own loop over the hours of July, run beside PySAM", "pysam-tou-tier")
def test_tiers_filled_hour_by_hour_give_the_other_july() -> None:
    # An independent loop over the hours of July, run beside PySAM, gave 107.07.
    assert total(bands_with_tiers(in_order_of_time), Hourly(EVENING_LOAD))[6] == pytest.approx(107.07, abs=1e-6)


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "pysam-calendar")
def test_a_year_has_the_weekend_days_that_pysam_counts() -> None:
    weekends = Usage(name="weekend", bands=((Block(0.0),), (Block(1.0),)), schedule=Schedule(weekend=((1,) * 24,) * 12))
    days = total(Tariff(unit="kWh", lines=(weekends,)), Hourly(np.ones(8760))) / 24
    assert days.tolist() == [8, 8, 9, 9, 8, 9, 9, 8, 10, 8, 8, 10]


# ---- The price of the last unit ----


@pytest.mark.published("by hand: a saving across two blocks", "marg-crossing-tier")
def test_a_saving_that_crosses_a_tier_is_worth_two_bills_and_no_single_price() -> None:
    # by hand: 20 kWh at 0.20 and 30 at 0.10
    tariff = Tariff(unit="kWh", lines=(Usage(name="energy", bands=(steps((300, 0.1), (math.inf, 0.2)),)),))
    assert saving(tariff, one(270), one(50), one(0), month())[0] == pytest.approx(7.0)
    assert marginal_price(tariff, one(270), one(50), month()) == pytest.approx(0.14)
    upto, price = price_pieces(tariff, one(270), one(50), month())
    assert upto == pytest.approx([30, 50])
    assert price == pytest.approx([0.1, 0.2])


@pytest.mark.published("NREL-PySAM 7.1.1.post1, Utilityrate5", "marg-tier-vs-average")
def test_inclining_tiers_price_the_last_unit_above_the_average() -> None:
    # PySAM's tier case above: 1,410.00 for 8,760 kWh is 0.161, while every last unit costs 0.25.
    tiers = Usage(name="energy", bands=(steps((300, 0.10), (600, 0.15), (math.inf, 0.25)),))
    tariff = Tariff(unit="kWh", lines=(tiers, Fixed(name="fixed", amount=10)))
    load = Hourly(np.ones(8760))
    assert total(tariff, load).sum() / 8760 == pytest.approx(0.161, abs=5e-4)
    assert marginal_price(tariff, load - evenly(50.0), evenly(50.0)) == pytest.approx(0.25)


def test_pieces_end_where_each_month_enters_a_block() -> None:
    # by hand: 28-, 30- and 31-day months of a base of 9 kWh a day reach 300 kWh at 48/28, 1 and 21/31 kWh a day more
    tariff = Tariff(unit="kWh", lines=(Usage(name="energy", bands=(steps((300, 0.1), (math.inf, 0.2)),)),))
    upto, price = price_pieces(tariff, evenly(9 * 365.0), evenly(2 * 365.0))
    assert upto / 365 == pytest.approx([21 / 31, 1, 48 / 28, 2])
    assert price == pytest.approx([0.1, 0.1 + 0.1 * 217 / 365, 0.1 + 0.1 * 337 / 365, 0.2])


def test_the_price_of_a_small_flow_is_not_lost_in_the_cents() -> None:
    # by hand: 0.01 kWh at 0.3 is 0.003, which no printed bill shows
    tariff = priced(Usage(name="energy", bands=((Block(0.3),),)))
    assert saving(tariff, one(100), one(0.01), one(0), month())[0] == 0
    assert marginal_price(tariff, one(100), one(0.01), month()) == pytest.approx(0.3)


@pytest.mark.parametrize("allocation", [in_proportion, in_order_of_time])
def test_blocks_count_billed_units_and_flows_the_household_s(allocation: object) -> None:
    # by hand: 100 therms at 1, more at 2; a base of 90 therms and 20 more, counted in kWh
    bands = (steps((100, 1.0), (math.inf, 2.0)),)
    gas = Usage(name="gas", bands=bands, units=1 / KWH_PER_THERM, allocation=allocation)
    tariff, base, flow = Tariff(unit="kWh", lines=(gas,)), one(90 * KWH_PER_THERM), one(20 * KWH_PER_THERM)
    upto, price = price_pieces(tariff, base, flow, month())
    assert upto == pytest.approx([10 * KWH_PER_THERM, 20 * KWH_PER_THERM])
    assert price == pytest.approx([1 / KWH_PER_THERM, 2 / KWH_PER_THERM])


def test_a_levy_without_bands_takes_all_that_the_bands_hold() -> None:
    levy = Tariff(unit="kWh", lines=(Usage(name="levy", bands=((Block(0.02),),)),))
    assert total(levy, ByBand(np.array([[60.0, 40.0]])), month())[0] == pytest.approx(2.0)


def test_the_price_of_no_flow_does_not_exist() -> None:
    assert np.isnan(marginal_price(flat(0.3, "kWh"), evenly(3000.0), evenly(0.0)))


# ---- Properties ----

prices = st.floats(0.0, 1.0)
amounts = st.floats(0.0, 2000.0)
bounds = st.lists(st.floats(1.0, 3000.0), min_size=1, max_size=3, unique=True).map(sorted)


@st.composite
def tariffs(draw: st.DrawFn) -> Tariff:
    edges = [*draw(bounds), math.inf]
    bands = tuple(tuple(Block(draw(prices), edge) for edge in edges) for _ in range(2))
    usage = Usage(
        name="energy",
        bands=bands,
        schedule=SUMMER_AFTERNOONS,
        per=draw(st.sampled_from([a_month, a_prorated_month, a_year])),
        allocation=draw(st.sampled_from([in_proportion, in_order_of_time])),
    )
    fixed, least = Fixed(name="fixed", amount=draw(st.floats(0, 30))), Minimum(name="least", amount=20)
    return Tariff(unit="kWh", lines=(usage, fixed, least, FractionLine(name="tax", share=0.07)))


@given(tariffs(), amounts, amounts)
def test_saving_nothing_is_worth_nothing(tariff: Tariff, base: float, flow: float) -> None:
    assert saving(tariff, evenly(base), evenly(flow), evenly(flow)) == pytest.approx(np.zeros(12))


@given(st.lists(prices, min_size=3, max_size=3), st.lists(prices, min_size=3, max_size=3), amounts, amounts)
def test_without_bands_more_use_never_costs_less(
    price: list[float], adder: list[float], base: float, more: float
) -> None:
    usage = Usage(name="energy", bands=(steps((40, price[0]), (90, price[1]), (math.inf, price[2])),))
    lines = (usage, Fixed(name="fixed", amount=adder[0]), Minimum(name="least", amount=30 * adder[1]))
    tariff = Tariff(unit="kWh", lines=(*lines, FractionLine(name="tax", share=adder[2])))
    assert (total(tariff, evenly(base + more)) >= total(tariff, evenly(base)) - 1e-9).all()


@given(prices, amounts)
def test_a_flat_tariff_is_price_times_use(price: float, use: float) -> None:
    assert total(flat(price, "kWh"), evenly(use)).sum() == pytest.approx(price * use, rel=1e-12, abs=1e-12)


@given(st.integers(1, 59), st.floats(0, 4000))
def test_splitting_a_period_adds_up_where_everything_counts_by_the_day(first: int, use: float) -> None:
    usage = Usage(name="energy", bands=(steps((20, 0.1), (math.inf, 0.3)),), per=a_day)
    tariff = Tariff(unit="kWh", lines=(usage, Fixed(name="fixed", amount=0.4, per=a_day)))
    whole, split = month(60), Calendar(periods=(first, 60 - first))
    expected = total(tariff, evenly(use, calendar=whole), whole).sum()
    assert total(tariff, evenly(use, calendar=split), split).sum() == pytest.approx(expected)


@given(tariffs(), amounts, st.floats(1.0, 2000.0))
def test_pieces_add_up_to_the_whole_difference(tariff: Tariff, base: float, flow: float) -> None:
    upto, price = price_pieces(tariff, evenly(base), evenly(flow))
    cost = float(np.sum(np.diff(upto, prepend=0.0) * price))
    assert cost == pytest.approx(float(marginal_price(tariff, evenly(base), evenly(flow))) * flow, rel=1e-7, abs=1e-7)


@given(st.lists(st.floats(0.0, 5.0), min_size=72, max_size=72), st.floats(1.0, 200.0))
def test_filling_in_order_of_time_is_what_a_meter_reader_would_count(load: list[float], edge: float) -> None:
    usage = Usage(
        name="energy",
        bands=(steps((edge, 0.1), (math.inf, 0.2)), steps((edge, 0.5), (math.inf, 0.9))),
        schedule=Schedule(((0,) * 12 + (1,) * 12,) * 12),
        allocation=in_order_of_time,
    )
    expected, read = 0.0, 0.0
    for hour, kwh in enumerate(load):
        below = min(kwh, max(0.0, edge - read))
        low, high = (0.1, 0.2) if hour % 24 < 12 else (0.5, 0.9)
        expected, read = expected + below * low + (kwh - below) * high, read + kwh
    assert total(Tariff(unit="kWh", lines=(usage,)), Hourly(np.array(load)), Calendar(periods=(3,)))[
        0
    ] == pytest.approx(expected)


@given(tariffs(), st.lists(amounts, min_size=2, max_size=4))
def test_many_households_at_once_are_the_same_as_one_at_a_time(tariff: Tariff, yearly: list[float]) -> None:
    together = total(tariff, evenly(np.array(yearly)))
    assert together.shape == (len(yearly), 12)
    for row, alone in zip(together, yearly, strict=True):
        assert row == pytest.approx(total(tariff, evenly(alone)))


def test_a_column_of_flows_on_one_household_is_priced_at_once() -> None:
    flows = Together(evenly(0.0), evenly(1.0), np.array([100.0, 2000.0]))
    tariff = Tariff(unit="kWh", lines=(Usage(name="energy", bands=(steps((300, 0.1), (math.inf, 0.2)),)),))
    price = marginal_price(tariff, evenly(3000.0), flows)
    assert price.shape == (2,)
    assert price[0] < price[1]


def test_shapes_of_every_kind_agree_on_the_same_use() -> None:
    profile = np.add.outer(np.arange(12), np.arange(24)) + 1.0
    hourly = Hourly(hours_of_profile(profile))
    by_month = np.array([hourly.values[m == MONTH_OF_HOUR].sum() for m in range(12)])
    shaped = Totals(by_month, hourly.values)
    banded = ByBand(hourly.in_bands(SUMMER_AFTERNOONS, Calendar()))
    expected = total(time_of_use(), hourly)
    assert total(time_of_use(), shaped) == pytest.approx(expected)
    assert total(time_of_use(), banded) == pytest.approx(expected)
    assert total(time_of_use(), evenly(by_month.sum(), hourly.values)) == pytest.approx(expected)


def test_a_holiday_is_priced_as_weekend() -> None:
    weekends = Usage(name="weekend", bands=((Block(0.0),), (Block(1.0),)), schedule=Schedule(weekend=((1,) * 24,) * 12))
    tariff = Tariff(unit="kWh", lines=(weekends,))
    week = Calendar(periods=(7,), holidays=(0,))
    assert total(tariff, Hourly(np.ones(168)), week)[0] == 72


def test_a_tax_may_name_its_lines() -> None:
    lines = (
        Usage(name="energy", bands=((Block(0.1),),)),
        Fixed(name="fixed", amount=50),
        FractionLine(name="tax", share=0.2, of=("energy",)),
    )
    assert bill(Tariff(unit="kWh", lines=lines), one(100), month())["tax"][0] == pytest.approx(2.0)


# ---- Units ----


@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential", "esc-nist-unit"
)
def test_a_therm_and_a_cubic_foot_are_what_the_tables_say() -> None:
    # NIST/FEMP price table of 2025: 45.130 $/MMBtu is 0.1540 $/kWh, and 12.757 $/MMBtu is 1.276 $/therm.
    dollars_a_kwh = 45.13 / (10 * KWH_PER_THERM)
    assert dollars_a_kwh == pytest.approx(0.1540, abs=5e-5)
    # common practice, no source: 100 cubic feet are 748 gallons (of 3.785411784 litre, exact)
    gallons = 100 * M3_PER_CUBIC_FOOT / 0.003785411784
    assert gallons == pytest.approx(748, abs=0.1)


def test_gas_priced_by_the_therm_is_billed_on_kilowatt_hours() -> None:
    gas = Tariff(unit="kWh", lines=(Usage(name="gas", bands=((Block(1.276),),), units=1 / KWH_PER_THERM),))
    assert marginal_price(gas, evenly(9000.0), evenly(100.0)) == pytest.approx(1.276 / 29.307107)
    assert float(gas_energy(1 / 1.02264, 36.0)) == pytest.approx(10.0)  # 36 MJ are 10 kWh


# ---- Escalation ----
# NIST/FEMP real energy price tables 2025, reference case (public building life-cycle cost repository of NIST,
# docs/db data/tables/energy_price_indices/2025_ref.csv), United States, Residential; index = price / price of 2025.

NIST_ELECTRICITY = PriceIndex(
    first_year=2025,
    levels=(1, 0.944361, 0.895921, 0.890782, 0.898836, 0.906370, 0.919263, 0.926460, 0.944146, 0.948283, 0.947195,
            0.939503, 0.933059, 0.927039, 0.918965, 0.917141),
)  # fmt: skip
NIST_GAS = PriceIndex(
    first_year=2025,
    levels=(1, 0.978825, 0.946068, 0.925926, 0.916992, 0.907421, 0.921941, 0.954256, 0.984169, 1.002964, 1.012944,
            1.014594, 1.011750, 1.007104, 1.004038, 1.005850),
)  # fmt: skip
# The same tables as printed to four decimals, of which the rows within the years above.
NIST_INDEX_YEARS = [2026, 2027, 2028, 2030, 2032, 2035, 2040]
NIST_INDEX_ELECTRICITY = [0.9444, 0.8959, 0.8908, 0.9064, 0.9265, 0.9472, 0.9171]
NIST_INDEX_GAS = [0.9788, 0.9461, 0.9259, 0.9074, 0.9543, 1.0129, 1.0058]
# Derived from the indices at 3 %, end of year, over 5, 10 and 15 years; and the factors without escalation.
NIST_UPV_STAR = [(NIST_ELECTRICITY, [4.157, 7.8571, 11.0177]), (NIST_GAS, [4.2869, 8.1342, 11.572])]
UPV_AT_3_PERCENT = [4.5797, 8.5302, 11.9379]


@pytest.mark.parametrize(("index", "printed"), NIST_UPV_STAR)
@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential", "esc-nist-upvstar"
)
def test_a_published_index_gives_the_modified_present_value_factors(index: PriceIndex, printed: list[float]) -> None:
    factors = [float(indexed_uniform_present_value(index_levels(index, 2025, n), 0.03)) for n in (5, 10, 15)]
    assert factors == pytest.approx(printed, abs=5e-5)


@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential",
    "esc-nist-elec",
    "esc-nist-gas",
)
def test_levels_are_the_index_over_the_base_year() -> None:
    for index, printed in ((NIST_ELECTRICITY, NIST_INDEX_ELECTRICITY), (NIST_GAS, NIST_INDEX_GAS)):
        levels = index_levels(index, 2025, 15)
        assert levels[np.array(NIST_INDEX_YEARS) - 2026] == pytest.approx(printed, abs=5.1e-5)


@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential", "esc-nist-identity"
)
def test_a_later_base_year_gives_the_published_rates() -> None:
    # The table of yearly rates: 2026 over 2025 is -0.055639; rates compound to the index.
    assert index_levels(NIST_ELECTRICITY, 2025, 1)[0] - 1 == pytest.approx(-0.055639, abs=1e-6)
    yearly = [index_levels(NIST_ELECTRICITY, 2025 + n, 1)[0] for n in range(15)]
    assert np.cumprod(yearly) == pytest.approx(index_levels(NIST_ELECTRICITY, 2025, 15))


@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential", "esc-nist-upvstar"
)
def test_no_escalation_is_the_uniform_factor() -> None:
    factors = [float(indexed_uniform_present_value(steady_levels(0.0, n), 0.03)) for n in (5, 10, 15)]
    assert factors == pytest.approx(UPV_AT_3_PERCENT, abs=5e-5)


def test_an_index_is_not_stretched_beyond_its_years() -> None:
    with pytest.raises(OutOfRange, match="from 2025 to 2040 year, got 2041"):
        index_levels(NIST_GAS, 2026, 15)
    with pytest.raises(OutOfRange, match="base_year"):
        index_levels(NIST_GAS, 2020, 5)


@given(st.floats(-0.05, 0.08), st.floats(0.0, 0.1))
def test_a_nominal_rise_deflated_is_the_real_one(real: float, inflation: float) -> None:
    nominal = steady_levels(nominal_rate(real, inflation), 20)
    assert deflated(nominal, inflation) == pytest.approx(steady_levels(real, 20))


@pytest.mark.parametrize("index", [NIST_ELECTRICITY, NIST_GAS])
def test_a_steady_escalation_is_worth_the_same_as_the_index(index: PriceIndex) -> None:
    levels = index_levels(index, 2025, 15)
    steady = steady_escalation(levels, 0.03)
    expected = float(indexed_uniform_present_value(levels, 0.03))
    assert float(indexed_uniform_present_value(steady_levels(steady, 15), 0.03)) == pytest.approx(expected, rel=1e-9)
    assert -0.02 < steady < 0.005


# ---- What is refused ----


def test_use_below_zero_or_no_number_is_refused() -> None:
    for wrong in (-1.0, math.nan):
        with pytest.raises(OutOfRange, match="use: must be 0 or more"):
            total(flat(0.3, "kWh"), evenly(wrong))
        with pytest.raises(OutOfRange, match="use: must be 0 or more"):  # in one month of the twelve
            total(flat(0.3, "kWh"), Totals(np.array([*np.full(11, 25.0), wrong])))


def test_use_for_another_calendar_is_refused() -> None:
    with pytest.raises(CaseError, match="must have 12 periods"):
        total(flat(0.3, "kWh"), one(300))
    with pytest.raises(CaseError, match="must have 8760 hours"):
        total(flat(0.3, "kWh"), Hourly(np.ones(8784)))


def test_totals_by_band_cannot_fill_blocks_in_order_of_time() -> None:
    with pytest.raises(CaseError, match="give use by the hour"):
        total(bands_with_tiers(in_order_of_time), ByBand(np.ones((12, 2))))
    with pytest.raises(CaseError, match="must have 2 time bands"):
        total(time_of_use(), ByBand(np.ones((12, 3))))


def test_a_shape_that_forgets_a_period_is_refused() -> None:
    shape = np.where(HOURS < 31 * 24, 0.0, 1.0)
    with pytest.raises(CaseError, match="zero throughout period 1"):
        total(flat(0.3, "kWh"), Totals(np.ones(12), shape))
    assert total(flat(0.3, "kWh"), Totals(np.array([0.0] + [1.0] * 11), shape))[0] == 0


def test_tariffs_that_cannot_be_are_refused() -> None:
    with pytest.raises(CaseError, match="must rise, the last without one"):
        Usage(name="energy", bands=((Block(0.1, 300), Block(0.2, 300)),))
    with pytest.raises(CaseError, match="2 bands are scheduled, and 1 have a price"):
        Usage(name="energy", bands=((Block(0.1),),), schedule=SUMMER_AFTERNOONS)
    with pytest.raises(CaseError, match="month 6 must share their block bounds"):
        Usage(name="energy", bands=(steps((300, 0.1), (math.inf, 0.2)), (Block(0.3),)), schedule=SUMMER_AFTERNOONS)
    with pytest.raises(CaseError, match="two lines are named a"):
        priced(Fixed(name="a", amount=1), Fixed(name="a", amount=2))
    with pytest.raises(CaseError, match="lines before it only"):
        priced(FractionLine(name="tax", share=0.1, of=("later",)), Fixed(name="later", amount=2))
    with pytest.raises(CaseError, match="12 rows"):
        Schedule(((0,) * 24,) * 11)


def test_the_months_of_the_test_are_those_of_a_year() -> None:
    assert np.bincount(MONTH_OF_HOUR).tolist() == [24 * d for d in (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)]


def test_levels_that_no_steady_rise_is_worth_have_none() -> None:
    with pytest.raises(NoSolution, match=r"no escalation from -0\.5 to 0\.5"):
        steady_escalation(np.array([50.0, 60.0]), 0.03)


def test_a_shape_must_be_positive_somewhere_and_negative_nowhere() -> None:
    with pytest.raises(CaseError, match="above 0 in some hour"):
        evenly(300.0, shape=np.zeros(8760))
    with pytest.raises(OutOfRange, match="shape"):
        evenly(300.0, shape=np.full(8760, -1.0))
    with pytest.raises(OutOfRange, match=r"shape: must be 0 or more, got -0\.5"):
        evenly(300.0, shape=np.where(HOURS == 5000, -0.5, 1.0))
