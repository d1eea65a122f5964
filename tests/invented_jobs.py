"""Jobs drawn at random over all classes, ages and faults: invented, and steered by a seed."""

import numpy as np

from decide.load.tables.tables import tables
from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs


def invented_jobs(count: int, place: str = "US", seed: int = 1, whole_years: bool = False) -> Jobs:
    """Jobs of every class sold in a place, each with a fault that its class can have."""
    draw, reference = np.random.default_rng(seed), tables()
    kinds = tuple(kind.kind for kind in reference.classes(reference.region_of(place)))
    faults = ("other", *(fault for fault in reference.known_faults if fault != "other"))
    possible = [[faults.index(fault.fault) for fault in reference.faults(kind)] for kind in kinds]
    kind = draw.integers(0, len(kinds), count).astype(np.int16)
    chance = draw.random(count)
    fault = np.array([possible[code][int(u * len(possible[code]))] for code, u in zip(kind, chance, strict=True)])
    prices = np.array([reference.figure("price", each, reference.region_of(place)).value for each in kinds])
    quote = np.round(prices[kind] * draw.lognormal(-1.3, 0.8, count), 2)
    age = draw.uniform(0, 40, count)
    never = np.full(count, np.datetime64("NaT", "D"))
    return Jobs(
        row=np.arange(2, count + 2),
        date=np.datetime64("2019-01-01") + draw.integers(0, 2500, count).astype("timedelta64[D]"),
        kinds=kinds,
        kind=kind,
        age=np.round(age) if whole_years else age,
        faults=faults,
        fault=fault.astype(np.int16),
        parts=np.full(count, np.nan),
        labour=np.full(count, np.nan),
        labour_hours=np.full(count, np.nan),
        trip=np.full(count, np.nan),
        fee=np.where(draw.random(count) < 0.5, np.minimum(90.0, quote), np.nan),
        fee_credited=np.where(draw.random(count) < 0.7, draw.choice([0.0, 0.5, 1.0], count), np.nan),
        quote=np.where(draw.random(count) < 0.9, quote, np.nan),
        decision=draw.integers(0, len(DECISIONS), count).astype(np.int16),
        outcome=draw.integers(0, len(OUTCOMES), count).astype(np.int16),
        outcome_date=never,
        known_since=never,
        unit=np.full(count, ""),
    )
