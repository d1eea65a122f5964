"""A case as people enter it: what they know, written down; what they do not, filled from the tables.

**Entries** are the nested tables of a TOML file, with the names of `case.py`:

    [appliance]    class, age, fault, and any figure of the unit there
    [household]    place, and any figure of the household
    [repair]       quote = 320, or a table of its parts; outlook, energy_change, ...
    [[replace]]    name, price, ... and [replace.unit] for the unit that is bought; none means a typical new unit
    [leave]        lost_worth, energy_change, ...

`complete` turns entries into a `Case` and says which figures were defaults, and from where. All faults are reported in
one go, each by its dotted path. Entries are kept as they came, so saving and opening changes nothing.
"""

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from ..case import LEAVE, REPAIR, REPLACE, Appliance, Bounds, Case, Household, Option, Quote, Stop
from ..energy import from_power, per_cycle_energy
from ..errors import CaseError, Faults, OutOfRange, ReadError
from .rows import ANY
from .tables import CURRENCIES, ApplianceClass, Caution, Estimate, Tables, tables

Entries = dict[str, Any]

LARGEST_FILE: Final = 1_000_000
"""A case file is a page of text; anything beyond this is something else. [byte]"""

# Which figure of the tables fills which input. An input that is not named here has its plain default in `case.py`.
INSTALLED: Final = {"electricity": "electricity_installed", "gas": "gas_installed", "water": "water_installed"}
NEW: Final = {"electricity": "electricity_new", "gas": "gas_new", "water": "water_new"}
OF_THE_LIFE: Final = ("mean_life", "life_shape", "life_delay")
OF_THE_DRIFT: Final = ("energy_drift", "energy_drift_cap")
OF_THE_HOUSEHOLD: Final = {
    "rate": "discount_rate",
    "water_price": "water_price",
    "electricity_escalation": "electricity_escalation",
    "gas_escalation": "gas_escalation",
    "water_escalation": "water_escalation",
    "price_escalation": "price_escalation",
    "inflation": "inflation",
}
OF_AN_OPTION: Final = {
    REPAIR: {
        "fix_holds": "fix_holds",
        "repair_warranty": "repair_warranty",
        "callback_window": "callback_window",
        "days_without": "days_repair",
        "spoiled_food": "spoiled_food",
    },
    REPLACE: {
        "price": "price",
        "tax_rate": "sales_tax",
        "delivery": "delivery",
        "installation": "installation",
        "haul_away": "haul_away",
        "warranty": "warranty_new",
        "days_without": "days_replace",
        "spoiled_food": "spoiled_food",
    },
    LEAVE: {},
}
ENTERED_WITH: Final = {
    REPAIR: (
        "outlook", "energy_change", "hold", "fix_holds", "repair_warranty", "callback_window", "days_without",
        "spoiled_food",
    ),
    REPLACE: (
        "outlook", "price", "tax_rate", "delivery", "installation", "haul_away", "rebate", "trade_in", "financed",
        "loan_rate", "loan_years", "warranty", "days_without", "spoiled_food",
    ),
    LEAVE: ("outlook", "energy_change", "lost_worth", "hold"),
}  # fmt: skip
"""Which numbers of an option can be entered with each action."""

OTHER_ENERGY: Final = {
    "electricity_per_cycle": Bounds("kWh/cycle", 0, 50),
    "electricity_per_100_cycles": Bounds("kWh/100 cycles", 0, 5_000),
    "cycles": Bounds("cycle/year", 0, 5_000),
    "power": Bounds("W", 0, 50_000),
    "hours_per_day": Bounds("hour/day", 0, 24),
}
"""Other ways to give a unit's yearly electricity."""


@dataclass(frozen=True)
class DefaultUsed:
    """An input that nobody entered: what was taken for it, and who says so."""

    field: str
    value: float
    unit: str
    estimate: Estimate
    rule: str = ""
    """How the value follows from the figure, where it is not the figure itself."""


@dataclass(frozen=True)
class Filled:
    """A complete case, what was taken for what was not entered, and the cautions that go with it."""

    case: Case
    defaults: tuple[DefaultUsed, ...]
    cautions: tuple[Caution, ...]


def complete(entries: Mapping[str, Any], reference: Tables | None = None) -> Filled:
    """Fill what was not entered from the tables, and build the case.

    Raises
    ------
    Faults
        One or more entries cannot be used; each fault names its field, what is allowed with unit, and what came.
    """
    return _Reader(entries, reference or tables()).filled()


def read_case(path: Path) -> Entries:
    """Read the entries of a case file; `ReadError` where it is no TOML."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise ReadError(path.name, f"is larger than {LARGEST_FILE:,} bytes; a case is a page of text")
        return parse_case(path.read_bytes(), path.name)
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be read") from error


def parse_case(content: bytes, name: str = "case") -> Entries:
    """Read the entries of a case from the bytes of a file."""
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise ReadError(name, f"is not UTF-8 text (byte {error.start})") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ReadError(name, f"is no TOML file: {error}") from error


def write_case(entries: Mapping[str, Any]) -> str:
    """Write entries as the text of a case file; `parse_case` of it gives the same entries."""
    import tomlkit

    return tomlkit.dumps(entries)


def save_case(path: Path, entries: Mapping[str, Any]) -> None:
    """Save entries to a case file."""
    try:
        path.write_text(write_case(entries), encoding="utf-8", newline="\n")
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be written") from error


def set_entry(entries: Entries, path: str, value: object) -> Entries:
    """The same entries with one changed, named as in `repair.quote.parts`, `replace.price` or `replace.2.price`."""
    head, *rest = path.split(".")
    if not rest:
        return {**entries, head: value}
    if head == REPLACE:
        which = int(rest.pop(0)) - 1 if rest[0].isdigit() else 0
        listed = [dict(entry) for entry in entries.get(REPLACE, [])] or [{}]
        if not (0 <= which < len(listed) and rest):
            raise CaseError(path, f"names no replacement; there are {len(listed)}")
        listed[which] = set_entry(listed[which], ".".join(rest), value)
        return {**entries, head: listed}
    inner = entries.get(head, {})
    if head == "quote" and not isinstance(inner, dict):
        inner = {} if rest == ["amount"] else {"amount": inner}
    if not isinstance(inner, dict):
        raise CaseError(path, f"{head} is no table")
    return {**entries, head: set_entry(inner, ".".join(rest), value)}


@dataclass
class _Reader:
    """Reads entries once, noting each fault and each default on the way."""

    entries: Mapping[str, Any]
    reference: Tables
    faults: list[CaseError] = field(default_factory=list)
    defaults: list[DefaultUsed] = field(default_factory=list)

    def filled(self) -> Filled:
        self._refuse_unknown("", self.entries, ("title", "appliance", "household", REPAIR, REPLACE, LEAVE))
        there, home = self._table("appliance"), self._table("household")
        place, region = self._place(home)
        kind, fault = self._kind(there, region), str(there.get("fault", "other"))
        heeded = self._cautions(kind, fault, region)
        # an unknown class is a fault already; the rest is still read, against any class, so that all faults show
        kind = kind or self.reference.classes(region)[0]
        replacements = self._replacements(kind)
        worth = self._worth_of_new(kind, region, replacements)
        unit = self._unit("appliance", there, kind, region, INSTALLED, worth)
        options = [self._option(REPAIR, REPAIR, self._table(REPAIR), kind, region)]
        for path, entry in replacements.items():
            bought = self._table_in(entry, path, "unit")
            sold_as = self._kind(bought, region, f"{path}.unit") if "class" in bought else kind
            made = self._unit(f"{path}.unit", {"age": 0, **bought}, sold_as or kind, region, NEW, worth)
            options.append(self._option(path, REPLACE, entry, sold_as or kind, region, made))
        if LEAVE in self.entries:
            options.append(self._option(LEAVE, LEAVE, self._table(LEAVE), kind, region))
        household = self._household(home, place, region)
        if self.faults:
            raise Faults(self.faults)
        case = Case(
            appliance=unit,
            household=household,
            options=tuple(options),
            stops=tuple(Stop(action=stop, caution=caution.id) for caution in heeded for stop in caution.stops),
            title=str(self.entries.get("title", "")),
            fault=fault,
        )
        return Filled(case, tuple(self.defaults), heeded)

    # where, and what

    def _place(self, home: Mapping[str, Any]) -> tuple[str, str]:
        place = home.get("place", home.get("region", "US"))
        try:
            region = self.reference.region_of(str(place))
            if home.get("region", region) != region:
                self.faults.append(CaseError("household.region", f"{place} lies in {region}, got {home['region']}"))
            return str(place), region
        except CaseError as fault:
            self.faults.append(fault)
            return "US", "US"

    def _kind(self, table: Mapping[str, Any], region: str, path: str = "appliance") -> ApplianceClass | None:
        try:
            if "class" not in table:
                raise CaseError(f"{path}.class", "is needed; `mendpoint classes` lists all of them")
            kind = self.reference.kind(str(table["class"]))
            if region not in kind.regions:
                sold = ", ".join(k.kind for k in self.reference.classes(region))
                raise CaseError(f"{path}.class", f"{kind.kind} has no figures for {region}; known there: {sold}")
            return kind
        except CaseError as fault:
            self.faults.append(CaseError(f"{path}.class", fault.message))
            return None

    def _cautions(self, kind: ApplianceClass | None, fault: str, region: str) -> tuple[Caution, ...]:
        if kind is None:
            return ()
        try:
            return self.reference.cautions(kind.kind, fault, region)
        except CaseError as unknown:
            self.faults.append(unknown)
            return ()

    def _replacements(self, kind: ApplianceClass) -> dict[str, Mapping[str, Any]]:
        listed = self.entries.get(REPLACE, [{}])
        if not isinstance(listed, list) or not listed or not all(isinstance(entry, dict) for entry in listed):
            self.faults.append(CaseError(REPLACE, "must be one or more tables, written [[replace]]"))
            listed = [{}]
        paths = [REPLACE if i == 0 else f"{REPLACE}.{i + 1}" for i in range(len(listed))]
        return {
            path: {"name": f"New {kind.label}" if i == 0 else f"Replacement {i + 1}", **entry}
            for i, (path, entry) in enumerate(zip(paths, listed, strict=True))
        }

    def _worth_of_new(
        self, kind: ApplianceClass, region: str, replacements: Mapping[str, Mapping[str, Any]]
    ) -> tuple[float, str]:
        """Price of a new unit, which later repairs go by: the first new replacement's, or the class's."""
        for path, entry in replacements.items():
            unit, price = entry.get("unit", {}), entry.get("price")
            if _is_number(price) and not (isinstance(unit, dict) and unit.get("age")):
                return float(price), f"{path}.price"  # type: ignore[arg-type]
        figure = self.reference.figure("price", kind.kind, region)
        return (figure.value if figure else math.nan), "the class's price"

    # the nouns of a case

    def _unit(
        self,
        path: str,
        table: Mapping[str, Any],
        kind: ApplianceClass,
        region: str,
        consumption: Mapping[str, str],
        worth: tuple[float, str],
    ) -> Appliance:
        numbers = _numbers(Appliance)
        extra = ("class", "fault", *OTHER_ENERGY) if path == "appliance" else ("class", *OTHER_ENERGY)
        self._refuse_unknown(path, table, (*numbers, *extra))
        given = {name: self._number(path, name, table[name], numbers[name]) for name in numbers if name in table}
        electricity = self._other_energy(path, table, kind, region)
        if electricity is not None:
            given["electricity"] = electricity
        for name in ("mean_life", *OF_THE_DRIFT, "life_shape"):
            if name not in given:
                given[name] = self._default(path, name, name, kind.kind, region)
        if "life_delay" not in given:
            given["life_delay"] = self._delay(path, kind, region, given["mean_life"], "mean_life" in table)
        for name, quantity in consumption.items():
            if name not in given:
                runs_on_it = name in kind.fuels
                given[name] = self._default(path, name, quantity, kind.kind, region) if runs_on_it else 0.0
        if "upkeep" not in given:
            given["upkeep"] = self._upkeep(path, kind, region, given["mean_life"], worth)
        if "age" not in given:
            self.faults.append(CaseError(f"{path}.age", f"is needed, {_allowed(numbers['age'])}"))
        return _built(Appliance, given, kind=kind.kind)

    def _delay(self, path: str, kind: ApplianceClass, region: str, mean: float, own_mean: bool) -> float:
        """The class's delay; where the visitor has a mean life of his own, in the same proportion to it."""
        published = self.reference.figure("mean_life", kind.kind, region)
        delay = self.reference.figure("life_delay", kind.kind, region)
        if delay is None or published is None:
            return self._default(path, "life_delay", "life_delay", kind.kind, region)
        if not own_mean:
            return self._note(path, "life_delay", delay.value, delay)
        scaled = delay.value * mean / published.value
        return self._note(path, "life_delay", scaled, delay, "in the class's proportion to the mean life given")

    def _upkeep(
        self, path: str, kind: ApplianceClass, region: str, mean_life: float, worth: tuple[float, str]
    ) -> float:
        share = self.reference.figure("upkeep_share", kind.kind, region)
        if share is None:
            return self._default(path, "upkeep", "upkeep_share", kind.kind, region)
        price, of = worth
        rule = f"{share.value:g} x {of} ({price:g}) / mean life ({mean_life:g} year)"
        return self._note(path, "upkeep", share.value * price / mean_life, share, rule, "money/year")

    def _other_energy(self, path: str, table: Mapping[str, Any], kind: ApplianceClass, region: str) -> float | None:
        """Yearly electricity from cycles or from power, where it is given so."""
        ways = [way for way in ("electricity", "electricity_per_cycle", "electricity_per_100_cycles", "power")]
        named = [way for way in ways if way in table]
        if len(named) > 1:
            self.faults.append(CaseError(f"{path}.{named[1]}", f"gives the electricity twice, with {named[0]}"))
        entered = {
            name: self._number(path, name, table[name], bounds)
            for name, bounds in OTHER_ENERGY.items()
            if name in table
        }
        if "power" in entered:
            if "hours_per_day" not in entered:
                self.faults.append(CaseError(f"{path}.hours_per_day", "is needed with power"))
                return 0.0
            return float(from_power(entered["power"], entered["hours_per_day"]))
        if "electricity_per_cycle" in entered or "electricity_per_100_cycles" in entered:
            cycles = entered.get("cycles")
            if cycles is None:
                cycles = self._default(path, "cycles", "cycles", kind.kind, region)
            per_cycle = entered.get("electricity_per_cycle", entered.get("electricity_per_100_cycles", 0.0) / 100)
            return float(per_cycle_energy(per_cycle, cycles))
        return None

    def _option(
        self,
        path: str,
        action: str,
        table: Mapping[str, Any],
        kind: ApplianceClass,
        region: str,
        unit: Appliance | None = None,
    ) -> Option:
        numbers = {name: bounds for name, bounds in _numbers(Option).items() if name in ENTERED_WITH[action]}
        extra = {REPAIR: ("name", "quote"), REPLACE: ("name", "unit"), LEAVE: ("name",)}[action]
        self._refuse_unknown(path, table, (*numbers, *extra))
        given = {name: self._number(path, name, table[name], numbers[name]) for name in numbers if name in table}
        for name, quantity in OF_AN_OPTION[action].items():
            if name not in given and self.reference.figure(quantity, kind.kind, region) is not None:
                given[name] = self._default(path, name, quantity, kind.kind, region)
        names = {REPAIR: "Repair it", LEAVE: "Leave it as it is"}
        return _built(
            Option,
            given,
            name=str(table.get("name", names.get(action, ""))),
            action=action,
            unit=unit,
            quote=self._quote(f"{path}.quote", table["quote"], kind, region) if "quote" in table else None,
        )

    def _quote(self, path: str, quote: object, kind: ApplianceClass, region: str) -> Quote:
        numbers = _numbers(Quote)
        if not isinstance(quote, dict):
            return Quote(amount=self._number(path, "", quote, numbers["amount"]))
        self._refuse_unknown(path, quote, tuple(numbers))
        given = {name: self._number(path, name, quote[name], numbers[name]) for name in numbers if name in quote}
        if "amount" in given and {"parts", "labour_hours", "labour_rate", "trip", "tax_rate"} & set(given):
            self.faults.append(CaseError(f"{path}.amount", "is the whole quote; give it or its parts, not both"))
        if "labour_hours" in given and "labour_rate" not in given:
            given["labour_rate"] = self._default(path, "labour_rate", "labour_rate", kind.kind, region)
        return _built(Quote, given)

    def _household(self, home: Mapping[str, Any], place: str, region: str) -> Household:
        numbers = _numbers(Household)
        self._refuse_unknown("household", home, (*numbers, "place", "region"))
        given = {name: self._number("household", name, home[name], numbers[name]) for name in numbers if name in home}
        for name, quantity in OF_THE_HOUSEHOLD.items():
            if name not in given:
                given[name] = self._default("household", name, quantity, ANY, region)
        for fuel in ("electricity", "gas"):
            if f"{fuel}_price" not in given:
                price = self.reference.energy_price(place, fuel)
                given[f"{fuel}_price"] = self._note("household", f"{fuel}_price", price.value, price)
        return _built(Household, given, region=region, place=place, currency=CURRENCIES[region])

    # numbers and defaults

    def _number(self, path: str, name: str, value: object, bounds: Bounds) -> float:
        where = f"{path}.{name}" if name else path
        if not _is_number(value):
            self.faults.append(CaseError(where, f"must be a number, {_allowed(bounds)}, got {value!r}"))
            return math.nan
        if not bounds.admits(float(value)):  # type: ignore[arg-type]
            self.faults.append(OutOfRange(where, bounds.low, bounds.high, bounds.unit, value))
        return float(value)  # type: ignore[arg-type]

    def _default(self, path: str, name: str, quantity: str, kind: str, region: str) -> float:
        figure = self.reference.figure(quantity, kind, region)
        if figure is None:
            self.faults.append(CaseError(f"{path}.{name}", f"is needed: the tables hold none for {kind} in {region}"))
            return math.nan
        return self._note(path, name, figure.value, figure)

    def _note(self, path: str, name: str, value: float, figure: Estimate, rule: str = "", unit: str = "") -> float:
        self.defaults.append(DefaultUsed(f"{path}.{name}", value, unit or figure.unit, figure, rule))
        return value

    def _table(self, name: str) -> Mapping[str, Any]:
        return self._table_in(self.entries, "", name)

    def _table_in(self, entries: Mapping[str, Any], path: str, name: str) -> Mapping[str, Any]:
        table = entries.get(name, {})
        if isinstance(table, dict):
            return table
        self.faults.append(CaseError(f"{path}.{name}".lstrip("."), f"must be a table, got {table!r}"))
        return {}

    def _refuse_unknown(self, path: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
        for name in table:
            if name not in known:
                close = difflib.get_close_matches(name, known, n=1)
                hint = f"did you mean {close[0]}?" if close else f"known here: {', '.join(known)}"
                self.faults.append(CaseError(f"{path}.{name}".lstrip("."), f"is not known; {hint}"))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _allowed(bounds: Bounds) -> str:
    return OutOfRange("", bounds.low, bounds.high, bounds.unit, None).message.split(",")[0].removeprefix("must be ")


def _numbers(noun: type) -> dict[str, Bounds]:
    return {item.name: item.metadata["bounds"] for item in fields(noun) if "bounds" in item.metadata}


def _built(noun: type, given: Mapping[str, float], **words: Any) -> Any:
    """Build a noun from what is given; an input that is missing was reported, and stands as NaN until then."""
    needed = {item.name: math.nan for item in fields(noun) if "bounds" in item.metadata and _has_no_default(item)}
    return noun(**{**needed, **given, **words})


def _has_no_default(item: Field[Any]) -> bool:
    return item.default is MISSING
