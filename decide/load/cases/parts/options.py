"""The options of a case: the repair, what is bought, a used unit, leaving it as it is and doing without it."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ....arrays import Number
from ....economics.case import LEAVE, REPAIR, REPLACE, WITHOUT, Appliance, Option, Quote
from ....economics.flows import life_of
from ....errors import Message
from ...tables.tables import TO_INSTALL, ApplianceClass
from ..reading import Needed, is_number, numbers_of
from .appliances import appliance_of, is_installed_price, is_used, price_figure, worth_of_new
from .entries import ENTERED_BESIDE, ENTERED_WITH, FIGURES, MOST_REPLACEMENTS, PAYS, SAVINGS, USUAL_NAMES, Draft, built


def replacements_of(draft: Draft, kind: ApplianceClass) -> dict[str, Mapping[str, Any]]:
    """What is entered of each thing to buy, by its path; a usual new one where nothing is."""
    listed = draft.entries.get(REPLACE, [{}])
    if not isinstance(listed, list) or not listed or not all(isinstance(entry, dict) for entry in listed):
        draft.refuse(REPLACE, "must be one or more tables, written [[replace]]")
        listed = [{}]
    if len(listed) > MOST_REPLACEMENTS:
        draft.refuse(REPLACE, "must be {most} at most, got {got:,}", MOST_REPLACEMENTS, len(listed))
        listed = listed[:1]
    paths = [REPLACE if i == 0 else f"{REPLACE}.{i + 1}" for i in range(len(listed))]
    new = Message("New {label}", f"{kind.label[0].lower()}{kind.label[1:]}", kind=kind.kind)
    names = [new, *(Message("Replacement {n}", i + 1) for i in range(1, len(listed)))]
    return {path: {"name": name, **entry} for path, name, entry in zip(paths, names, listed, strict=True)}


def option_of(
    draft: Draft,
    path: str,
    action: str,
    table: Mapping[str, Any],
    kind: ApplianceClass,
    appliance: Appliance | None = None,
) -> Option:
    """An option from what is entered of it; the rest by its class."""
    numbers = {name: bounds for name, bounds in numbers_of(Option).items() if name in ENTERED_WITH[action]}
    draft.refuse_unknown(path, table, (*numbers, "name", *ENTERED_BESIDE[action]))
    given = draft.numbers(path, table, numbers)
    draft.flag(path, table, "under_warranty")
    given |= _financed(draft, path, table, given)
    used = action == REPLACE and is_used(table)
    installed = action == REPLACE and is_installed_price(draft, table, kind)
    figures = dict(FIGURES[action])
    if action == REPLACE:
        figures["price"] = price_figure(draft, path, table)
        if "food_loss" in given:
            given.setdefault("food_loss_at_later_failures", given["food_loss"])
    # no table knows what a used unit costs, and it comes without a maker's warranty; whoever lives with a dead one
    # says what that costs; where it goes on cooling, what fails later may not
    unknown = (*(("tax_rate", *TO_INSTALL) if installed else ()), *(("price", "warranty") if used else ()))
    unknown += (() if draft.food_spoils else ("food_loss",)) + (tuple(figures) if path == LEAVE else ())
    for name, quantity in figures.items():
        if name in unknown:
            continue
        if name not in given and draft.reference.figure(quantity, kind.kind, draft.region) is not None:
            given[name] = draft.default(path, name, quantity, kind.kind)
    for name in ("price",) if used else ("annual_loss_of_use",) if action in (LEAVE, WITHOUT) else ():
        if name not in given:
            draft.errors.append(Needed(f"{path}.{name}", numbers[name]))
    name = table.get("name", USUAL_NAMES.get(action, ""))
    quote = _quote(draft, f"{path}.quote", table["quote"], kind) if "quote" in table else None
    if action == REPAIR and given.get("financed", 0.0) > (quote.total - quote.fee_credit if quote else 0.0):
        draft.refuse(f"{path}.financed", "must not be more than what is left to pay")
    return built(
        Option,
        given,
        name=name if isinstance(name, Message) else str(name),
        action=action,
        appliance=appliance,
        price_includes_installation=installed,
        sold_installed=action == REPLACE and not used and draft.region in kind.sold_installed,
        quote=quote,
    )


def _financed(draft: Draft, path: str, table: Mapping[str, Any], given: Mapping[str, float]) -> dict[str, float]:
    """What comes of saying what an option is paid from: all of it is lent, unless from savings."""
    if "pays" not in table:
        return {}
    pays = draft.choice(f"{path}.pays", table["pays"], PAYS)
    if "financed" in table:
        draft.refuse(f"{path}.pays", "gives the same twice, with {other}", "financed")
    found = {} if pays == SAVINGS else {"financed_share": 1.0}
    for name, quantity in (("loan_rate", PAYS[pays]), ("loan_years", "loan_years_usual")) if found else ():
        found[name] = given[name] if name in given else draft.default(path, name, quantity)
    draft.paid_from[path] = pays, found.get("loan_rate", 0.0)
    return found


def _quote(draft: Draft, path: str, quote: object, kind: ApplianceClass) -> Quote:
    numbers = numbers_of(Quote)
    if not isinstance(quote, dict):
        return Quote(amount=draft.number(path, "", quote, numbers["amount"]))
    draft.refuse_unknown(path, quote, tuple(numbers))
    given = draft.numbers(path, quote, numbers)
    if not quote.keys() & {"amount", "parts", "labour_hours", "trip"}:
        draft.refuse(path, "needs an amount, or its parts, labour_hours or trip")
    if "amount" in given and {"parts", "labour_hours", "labour_rate", "trip", "tax_rate"} & set(given):
        draft.refuse(f"{path}.amount", "is the whole quote; give it or its parts, not both")
    if "labour_hours" in given and "labour_rate" not in given:
        given["labour_rate"] = draft.default(path, "labour_rate", "labour_rate", kind.kind)
    return built(Quote, given)


def used_option(draft: Draft, kind: ApplianceClass) -> Option:
    """A used unit of the class as one more thing to buy: its price goes by the years that its age-mates have left.

    Those on sale failed and were mended, or were given up for what their buyer cannot see.
    """
    path = f"{REPLACE}.{len(draft.replacements) + 1}"
    share, asked = (
        draft.reference.needed(name, kind.kind, draft.region) for name in ("used_age_share", "used_price_share")
    )
    life = draft.reference.needed("mean_life", kind.kind, draft.region).value
    of_life = Message("{share:g} x {life:g} years", share.value, life)
    age = draft.note(f"{path}.appliance", "age", share.value * life, share, of_life)
    made = appliance_of(draft, f"{path}.appliance", {"age": age}, kind)
    new, of = worth_of_new(draft, kind)
    left = float(life_of(made).mean_residual_life(age) / life_of(made).mean_residual_life(0.0))
    # as of any that failed and was mended
    usual = draft.reference.needed("hazard_ordinary", kind.kind, draft.region)
    made = replace(made, hazard_ratio=draft.note(f"{path}.appliance", "hazard_ratio", usual.value, usual))
    years = draft.reference.needed("used_guarantee", kind.kind, draft.region)
    rule = Message("{share:g} x {of} ({price:g}) x {left:.2f} of its years left", asked.value, of, new, left)
    price = draft.note(path, "price", asked.value * left * new, asked, rule, "money")
    entry = {"name": Message("A used one"), "price": price, "appliance": {"age": age}}
    option = option_of(draft, path, REPLACE, entry, kind, made)
    return replace(option, warranty=draft.note(path, "warranty", years.value, years))


def left_or_done_without(
    draft: Draft, kind: ApplianceClass, stops: bool, for_a_stay: bool, rented: bool
) -> Iterator[Option]:
    """Living with the fault while the unit does some of its work; a dead one is done without, at its loss of use.

    Whoever says how it runs says that it does, whatever such a fault usually means.
    For a stay, doing without is an option of its own in the classes that people can do without.
    """
    usual = draft.reference.figure("doing_without", kind.kind, draft.region)
    entered = draft.table(draft.entries, "", WITHOUT) if WITHOUT in draft.entries else None
    if LEAVE in draft.entries:
        left = draft.table(draft.entries, "", LEAVE)
        runs = bool({"energy_change", "remaining_life_factor", "planned_replacement_years"} & left.keys())
        if runs or not stops:
            yield option_of(draft, LEAVE, LEAVE, left, kind)
        elif entered is not None:
            draft.refuse(LEAVE, "cannot be: with this fault it does no work; [without] is doing without it")
        else:
            yield option_of(draft, LEAVE, WITHOUT, left, kind)
            return
    if entered is not None or (for_a_stay and usual is not None and not rented):
        yield option_of(draft, WITHOUT, WITHOUT, entered or {}, kind)


@dataclass(frozen=True)
class WarrantyLeft:
    """What is left, at an age, of a warranty that ends at another."""

    ends: float

    def __call__(self, age: Number) -> Number:
        """Years left. [year]"""
        return np.maximum(0.0, self.ends - np.asarray(age, dtype=float))


def with_warranty_left(draft: Draft, there: Appliance, options: Sequence[Option], kind: ApplianceClass) -> list[Option]:
    """The options, with what is left of the warranty of the unit there: until then later repairs cost nothing."""
    usual = draft.reference.figure("warranty_new", kind.kind, draft.region)
    entered = draft.claim.get("warranty_left")
    if (usual is None and entered is None) or not is_number(there.age) or math.isnan(float(there.age)):
        return list(options)
    ends = WarrantyLeft(float(there.age) + entered if entered is not None else usual.value if usual else 0.0)
    left = float(ends(there.age))
    running = [option.action for option in options if option.action in (REPAIR, LEAVE)]
    for action in running:
        draft.by_age[f"{action}.warranty"] = ends
        if left and entered is None and usual is not None:
            draft.note(action, "warranty", left, usual, Message("{years:g} years, less its age", usual.value))
    return [replace(option, warranty=left) if option.action in running else option for option in options]
