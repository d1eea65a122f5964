"""Logs of power: readings of any kind, real traces, gaps, runs and defrosts."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from referees_metering import duty_cycle
from steady_refrigerator import MINUTE, by_minute, cycling

from decide.energy.power_log import (
    DAY,
    FROST_FREE,
    PowerLog,
    find_defrosts,
    find_runs,
    log_of_counter,
    log_of_energy,
    log_of_power,
    mean_power,
    missing_share,
    plateau_power,
    resample,
)
from decide.errors import CaseError, OutOfRange
from decide.load.meters.meter_log import read_meter_log

DATA = Path(__file__).parent / "data"


@pytest.mark.published("definition of the duty cycle", "meas-duty-from-mean")
def test_duty_follows_from_mean_power() -> None:
    # Definition: half the time between 5 and 15 W.
    assert float(duty_cycle(10.0, 5.0, 15.0)) == pytest.approx(0.5, rel=1e-9)


# UK-DALE, Kelly & Knottenbelt 2015: mean power of the refrigerator on three days, computed from the data [W].
UKDALE_DAYS = [44.55, 38.48, 33.21]


@pytest.mark.published("UK-DALE, Kelly & Knottenbelt 2015, computed from the data", "data-ukdale-days")
def test_the_kitchen_refrigerator_s_three_days() -> None:
    log = read_meter_log(DATA / "ukdale_fridge_3_days.csv").log
    power, covered = resample(log, DAY)
    days = np.flatnonzero(covered)
    assert power[days] == pytest.approx(UKDALE_DAYS, abs=0.02)
    assert (days.tolist(), set(covered[days])) == ([0, 77, 105], {1.0})
    assert missing_share(log) == pytest.approx(103 / 106, rel=1e-9)


@given(
    seconds=st.lists(st.floats(1, 7200), min_size=2, max_size=60),
    step=st.floats(30, 10_000),
    seed=st.integers(0, 999),
)
def test_resampling_keeps_time_and_energy(seconds: list[float], step: float, seed: int) -> None:
    draw = np.random.default_rng(seed)
    length = np.array(seconds)
    begin = np.cumsum(length + draw.uniform(0, 3600, length.size)) - length
    log = PowerLog(begin, length, draw.uniform(0, 2000, length.size))
    power, covered = resample(log, step)
    assert covered.sum() * step == pytest.approx(length.sum(), rel=1e-6, abs=0.01)
    assert np.nansum(power * covered) * step == pytest.approx((log.watts * length).sum(), rel=1e-6, abs=30)


def test_the_three_kinds_of_reading_give_one_log() -> None:
    time = MINUTE * np.arange(3000)
    watts = np.random.default_rng(1).uniform(0, 200, 3000)
    kwh = watts * MINUTE / 3.6e6
    counter = 7 + np.concatenate([[0.0], np.cumsum(kwh)])
    logs = [
        log_of_power(time, watts),
        log_of_energy(time, kwh),
        log_of_counter(np.append(time, 3000 * MINUTE), counter),
    ]
    for log in logs:
        assert log.watts == pytest.approx(watts, rel=1e-6, abs=1e-6)
        assert log.seconds == pytest.approx(np.full(3000, MINUTE))


def test_a_counter_knows_what_passed_in_a_gap() -> None:
    log = log_of_counter(3600.0 * np.array([0, 1, 2, 30, 31]), np.array([0, 0.05, 0.1, 1.5, 1.55]))
    assert missing_share(log) == 0
    assert mean_power(log) == pytest.approx(50)


def test_a_meter_that_writes_on_change_must_be_declared() -> None:
    rests = np.random.default_rng(3).integers(5, 60, 200)
    watts = np.concatenate([np.repeat([120.0, 0.0], [16, rest]) for rest in rests])
    changes = np.flatnonzero(np.diff(watts, prepend=-1.0))
    # One that polls each minute and is silent only at rest looks regular but for where its silence falls.
    polled = np.flatnonzero((watts > 0) | (np.diff(watts, prepend=-1.0) != 0))
    for kept in (changes, polled):
        with pytest.raises(CaseError, match="how many seconds a reading may hold"):
            log_of_power(MINUTE * kept, watts[kept])
        declared = log_of_power(MINUTE * kept, watts[kept], np.inf)
        assert mean_power(declared) == pytest.approx(watts.mean(), rel=0.01)


def test_a_reading_holds_as_long_as_was_declared_and_beyond_that_for_the_usual_step() -> None:
    log = log_of_power(np.array([0.0, 60, 120, 180, 780, 1381]), np.full(6, 40.0), longest_step=600.0)
    assert log.seconds.tolist() == [60, 60, 60, 600, 60, 60]


def test_start_spikes_are_no_defrosts_and_heaters_are() -> None:
    watts = cycling(4)
    watts[np.arange(5760) % 40 == 0] = 1400
    assert find_defrosts(by_minute(watts)).count == 0
    watts[3000:3014] = 447
    found = find_defrosts(by_minute(watts))
    assert found.count == 1
    # One seen in four days, after 50 hours without: 50 to 96 hours apart.
    assert found.hours_between == pytest.approx(math.sqrt(50 * 96), rel=1e-6)
    assert plateau_power(by_minute(cycling(2, off=5.0))) == 120


def test_half_of_the_energy_is_used_at_the_plateau_or_below() -> None:
    # 1, 2 and 10 in three equal stretches: half of 13 is reached in the last; of 1, 2, 2 and 2 in the third
    for watts, plateau in (([10.0, 100.0, 20.0], 100.0), ([10.0, 20.0, 20.0, 20.0], 20.0), ([30.0, 10.0, 25.0], 25.0)):
        log = PowerLog(MINUTE * np.arange(len(watts)), np.full(len(watts), MINUTE), np.array(watts))
        assert plateau_power(log) == plateau


def test_two_days_a_year_apart_do_not_make_two_defrosts_near() -> None:
    watts = np.tile(cycling(1), 2)
    watts[1000:1015] = watts[1440 + 400 : 1440 + 415] = 450
    time = MINUTE * np.concatenate([np.arange(1440), 400 * 1440 + np.arange(1440)])
    found = find_defrosts(log_of_power(time, watts))
    assert (found.count, found.hours_between) == (2, pytest.approx(24))
    assert found.doubt > 0
    assert found.steady_watts * (1 + found.share) == pytest.approx(watts.mean(), rel=0.03)


@pytest.mark.parametrize(
    ("time", "watts"),
    [
        ([0.0, 60, 60], [1.0, 1, 1]),
        ([0.0, 60, 30], [1.0, 1, 1]),
        ([0.0, 60, math.nan], [1.0, 1, 1]),
        ([0.0, 60, 120], [1.0, -1, 1]),
        ([0.0, 60, 120], [1.0, math.inf, 1]),
        ([0.0, 60, 120], [math.nan, math.nan, 1]),
        ([0.0, 60], [1.0, 1, 1]),
    ],
)
def test_readings_that_cannot_be_are_refused(time: list[float], watts: list[float]) -> None:
    with pytest.raises(CaseError):
        log_of_power(np.array(time), np.array(watts))


def test_a_counter_never_falls() -> None:
    with pytest.raises(OutOfRange, match="rise: must be"):
        log_of_counter(np.array([0.0, 60, 120]), np.array([1.0, 2.0, 1.5]))


def test_energies_of_uneven_steps_are_refused() -> None:
    with pytest.raises(CaseError, match="steps are uneven"):
        log_of_energy(np.cumsum(np.tile([60.0, 200.0, 700.0], 40)), np.full(120, 0.01))


def test_heavy_bursts_every_other_hour_are_how_it_runs_and_no_defrosts() -> None:
    watts = cycling(4)
    watts[np.arange(5760) % 120 < 6] = 600.0
    assert plateau_power(by_minute(watts)) == 120
    found = find_defrosts(by_minute(watts))
    assert (found.count, found.steady_watts) == (0, pytest.approx(watts.mean()))


def test_what_no_stretch_covers_is_missing_however_long_the_last_one_lasts() -> None:
    log = PowerLog(3600.0 * np.array([0.0, 2, 4]), 3600.0 * np.array([1.0, 1, 2]), np.array([10.0, 20, 30]))
    assert missing_share(log) == pytest.approx(2 / 6)
    assert mean_power(log) == pytest.approx((10 + 20 + 2 * 30) / 4)


def test_an_energy_is_of_the_usual_step_and_what_follows_it_is_missing() -> None:
    log = log_of_energy(3600.0 * np.array([0.0, 1, 2, 3, 7, 8]), np.full(6, 0.1))
    assert log.seconds.tolist() == [3600.0] * 6
    assert mean_power(log) == pytest.approx(100)
    assert missing_share(log) == pytest.approx(3 / 9)


@pytest.mark.parametrize(("third_step", "refused"), [(84.0, False), (102.0, True), (120.0, False), (150.0, True)])
def test_steps_about_one_or_whole_ones_are_a_clock_s_and_others_are_not(third_step: float, refused: bool) -> None:
    time = np.cumsum(np.tile([60.0, 60.0, third_step], 60))
    if refused:
        with pytest.raises(CaseError, match="how many seconds a reading may hold"):
            log_of_power(time, np.full(180, 40.0))
    else:
        assert mean_power(log_of_power(time, np.full(180, 40.0))) == pytest.approx(40)


def test_a_meter_that_falls_silent_now_and_then_whatever_the_appliance_does_need_not_be_declared() -> None:
    watts, dice = cycling(4), np.random.default_rng(8)
    heard = np.repeat(dice.random(len(watts) // 9) > 0.3, 9)
    log = log_of_power(MINUTE * np.flatnonzero(heard), watts[heard])
    assert missing_share(log) == pytest.approx(0.3, abs=0.1)
    assert mean_power(log) == pytest.approx(watts[heard].mean())


@pytest.mark.parametrize(("after", "whole"), [(29, False), (30, True), (31, True)])
def test_a_run_is_whole_once_no_pause_within_one_could_hide_more_of_it(after: int, whole: bool) -> None:
    """Half an hour is a pause within a run, so for as long the log must go on, and must have begun before."""
    watts = np.zeros(200)
    watts[40:60] = 900.0
    for log in (by_minute(watts[: 60 + after]), by_minute(watts[::-1][140 - after :])):
        assert find_runs(log).whole.tolist() == [whole]


def test_a_log_without_a_run_has_none() -> None:
    found = find_runs(by_minute(np.full(600, 3.0)))
    assert [each.size for each in (found.begin, found.seconds, found.kwh, found.whole)] == [0, 0, 0, 0]


def test_a_run_as_long_as_asked_for_is_one() -> None:
    watts = np.zeros(600)
    watts[100:110] = watts[300:309] = 900.0
    found = find_runs(by_minute(watts), join=0.0, least_seconds=10 * MINUTE)
    assert (found.begin.tolist(), found.seconds.tolist()) == ([100 * MINUTE], [10 * MINUTE])


def test_a_frost_free_unit_is_given_its_defrosts_only_where_the_log_is_too_short_to_show_one() -> None:
    unseen = find_defrosts(by_minute(cycling(3)), FROST_FREE)
    assert (unseen.count, unseen.share) == (0, FROST_FREE)
    assert unseen.doubt == pytest.approx((0.08 - 0.02) / 2 / 1.6449, rel=1e-4)  # nine tenths lie from 2 to 8 percent
    assert find_defrosts(by_minute(cycling(4)), FROST_FREE).share == 0  # 96 hours: one would have been seen
    with pytest.raises(OutOfRange, match="unseen_defrost"):
        find_defrosts(by_minute(cycling(3)), 1.5)
    assert find_defrosts(by_minute(cycling(3))).share == find_defrosts(by_minute(cycling(3))).doubt == 0


def test_a_defrost_at_the_very_end_is_seen_but_adds_what_is_usual() -> None:
    watts = cycling(2)
    watts[-60:-45] = 450.0
    found = find_defrosts(by_minute(watts))
    assert (found.count, found.share) == (1, FROST_FREE)
    assert found.doubt == pytest.approx((0.08 - 0.02) / 2 / 1.6449, rel=1e-4)
    assert found.steady_watts == pytest.approx(48.0, rel=0.01)  # without the hour of the defrost: 16 of 40 at 120
