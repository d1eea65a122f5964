"""Yearly energy from a meter: published figures, real traces, and a simulated home whose year is known."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from referees_metering import exponential_response, nameplate_energy
from scipy.special import stdtrit
from steady_refrigerator import MINUTE, by_minute, cycling

from decide.energy.consumption import ROUGH
from decide.energy.interval import Interval
from decide.energy.metering import (
    AS_MEASURED,
    SCATTER_OF_A_DAY,
    Season,
    against_rated,
    annualise,
    annualise_counted_runs,
    annualise_readings,
    annualise_runs,
    day_scatter,
    season_by_temperature,
)
from decide.energy.power_log import (
    DAY,
    FROST_FREE,
    YEAR,
    PowerLog,
    covered_hours,
    find_defrosts,
    find_runs,
    left_of_rhythm,
    log_of_counter,
    log_of_energy,
    log_of_power,
    mean_power,
    standby_power,
)
from decide.errors import CaseError, OutOfRange
from decide.load.meters.meter_log import LogSettings, read_meter_log

DATA = Path(__file__).parent / "data"
FLAT_YEAR = Season(rhythm=0.0)


# Published figures

# Kinney, Refrigerator Monitoring, A Sequel, Home Energy Sept/Oct 2000, Table 1: length of the test in minutes, share
# of tests within 10 % of the long-run mean, in a chamber.
KINNEY_TABLE_1 = [(60, 0.175), (90, 0.259), (120, 0.345), (180, 0.894)]


@pytest.mark.parametrize(("minutes", "within_10_percent"), KINNEY_TABLE_1)
@pytest.mark.published(
    "Kinney, Refrigerator Monitoring, A Sequel, Home Energy Sept/Oct 2000, table 1", "meas-kinney-windows"
)
def test_a_log_too_short_to_be_right_half_the_time_is_refused(minutes: int, within_10_percent: float) -> None:
    log = by_minute(cycling(minutes / 1440))
    if within_10_percent >= 0.5:
        assert annualise(log).hours < ROUGH
    else:
        with pytest.raises(OutOfRange, match="hours measured: must be 3 or more hour"):
            annualise(log)


@pytest.mark.published("utility customer page 'Determining kWh Use - Estimating', content 4589", "meas-nameplate-duty")
def test_nameplate_times_duty_is_the_utility_page_s_figure() -> None:
    # A utility's customer page, Determining kWh Use - Estimating (content 4589): 1200 W, a fifth of
    # the time, 5.76 kWh a day; the page prints "about 2100 kWh a year".
    use = nameplate_energy(1200.0, 0.2, 0.1, 0.3)
    assert float(use.value) == pytest.approx(5.76 * 365, rel=1e-9)
    assert (float(use.low), float(use.high)) == pytest.approx((1051.2, 3153.6), rel=1e-9)


@pytest.mark.published("IBPSA Modelica library (IDEAS), residential appliance records", "meas-cycles-per-year")
def test_cycles_times_length_times_power_is_the_building_library_s_figure() -> None:
    # IBPSA Modelica library, IDEAS, appliance record FridgeFreezer: 6115.75932851014 cycles a year of 22 min at
    # 190 W, 426.064566552874 kWh.
    log = by_minute(np.where(np.arange(22 + 66) // 22 == 1, 190.0, 0.0))
    runs = find_runs(log, join=0.0, least_kwh=0.0)
    use = annualise_runs(log, runs, 6115.75932851014)
    assert float(use.energy.value) == pytest.approx(426.064566552874, abs=1e-6)


@pytest.mark.published("definition: 5 W through 8760 h", "meas-standby-year")
def test_standby_watts_last_all_year() -> None:
    # Definition: 5 W through 8760 h.
    assert float(annualise(by_minute(np.full(2880, 5.0))).energy.value) == pytest.approx(43.8, rel=1e-9)
    assert standby_power(by_minute(np.full(99, 5.0)), find_runs(by_minute(np.zeros(9)))) == 5.0


@pytest.mark.parametrize(("steady", "extra_wh", "hours", "kwh_a_day"), [(18, 75, 40, 0.477), (42, 85, 20, 1.110)])
@pytest.mark.published("UK SI 2021/745 Sch. 14 para 3(4)(d), (EU) 2019/2019 Annex IV 3(b)", "meas-iec-daily")
def test_defrosts_split_as_the_regulation_adds_them(
    steady: float, extra_wh: float, hours: int, kwh_a_day: float
) -> None:
    # UK SI 2021/745 Schedule 14 para 3(4)(d), as in EU 2019/2019: 24 (P_ss + dE/t)/1000; the figures are chosen here.
    minutes = np.arange(240 * 60)
    watts = np.where(minutes % (hours * 60) // 15 == 60, steady + extra_wh * 4, steady).astype(float)
    found = find_defrosts(by_minute(watts))
    assert found.steady_watts == pytest.approx(steady, rel=1e-9)
    assert found.extra_wh == pytest.approx(extra_wh, rel=1e-9)
    assert found.hours_between == pytest.approx(hours, rel=1e-9)
    energy = annualise(by_minute(watts)).energy.value
    assert float(energy) / 365 == pytest.approx(kwh_a_day, abs=0.0005)


# Real traces


def test_each_day_of_the_kitchen_refrigerator_holds_the_mean_of_the_three() -> None:
    whole = read_meter_log(DATA / "ukdale_fridge_3_days.csv").log
    truth = mean_power(whole) * 8.76
    for day in range(3):
        part = slice(1440 * day, 1440 * (day + 1))
        energy = annualise(PowerLog(whole.begin[part], whole.seconds[part], whole.watts[part])).energy
        assert energy.low < truth < energy.high
    one_day = annualise(PowerLog(whole.begin[:1440], whole.seconds[:1440], whole.watts[:1440]))
    assert annualise(whole).spread.season < 0.75 * float(one_day.spread.season)


# REFIT house 2, 1-14 May 2014: runs, their mean and standard deviation, computed from the data [kWh].
REFIT_RUNS = [("dishwasher", 14, 1.429, 0.050), ("washing_machine", 10, 0.559, 0.128)]


@pytest.mark.parametrize(("appliance", "count", "mean", "deviation"), REFIT_RUNS)
@pytest.mark.published("REFIT house 2, 1-14 May 2014, computed from the data", "data-refit-cycles")
def test_the_runs_of_a_fortnight(appliance: str, count: int, mean: float, deviation: float) -> None:
    source = DATA / f"refit_{appliance}_14_days_changes.csv"
    log = read_meter_log(source, settings=LogSettings(longest_step=np.inf)).log
    runs = find_runs(log)
    assert runs.whole.sum() == count
    assert (runs.kwh.mean(), runs.kwh.std(ddof=1)) == pytest.approx((mean, deviation), abs=0.002)
    use = annualise_runs(log, runs, count * 365 / 14)
    assert float(use.per_run.value) == pytest.approx(mean, abs=0.002)
    assert use.run_spread == pytest.approx(deviation / mean, abs=0.002)
    # Fourteen days of the meter times the year, which knows nothing of runs.
    assert use.energy.low < mean_power(log) * 8.76 < use.energy.high


def test_two_or_three_runs_of_the_dishwasher_tell_what_fourteen_do() -> None:
    source = DATA / "refit_dishwasher_14_days_changes.csv"
    log = read_meter_log(source, settings=LogSettings(longest_step=np.inf)).log
    kwh = find_runs(log).kwh
    held = 0
    for first in range(kwh.size - 2):
        picked = slice(first, first + 3)
        runs = find_runs(log)
        runs = type(runs)(runs.begin[picked], runs.seconds[picked], runs.kwh[picked], runs.whole[picked])
        per_run = annualise_runs(log, runs, 200.0).per_run
        held += bool(per_run.low <= kwh.mean() <= per_run.high)
    assert held == kwh.size - 2


# A home whose year is known


def refrigerator(draw: np.random.Generator, frost_free: bool) -> NDArray[np.float64]:
    """Two years of a kitchen refrigerator by the minute [W].

    Its load is a season (0.14 up and down, as August over November or December in two published homes, and 0.04 of
    scatter between homes), a day's rhythm, a law of chance for each day and each hour, the same all year. A compressor
    of constant power runs for that share of each period; a heater of 3.6 times its power comes on for a quarter of
    an hour every 24 to 90 hours, and the compressor makes good for 40 minutes. It shares no formula with the module.
    """
    hours = 2 * 8760
    clock = np.arange(hours)
    season = 1 + draw.normal(0.14, 0.04) * np.cos(2 * np.pi * (clock / 8760 + draw.uniform()))
    daily = 1 + draw.uniform(0.05, 0.15) * np.cos(2 * np.pi * (clock / 24 + draw.uniform()))
    chance = np.repeat(draw.lognormal(0, draw.uniform(0.03, 0.07), hours // 24), 24)
    chance = chance * draw.lognormal(0, draw.uniform(0.1, 0.25), hours)
    duty = np.clip(season * daily * chance * draw.uniform(0.25, 0.45), 0, 0.95)
    on, period = draw.uniform(60, 150), draw.uniform(30, 72)
    phase = (np.arange(hours * 60) / period + draw.uniform()) % 1
    watts = np.where(phase < np.repeat(duty, 60), on, 0.0) + draw.uniform(0, 3)
    every = draw.uniform(24, 90) * 60
    for start in np.arange(draw.uniform(0, every), len(watts) - 240, every) if frost_free else ():
        heated = int(start) + int(draw.integers(12, 20))
        watts[int(start) : heated] = 3.6 * on
        watts[heated : heated + 40] = on
    return watts


@pytest.fixture(scope="module")
def homes() -> list[tuple[NDArray[np.float64], bool]]:
    draw = np.random.default_rng(20)
    return [(refrigerator(draw, home % 10 < 7), home % 10 < 7) for home in range(20)]


@pytest.mark.slow
@pytest.mark.parametrize("hours", [12, 24, 48, 96])
def test_nine_intervals_in_ten_hold_the_two_year_mean(
    hours: int, homes: list[tuple[NDArray[np.float64], bool]]
) -> None:
    draw = np.random.default_rng(hours)
    held, errors = [], []
    for watts, frost_free in homes:
        truth = watts.mean() * 8.76
        for start in draw.integers(0, len(watts) - hours * 60, 20):
            seen = watts[start : start + hours * 60] * draw.normal(1, 0.02)
            energy = annualise(by_minute(seen), unseen_defrost=FROST_FREE if frost_free else 0.0).energy
            held.append(energy.low <= truth <= energy.high)
            errors.append(math.log(energy.value / truth))
    assert 0.85 <= np.mean(held) <= 0.97  # 400 windows in 20 homes: 0.90, and three standard errors above it
    assert abs(np.mean(errors)) < 0.03


@pytest.mark.parametrize("hours", [4.8, 24])
@pytest.mark.parametrize("piece", [5, 20, 60])
def test_pieces_of_a_fortnight_hold_its_mean_as_often_as_they_say(
    hours: float, piece: int, homes: list[tuple[NDArray[np.float64], bool]]
) -> None:
    # Minutes of a meter that was heard of now and then; its own fortnight is the truth, so that no season plays in.
    draw, held = np.random.default_rng(piece), []
    for watts, _ in homes:
        fortnight = watts[: 14 * 1440]
        for _ in range(20):
            heard = np.zeros(fortnight.size // piece, dtype=bool)
            heard[draw.choice(heard.size, round(hours * 60 / piece), replace=False)] = True
            at = np.flatnonzero(np.repeat(heard, piece))
            try:
                year = annualise(PowerLog(MINUTE * at, np.full(at.size, MINUTE), fortnight[at]), FLAT_YEAR)
            except OutOfRange:  # hardly anything but defrosts was heard
                continue
            assert year.missing > 0.5
            held.append(year.energy.low <= fortnight.mean() * 8.76 <= year.energy.high)
    assert len(held) > 300
    assert np.mean(held) >= 0.85  # 0.90, and three standard errors below it


def test_a_gap_of_which_both_sides_are_long_or_one_is_next_to_nothing_changes_little() -> None:
    watts, minutes = cycling(14), np.arange(14 * 1440)
    whole = float(annualise(by_minute(watts[:288])).energy.high / annualise(by_minute(watts[:288])).energy.value)
    for kept in ((minutes < 288) | (minutes == minutes[-1]), (minutes < 9000) | (minutes > 10000)):
        log = PowerLog(MINUTE * minutes[kept], np.full(kept.sum(), MINUTE), watts[kept])
        year = annualise(log)
        assert year.missing > 0.03
        assert float(year.energy.high / year.energy.value) < 1.02 * whole


def test_a_whole_year_leaves_no_more_than_the_meter_in_doubt(
    homes: list[tuple[NDArray[np.float64], bool]],
) -> None:
    watts = homes[0][0]
    year = annualise(by_minute(watts[: 365 * 1440]))
    assert float(year.spread.season) < 1e-6
    assert year.energy.low < watts.mean() * 8.76 < year.energy.high
    assert float(year.energy.high / year.energy.value) < 1.045


def test_the_scatter_of_a_mean_is_that_of_a_block_bootstrap(
    homes: list[tuple[NDArray[np.float64], bool]],
) -> None:
    # Kuensch 1989: blocks of a day, drawn with replacement; here it is really drawn, by the minute.
    watts = homes[3][0][: 60 * 1440]
    draw = np.random.default_rng(7)
    sums = np.concatenate([[0.0], np.cumsum(watts)])
    blocks = (sums[1440:] - sums[:-1440]) / 1440
    means = draw.choice(blocks, (4000, 60)).mean(axis=1)
    scatter, freedom = day_scatter(by_minute(watts))
    prior_share = 6 / freedom
    own = math.sqrt((scatter**2 - prior_share * SCATTER_OF_A_DAY**2) / (1 - prior_share) * (1 - 1 / 60))
    assert own / math.sqrt(60) == pytest.approx(means.std() / watts.mean(), rel=0.03)


# What must hold of any log

# Never two and a half times one another, so that nothing is a defrost.
POWER = st.lists(st.floats(500, 1200), min_size=200, max_size=400).map(np.array)


@given(watts=POWER, factor=st.floats(0.01, 100))
def test_twice_the_power_is_twice_the_energy(watts: NDArray[np.float64], factor: float) -> None:
    once, scaled = annualise(by_minute(watts)).energy, annualise(by_minute(watts * factor)).energy
    assert float(scaled.value) == pytest.approx(factor * float(once.value), rel=1e-9)
    assert float(scaled.high) == pytest.approx(factor * float(once.high), rel=1e-9)


@given(days=st.floats(0.5, 4), shift=st.floats(-1e9, 1e9))
@settings(max_examples=30)
def test_when_it_was_measured_changes_nothing(days: float, shift: float) -> None:
    log = by_minute(cycling(days))
    moved = PowerLog(log.begin + round(shift), log.seconds, log.watts)
    here, there = annualise(log).energy, annualise(moved).energy
    assert (float(there.value), float(there.low)) == pytest.approx((float(here.value), float(here.low)), rel=1e-9)


@given(start=st.integers(600, 2000), length=st.integers(1, 1500))
def test_a_gap_is_reported_and_never_counts_as_zero(start: int, length: int) -> None:
    time, watts = MINUTE * np.arange(5760), np.full(5760, 40.0)
    kept = (np.arange(5760) < start) | (np.arange(5760) >= start + length)
    failed = np.where(kept, watts, np.nan)
    for log in (log_of_power(time[kept], watts[kept]), log_of_power(time, failed)):
        year = annualise(log)
        assert float(year.energy.value) == pytest.approx(40 * 8.76, rel=1e-9)
        assert year.missing == pytest.approx(length / 5760, abs=1e-9)
        assert covered_hours(log) == pytest.approx((5760 - length) / 60, abs=1e-9)


def test_nights_never_measured_leave_the_day_s_rhythm_in_doubt() -> None:
    hours = np.arange(4 * 1440) / 60
    days_only = hours % 24 >= 8
    full, part = (log_of_power(MINUTE * np.arange(5760)[kept], cycling(4)[kept]) for kept in (hours >= 0, days_only))
    assert float(annualise(full).spread.daily) < 1e-9
    # The mean of a turn over two thirds of it: sin(2 pi/3) / (2 pi/3).
    assert left_of_rhythm(part, DAY) == pytest.approx(math.sin(2 * math.pi / 3) / (2 * math.pi / 3), abs=1e-6)
    assert annualise(part).missing == pytest.approx(3 * 8 / 88, abs=1e-9)


def test_one_defrost_in_a_day_is_not_counted_as_one_every_day() -> None:
    watts = cycling(1)
    with_one = watts.copy()
    with_one[700:715] = 450
    plain, caught = annualise(by_minute(watts)), annualise(by_minute(with_one))
    raw = float(np.mean(with_one) / np.mean(watts))
    assert 1 < float(caught.energy.value / plain.energy.value) < 1 + 0.6 * (raw - 1)
    assert float(caught.spread.defrost) > 0
    with pytest.raises(OutOfRange, match="hours outside a defrost"):
        annualise(by_minute(with_one[600:900]))


def test_steps_too_long_to_see_a_defrost_say_so() -> None:
    log = log_of_energy(900.0 * np.arange(400), np.full(400, 0.0125))
    assert math.isnan(annualise(log).defrosts.count)


def test_no_use_at_all_is_no_measurement() -> None:
    with pytest.raises(CaseError, match="shows no use at all"):
        annualise(by_minute(np.zeros(2880)))


# How sure, how far above


def test_a_room_like_the_year_s_changes_nothing_and_a_warm_log_is_brought_down() -> None:
    assert float(season_by_temperature(21.0, np.full(12, 21.0)).factor) == pytest.approx(1.0)
    year = np.array([18.0, 18, 19, 20, 22, 24, 26, 26, 23, 20, 19, 18])
    warm, cool = season_by_temperature(26.0, year), season_by_temperature(18.0, year)
    assert float(warm.factor) < 1 < float(cool.factor)
    assert float(warm.rhythm) < AS_MEASURED.rhythm
    log = by_minute(cycling(3))
    assert float(annualise(log, warm).energy.value) == pytest.approx(
        float(warm.factor) * float(annualise(log).energy.value)
    )
    both = season_by_temperature(np.array([26.0, 18.0]), year)
    assert np.asarray(both.factor) == pytest.approx([float(warm.factor), float(cool.factor)])
    exponential = np.mean(exponential_response(year, 2.1)) / exponential_response(26.0, 2.1)
    assert float(exponential) == pytest.approx(float(warm.factor), rel=0.05)


@pytest.mark.parametrize(("log", "year"), [(11.9, 20.0), (40.1, 20.0), (20.0, 11.9), (20.0, 40.1), (math.nan, 20.0)])
def test_a_temperature_beyond_the_line_is_refused(log: float, year: float) -> None:
    season_by_temperature(12.0, np.array([12.0, 40.0]))
    with pytest.raises(OutOfRange, match="temperature"):
        season_by_temperature(log, np.array([18.0, year]))


def test_the_doubt_about_a_defrost_s_share_widens_the_year_as_the_energy_with_it_goes() -> None:
    watts = cycling(3)
    watts[2000:2030] = 500.0
    found = annualise(by_minute(watts))
    share, doubt = found.defrosts.share, found.defrosts.doubt
    assert share > 0.03
    wide = math.log((1 + share + doubt / 100) / (1 + share - doubt / 100)) / 2
    assert float(found.spread.defrost) == pytest.approx(100 * wide, rel=1e-3)


def test_from_two_whole_days_on_a_log_says_how_much_its_days_differ() -> None:
    watts = cycling(2)
    assert day_scatter(by_minute(watts))[1] == 7  # the day between them and the six of the prior
    assert day_scatter(by_minute(watts[:-60])) == (SCATTER_OF_A_DAY, 6)


def test_two_readings_are_wider_than_the_log_between_them() -> None:
    watts = cycling(3)
    year = annualise(by_minute(watts)).energy
    two = annualise_readings(100.0, 100.0 + watts.sum() / 60_000, 72.0)
    assert float(two.value) == pytest.approx(float(year.value), rel=1e-9)
    assert two.low < year.low < year.high < two.high
    columns = annualise_readings(np.array([1.0, 2.0]), np.array([3.0, 4.5]), 48.0)
    assert np.asarray(columns.value) == pytest.approx([2 * 365 / 2, 2.5 * 365 / 2])


@pytest.mark.parametrize(
    ("days", "daily", "season"),
    [(0.5, 2 / math.pi, 1.0), (1.0, 0.0, 1.0), (182.0, 0.0, 2 / math.pi), (365.0, 0.0, 0.0)],
    ids=["half a day", "a day", "half a year", "a year"],
)
def test_readings_leave_in_doubt_what_they_miss_of_the_day_and_of_the_year(
    days: float, daily: float, season: float
) -> None:
    """Half of a turn leaves 2/pi of it in its mean, a whole one nothing; a day or less leaves all of the season."""
    scatter = 0.08 / math.sqrt(days)
    total = math.hypot(scatter, 0.10 * daily, 0.10 * season, 0.02)
    expected = stdtrit(6.0 * (total / scatter) ** 4, 0.95) * total
    found = annualise_readings(0.0, 100.0, 24 * days)
    assert math.log(float(found.high) / float(found.value)) == pytest.approx(expected, rel=5e-3)


def test_readings_in_a_warm_room_are_brought_down_and_leave_less_of_the_season() -> None:
    warm = season_by_temperature(26.0, np.array([18.0, 18, 19, 20, 22, 24, 26, 26, 23, 20, 19, 18]))
    plain, carried = annualise_readings(0.0, 3.0, 72.0), annualise_readings(0.0, 3.0, 72.0, season=warm)
    assert float(carried.value) == pytest.approx(float(warm.factor) * float(plain.value))
    assert float(carried.value) < float(plain.value)
    assert float(carried.high / carried.value) < float(plain.high / plain.value)


def test_two_readings_of_a_counter_are_a_log_of_one_stretch() -> None:
    for days, left in ((0.5, 2 / math.pi), (1.0, 0.0), (1.5, 2 / (3 * math.pi))):
        log = log_of_counter(DAY * np.array([3.0, 3.0 + days]), np.array([10.0, 10.0 + days]))
        assert left_of_rhythm(log, DAY) == pytest.approx(left, abs=1e-9)
        assert float(annualise(log).energy.value) == pytest.approx(365.0)


@pytest.mark.parametrize(
    ("first", "second", "hours"), [(5.0, 4.0, 24.0), (5.0, 5.05, 24.0), (5.0, 6.0, 2.0), (5.0, math.nan, 24.0)]
)
def test_readings_that_tell_nothing_are_refused(first: float, second: float, hours: float) -> None:
    with pytest.raises(OutOfRange):
        annualise_readings(first, second, hours)


def test_readings_around_some_runs_are_wider_than_the_log_of_them() -> None:
    # REFIT house 2, as above: the counter of the same fortnight, and the same fourteen runs.
    log = read_meter_log(DATA / "refit_dishwasher_14_days_changes.csv", settings=LogSettings(longest_step=np.inf)).log
    runs = find_runs(log)
    counted = annualise_counted_runs(0.0, float(runs.kwh.sum()), 14, 200.0)
    per_run = annualise_runs(log, runs, 200.0).per_run
    assert float(counted.value) == pytest.approx(200 * float(per_run.value), rel=1e-9)
    assert float(counted.high / counted.value) > float(per_run.high / per_run.value)
    many = annualise_counted_runs(np.array([0.0, 5.0]), np.array([6.0, 12.0]), np.array([4, 7]), 200.0)
    assert np.asarray(many.value) == pytest.approx([300, 200])
    assert float(annualise_counted_runs(0.0, 1.0, 1, 200.0).value) == pytest.approx(200)  # one run is enough
    assert many.high[0] / many.value[0] > many.high[1] / many.value[1]
    for first, second, count in ((0.0, 6.0, 0), (6.0, 5.0, 3), (0.0, math.nan, 3)):
        with pytest.raises(OutOfRange):
            annualise_counted_runs(first, second, count, 200.0)


def test_standby_under_two_watts_is_not_told_but_bounds_the_year() -> None:
    watts = np.where(np.arange(2880) % 1440 // 60 == 20, 1200.0, 0.5)
    log = by_minute(watts)
    use = annualise_runs(log, find_runs(log), 100.0)
    assert math.isnan(use.standby_watts)
    assert float(use.energy.value) == pytest.approx(120.0)
    # the bound of the runs alone, and 2 W through all other hours
    assert float(use.energy.high) == pytest.approx(100 * float(use.per_run.high) + 2 * (8760 - 100) / 1000)
    louder = by_minute(np.where(watts > 1, watts, 4.0))
    year = annualise_runs(louder, find_runs(louder), 100.0)
    assert float(year.energy.value) == pytest.approx(120 + 4 * (8760 - 100) / 1000)
    assert float(year.energy.low * year.energy.high) == pytest.approx(float(year.energy.value) ** 2)  # all is told


def test_a_run_cut_by_the_end_of_the_log_is_no_run() -> None:
    log = by_minute(np.where(np.arange(120) >= 60, 1000.0, 0.0))
    with pytest.raises(OutOfRange, match="whole runs in the log: must be 1 or more"):
        annualise_runs(log, find_runs(log), 100.0)


def test_use_far_above_the_rated_one_is_a_finding() -> None:
    measured = Interval(600.0, 500.0, 720.0, 0.9)
    above, equal = against_rated(measured, 400.0), against_rated(measured, 600.0)
    assert (float(above.excess.low), float(above.excess.high)) == pytest.approx((100.0, 320.0))
    assert float(equal.chance_above) == pytest.approx(0.5)
    # The interval's lower end is passed with a chance of one in twenty.
    assert float(against_rated(measured, 500.0).chance_above) == pytest.approx(0.95)
    many = against_rated(measured, np.array([400.0, 600.0]))
    assert np.asarray(many.chance_above) == pytest.approx([float(above.chance_above), 0.5])


def test_a_log_in_winter_and_one_in_summer_cancel_the_season() -> None:
    day = np.arange(1440) * MINUTE
    both = log_of_power(np.concatenate([day, day + YEAR / 2]), np.tile(cycling(1), 2))
    assert left_of_rhythm(both, YEAR) < 0.01 < left_of_rhythm(by_minute(cycling(1)), YEAR)
    assert float(annualise(both, FLAT_YEAR).spread.season) == 0
