"""A meter's log in any sensible shape reads back right; a broken one is refused where it is broken."""

import datetime as dt
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from decide.energy.power_log import covered_hours, mean_power, missing_share
from decide.errors import MendpointError, OneOf, ReadError
from decide.load.meters.meter_log import LogSettings, MeterLog, Quantity, read_meter_log

DATA = Path(__file__).parent / "data"

# Logs of every shape


@dataclass(frozen=True)
class Shape:
    """How a log is written down."""

    date: str = "%Y-%m-%d"
    clock: str = "%H:%M:%S"
    between: str = " "
    zone: str = ""
    separator: str = ","
    decimal: str = "."
    decimals: int = 2
    newline: str = "\n"
    encoding: str = "utf-8"
    header: str = "power (W)"
    behind: str = ""
    missing: str = ""
    preamble: tuple[str, ...] = ()
    before: str | None = None
    after: str | None = None
    newest_first: bool = False
    ends: bool = True


def written(times: list[dt.datetime], figures: list[float], shape: Shape) -> bytes:
    """The rows of a log, as bytes."""
    rows = []
    for time, figure in zip(times, figures, strict=True):
        number = shape.missing
        if figure == figure:
            number = f"{figure:.{shape.decimals}f}".replace(".", shape.decimal) + shape.behind
        number = f'"{number}"' if shape.separator in number else number
        moment = {"epoch": f"{time.timestamp():.0f}", "epoch ms": f"{time.timestamp() * 1000:.0f}"}.get(shape.date)
        if moment is None:
            moment = time.strftime(f"{shape.date}{shape.between}{shape.clock}") + shape.zone
        cells = [shape.before and "21.5", moment, number, shape.after and "ok"]
        rows.append(shape.separator.join(cell for cell in cells if cell is not None))
    if shape.newest_first:
        rows.reverse()
    time_header = "time" if shape.between != shape.separator else shape.separator.join(("date", "time"))
    headers = [shape.before, time_header, shape.header, shape.after]
    lines = [*shape.preamble, shape.separator.join(cell for cell in headers if cell is not None), *rows]
    text = shape.newline.join(lines) + (shape.newline if shape.ends else "")
    return text.encode(shape.encoding)


DATES = [
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d.%m.%y", "%m/%d/%Y", "%m/%d/%y",
    "%d %b %Y", "%d-%B-%Y", "epoch", "epoch ms",
]  # fmt: skip
CLOCKS = ["%H:%M:%S", "%H:%M:%S.%f", "%I:%M:%S %p", "%I:%M:%S%p"]
ZONES = ["", "", "", "Z", "+02:00", "-0530", " +00:00"]


@st.composite
def shapes(draw: st.DrawFn) -> Shape:
    """Every combination that a person could tell apart."""
    date = draw(st.sampled_from(DATES))
    clock = draw(st.sampled_from(CLOCKS))
    separator = draw(st.sampled_from([",", ";", "\t", "|"]))
    decimal = draw(st.sampled_from([".", ","]))
    epoch = date.startswith("epoch")
    between = draw(st.sampled_from([" ", separator, *(["T"] if date == "%Y-%m-%d" else [])]))
    return Shape(
        date=date,
        clock=clock,
        between=" " if epoch else between,
        zone="" if epoch or "%p" in clock else draw(st.sampled_from(ZONES)),
        separator=separator,
        decimal=decimal,
        decimals=draw(st.integers(1, 2 if decimal == "," and separator == "," else 5)),
        newline=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        missing=draw(st.sampled_from(["", "NaN", "-", "unavailable", "N/A"])),
        preamble=draw(st.sampled_from([(), ("Überwachung Küche", "serial 12 34"), ("# made by a meter", "")])),
        before=draw(st.sampled_from([None, "room temperature (°C)"])),
        after=draw(st.sampled_from([None, "état"])),
        newest_first=draw(st.booleans()),
        ends=draw(st.booleans()),
    )


@st.composite
def readings(draw: st.DrawFn) -> tuple[list[dt.datetime], list[float], int]:
    """Times on a clock with gaps, power with failures, and the clock's step [s]."""
    step = draw(st.sampled_from([1, 6, 10, 60, 300, 900, 3600]))
    count = draw(st.integers(24, 48))
    begin = dt.datetime(2002, 1, 1, tzinfo=dt.UTC) + dt.timedelta(seconds=draw(st.integers(0, 47 * 365 * 86400)))
    seed = draw(st.integers(0, 10**6))
    chance = random.Random(seed)
    skipped = set(chance.sample(range(2, count - 2), draw(st.integers(0, 3))))
    kept = [number for number in range(count) if number not in skipped]
    figures = [chance.uniform(0, 2500) for _ in kept]
    for row in chance.sample(range(1, len(kept) - 1), draw(st.integers(0, 2))):
        figures[row] = float("nan")
    times = [begin + dt.timedelta(seconds=step * number) for number in kept]
    return times, figures, step


def on_a_night_of_clock_changes(times: list[dt.datetime]) -> bool:
    return any(time.weekday() == 6 and time.month in (3, 4, 9, 10, 11) and time.hour < 4 for time in times)


def settings_if_needed(times: list[dt.datetime], shape: Shape) -> LogSettings:
    """Day before month cannot be read off every log; where it can, nothing is told."""
    if not re.search(r"%d.%m|%m.%d.%[Yy]", shape.date) or shape.date.startswith("%Y"):
        return LogSettings()
    days = {time.date() for time in times}
    settled = any(day.day > 12 for day in days) or len(days) == 1
    return LogSettings() if settled else LogSettings(day_first=shape.date.startswith("%d"))


@pytest.mark.slow
@given(shape=shapes(), log=readings(), kilo=st.booleans(), named=st.booleans())
@settings(max_examples=10 * settings.default.max_examples, suppress_health_check=[HealthCheck.too_slow])
def test_power_in_any_shape_reads_back_right(
    shape: Shape, log: tuple[list[dt.datetime], list[float], int], kilo: bool, named: bool
) -> None:
    times, figures, step = log
    assume(not on_a_night_of_clock_changes(times))
    unit, scale = ("kW", 1000.0) if kilo else ("W", 1.0)
    decimals = max(shape.decimals, 2)
    shape = replace(shape, decimals=decimals) if named else replace(shape, decimals=decimals, behind=f" {unit}")
    shape = replace(shape, header=f"Leistung [{unit}]" if named else "Leistung")
    raw = written(times, [figure / scale for figure in figures], shape)
    read = read_meter_log(raw, settings=settings_if_needed(times, shape))
    good = [row for row, figure in enumerate(figures) if figure == figure]
    expected = np.array([times[row].timestamp() for row in good])
    assert read.log.begin - read.log.begin[0] == pytest.approx(expected - expected[0], abs=1e-5)
    assert read.log.watts == pytest.approx([figures[row] for row in good], abs=0.51 * scale * 10.0**-decimals)
    assert read.log.seconds == pytest.approx(np.full(len(good), float(step)), abs=1e-5)
    assert (read.rows, read.missing_rows, read.quantity) == (len(figures), len(figures) - len(good), Quantity.POWER)
    assert read.clock_changes == 0
    # Where nothing hangs on it, the date itself may stay open between day and month.
    if shape.date.startswith("epoch") or (shape.zone == "Z" and shape.date.startswith("%Y")):
        assert read.log.begin[0] == pytest.approx(expected[0], abs=1.0)


@pytest.mark.slow
@given(shape=shapes(), log=readings(), counter=st.booleans(), kilo=st.booleans())
@settings(max_examples=2 * settings.default.max_examples, suppress_health_check=[HealthCheck.too_slow])
def test_energy_in_any_shape_reads_back_right(
    shape: Shape, log: tuple[list[dt.datetime], list[float], int], counter: bool, kilo: bool
) -> None:
    times, figures, step = log
    assume(not on_a_night_of_clock_changes(times))
    times = [time for time, figure in zip(times, figures, strict=True) if figure == figure]
    watts = np.array([figure for figure in figures if figure == figure]) + 1
    wh = watts * step / 3600
    if counter:
        wh = 1234 + np.concatenate([[0.0], np.cumsum(watts[:-1] * np.diff([t.timestamp() for t in times]) / 3600)])
    name = "Énergie" if counter else "consumption"
    shape = replace(shape, header=f"{name} (kWh)" if kilo else f"{name} (Wh)", decimals=7)
    read = read_meter_log(
        written(times, list(wh / 1000 if kilo else wh), shape), settings=settings_if_needed(times, shape)
    )
    assert read.quantity is (Quantity.COUNTER if counter else Quantity.ENERGY)
    expected = watts[:-1] if counter else watts
    assert read.log.watts == pytest.approx(expected, rel=1e-3, abs=2e-7 * 3.6e6 / step)
    assert not counter or missing_share(read.log) == pytest.approx(0, abs=1e-9)


MINUTES = [dt.datetime(2024, 5, 14, 22, 0, tzinfo=dt.UTC) + dt.timedelta(minutes=n) for n in range(240)]
WATTS = [round(100 + 60 * np.sin(n), 1) for n in range(240)]


@pytest.mark.parametrize(("date", "first"), [("%d/%m/%Y", True), ("%m/%d/%Y", False)])
def test_a_midnight_tells_day_from_month(date: str, first: bool) -> None:
    times = [time - dt.timedelta(days=7) for time in MINUTES]
    read = read_meter_log(written(times, WATTS, Shape(date=date)))
    assert read.day_first is first
    assert covered_hours(read.log) == pytest.approx(4)
    assert missing_share(read.log) == pytest.approx(0, abs=1e-9)


def test_days_that_could_be_months_are_refused_until_told() -> None:
    times = [dt.datetime(2024, 5, day, tzinfo=dt.UTC) for day in range(1, 13)]
    raw = written(times, [float(n % 2 + 1) for n in range(12)], Shape(date="%d/%m/%Y", header="usage (kWh)"))
    with pytest.raises(ReadError, match="column 'time': day or month may come first"):
        read_meter_log(raw)
    assert covered_hours(read_meter_log(raw, settings=LogSettings(day_first=True)).log) == 12 * 24


def test_one_day_s_log_needs_no_telling() -> None:
    times = [time.replace(month=4, day=5) for time in MINUTES[:100]]
    read = read_meter_log(written(times, WATTS[:100], Shape(date="%d/%m/%Y")))
    assert read.day_first is None
    assert covered_hours(read.log) == pytest.approx(100 / 60)


# Clock changes: European Union, last Sundays of March and October; United States, second of March, first of November.
NIGHTS = [
    ("Europe/Paris", dt.datetime(2024, 3, 30, 20, tzinfo=dt.UTC)),
    ("Europe/Paris", dt.datetime(2024, 10, 26, 18, tzinfo=dt.UTC)),
    ("Europe/London", dt.datetime(2025, 10, 25, 18, tzinfo=dt.UTC)),
    ("America/New_York", dt.datetime(2024, 3, 9, 23, tzinfo=dt.UTC)),
    ("America/New_York", dt.datetime(2024, 11, 2, 23, tzinfo=dt.UTC)),
    ("Australia/Sydney", dt.datetime(2024, 4, 6, 9, tzinfo=dt.UTC)),
]


def test_a_log_of_days_has_no_hour_that_comes_twice() -> None:
    times = [dt.datetime(2026, 8, 1) + dt.timedelta(days=n) for n in range(120)]
    read = read_meter_log(written(times, [24.0 + n % 3 for n in range(120)], Shape()))
    assert read.clock_changes == 0
    assert np.diff(read.log.begin) == pytest.approx(np.full(119, 86_400.0))


@pytest.mark.parametrize("step", [10, 60, 900, 3600])
@pytest.mark.parametrize(("place", "begin"), NIGHTS)
def test_the_hour_that_comes_twice_or_never_is_undone(place: str, begin: dt.datetime, step: int) -> None:
    count = 16 * 3600 // step
    times = [(begin + dt.timedelta(seconds=step * n)).astimezone(ZoneInfo(place)) for n in range(count)]
    watts = [float(n % 7 + 50) for n in range(count)]
    read = read_meter_log(written(times, watts, Shape()))
    assert read.clock_changes == 1
    assert np.diff(read.log.begin) == pytest.approx(np.full(count - 1, float(step)))
    assert read.log.watts.tolist() == watts
    offsets = [time.strftime("%z") for time in times]
    zoned = "time,W\n" + "".join(
        f"{time:%Y-%m-%dT%H:%M:%S}{offset},{figure}\n"
        for time, offset, figure in zip(times, offsets, watts, strict=True)
    )
    undone = read_meter_log(zoned.encode())
    assert undone.clock_changes == 0
    assert undone.log.begin.tolist() == [time.timestamp() for time in times]


def test_thousands_are_told_from_decimals_by_the_whole_column() -> None:
    header, stamp = "time;counter Wh\n", "2024-05-01 0{}:00;{}\n"
    german = header + "".join(stamp.format(n, f"1.23{n}.567,{n}") for n in range(9))
    assert read_meter_log(german.encode()).log.watts[0] == pytest.approx(1000.1)
    english = header + "".join(stamp.format(n, f"1,23{n},567") for n in range(9))
    assert read_meter_log(english.encode()).log.watts[0] == pytest.approx(1000)
    fixed = header + "".join(stamp.format(n, f"{n + 1},250") for n in range(9))
    assert read_meter_log(fixed.encode()).log.watts[0] == pytest.approx(1)
    unclear = header + "".join(stamp.format(n, figure) for n, figure in enumerate(["980", "990", "1.000", "1.010"]))
    with pytest.raises(ReadError, match=r"row 4, column 'counter Wh': '\.' may part thousands or decimals"):
        read_meter_log(unclear.encode())


def test_the_finer_of_power_and_energy_is_taken() -> None:
    rows = "".join(f"2024-05-01 00:0{n},{100 + n},{0.5 + n / 1000},0.30\n" for n in range(9))
    read = read_meter_log(f"time,power_W,total_kWh,price per kWh\n{rows}".encode())
    assert (read.value_column, read.quantity) == ("power_W", Quantity.POWER)


def test_a_column_is_chosen_by_name() -> None:
    rows = "".join(f"2024-05-01 00:0{n},{100 + n},{300 + n}\n" for n in range(9))
    raw = f"time,fridge_w,mains_w\n{rows}".encode()
    with pytest.raises(OneOf, match="which column is it: 'fridge_w', 'mains_w'") as asked:
        read_meter_log(raw)
    assert (asked.value.field, asked.value.choices) == ("column", ("fridge_w", "mains_w"))
    assert read_meter_log(raw, settings=LogSettings(column="Mains_W")).log.watts[0] == 300
    with pytest.raises(ReadError, match="column 'oven': is not one of 'fridge_w', 'mains_w'"):
        read_meter_log(raw, settings=LogSettings(column="oven"))


def test_what_the_file_does_not_say_can_be_told() -> None:
    bare = "".join(f"2024-05-01 00:{n:02},{n % 3 / 10}\n" for n in range(30)).encode()
    with pytest.raises(OneOf, match="column 'column 2': W, kW, Wh or kWh") as asked:
        read_meter_log(bare)
    assert (asked.value.field, asked.value.choices) == ("unit", ("W", "kW", "Wh", "kWh"))
    assert read_meter_log(bare, settings=LogSettings(unit="kW")).log.watts[1] == pytest.approx(100)
    still = ("time,kWh\n" + "".join(f"2024-05-01 0{n}:00,0.5\n" for n in range(9))).encode()
    with pytest.raises(ReadError, match="a counter's readings, or the energy of each step"):
        read_meter_log(still)
    assert mean_power(read_meter_log(still, settings=LogSettings(quantity=Quantity.ENERGY)).log) == pytest.approx(500)
    assert mean_power(read_meter_log(still, settings=LogSettings(quantity=Quantity.COUNTER)).log) == 0


def test_a_log_written_on_change_is_refused_until_told() -> None:
    source = DATA / "refit_dishwasher_14_days_changes.csv"
    with pytest.raises(ReadError, match="column 'dishwasher_w': longest_step: the steps are uneven"):
        read_meter_log(source)
    read = read_meter_log(source, settings=LogSettings(longest_step=np.inf))
    assert covered_hours(read.log) == pytest.approx(14 * 24, abs=0.1)


@pytest.mark.parametrize("a_day", [4, 24])
def test_a_counter_that_starts_anew_each_day_is_not_taken_for_energies(a_day: int) -> None:
    used = [0.0] * (24 - a_day) + [0.1] * a_day
    times = [dt.datetime(2024, 5, 1, tzinfo=dt.UTC) + dt.timedelta(hours=n) for n in range(240)]
    today = [sum(used[: n % 24 + 1]) for n in range(240)]
    with pytest.raises(ReadError, match=r"row 26, column 'Energy \(kWh\)': the counter falls here, got '0\."):
        read_meter_log(written(times, today, Shape(header="Energy (kWh)")))


def test_a_household_s_hourly_energies_are_no_counter() -> None:
    hours = np.arange(500)
    kwh = np.round(0.5 + 0.4 * np.sin(2 * np.pi * hours / 24) + np.random.default_rng(1).uniform(0, 0.2, 500), 3)
    times = [dt.datetime(2009, 1, 1, tzinfo=dt.UTC) + dt.timedelta(hours=int(hour)) for hour in hours]
    read = read_meter_log(written(times, list(kwh), Shape(header="total_kwh", decimals=3)))
    assert read.quantity is Quantity.ENERGY
    assert mean_power(read.log) == pytest.approx(1000 * kwh.mean())


# Broken logs

Break = Callable[[list[str], random.Random], tuple[list[str], str]]


def cell(lines: list[str], row: int, column: int, text: str) -> list[str]:
    """The log with one cell changed; row as a person counts it, with the header as row 1."""
    cells = lines[row - 1].split(",")
    cells[column] = text
    return [*lines[: row - 1], ",".join(cells), *lines[row:]]


def some_row(chance: random.Random) -> int:
    return chance.randrange(3, 200)


def text_in_a_number(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row, text = some_row(chance), chance.choice(["12e", "l00.5", "error", "1 2", "0x1F", "12_5", "=1+1", "٣", "1..5"])
    return cell(lines, row, 1, text), rf"row {row}, column 'power \(W\)': is not a number"


def another_unit(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, "0.1 kW"), rf"row {row}, column 'power \(W\)': is not a number"


def negative_power(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, f"-{chance.uniform(0.1, 99):.1f}"), rf"row {row}, column 'power \(W\)': is below zero"


def endless_power(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, "1e999"), rf"row {row}, column 'power \(W\)': is beyond all measure"


def infinity(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, chance.choice(["inf", "-inf", "Infinity"])), rf"row {row}, column .*is not a number"


def two_decimal_marks(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, '"99,5"'), rf"row {row}, column .*point and comma both stand for the decimal"


def a_date_in_another_form(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row, text = some_row(chance), chance.choice(["14/05/2024 23:59", "1715731199", "May 14", "2024-05-14T", "now"])
    return cell(lines, row, 0, text), rf"row {row}, column 'time': (is not a time in the form|has no time of day)"


def a_day_that_is_none(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row, text = some_row(chance), chance.choice(["2024-02-30 10:00:00", "2024-13-01 10:00:00", "2024-05-14 25:00:00"])
    return cell(lines, row, 0, text), rf"row {row}, column 'time': is not a time in the form"


def a_date_without_time(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 0, "2024-05-15"), rf"row {row}, column 'time': has no time of day"


def another_century(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    time, why = chance.choice((("0024", "in the form of the others"), ("1984", "between the years")))
    return cell(lines, row, 0, f"{time}-05-15 00:00:00"), rf"row {row}, column 'time': is not a time {why}"


def one_zone_among_none(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    time = lines[row - 1].split(",")[0]
    return cell(lines, row, 0, f"{time}+02:00"), rf"row {row}, column 'time': some times have a zone"


def a_stamp_twice(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return [*lines[:row], lines[row - 1], *lines[row:]], rf"row {row + 1}, column 'time': the same time comes twice"


def rows_swapped(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    swapped = [*lines[: row - 1], lines[row], lines[row - 1], *lines[row + 1 :]]
    return swapped, rf"row {row + 1}, column 'time': time runs backwards"


def a_block_out_of_order(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = chance.randrange(40, 120)
    block = lines[row : row + 20]
    return [lines[0], *block, *lines[1:row], *lines[row + 20 :]], r"row 22, column 'time': time runs backwards"


def columns_swapped_midway(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    turned = [",".join(reversed(line.split(","))) for line in lines[row - 1 :]]
    return [*lines[: row - 1], *turned], rf"row {row}, column '(time|power \(W\))'"


def a_header_again(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return [*lines[: row - 1], lines[0], *lines[row - 1 :]], rf"row {row}, column 'time': is not a time in the form"


def a_sum_at_the_end(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return [*lines, f"total,{chance.uniform(1e3, 1e5):.1f}"], rf"row {len(lines) + 1}, column 'time': is not a time"


def a_field_too_many(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return cell(lines, row, 1, "99,5"), rf"row {row}: has 3 fields, and the rows above 2"


def decimal_commas_unquoted(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return [
        lines[0],
        *(line.replace(".", ",") for line in lines[1:]),
    ], "row 2: has 3 fields, and the header above it 2"


def an_open_quote(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return cell(lines, some_row(chance), 1, '"99.5'), r"^log: a quoted text has no end"


def cut_within_a_time(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    row = some_row(chance)
    return [*lines[: row - 1], lines[row - 1][: chance.choice([4, 9, 12, 15, 18])]], rf"row {row}, column 'time'"


def no_figures(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return [line.split(",")[0] for line in lines], r"^log, row 1: no row has a time and a figure"


def no_readings(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    empty = [line.split(",")[0] + "," + chance.choice(["", "NaN", "unavailable"]) for line in lines[1:]]
    return [lines[0], *empty], r"column 'power \(W\)': readings: must be 2 or more"


def only_one_row(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return [lines[0], lines[some_row(chance)]], r"column 'power \(W\)': readings: must be 2 or more"


def megawatts(lines: list[str], chance: random.Random) -> tuple[list[str], str]:
    return [lines[0].replace("W", "kW"), *lines[1:]], r"column 'power \(kW\)': a mean power of .* kW is no appliance's"


BREAKS: list[Break] = [
    text_in_a_number, another_unit, negative_power, endless_power, infinity, two_decimal_marks,
    a_date_in_another_form, a_day_that_is_none, a_date_without_time, another_century, one_zone_among_none,
    a_stamp_twice, rows_swapped, a_block_out_of_order, columns_swapped_midway, a_header_again, a_sum_at_the_end,
    a_field_too_many, decimal_commas_unquoted, an_open_quote, cut_within_a_time, no_figures, no_readings,
    only_one_row, megawatts,
]  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rule", BREAKS, ids=lambda rule: rule.__name__)
def test_a_broken_log_is_refused_where_it_is_broken(rule: Break, seed: int) -> None:
    lines = written(MINUTES, WATTS, Shape(decimals=1)).decode().splitlines()
    broken, says = rule(lines, random.Random(seed))
    with pytest.raises(ReadError, match=says):
        read_meter_log("\n".join([*broken, ""]).encode())


def read_or_refused(raw: bytes) -> tuple[str, MeterLog | None]:
    """What it was refused with, or the log."""
    try:
        return "", read_meter_log(raw)
    except (ReadError, OneOf) as refused:
        return str(refused), None


@pytest.mark.parametrize("seed", range(40))
def test_a_log_cut_anywhere_is_refused_or_right_but_for_its_last_row(seed: int) -> None:
    raw = written(MINUTES, WATTS, Shape(decimals=1))
    cut = random.Random(seed).randrange(100, len(raw))
    refused, read = read_or_refused(raw[:cut])
    if read is None:
        assert re.search(r"row \d+, column 'time'|no row has a time|readings: must be 2 or more", refused)
        return
    assert read.log.watts[:-1].tolist() == WATTS[: len(read.log.watts) - 1]
    assert raw[:cut].count(b"\n") - 1 <= read.rows <= raw[:cut].count(b"\n")


@pytest.mark.parametrize(
    ("header", "rows", "says"),
    [
        ("time,meter reading (kWh)", [1.0, 1.2, 1.1, 1.3], r"row 4, column .*: the counter falls here, got '1.1'"),
        ("time,kWh", [1.0, 1.0, 2.0, 2.0], r"column 'kWh': a counter's readings, or the energy of each step"),
        ("time,voltage", [230.0, 231.0, 230.0, 229.0], r"column 'voltage': W, kW, Wh or kWh"),
        ("time,power W kWh", [1.0, 2.0, 1.0, 2.0], r"column 'power W kWh': W, kW, Wh or kWh"),
    ],
)
def test_figures_that_mean_two_things_are_refused(header: str, rows: list[float], says: str) -> None:
    text = header + "\n" + "".join(f"2024-05-01 0{hour}:00,{figure}\n" for hour, figure in enumerate(rows))
    with pytest.raises(MendpointError, match=says):
        read_meter_log(text.encode())


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "is empty"),
        (b"\n\n \n", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0", "is not a text file"),
        (b"PK\x03\x04\x00\x00", "is not a text file"),
        (b"time,W\n\x81\x8d", "neither UTF-8 nor Windows-1252"),
        (b"\xff\xfe\x00", "neither"),
        (b"hello\nworld\n", "no row has a time and a figure"),
        (b"time;power W\n", "no row has a time and a figure"),
    ],
)
def test_what_is_no_log_is_refused(raw: bytes, says: str) -> None:
    with pytest.raises(ReadError, match=says):
        read_meter_log(raw)


@pytest.mark.parametrize("name", ["no such.csv", "x" * 5000, "a\0b", "."])
def test_a_file_that_cannot_be_opened_is_refused_by_a_short_name(name: str, tmp_path: Path) -> None:
    with pytest.raises(ReadError) as refused:
        read_meter_log(tmp_path / name)
    assert len(str(refused.value)) < 200


PIECES = st.sampled_from(
    ["2024-05-01 00:00", "01/02/2024", "00:05", "1714521600", "12.5", "1,5", '"', "W", "kWh", ",", ";", "\t", "\n",
     "\n", "é", "-3", "nan", "T", "Z", "+02:00", "AM", " ", "time", "\r", "\x00", "99999999999999999999", "\u0663",
     "-", "|"]
)  # fmt: skip


@given(pieces=st.lists(PIECES, max_size=60), tail=st.binary(max_size=8))
@settings(max_examples=5 * settings.default.max_examples)
def test_whatever_comes_is_read_or_refused_and_never_falls_over(pieces: list[str], tail: bytes) -> None:
    refused, read = read_or_refused("".join(pieces).encode() + tail)
    if read is None:
        assert refused.startswith(("log", "unit: ", "column: "))
        return
    assert (read.log.watts >= 0).all()
    assert (read.log.seconds > 0).all()
