"""What stands in the fields of a page, turned into the entries of a case and back. No screen here, only the keeping.

Fields hold text as it was typed. An empty one enters nothing: the default holds. What an opened case holds
beyond the fields of the page is kept beside them and saved with them again. Fields that make sense only together are
left out until all of them are there.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ....economics.case import REPLACE
from ....economics.household import PROPANE
from ....errors import CaseError, EntryErrors, NotAbove
from ....load.cases import rating
from ....load.cases.case_file import Entries, set_entry
from ....load.cases.filled import NOTHING_FOUND, OUTCOMES, WITH_REASON
from ....load.cases.reading import Needed, is_number
from ....load.cases.scenarios import SECOND
from ....load.tables.symptoms import OWNER, symptoms
from ....load.tables.tables import ENERGY, GRADES, Tables, tables
from ....load.tables.typed import as_typed
from ....load.tables.usual_bills import OTHER
from ...text.words import Words
from . import input_methods as by
from .fields import (
    ABOUT,
    BUILT,
    CHOSEN,
    ENDS,
    FEES,
    OF_A_BILL,
    OF_A_PART,
    OFFERED,
    OFFERS,
    TYPED,
    WAYS,
    field_at,
    local_bounds,
    read_typed,
    typed_as,
)
from .input_methods import FieldGroup, parts_of


@dataclass(frozen=True)
class Question:
    """The entries that a page holds, what of it could not be read, and what is still needed before a part counts."""

    entries: Entries
    errors: tuple[CaseError, ...]
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Fields that a part still needs, by the part's table."""
    drawn: frozenset[str] = frozenset()
    """Fields that stand on the page."""

    def errors_at(self, key: str) -> tuple[CaseError, ...]:
        """What cannot be used of one field."""
        return tuple(error for error in self.errors if field_at(error) == key)

    @property
    def errors_elsewhere(self) -> tuple[CaseError, ...]:
        """What cannot be used and has no field on the page to be told at."""
        return tuple(error for error in self.errors if field_at(error) not in self.drawn)

    def with_errors(self, error: CaseError, words: Words) -> "Question":
        """The same with what the model cannot use; what is still needed is asked for in the units of the page."""
        more = error.errors if isinstance(error, EntryErrors) else (error,)
        shown = (
            Needed(each.field, local_bounds(words, each.field)) if isinstance(each, Needed) else each for each in more
        )
        return Question(self.entries, (*self.errors, *shown), self.missing, self.drawn)


def question_of(fields: Mapping[str, Any], kept: Entries, words: Words) -> Question:
    """Read the fields of a page; `kept` are the entries of an opened case, which the fields overrule."""
    parts = parts_of({**fields, "kept": kept}, words.region)
    missing = {part.table: lacking for part in parts if (lacking := _lacking(part, fields))}
    complete = [part for part in parts if part.table not in missing]
    drawn, counting = _drawn(fields, parts), _drawn(fields, complete)
    entries = _for_the_ways(kept, fields, complete)
    entries = _with_used(entries, fields, words, counts="used_age" in counting)
    errors = []
    for key, path in {**CHOSEN, **by.FILED}.items():
        value = _file_name(fields, key) if key in by.FILED else fields.get(key)
        value = True if (key, value) == ("second_fault", OTHER) else value
        if key == "remaining_life_factor" and value == 1 and entry_at(entries, path) is None:
            continue  # what is usual for its age says nothing
        entries = set_entry(entries, path, value) if value and key in counting else _without(entries, path)
    beside: dict[str, float] = {}
    for key, path in TYPED.items():
        text = str(fields.get(key) or "").strip()
        held = entry_at(kept, path)
        if text and key in drawn and is_number(held) and text == typed_as(words, path, held):
            error, value = None, held  # as it was opened, to the last digit
        else:
            error, value = read_typed(key, text, words) if text and key in drawn else (None, None)
        errors += [error] if error else []
        of_a_bill = key.startswith(OF_A_BILL) and key in counting
        if value is not None and (key in FEES or key.startswith(OFFERS) or of_a_bill):
            beside[key] = value
        elif value is not None and key in counting:
            entries = set_entry(entries, path, value)
        elif not error and not _stays(entries, key, path, fields, drawn):
            entries = _without(entries, path)
    if entry_at(entries, CHOSEN["outcome"]) == NOTHING_FOUND:
        # there is nothing to repair; what is typed stays in its field
        entries = _without(_without(entries, TYPED["quote"]), SECOND)
        beside = {k: v for k, v in beside.items() if k not in FEES}
    errors += _bill_errors(beside)
    return Question(_with_beside(entries, beside, fields, words), tuple(errors), missing, drawn)


def _bill_errors(typed: Mapping[str, float]) -> Iterator[CaseError]:
    """Why what is typed of a bill makes none: a step that ends below the one before it, a night without hours."""
    first, second = typed.get("step1_upto", 0.0), typed.get("step2_upto", math.inf)
    if second <= first:
        yield NotAbove(TYPED["step2_upto"], first, "kWh", second)
    if "night_to" in typed and typed["night_to"] == typed.get("night_from"):
        yield CaseError(TYPED["night_to"], "must not be the hour at which the night begins")


def _bill(typed: Mapping[str, float]) -> Entries:
    """The bill that is typed, as entries of a tariff; none where none is."""
    if {"day_price", "night_price", "night_from", "night_to"} <= typed.keys():
        hours = f"{typed['night_from']:.0f}-{typed['night_to']:.0f}"
        bands: list[Entries] = [{"price": typed["night_price"], "hours": hours}, {"price": typed["day_price"]}]
        return {"line": [{"name": "energy", "band": bands}], "base_use": 0.0, "includes_appliance": False}
    steps = [step for step in ("step1", "step2", "step3") if f"{step}_price" in typed]
    ends = [{"upto": typed[f"{step}_upto"]} if f"{step}_upto" in typed else {} for step in steps]
    blocks = [{"price": typed[f"{step}_price"], **end} for step, end in zip(steps, ends, strict=True)]
    return {"line": [{"name": "energy", "blocks": blocks}]} if blocks else {}


def _with_beside(entries: Entries, beside: Mapping[str, float], fields: Mapping[str, Any], words: Words) -> Entries:
    """What hangs on other entries: fees beside a quote, offers after the first, and what pays for all of them."""
    mends = fields.get("who_mends") == OWNER and can_be_fitted(fields, words.region)
    if mends and entry_at(entries, TYPED["quote"]) is not None:
        entries = set_entry(entries, "repair.repair_warranty", 0.0)  # nobody stands in for the work
    quote, fees = entry_at(entries, TYPED["quote"]), {key: beside[key] for key in FEES if key in beside}
    if quote is None and not {"parts", "labour_hours"}.isdisjoint(fees):
        quote = {}
    if fees and quote is not None:
        parts = quote if isinstance(quote, dict) else {"amount": quote}
        entries = set_entry(entries, TYPED["quote"], {**parts, **fees})
    offers = []
    for offer in OFFERS:
        if f"{offer}_price" not in beside:
            continue
        held: Entries = {"name": words.say(f"door.{offer}")}
        for name, path in OFFERED.items():
            if f"{offer}_{name}" in beside:
                held = set_entry(held, path, beside[f"{offer}_{name}"])
        offers.append(held)
    if offers:
        entries = {**entries, REPLACE: [*(entries.get(REPLACE) or [{}]), *offers]}
    about = fields.get("age_about")
    if about and entry_at(entries, TYPED["age"]) is None and not str(fields.get("age") or "").strip():
        low, middle, high = ABOUT.get(str(about), ABOUT["unknown"])
        entries = set_entry(entries, TYPED["age"], middle)
        entries = {**entries, "ranges": {**entries.get("ranges", {}), TYPED["age"]: [low, high]}}
    for name, value in _bill(beside).items():
        entries = set_entry(entries, f"household.electricity_tariff.{name}", value)
    if fields.get("pays"):
        bought = [{"pays": fields["pays"], **each} for each in entries.get(REPLACE) or [{}]]
        entries = {**entries, REPLACE: bought}
    return entries


def can_be_fitted(fields: Mapping[str, Any], region: str) -> bool:
    """Whether an owner may fit the part: nothing live, hot, sharp or sealed is near it, and the unit burns no gas."""
    kind, fault = fields.get("kind"), fields.get("fault")
    if not kind or not fault or "gas" in tables().kind(kind).fuels:
        return False
    causes = (link.cause for each in symptoms(region).of_class(kind) for link in each.links)
    mine = [each for each in causes if each.fault == fault and each.mend != OWNER]
    return bool(mine) and all(each.mend == "technician" and not each.hazard for each in mine)


def _lacking(part: FieldGroup, fields: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(key for key in part.needed if not (_file_name(fields, key) if key in by.FILED else fields.get(key)))


def _file_name(fields: Mapping[str, Any], key: str) -> str | None:
    held = fields.get("files", {}).get(key)
    return held[0] if held else None


def _drawn(fields: Mapping[str, Any], parts: Sequence[FieldGroup]) -> frozenset[str]:
    """Fields that stand on the page: those of every page, of these parts and of the ways that are chosen."""
    chosen = {key for part in parts for key in part.fields}
    found = {key for key in (*TYPED, *CHOSEN, *by.FILED, *WAYS) if key in chosen or not _is_of_a_part(key)}
    if fields.get("use_way", by.USUAL) != by.YEAR:
        found.discard("electricity")
    found -= {"outcome", "outcome_reason"} if not outcome_counts(fields) else set()
    found -= {"grade"} if fields.get("price") else set()
    found -= {f"{fuel}_price" for fuel in ENERGY if fields.get(f"{fuel}_priced", by.PLACE) != by.OWN_PRICE}
    return frozenset(found)


def outcome_counts(fields: Mapping[str, Any]) -> bool:
    """Whether how the visit ended is said of the unit too, with its reason where it needs one, and not of people."""
    outcome, reason = fields.get("outcome"), str(fields.get("outcome_reason") or "").strip()
    return outcome in OUTCOMES and (bool(reason) or outcome not in WITH_REASON)


def _is_of_a_part(key: str) -> bool:
    in_table = key.startswith(OF_A_PART) or key.endswith("_base_use")
    return key in by.FILED or key in ("cycles", "people") or (in_table and key not in WAYS)


def _stays(entries: Entries, key: str, path: str, fields: Mapping[str, Any], drawn: frozenset[str]) -> bool:
    """Whether an entry that no field shows is kept: a quote in parts, twelve rooms, what only an opened case has."""
    if key in FEES or key.startswith(OFFERS):
        return True  # `_with_beside` puts in what is typed
    by_a_limit = path.startswith("appliance.label.") and fields.get("label_says") == "limit"
    by_the_run = key == "cycles" and key not in drawn and fields.get("use_way", by.USUAL) == by.USUAL
    return by_the_run or by_a_limit or isinstance(entry_at(entries, path), dict | list)


def _for_the_ways(kept: Entries, fields: Mapping[str, Any], parts: Sequence[FieldGroup]) -> Entries:
    """The kept entries without what the ways chosen on the page take the place of."""
    entries, tables_kept = kept, {part.table for part in parts}
    second = [] if isinstance(entry_at(kept, TYPED["other_quote"]), dict) else [SECOND]  # no field shows its parts
    for table in (*second, "appliance.label", "appliance.meter", *(f"household.{fuel}_tariff" for fuel in ENERGY)):
        if table not in tables_kept:
            entries = _without(entries, table)
    held = entry_at(entries, "appliance.label")
    if isinstance(held, dict) and (main := main_of(held)) and main != fields.get("label_says"):
        entries = _without(entries, "appliance.label")
    if fields.get("use_way", by.USUAL) != by.USUAL:
        for name in by.OTHER_WAYS:
            entries = _without(entries, f"appliance.{name}")
    for part in parts:
        for name in part.drops:
            entries = _without(entries, f"{part.table}.{name}")
        if part.table.endswith("_tariff") and entry_at(kept, part.table) is None:
            entries = set_entry(entries, f"{part.table}.includes_appliance", True)  # as a bill counts
    return entries


def main_of(label: Mapping[str, Any]) -> str | None:
    """What a label's entries go by: a rating, a class letter or a legal limit."""
    return next((name for name in (*rating.RATINGS, "class", "limit") if name in label), None)


def fields_of(entries: Entries) -> dict[str, Any]:
    """Fill the fields of a page from the entries of a case, as people count where it lies."""
    words = Words.for_entries(entries)
    fields: dict[str, Any] = {key: entry_at(entries, path) for key, path in CHOSEN.items()}
    for key, path in TYPED.items():
        value = entry_at(entries, path)
        fields[key] = typed_as(words, path, value) if is_number(value) and math.isfinite(value) else ""
    quote = entry_at(entries, TYPED["quote"])
    if isinstance(quote, dict) and set(quote) <= {"amount", *FEES} - set(BUILT):
        fields["quote"] = as_typed(quote["amount"]) if "amount" in quote else ""
    elif isinstance(quote, dict):
        fields |= dict.fromkeys(FEES, "")  # a quote in parts keeps its own
    fields |= {key: "" for key in TYPED if key.startswith(OFFERS)}  # they stay with what else an opened case holds
    if not fields["used_age"]:
        fields["used_price"] = ""  # the second replacement is no used unit
    there = entries.get("appliance", {})
    named = [way for way in (by.METER, by.LABEL, "electricity") if there.get(way) is not None]
    fields["use_way"] = {"electricity": by.YEAR}.get(named[0], named[0]) if named else by.USUAL
    fields["label_says"] = main_of(there.get("label", {}))
    fields["meter_way"] = by.LOG if "file" in there.get("meter", {}) else by.READINGS
    for fuel in ENERGY:
        ways = {by.OWN_PRICE: f"household.{fuel}_price", by.TARIFF: f"household.{fuel}_tariff"}
        fields[f"{fuel}_priced"] = next((way for way, path in ways.items() if entry_at(entries, path)), by.PLACE)
    if bill := by.typed_bill(entry_at(entries, "household.electricity_tariff")):
        way = by.STEPS if "step1_price" in bill else by.DAY_NIGHT
        fields |= {"electricity_priced": way, **{key: typed_as(words, TYPED[key], each) for key, each in bill.items()}}
        fields |= {"electricity_base_use": ""} if way == by.DAY_NIGHT else {}  # nothing hangs on it
    second = OTHER if fields["second_fault"] is True else fields["second_fault"] or None
    return {**fields, "second_fault": second, "title": fields["title"] or ""}


def settled(fields: Mapping[str, Any], reference: Tables) -> dict[str, Any]:
    """Fields that hang together: a kind of the group that is sold in the place, a fault and ways that it can have."""
    region = reference.region_of(fields["place"])
    sold = {kind.kind: kind for kind in reference.classes(region)}
    group, kind, fault, second = (fields.get(name) for name in ("group", "kind", "fault", "second_fault"))
    if group not in {known.group for known in sold.values()}:
        group = None
    if kind not in sold or (group and sold[kind].group != group):
        kind = None
    can_have = {known.fault for known in reference.faults(kind)} if kind else set()
    fault = fault if fault in can_have else None
    held = main_of(fields.get("kept", {}).get("appliance", {}).get("label", {}))
    ways = by.ways_of(sold[kind], region) if kind else tuple(WAYS)
    says = by.sayings_of(sold[kind], region) if kind else ()
    way, saying = fields.get("use_way"), fields.get("label_says")
    return {
        "group": group or (sold[kind].group if kind else None),
        "kind": kind,
        "fault": fault,
        "outcome": fields.get("outcome") if fields.get("outcome") in ENDS else None,
        "second_fault": second if fault and second in can_have - {fault} else None,
        "use_way": way if way in ways or kind is None else by.USUAL,
        "grade": fields.get("grade") if fields.get("grade") in GRADES else None,
        **_gas_of(fields, sold[kind].fuels if kind else (), region, reference),
        "label_says": saying if saying and saying in (*says, held) else next(iter(says), None),
    }


def _gas_of(fields: Mapping[str, Any], fuels: Sequence[str], region: str, reference: Tables) -> dict[str, Any]:
    """Which gas it burns, and how that is priced: by whoever buys it where no price is published."""
    gas, priced = fields.get("gas_kind") if "gas" in fuels else None, fields.get("gas_priced") or by.PLACE
    unknown = gas == PROPANE and (region, gas) not in reference.energy_prices
    return {"gas_kind": gas, "gas_priced": by.OWN_PRICE if unknown and priced == by.PLACE else priced}


def entry_at(entries: Mapping[str, Any], path: str) -> Any:
    """The entry at a dotted path, or None."""
    found: Any = entries
    for step in _steps(path):
        if isinstance(step, int):
            found = found[step] if isinstance(found, list) and step < len(found) else None
        else:
            found = found.get(step) if isinstance(found, dict) else None
    return found


def _steps(path: str) -> list[str | int]:
    """Steps to an entry; a replacement is the place in a list, the first where none is named."""
    head, *rest = path.split(".")
    if head != REPLACE:
        return [head, *rest]
    return [head, int(rest[0]) - 1, *rest[1:]] if rest[0].isdigit() else [head, 0, *rest]


def _without(entries: Any, path: str) -> Any:
    return _taken_out(entries, _steps(path)) if entry_at(entries, path) is not None else entries


def _taken_out(inner: Any, steps: list[str | int]) -> Any:
    """The same without one entry; a table that this leaves empty goes too, for an empty one can have a meaning."""
    step, *rest = steps
    if isinstance(step, int):
        return [_taken_out(each, rest) if i == step else each for i, each in enumerate(inner)]
    left = _taken_out(inner[step], rest) if rest else None
    return {name: left if name == step else value for name, value in inner.items() if name != step or left}


def _with_used(entries: Entries, fields: Mapping[str, Any], words: Words, counts: bool) -> Entries:
    """A second replacement where a used one is entered; none where an opened one was cleared, or is half entered."""
    listed = [dict(entry) for entry in entries.get(REPLACE, [])] or [{}]
    held = len(listed) > 1 and entry_at(entries, TYPED["used_age"]) is not None
    rest = listed[2:] if held else listed[1:]
    if counts and fields.get("used_age"):
        before = listed[1] if held else {}
        old_age = entry_at(entries, TYPED["used_age"]) if held else None
        _, age = read_typed("used_age", str(fields["used_age"]).strip(), words)  # what is wrong with it its field says
        named_by_age = old_age is not None and age != old_age
        if age is not None and ("name" not in before or named_by_age):
            before["name"] = words.say("door.used_named", years=words.years(age))
        return {**entries, REPLACE: [listed[0], before, *rest]}
    return {**entries, REPLACE: [listed[0], *rest]} if held else entries
