"""What the visits kept here say of the shop: a job book of those that were decided, and counts of the causes found.

The book is read like any other. It names nobody: what tells one appliance from another is a digest.
"""

import contextlib
import csv
import io
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from hashlib import blake2b
from typing import Any, Final

from ...economics.case import Quote
from ...shop.jobs import DECLINED, OPEN, REPAIRED
from ..jobs.columns import ColumnMapping
from ..tables.tables import Tables
from .records import UNSOUND, Visit

DECIDED: Final = {"accepted": REPAIRED, "declined": DECLINED, "thinking": OPEN}
"""What the customer did, by the outcome of a visit; all others say what was found instead."""

MAPPING: Final = ColumnMapping(
    columns={role: role for role in ("date", "class", "age", "fault", "quote", "decision", "unit")},
    decisions=DECIDED,
    decimal_mark=".",
)
"""How the book is read."""


def visit_book(visits: Iterable[Visit], place: str, reference: Tables) -> tuple[bytes, ColumnMapping]:
    """The decided visits in the region of a place as a job book (CSV), and how it is read.

    A visit is a job on the day on which it was begun. One without class, age or price is none.
    """
    text, region = io.StringIO(newline=""), reference.region_of(place)
    writer = csv.writer(text)
    writer.writerow(MAPPING.columns)
    for visit in visits:
        if visit.page.get("outcome") in DECIDED:
            with contextlib.suppress(*UNSOUND):
                if reference.region_of(visit.page["place"]) == region:
                    writer.writerow(_job(visit, reference.usual("labour_rate", region).value))
    return text.getvalue().encode(), replace(MAPPING, place=place)


def cause_counts(pages: Iterable[Mapping[str, Any]]) -> dict[str, dict[str, float]]:
    """How many visits each cause of each symptom was found in, as `diagnose` takes them. [job]"""
    counts: dict[str, dict[str, float]] = {}
    for (symptom, cause), n in Counter((page.get("symptom"), page.get("finding")) for page in pages).items():
        if symptom and cause:
            counts.setdefault(str(symptom), {})[str(cause)] = float(n)
    return counts


def _job(visit: Visit, rate: float) -> tuple[object, ...]:
    """The row of a visit; raises one of `UNSOUND` where it lacks what a job needs. `rate` is the usual one an hour."""
    there, quote = visit.entries["appliance"], visit.entries["repair"]["quote"]
    price = float(Quote(**{"labour_rate": rate, **quote}).total if isinstance(quote, dict) else quote)
    day = visit.created.astimezone().date().isoformat()
    fault = there.get("fault", "other")
    return day, there["class"], float(there["age"]), fault, round(price, 2), visit.page["outcome"], _unit(visit)


def _unit(visit: Visit) -> str:
    """What tells one appliance from another: its serial number, else whose it is and its class; '' without either."""
    held = visit.details
    home = f"{held['customer']} {held['address']}" if {"customer", "address"} <= held.keys() else ""
    named = held.get("serial") or home
    text = f"{visit.entries['appliance']['class']} {named}".casefold()
    return blake2b(text.encode(), digest_size=8).hexdigest() if named else ""
