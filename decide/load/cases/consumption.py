"""What a unit uses in a year, in whichever way it was entered: by the year, by the cycle, by power, by label or meter.

Exactly one way for each flow of a unit: two are an error that names both, since they would seldom agree. What is worked
out is noted as `Derived`, with what it rests on; what a meter says beside a rated figure is kept as a finding.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...arrays import Number
from ...economics.flows import drifted
from ...energy.consumption import from_power, per_cycle_energy
from ..tables.tables import ApplianceClass
from ..tables.vintages import Vintage
from .reading import CaseReader, Derived, declared

if TYPE_CHECKING:
    from .measured import AgainstRated

OTHER_ENERGY: Final = declared("appliance")
"""Other numbers by which a unit's yearly electricity can be entered."""

WAYS: Final = ("electricity", "electricity_per_cycle", "electricity_per_100_cycles", "power", "meter", "label")
"""Ways to enter electricity. A label may say gas or water too."""

UNITS: Final = {"electricity": "kWh/year", "gas": "kWh/year", "water": "m3/year"}
FLOWS: Final = tuple(UNITS)
"""What a unit draws in a year."""

MEASURED: Final = ("log", "readings")  # ways by which a meter told what a unit uses


@dataclass(frozen=True)
class UsualUse:
    """Yearly use of the usual unit of an age: that of one made now, by the ratio of its year and its drift since."""

    new: float
    most: float
    """What year and drift come to together at most, from units in homes. [-]"""
    vintage: Vintage | None
    drift: tuple[float, float]
    """Rise in the first year, and what it comes to. [1/year, share]"""
    now: float
    """This year."""
    made: float | None = None
    """Year of manufacture, where it is known besides the age."""

    def year(self, age: Number) -> Number:
        """Year of manufacture."""
        return self.now - np.asarray(age) if self.made is None else self.made

    def ratio(self, age: Number) -> Number:
        """Use as new over that of one made now. [-]"""
        return 1.0 if self.vintage is None else self.vintage.ratio(self.year(age), self.now)

    def risen(self, age: Number) -> Number:
        """Use at an age over that as new. [-]"""
        return drifted(*self.drift, age)

    def __call__(self, age: Number) -> Number:
        """Use at an age. [that of `new`]"""
        return self.new * np.minimum(self.ratio(age) * self.risen(age), self.most)


@dataclass(frozen=True)
class CarriedUse:
    """Yearly use of a unit to be bought, from that of the one there: one household has both."""

    usual: float
    """What one to be bought usually uses."""
    entered: float
    """What the one there was said or measured to use."""
    there: UsualUse

    def __call__(self, age: Number) -> Number:
        """Use where the one there has an age. [that of `usual`]"""
        return self.usual * self.entered / self.there(age)


def entered_use(
    reader: CaseReader, path: str, table: Mapping[str, Any], kind: ApplianceClass
) -> "tuple[dict[str, float], list[AgainstRated]]":
    """Flows of a unit that were entered in another way than by the year, and findings about them.

    Errors, defaults and what was derived are noted.
    """
    flows: dict[str, float] = {}
    findings: list[AgainstRated] = []
    before = len(reader.errors)
    entered = reader.numbers(path, table, OTHER_ENERGY)
    cycles = entered.get("cycles")
    inner = {name: reader.table(table, path, name) for name in ("label", "meter") if name in table}
    inner = {name: entries for name, entries in inner.items() if isinstance(table[name], dict)}
    label = None
    if "label" in inner:
        from .label_entry import label_use  # here, as of meters below: both are slow to load and seldom given

        label = label_use(reader, path, inner["label"], kind, cycles)
    says = set(label.flows) if label else set()
    ways = [way for way in WAYS if way in table and (way != "label" or "electricity" in says)]
    if len(ways) > 1:
        reader.refuse(f"{path}.{ways[1]}", "gives the electricity twice, with {other}", ways[0])
    for flow in ("gas", "water"):
        if flow in says and flow in table:
            reader.refuse(f"{path}.label", "gives the {flow} twice, with {flow}", flow)
    if label:
        about: dict[str, Any] = {"way": label.way, "bases": label.bases, "source": label.entered}
        for flow, ends in label.flows.items():
            more = counts_more(kind.kind, reader.region, label.entered) if flow == "electricity" else ""
            flows[flow] = ends.value
            reader.derived.append(Derived(field=f"{path}.{flow}", unit=UNITS[flow], **vars(ends), **about, counts=more))
    if "meter" in inner:
        from .measured import meter_use

        if (metered := meter_use(reader, path, inner["meter"], kind, cycles)) is not None:
            derived, findings = metered
            flows["electricity"] = derived.value
            reader.derived.append(derived)
    if len(reader.errors) == before:
        flows |= _by_cycle_or_power(reader, path, entered, kind)
    return flows, findings


def counts_more(kind: str, region: str, entered: str) -> str:
    """What a figure of the United States counts besides the machine itself: its hot water, and a washer's drying.

    10 CFR 430 Subpart B, Appendices C1 and J: hot water as if heated by electricity, in the label's print and in EF;
    MEF and IMEF count the drying of the load as well.
    """
    if region != "US" or kind not in ("dishwasher", "clothes_washer"):
        return ""
    return "hot_water" if kind == "dishwasher" or entered == "kwh_per_year" else "hot_water_and_drying"


def _by_cycle_or_power(
    reader: CaseReader, path: str, entered: Mapping[str, float], kind: ApplianceClass
) -> dict[str, float]:
    """Yearly electricity from cycles or from power, where it is given so."""
    if "power" in entered:
        if "hours_per_day" not in entered:
            reader.refuse(f"{path}.hours_per_day", "is needed with power")
            return {}
        return {"electricity": float(from_power(entered["power"], entered["hours_per_day"]))}
    if not entered.keys() & {"electricity_per_cycle", "electricity_per_100_cycles"}:
        return {}
    cycles = entered["cycles"] if "cycles" in entered else reader.default(path, "cycles", "cycles", kind.kind)
    per_cycle = entered.get("electricity_per_cycle", entered.get("electricity_per_100_cycles", 0.0) / 100)
    return {"electricity": float(per_cycle_energy(per_cycle, cycles))}
