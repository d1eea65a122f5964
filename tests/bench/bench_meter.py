"""A year by the minute, read and annualised, beside a row loop in the same run: `pytest tests/bench/*.py -s`."""

import csv
import datetime
import io
import time

import numpy as np
import pytest

from decide.energy.metering import annualise
from decide.energy.power_log import mean_power
from decide.load.meters.meter_log import read_meter_log

ROWS = 525_600
FORMS = {"%Y-%m-%d %H:%M:%S": (",", "."), "%d.%m.%Y %H:%M": (";", ",")}


def a_year(form: str) -> bytes:
    """Half a million rows of a refrigerator."""
    separator, mark = FORMS[form]
    draw = np.random.default_rng(0)
    on = np.arange(ROWS) % 41 < 15
    watts = np.where(on, 120 + draw.normal(0, 3, ROWS), draw.uniform(0, 2, ROWS))
    begin = datetime.datetime(2023, 1, 1)
    stamps = ((begin + datetime.timedelta(minutes=minute)).strftime(form) for minute in range(ROWS))
    figures = (f"{figure:.1f}".replace(".", mark) for figure in watts)
    rows = (f"{stamp}{separator}{figure}" for stamp, figure in zip(stamps, figures, strict=True))
    return "\n".join([f"time{separator}power (W)", *rows, ""]).encode()


def row_loop(raw: bytes, form: str) -> float:
    """Mean power by the csv module, told the form in advance, with no check of anything [W]."""
    separator, mark = FORMS[form]
    rows = csv.reader(io.StringIO(raw.decode()), delimiter=separator)
    next(rows)
    read = [(datetime.datetime.strptime(stamp, form), float(figure.replace(mark, "."))) for stamp, figure in rows]
    return sum(watts for _, watts in read) / len(read)


@pytest.mark.parametrize("form", FORMS, ids=["year-first", "day-first"])
def test_a_year_by_the_minute_against_a_row_loop_of_the_csv_module(form: str) -> None:
    raw = a_year(form)
    begun = time.perf_counter()
    read = read_meter_log(raw)
    half = time.perf_counter()
    annual = annualise(read.log)
    ended = time.perf_counter()
    mean = row_loop(raw, form)
    loop, ours = time.perf_counter() - ended, ended - begun
    assert (read.rows, annual.missing) == (ROWS, 0.0)
    assert mean_power(read.log) == pytest.approx(mean, rel=1e-9)
    print(f"\n{ROWS:,} rows read in {half - begun:.2f} s and annualised in {ended - half:.2f} s (asked: 3 s in all)")
    print(f"csv module row by row, told the form and checking nothing: {loop:.2f} s, {loop / ours:.1f} times as long")
