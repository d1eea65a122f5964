"""What the visits kept here say of the shop: a job book of those that were decided, and counts of the causes found.

The book is read like any other. It names nobody: what tells one appliance from another is a digest.
"""

import csv
import io
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from hashlib import blake2b
from typing import Any, Final

from ...economics.case import Quote
from ...errors import CaseError
from ...shop.jobs import DECLINED, OPEN, REPAIRED
from ..cases.reading import is_number, numbers_of
from ..jobs.columns import ColumnMapping
from ..tables.tables import Tables
from .records import Visit

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
        outcome, there = visit.page.get("outcome"), _table(visit.entries, "appliance")
        quote, age = _total(_table(visit.entries, "repair").get("quote"), region, reference), there.get("age")
        at = visit.page.get("place")
        if outcome not in DECIDED or quote is None or not is_number(age) or at not in reference.known_places:
            continue
        if reference.region_of(str(at)) != region or there.get("class") not in reference.known_classes:
            continue
        day = visit.created.astimezone().date().isoformat()
        row = (day, there["class"], age, there.get("fault", "other"), round(quote, 2), outcome, _unit(visit))
        writer.writerow(row)
    return text.getvalue().encode(), replace(MAPPING, place=place)


def cause_counts(pages: Iterable[Mapping[str, Any]]) -> dict[str, dict[str, float]]:
    """How many visits each cause of each symptom was found in, as `diagnose` takes them. [job]"""
    counts: dict[str, dict[str, float]] = {}
    for (symptom, cause), n in Counter((page.get("symptom"), page.get("finding")) for page in pages).items():
        if symptom and cause:
            counts.setdefault(str(symptom), {})[str(cause)] = float(n)
    return counts


def _table(entries: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = entries.get(name)
    return found if isinstance(found, dict) else {}


def _total(quote: object, region: str, reference: Tables) -> float | None:
    """What a quote comes to, whole or in its parts; None where none was entered, or none that can be. [money]"""
    if not isinstance(quote, dict):
        return float(quote) if is_number(quote) else None  # type: ignore[arg-type]
    try:
        rate = reference.usual("labour_rate", region).value
        return (
            float(Quote(**{"labour_rate": rate, **quote}).total) if quote.keys() <= numbers_of(Quote).keys() else None
        )
    except (TypeError, CaseError):
        return None


def _unit(visit: Visit) -> str:
    """What tells one appliance from another: its serial number, else whose it is and its class; '' without either."""
    held = visit.details
    named = held.get("serial") or (
        held.get("customer") and held.get("address") and f"{held['customer']} {held['address']}"
    )
    kind = _table(visit.entries, "appliance").get("class")
    return blake2b(f"{kind} {named}".casefold().encode(), digest_size=8).hexdigest() if named else ""
