"""What a new unit costs: by the prices entered of the things to buy, or by the class."""

import math
from collections.abc import Mapping
from typing import Any

from ....errors import Message
from ...tables.tables import GRADES, TO_INSTALL, ApplianceClass
from ..reading import is_number
from .draft import Draft


def is_used(entry: Mapping[str, Any]) -> bool:
    """Whether a replacement is a used unit: one with an age."""
    appliance = entry.get("appliance", {})
    return isinstance(appliance, dict) and bool(appliance.get("age"))


def worth_of_new(draft: Draft, kind: ApplianceClass) -> tuple[float, str]:
    """Price of a new unit: the least that is given for one, or the class's.

    Of a price with its installation it is the part that the unit is in the class's.
    """
    figure, whole = draft.reference.figure("price", kind.kind, draft.region), draft.reference.installed_price
    given: dict[str, float] = {}
    for path, entry in draft.replacements.items():
        if is_number(entry.get("price")) and not is_used(entry):
            installed = whole(kind.kind, draft.region) if is_installed_price(draft, entry, kind) else None
            part = figure.value / installed.value if figure and installed else 1.0
            given[path] = part * float(entry["price"])
    if given:
        path = min(given, key=given.__getitem__)
        price, whole_price = f"{path}.price", is_installed_price(draft, draft.replacements[path], kind)
        return given[path], Message("the unit's part of {price}", price) if whole_price else price
    return (figure.value if figure else math.nan), Message("the class's price")


def cost_of_new(draft: Draft, kind: ApplianceClass) -> float:
    """What a new unit costs in its place: the least price given or the class's, with tax, delivery and the rest."""
    price, _ = worth_of_new(draft, kind)
    found = (draft.reference.figure(name, kind.kind, draft.region) for name in TO_INSTALL)
    tax = draft.reference.figure("sales_tax", kind.kind, draft.region)
    return price * (1 + (tax.value if tax else 0.0)) + sum(figure.value for figure in found if figure)


def is_installed_price(draft: Draft, entry: Mapping[str, Any], kind: ApplianceClass) -> bool:
    """Whether a price that was entered has its installation in it: as entered, or as the class is sold."""
    if "price" not in entry:
        return False
    usual = draft.region in kind.sold_installed and "installation" not in entry and not is_used(entry)
    return entry.get("price_includes_installation", usual) is True


def price_figure(draft: Draft, path: str, table: Mapping[str, Any]) -> str:
    """The figure that a price left out is taken from, by the grade of the new unit."""
    name = "price_includes_installation"
    if draft.flag(path, table, name) and "price" not in table:
        draft.refuse(f"{path}.{name}", "is said of a price, and none is given")
    elif table.get(name) is True and "installation" in table:
        draft.refuse(f"{path}.installation", "gives the same twice, with {other}", name)
    if "price" in table and "grade" in table:
        draft.refuse(f"{path}.grade", "gives the same twice, with {other}", "price")
    return GRADES[draft.choice(f"{path}.grade", table.get("grade", "usual"), GRADES)]
