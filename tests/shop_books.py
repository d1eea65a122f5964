"""Job books of invented shops whose units have a known life; shares no code with what is tested."""

import numpy as np
from scipy.special import gamma

from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs

YEARS_OPEN = 8.0
FIRST_DAY = np.datetime64("2018-01-01")
FAILURES_A_YEAR = 0.3


def jobs_of_columns(**columns: object) -> Jobs:
    """Jobs of one class, with NaN or NaT in every column that is not given."""
    n = len(columns["age"])  # type: ignore[arg-type]
    empty = dict.fromkeys(
        ("parts", "labour", "labour_hours", "trip", "fee", "fee_credited", "quote"), np.full(n, np.nan)
    )
    never = np.full(n, np.datetime64("NaT"), dtype="datetime64[D]")
    given = {
        "row": np.arange(2, n + 2),
        "date": never,
        "kinds": ("refrigerator",),
        "kind": np.zeros(n, np.int16),
        "faults": ("other",),
        "fault": np.zeros(n, np.int16),
        "decision": np.zeros(n, np.int16),
        "outcome": np.zeros(n, np.int16),
        "outcome_date": never,
        "known_since": never,
        "unit": np.full(n, "", dtype="<U8"),
        **empty,
        **columns,
    }
    return Jobs(**given)  # type: ignore[arg-type]


def shop_book(
    rng: np.random.Generator, units: int, shape: float, mean: float, asked: float = 1.0, contract: bool = False,
    years: float = YEARS_OPEN,
) -> Jobs:  # fmt: skip
    """A book of a shop that opened one day and closes it so many years later.

    Units of all ages stand in homes on the first day. Each fails now and then and is repaired, until the failure that
    ends it, when it is replaced. On the last day the shop asks after a share of those it repaired. Under contract it
    knows every unit from the first day on and would hear of its end; each has one visit without a fault on that day.
    """
    scale = mean / gamma(1 + 1 / shape)
    at_start = rng.uniform(0, 15, 20 * units)
    life = scale * rng.weibull(shape, 20 * units)
    there = np.flatnonzero(life > at_start)[:units]
    rows: list[tuple[int, float, float, str, str, float]] = []
    for unit in there:
        start, end = at_start[unit], life[unit]
        times = np.cumsum(rng.exponential(1 / FAILURES_A_YEAR, 40))
        repaired = times[times < min(years, end - start)]
        visits = [0.0, *repaired] if contract else list(repaired)
        text = "held" if rng.uniform() < asked and not contract else "unknown"
        last = end - start < years
        for at in visits:
            known = text if at == visits[-1] and not last else "unknown"
            rows.append((int(unit), at, start + at, "repaired", known, years if known == "held" else np.nan))
        if last:
            rows.append((int(unit), end - start, end, "replaced", "unknown", np.nan))
    unit, at, age, decision, outcome, heard = (list(column) for column in zip(*rows, strict=True))
    return jobs_of_columns(
        date=_days(at),
        age=np.array(age),
        decision=np.array([DECISIONS.index(each) for each in decision], np.int16),
        outcome=np.array([OUTCOMES.index(each) for each in outcome], np.int16),
        outcome_date=_days(heard),
        known_since=np.full(len(rows), FIRST_DAY if contract else np.datetime64("NaT"), dtype="datetime64[D]"),
        unit=np.array([str(each) for each in unit]),
    )


def _days(years: list[float]) -> np.ndarray:
    days = np.round(np.array(years) * 365.25)
    whole = np.nan_to_num(days).astype(int).astype("timedelta64[D]")
    return np.where(np.isnan(days), np.datetime64("NaT"), FIRST_DAY + whole).astype("datetime64[D]")


FAULT_NAMES = ("other", "compressor", "icemaker", "defrost", "thermostat", "door_gasket")


def callback_book(rng: np.random.Generator, repairs: int, share: float, redo: bool = True) -> Jobs:
    """Four years of a shop whose repairs come back with a known chance, as a job of its own within 80 days.

    A tenth of appliances have no serial number. Every appliance also fails by chance, 0.3 times a year, of any fault. A
    callback is free in half of cases, and else priced and of the same fault; where `redo`, it can come back as well.
    """
    rows: list[tuple[float, str, int, int, float, str]] = []
    for unit in range(repairs):
        name = f"S{unit:05d}" if rng.uniform() < 0.9 else ""
        kind, day = int(rng.integers(3)), float(rng.uniform(0, 1461))
        while day < 1461:
            fault, done = int(rng.integers(1, 6)), rng.uniform() < 0.75
            rows.append((day, name, kind, fault, float(rng.lognormal(5.5, 0.5)), "repaired" if done else "declined"))
            back = day
            while done and rng.uniform() < share:
                back += float(rng.uniform(1, 80))
                free = rng.uniform() < 0.5
                if back < 1461:
                    again = int(rng.integers(1, 6)) if free else fault
                    rows.append((back, name, kind, again, 0.0 if free else 90.0, "repaired"))
                if not redo:
                    break
            if not done:
                break
            day += float(rng.exponential(365 / 0.3)) + 1
    rows.sort()
    day, unit, kind, fault, quote, decision = (list(column) for column in zip(*rows, strict=True))
    return jobs_of_columns(
        date=(FIRST_DAY + np.array(day).astype(int).astype("timedelta64[D]")).astype("datetime64[D]"),
        age=np.full(len(rows), 6.0),
        kinds=("refrigerator", "dishwasher", "clothes_washer"),
        kind=np.array(kind, np.int16),
        faults=FAULT_NAMES,
        fault=np.array(fault, np.int16),
        quote=np.array(quote),
        decision=np.array([DECISIONS.index(each) for each in decision], np.int16),
        unit=np.array(unit),
    )
