"""A landlord's entries: the tax rate, who pays the bills, and how a purchase is written off over the years."""

import functools
import math
from collections.abc import Mapping
from typing import Any, Final

from ...economics.household import Landlord
from ...economics.landlord import straight_line
from ...errors import CaseError, DataError, Message
from ..files.rows import rows
from ..tables.labels import Basis
from ..tables.tables import STATUSES, data_dir
from .reading import CaseReader, Needed, is_number, numbers_of

FILE: Final = "depreciation.csv"
COLUMNS: Final = "schedule,tax_year,share,source,locator,year,status,note"
WAYS: Final = ("depreciation", "depreciation_years")
"""A schedule, or years of equal shares: one of the two."""


def landlord_of(reader: CaseReader, home: Mapping[str, Any]) -> Landlord | None:
    """Read a landlord's entries, noting every error; None where there is none, or none that could be."""
    if "landlord" not in home:
        return None
    path, table = "household.landlord", reader.table(home, "household", "landlord")
    numbers, before = numbers_of(Landlord), len(reader.errors)
    reader.refuse_unknown(path, table, (*numbers, *WAYS))
    given = reader.numbers(path, table, numbers)
    reader.errors += [Needed(f"{path}.{name}", bounds) for name, bounds in numbers.items() if name not in given]
    shares = _schedule(reader, table)
    if len(reader.errors) > before:
        return None
    return Landlord(**given, depreciation=shares)


def _schedule(reader: CaseReader, table: Mapping[str, Any]) -> tuple[float, ...]:
    """The shares by tax year; nothing, and an error noted, where there are none."""
    path = "household.landlord.depreciation"
    named = [way for way in WAYS if way in table]
    if len(named) != 1:
        got = Message("both" if named else "neither")
        reader.refuse(path, "is needed once: {path} or {path}_years, got {got}", path, got)
        return ()
    entered = table[named[0]]
    try:
        if named[0] == "depreciation_years":
            if not is_number(entered) or not math.isfinite(entered) or int(entered) != entered:
                raise CaseError(f"{path}_years", "must be a whole number of years, got {got!r}", entered)
            return straight_line(int(entered))
    except CaseError as error:
        reader.errors.append(error)
        return ()
    if isinstance(entered, str):
        return schedules()[reader.choice(path, entered, schedules())][0]
    if not (isinstance(entered, list) and entered and all(is_number(each) for each in entered)):
        known = ", ".join(schedules())
        reader.refuse(path, "must be shares by tax year or one of {known}, got {got!r}", known, entered)
        return ()
    return tuple(float(share) for share in entered)


@functools.cache
def schedules() -> Mapping[str, tuple[tuple[float, ...], Basis]]:
    """Read every schedule of the tables with who says so, once a run."""
    found: dict[str, tuple[tuple[float, ...], Basis]] = {}
    for row in rows(data_dir() / FILE, COLUMNS):
        name, share = row.text("schedule"), row.number("share")
        shares, basis = found.get(name, ((), None))
        if row.number("tax_year") != len(shares) + 1 or not 0 <= share <= 1:
            raise row.broken("tax years must follow each other from 1, each with a share from 0 to 1")
        says = row.text("source"), row.text("locator"), row.year(), row.choice("status", STATUSES), row.cells["note"]
        found[name] = (*shares, share), basis or Basis(name, *says)
    for name, (shares, _) in found.items():
        if not math.isclose(sum(shares), 1.0, abs_tol=1e-6):
            raise DataError("{file}, {name}: the shares make {shares:g}, not 1", FILE, name, sum(shares))
    return found
