"""A household's tariff, and what an appliance really pays on it: bill minus bill, month by month.

The format stands in DEVELOPERS.md under 'What a case file can hold'. What the household draws besides the appliance is
a year, twelve months or interval data; where the appliance is counted in, it is taken off.

The price of the household becomes the mean price of the appliance's own use on top of the rest; what a smaller or
larger use costs follows in steps, cut where a block begins and at the use of each option, so that options differ by
exactly what their bills do.

The appliance is taken to draw evenly through the day and the year.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, TypeAlias

import numpy as np

from ...arrays import Floats
from ...economics.household import FLAT, PriceSteps
from ...energy.load_profile import MONTH_DAYS, Totals, Use, evenly, gas_energy, hours_of_profile
from ...energy.tariff import Tariff, marginal_price, price_pieces
from ...errors import CaseError, Message, OneOf, ReadError, require
from ..meters.interval_data import as_energy, daily_profile, monthly_use, read_intervals
from ..meters.tariff_file import COUNTED_IN, read_tariff, tariff_of
from .reading import CaseReader, Derived, declared, is_number

OWN: Final = ("file", "base_use", "interval_data", "interval_unit", "interval_column", "includes_appliance")
"""Entries beside those of the tariff itself."""
OF_THE_METER: Final = ("calorific_value",)
"""Entries of the tariff itself that the readings of a meter ask for too."""
BASE_USE: Final = declared("base_use")
BILL: Final = declared("bill")
"""Of a bill that is typed: up to where a step goes in a month, and an hour of the day."""
HEAT: Final = (1.0, 200.0)
"""Of a cubic metre of any gas that is burned in a home: bounds that catch another unit. Our judgement. [MJ/m3]"""
DUST: Final = 6  # decimals of a flow: below them there is nothing to price
SAME: Final = 1e-9  # levels closer than this are one level. [-]


BaseUse: TypeAlias = tuple[Use, tuple[str, ...]]
"""Use of the rest of a household, and what was left out or mended in reading it, in sentences."""


def priced(tariff: Tariff, base: Use, flows: Sequence[float]) -> tuple[float, PriceSteps]:
    """Price flows on top of a household's other use so that each costs what it adds to the bills.

    The mean price is that of the first flow that is not zero; the steps are exact at every flow. `flows` are the yearly
    flow of the appliance that stands there, then of each option. [unit/year]
    """
    flows = [round(flow, DUST) for flow in flows]
    ends = np.unique([0.0, *flows])
    ends = ends if len(ends) > 1 else np.array([0.0, 1.0])
    upto: list[float] = []
    prices: list[float] = []
    for begin, end in pairwise(ends.tolist()):
        bounds, paid = price_pieces(tariff, base + evenly(begin), evenly(end - begin))
        upto += (begin + bounds).tolist()
        prices += paid.tolist()
    first = next((flow for flow in flows if flow > 0), float(ends[-1]))
    price = float(marginal_price(tariff, base, evenly(first)))
    if price == 0:  # a minimum bill may swallow all of it: then a larger flow tells
        price = float(marginal_price(tariff, base, evenly(float(ends[-1]))))
    return price, _steps(upto, np.array(prices) / price) if price else FLAT


def _steps(upto: Sequence[float], levels: Floats) -> PriceSteps:
    """Steps of unlike levels only."""
    kept = [*(np.abs(np.diff(levels)) > SAME), True]
    bounds = [bound for bound, keep in zip(upto, kept, strict=True) if keep]
    unlike = [float(level) for level, keep in zip(levels, kept, strict=True) if keep]
    if len(unlike) == 1 and abs(unlike[0] - 1) <= SAME:
        return FLAT
    return PriceSteps(upto=tuple(bounds), level=tuple(unlike))


def tariff_price(
    reader: CaseReader, fuel: str, table: Mapping[str, Any], flows: Sequence[float], currency: str
) -> tuple[float, PriceSteps] | None:
    """Read a fuel's tariff and price the appliance's flows on it; None where it cannot be, with each error noted."""
    path, before = f"household.{fuel}_tariff", len(reader.errors)
    counted_in = reader.flag(path, table, "includes_appliance")
    try:
        tariff = _tariff(reader, path, fuel, table)
        alone = tariff is not None and tariff.has_one_price and not {"base_use", "interval_data"} & table.keys()
        base = (evenly(0.0), ()) if alone else _base_use(reader, path, fuel, table)
        if len(reader.errors) > before or tariff is None or base is None or not np.isfinite(flows).all():
            return None
        use, remarks = base
        if tariff.currency not in ("", currency):
            raise CaseError("currency", "must be {currency} here, got {got}", currency, tariff.currency)
        found = priced(tariff, use - evenly(flows[0]) if counted_in and not alone else use, flows)
    except ReadError as error:
        reader.refuse(path, "{where}: {message}", error.where, error.message)
        return None
    except OneOf as error:
        reader.errors.append(error.at(f"{path}.{error.field}"))
        return None
    except CaseError as error:
        own = Message("must hold the appliance's own use in every month, since includes_appliance is true")
        at, message = ("base_use", own) if counted_in and error.field == "use" else (error.field, error.message)
        reader.refuse(f"{path}.{at}", message)
        return None
    about: dict[str, Any] = {"facts": {"steps": float(len(found[1].level))}, "remarks": remarks}
    unit, source = f"{currency}/{COUNTED_IN[fuel]}", tariff.source
    reader.derived.append(
        Derived(field=f"household.{fuel}_price", value=found[0], unit=unit, way="tariff", source=source, **about)
    )
    return found


def _tariff(reader: CaseReader, path: str, fuel: str, table: Mapping[str, Any]) -> Tariff | None:
    inline = {name: value for name, value in table.items() if name not in OWN}
    beside_file = OF_THE_METER if "interval_data" in table else ()
    if "file" in table and (twice := [name for name in inline if name not in beside_file]):
        reader.refuse(f"{path}.{twice[0]}", "gives the tariff twice, with file")
        return None
    if "file" in table:
        file = reader.file(f"{path}.file", table["file"])
        tariff = read_tariff(file) if file else None
    else:
        tariff = tariff_of({"commodity": fuel, **inline}, "the tariff")
    if tariff is not None and (tariff.unit != COUNTED_IN[fuel] or inline.get("commodity", fuel) != fuel):
        raise CaseError("commodity", "must be {what}", fuel)
    return tariff


def _base_use(reader: CaseReader, path: str, fuel: str, table: Mapping[str, Any]) -> BaseUse | None:
    """Use of the rest of the household: a year, twelve months, or what a meter read."""
    if not {"base_use", "interval_data"} & table.keys():
        message = "is needed, or interval_data: what the household draws besides the appliance"
        reader.refuse(f"{path}.base_use", message)
        return None
    entered = _entered_use(reader, path, "base_use", table["base_use"], fuel) if "base_use" in table else None
    if "interval_data" in table:
        file = reader.file(f"{path}.interval_data", table["interval_data"])
        if file is None or ("base_use" in table and entered is None):
            return None
        listed = table.get("base_use", [])
        whole = float(sum(filter(is_number, listed if isinstance(listed, list) else [listed]))) or None
        says = {name: str(table[f"interval_{name}"]) for name in ("unit", "column") if f"interval_{name}" in table}
        return metered_base(file, fuel, table.get("calorific_value"), year=whole, **says)
    return None if entered is None else (entered, ())


def _entered_use(reader: CaseReader, path: str, name: str, entered: object, fuel: str) -> Use | None:
    """Use of a year by one number or by its twelve months."""
    listed = entered if isinstance(entered, list) else [entered]
    if len(listed) not in (1, 12):
        reader.refuse(f"{path}.{name}", "must be one number or twelve, got {got}", len(listed))
        return None
    numbers = np.array([reader.number(path, name, each, BASE_USE[fuel]) for each in listed])
    return Totals(numbers) if numbers.size > 1 else evenly(float(numbers[0]))


def metered_base(
    file: Path,
    fuel: str,
    calorific_value: object = None,
    unit: str | None = None,
    year: float | None = None,
    column: str | None = None,
) -> BaseUse:
    """Use by month from interval data, with the shape of its days where it was read by the hour.

    `unit` and `column` are those of readings that do not say them; of the use of a `year` [kWh or m3], months that were
    not metered have what the others leave, by their days, and the days of the others. `CaseError`: not one meter of the
    fuel, or months in which nothing was metered and no year.
    """
    try:
        found = read_intervals(file, unit, column)
    except ReadError as error:
        raise CaseError("interval_data", "{where}: {message}", error.where, error.message) from error
    meters = [
        meter
        for meter in found.meters
        if meter.commodity == fuel and meter.direction in ("delivered", "net") and meter.value.size
    ]
    if len(meters) != 1:
        raise CaseError("interval_data", "must hold one meter of {fuel}, and holds {n}", fuel, len(meters))
    meter = meters[0]
    if meter.unit != COUNTED_IN[fuel]:
        if not is_number(calorific_value):
            raise CaseError("calorific_value", "is needed, in MJ/m3: the meter counts m3, and the tariff kWh")
        require("calorific_value", calorific_value, *HEAT, "MJ/m3")  # type: ignore[arg-type]
        meter = as_energy(meter, float(gas_energy(1.0, float(calorific_value))))  # type: ignore[arg-type]
    use = monthly_use(meter).use
    profile = daily_profile(meter) if (meter.duration <= 3600).all() else np.full((12, 24), np.nan)
    unread = np.isnan(use)
    if unread.any():
        missing, metered = ", ".join(str(month + 1) for month in np.flatnonzero(unread)), float(np.nansum(use))
        if year is None:
            template = "is needed beside it: nothing was metered in month {month}, so give the use of a whole year"
            raise CaseError("base_use", template, missing)
        if year < metered:
            raise CaseError("base_use", "must be {metered:.0f} or more, which was metered already", metered)
        days = np.where(unread, MONTH_DAYS, 0.0)
        use = np.where(unread, (year - metered) * days / np.sum(days), use)
        profile[unread] = np.mean(profile[~unread], axis=0)
    hours = None if np.isnan(profile).any() else hours_of_profile(np.maximum(profile, 0.0))
    return Totals(use, hours), found.remarks
