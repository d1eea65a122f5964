"""The shipped reference tables: every figure with who says so.

Plain csv files, one figure a row, read once. A row that breaks the rules of its file is refused with the file
and the line, so that a figure without a source, or in the wrong unit, can never reach an answer. What the
columns mean is written in data/README.md, beside the files.
"""

import difflib
import functools
import itertools
import math
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from ...economics.household import PROPANE
from ...errors import CaseError, DataError, Message, either
from ..files.rows import ANY, CsvRow, keyed, rows
from . import fault_costs, guarantees, vintages
from .lives import aged
from .price_level import PriceLevel, index_of, period_of, read_price_level
from .sourced import STATUSES as STATUSES
from .sourced import Estimate as Estimate
from .sourced import Register, above_zero, columns_of, units_of
from .sourced import Source as Source
from .sourced import data_dir as data_dir

CURRENCIES: Mapping[str, str] = {"US": "USD", "EU": "EUR"}
"""The regions that the tables know, each with the money it pays in."""

WEIGHTS = ("first", "stop", "act", "note")
"""How loudly a caution speaks, loudest first; `first` makes it safe to stand there, so it goes before the stops."""

DANGERS = ("gas", "shock", "fire", "burn", "crush", "illness", "money")
"""What a caution guards against, the most dangerous first; crush is all that falls, cuts or bursts."""

DOING = ("look", "repair", "replace")  # What somebody is about to do.

WHEN = ("now", "working", "afterwards")
"""When a caution counts: before anything else, while somebody works, once the work is done."""

READERS = ("owner", "technician")  # Whom a caution may be for alone.

PROHIBITABLE = ("repair", "leave", "use")
"""What a caution can rule out: the repair, living with the fault, using the unit before it is made safe."""

GROUPS = ("cooling", "laundry", "kitchen", "heating", "hot_water", "air")
FUELS = ("electricity", "gas", "water")
ENERGY = ("electricity", "gas")
PRICED = (*ENERGY, PROPANE)
"""What has a published price a kilowatt-hour, not all of it in every region; that of water stands among the figures."""

COLUMNS: Mapping[str, str] = columns_of(
    "sources", "classes", "places", "figures", "energy_prices", "price_index", "faults", "fault_costs", "guarantees",
    "vintage_ratio", "cautions", "safety_figures", "exchange",
)  # fmt: skip
"""The files, each with its columns in order."""

GRADES: Mapping[str, str] = {"usual": "price", "basic": "price_basic", "premium": "price_premium"}
"""Grades of a new unit, the usual first, each with the figure of its price."""

TO_INSTALL = ("delivery", "installation", "haul_away")  # What a new unit costs besides its price and tax.

BASES: Mapping[str, str] = {"electricity": "", "gas": "gross", PROPANE: "gross"}
"""Whose heat a kilowatt-hour of a fuel counts: that of gas by its gross calorific value, as it is billed."""

OWN = "own"  # The source of what is our own judgement.
CLOSE = 5  # How many ids are offered for one that is not known.

Key = TypeVar("Key")
Found = TypeVar("Found")


UNITS, SAFETY_UNITS = units_of("figures"), units_of("safety_figures")
"""Of figures.csv, and of the figures that cautions name; every region has all of the latter."""


@dataclass(frozen=True, slots=True)
class ApplianceClass:
    """A kind of appliance: its id, its names for people, what it runs on, and the regions where it is sold."""

    kind: str
    label: str
    group: str
    fuels: tuple[str, ...]
    regions: tuple[str, ...]
    also: tuple[str, ...]  # What people call it besides.
    note: str
    sold_installed: tuple[str, ...] = ()  # Regions where people are quoted one price with the work in it.
    built_in: tuple[str, ...] = ()  # Further regions where it stays in the home when its people move out.

    def stays_behind(self, region: str) -> bool:
        """Whether it stays in the home when its people move out: built in, put in by a trade, or its heating."""
        return self.group in ("heating", "hot_water") or region in (*self.built_in, *self.sold_installed)

    def sold_used(self, region: str) -> bool:
        """Whether a used one can be bought and stood there: no gas, no heating, nothing that a trade puts in."""
        fixed = "gas" in self.fuels or self.group in ("heating", "hot_water")
        return not fixed and region not in self.sold_installed


@dataclass(frozen=True, slots=True)
class Place:
    """A region, or a state or country inside one."""

    place: str
    region: str
    label: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A family of faults in plain words, the classes that can have it ('*' for all), and what comes with it."""

    fault: str
    label: str
    classes: tuple[str, ...]
    spoils_food: bool  # Whether food is lost by it.
    sealed: bool  # Whether its repair opens the refrigerant circuit and fills in a charge.
    kind: str  # One of `fault_costs.KINDS`.
    note: str
    dead_in: tuple[str, ...] = ()
    """Classes in which it leaves the unit dead; in others it still does some of its work, or may."""

    def stops(self, kind: str) -> bool:
        """Whether a unit of a class does none of its work with it."""
        return _covers(self.dead_in, kind)


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to mind, who may do the work, and which of PROHIBITABLE it rules out."""

    id: str
    words: str  # Key of its text in the language files.
    classes: tuple[str, ...]
    faults: tuple[str, ...]
    not_faults: tuple[str, ...]  # Faults with which it must not be said.
    places: tuple[str, ...]  # Regions, or states and countries in them.
    made: tuple[float, float]  # First and last year of manufacture. [year]
    reader: str  # One of READERS, or '' for both.
    when: str
    doing: tuple[str, ...]  # With which of DOING it goes.
    danger: str
    who: str
    prohibits: tuple[str, ...]
    weight: str
    source: Source
    locator: str
    year: int
    status: str


@dataclass(frozen=True)
class Tables:
    """All reference tables, read and checked."""

    sources: Mapping[str, Source]
    known_classes: Mapping[str, ApplianceClass]
    known_places: Mapping[str, Place]
    known_faults: Mapping[str, Fault]
    all_cautions: tuple[Caution, ...]
    figures: Mapping[tuple[str, str, str], Estimate]
    energy_prices: Mapping[tuple[str, str], Estimate]
    safety_figures: Mapping[tuple[str, str], Estimate]
    exchange: Mapping[str, Estimate]  # What a unit of the region's money is in that of a place that pays in another.
    level: PriceLevel  # Money that all amounts are in.
    fault_costs: Mapping[tuple[str, str], fault_costs.FaultCost]  # By fault and class; '*' for any class.
    promises: Mapping[tuple[str, str, str], guarantees.Promise]
    """By what is promised, place and class; '*' for any class."""
    vintages: Mapping[tuple[str, str, str], vintages.Vintage]
    """By class, region and fuel; one that is not there used as new what it uses now, whenever it was made."""

    def kind(self, kind: str) -> ApplianceClass:
        """Look up one class by its id; CaseError offers those of a similar name, or that are called so too."""
        if kind in self.known_classes:
            return self.known_classes[kind]
        called = {known.kind: (known.label, *known.also) for known in self.known_classes.values()}
        listed = Message("`mendpoint classes` lists all of them")
        return _look_up(self.known_classes, kind, "appliance.class", listed, called)

    def place(self, place: str) -> Place:
        """Look up a region, state or country by its code or its name; CaseError offers a few that come close."""
        named = (known for known in self.known_places.values() if place.casefold() == known.label.casefold())
        if known := self.known_places.get(place.upper()) or next(named, None):
            return known
        called = {known.place: (known.label,) for known in self.known_places.values()}
        listed = Message("`mendpoint places` lists all of them")
        return _look_up(self.known_places, place, "household.place", listed, called)

    def places(self, region: str) -> tuple[Place, ...]:
        """List the places of a region, the region itself first."""
        return tuple(known for known in self.known_places.values() if known.region == region)

    def region_of(self, place: str) -> str:
        """Name the region that a place lies in."""
        return self.place(place).region

    def figure(self, quantity: str, kind: str, region: str) -> Estimate | None:
        """Look up a figure, one of UNITS, of a class in a region, or of '*' for one that belongs to no class.

        The first that exists of: the class in the region, the class anywhere, the region, everywhere. None where the
        tables hold no such figure: a class uses none of a fuel that it is not fed with, and has no price in a region
        where it is not sold.

        Raises `CaseError`: unknown class or region; `DataError`: unknown quantity.
        """
        if quantity not in UNITS:
            raise DataError("the tables hold no quantity {quantity!r}", quantity)
        _check_region(region)
        if kind != ANY:
            self.kind(kind)
        for holder in ((kind, region), (kind, ANY), (ANY, region), (ANY, ANY)):
            if found := self.figures.get((*holder, quantity)):
                return found
        return None

    def needed(self, quantity: str, kind: str, region: str) -> Estimate:
        """A figure that every class has; DataError where the tables hold none."""
        found = self.figure(quantity, kind, region)
        if found is None:
            raise DataError("figures.csv: no {quantity} for {kind} in {region}", quantity, kind, region)
        return found

    def usual(self, quantity: str, place: str) -> Estimate:
        """Look up a figure of no class in particular where a household lives; DataError where the tables hold none."""
        return self.needed(quantity, ANY, self.region_of(place))

    def installed_price(self, kind: str, region: str) -> Estimate | None:
        """What a new unit of a class costs where it is put in, everything included; None where it is not sold."""
        price, tax = self.figure("price", kind, region), self.figure("sales_tax", kind, region)
        if price is None or tax is None:
            return None
        parts = [part for name in TO_INSTALL if (part := self.figure(name, kind, region)) is not None]
        value = price.value * (1 + tax.value) + sum(part.value for part in parts)
        return replace(price, value=value, low=None, high=None, published=None)

    def energy_price(self, place: str, fuel: str) -> Estimate:
        """Price of a kilowatt-hour where the household lives; that of the region where the place has none.

        Raises `CaseError`: unknown place or fuel.
        """
        region = self.region_of(place)
        if (region, fuel) not in self.energy_prices:
            priced = sorted({known for _, known in self.energy_prices})
            raise CaseError("fuel", "must be one of {known}, got {got}", ", ".join(priced), fuel)
        return self.energy_prices.get((place, fuel)) or self.energy_prices[region, fuel]

    def promised(self, what: str, kind: str, place: str) -> guarantees.Promise | None:
        """Look up what the law of a place promises about a class; that of the region where the place has none."""
        keys = itertools.product((what,), (place, self.region_of(place)), (kind, ANY))
        return next((self.promises[key] for key in keys if key in self.promises), None)

    def classes(self, region: str) -> tuple[ApplianceClass, ...]:
        """List the classes sold in a region, in the order of the file."""
        _check_region(region)
        return tuple(known for known in self.known_classes.values() if region in known.regions)

    def faults(self, kind: str) -> tuple[Fault, ...]:
        """List the families of faults that a class can have, in the order of the file."""
        self.kind(kind)
        return tuple(fault for fault in self.known_faults.values() if _covers(fault.classes, kind))

    def opens_the_circuit(self, fault: str) -> bool:
        """Whether mending a fault opens the refrigerant circuit; of one that is not known nobody can say so."""
        return fault in self.known_faults and self.known_faults[fault].sealed

    def cannot_be_repaired(self, kind: str, fault: str) -> bool:
        """Whether a caution rules the repair of a fault out, whatever it costs."""
        return any(_covers(each.classes, kind) and fault in each.faults for each in self._against_repair)

    @functools.cached_property
    def _against_repair(self) -> tuple[Caution, ...]:
        return tuple(each for each in self.all_cautions if "repair" in each.prohibits)

    def safety_figure(self, figure: str, region: str, place: str = "") -> Estimate:
        """Look up a figure that cautions name: that of the country, else that of its region."""
        return self.safety_figures.get((figure, place)) or self.safety_figures[figure, region]

    def cautions(self, kind: str, fault: str | None, place: str, made: float | None = None) -> tuple[Caution, ...]:
        """List the cautions: now, while working, afterwards, in each the stops first, then the most dangerous.

        Without a fault, only what holds for every unit of the class; without a year of manufacture, for all years. The
        year may be wrong by one. `answers.safety` chooses among them for who reads.

        Raises `CaseError`: unknown class or place, or a fault that the class cannot have.
        """
        region, possible = self.region_of(place), {known.fault: known for known in self.faults(kind)}
        if fault is not None:
            listed = Message("known for this class: {known}", ", ".join(possible))
            _look_up(possible, fault, "appliance.fault", listed, {})
        applicable_cautions = (
            caution
            for caution in self.all_cautions
            if _covers(caution.classes, kind)
            and (_covers(caution.places, region) or place in caution.places)
            and (ANY in caution.faults or fault in caution.faults)
            and fault not in caution.not_faults
            and (made is None or caution.made[0] - 1 <= made <= caution.made[1] + 1)
        )
        return tuple(sorted(applicable_cautions, key=danger_rank))


def danger_rank(caution: Caution) -> tuple[int, int, int]:
    """Place of a caution among others: by when it counts, stops and what must go before them first, then by danger."""
    return WHEN.index(caution.when), min(WEIGHTS.index(caution.weight), 2), DANGERS.index(caution.danger)


def _covers(ids: tuple[str, ...], wanted: str) -> bool:
    return ids == (ANY,) or wanted in ids


def _check_region(region: str) -> None:
    if region not in CURRENCIES:
        _look_up(CURRENCIES, region, "household.region", Message("known: {known}", ", ".join(CURRENCIES)), {})


def _look_up(
    known: Mapping[str, Found], wanted: str, field: str, otherwise: Message, called: Mapping[str, tuple[str, ...]]
) -> Found:
    """Look up by id; what is not known is refused, with the ids that are called so, or come close by id or by name."""
    if wanted in known:
        return known[wanted]
    names: dict[str, list[str]] = {}
    for key in known:
        for name in dict.fromkeys(each.casefold() for each in (key, *called.get(key, ()))):
            names.setdefault(name, []).append(key)
    meant = str(wanted).casefold()
    close = [meant] if meant in names else difflib.get_close_matches(meant, names, n=CLOSE, cutoff=0.6)
    ids = list(dict.fromkeys(key for name in close for key in names[name]))[:CLOSE]
    hint = Message("did you mean {meant}? {rest}", either(ids), otherwise) if ids else otherwise
    raise CaseError(field, "{wanted!r} is not known; {hint}", wanted, hint)


@functools.cache
def tables() -> Tables:
    """Read the shipped tables, once a run."""
    return read_tables(data_dir())


def read_tables(folder: Path) -> Tables:
    """Read and check the tables of a folder.

    Raises `DataError`: a row breaks the rules of its file; the message names the file and the line.
    """

    def listed(name: str) -> Iterator[CsvRow]:
        return rows(folder / f"{name}.csv", COLUMNS[f"{name}.csv"])

    register = Register(keyed(listed("sources"), _source))
    places = keyed(listed("places"), _place)
    figure_rows = list(listed("figures"))
    sold = {(row.text("class"), row.text("region")) for row in figure_rows if row.text("quantity") == "price"}
    classes = keyed(listed("classes"), lambda row: _appliance_class(row, sold))
    level = read_price_level(folder, tuple(CURRENCIES), register)
    published = keyed(figure_rows, lambda row: _figure(row, classes, register, level))
    figures = aged(published, register.sources[OWN])
    prices = keyed(listed("energy_prices"), lambda row: _energy_price(row, places, register))
    faults = keyed(listed("faults"), lambda row: _fault(row, classes))
    cautions = keyed(listed("cautions"), lambda row: _caution(row, classes, faults, places.keys(), register))
    safety = keyed(listed("safety_figures"), lambda row: _safety_figure(row, places, register))
    held = {fault.fault: fault.classes for fault in faults.values()}
    fuels = {kind.kind: kind.fuels for kind in classes.values()}
    for region, figure in itertools.product(CURRENCIES, SAFETY_UNITS):
        if (figure, region) not in safety:
            raise DataError("safety_figures.csv: no {figure} for the whole of {region}", figure, region)
    for region, fuel in itertools.product(CURRENCIES, ENERGY):
        if (region, fuel) not in prices:
            raise DataError("energy_prices.csv: no {fuel} price for the whole of {region}", fuel, region)
    found = Tables(
        sources=register.sources,
        known_classes=classes,
        known_places=places,
        known_faults=faults,
        all_cautions=tuple(cautions.values()),
        figures=figures,
        energy_prices=prices,
        safety_figures=safety,
        exchange=keyed(listed("exchange"), lambda row: _exchange(row, places, register)),
        level=level,
        fault_costs=fault_costs.read_fault_costs(listed("fault_costs"), classes, held, register),
        promises=guarantees.read_guarantees(listed("guarantees"), classes, places, register),
        vintages=vintages.read_vintages(listed("vintage_ratio"), fuels, CURRENCIES, register),
    )
    register.refuse_unused()
    return found


def _safety_figure(row: CsvRow, places: Mapping[str, Place], register: Register) -> tuple[tuple[str, str], Estimate]:
    figure, place = row.choice("figure", SAFETY_UNITS), row.choice("place", places)
    return (figure, place), register.estimate(row, SAFETY_UNITS[figure])


def _source(row: CsvRow) -> tuple[str, Source]:
    key = row.text("key")
    return key, Source(key, row.text("citation"), row.text("licence"), row.cells["note"], row.cells["address"])


def _place(row: CsvRow) -> tuple[str, Place]:
    place = row.text("place")
    return place, Place(place, row.choice("region", CURRENCIES), row.text("label"))


def _appliance_class(row: CsvRow, sold: set[tuple[str, str]]) -> tuple[str, ApplianceClass]:
    kind = row.text("class")
    regions = tuple(region for region in CURRENCIES if (kind, region) in sold)
    if not regions:
        raise row.broken("figures.csv holds no price of {kind} in any region", kind)
    group, fuels = row.choice("group", GROUPS), row.choices("fuels", FUELS)
    also = tuple(name for name in row.cells["also"].split(";") if name)
    installed, built_in = (row.choices(name, regions) for name in ("sold_installed", "built_in"))
    return kind, ApplianceClass(
        kind, row.text("label"), group, fuels, regions, also, row.cells["note"], installed, built_in
    )


def _figure(
    row: CsvRow, classes: Mapping[str, ApplianceClass], register: Register, level: PriceLevel
) -> tuple[tuple[str, str, str], Estimate]:
    kind, region = row.choice("class", (*classes, ANY)), row.choice("region", (*CURRENCIES, ANY))
    quantity = row.choice("quantity", UNITS)
    key, unit = (kind, region, quantity), UNITS[quantity]
    if "currency" not in unit:
        if row.cells["price_year"]:
            raise row.broken("{quantity} is no money and has no price_year", quantity)
        return key, register.estimate(row, unit, *row.bounds(row.number("value")))
    if region == ANY:
        raise row.broken("{quantity} is an amount of money and needs a region", quantity)
    figure = register.estimate(row, unit.replace("currency", CURRENCIES[region]), *row.bounds(row.number("value")))
    installed = kind != ANY and region in classes[kind].sold_installed
    return key, level.brought(figure, region, index_of(quantity, installed), period_of(row, "price_year"))


def _energy_price(row: CsvRow, places: Mapping[str, Place], register: Register) -> tuple[tuple[str, str], Estimate]:
    place, region = row.choice("place", places), row.choice("region", CURRENCIES)
    if region != places[place].region:
        raise row.broken("{place} lies in {region}, not in {other}", place, places[place].region, region)
    currency, fuel = row.choice("currency", (CURRENCIES[region],)), row.choice("fuel", PRICED)
    row.choice("basis", (BASES[fuel],))
    figure = register.estimate(row, f"{currency}/kWh")
    return (place, fuel), replace(figure, price_year=row.text("period"))


def _exchange(row: CsvRow, places: Mapping[str, Place], register: Register) -> tuple[str, Estimate]:
    above_zero(row, "value", math.inf)
    place = row.choice("place", places)
    figure = register.estimate(row, f"{row.text('currency')}/{CURRENCIES[places[place].region]}")
    return place, replace(figure, price_year=row.text("period"))


def _fault(row: CsvRow, classes: Mapping[str, ApplianceClass]) -> tuple[str, Fault]:
    fault, listed = row.text("fault"), row.choices("classes", (*classes, ANY))
    spoils_food, sealed = (row.choice(name, ("yes", "no")) == "yes" for name in ("spoils_food", "sealed"))
    kind = row.choice("kind", fault_costs.KINDS)
    allowed = classes if listed == (ANY,) else listed
    dead_in = listed if row.cells["dead_in"] == ANY else row.choices("dead_in", allowed)
    return fault, Fault(fault, row.text("label"), listed, spoils_food, sealed, kind, row.text("note"), dead_in)


def _caution(
    row: CsvRow,
    classes: Mapping[str, ApplianceClass],
    faults: Mapping[str, Fault],
    places: Set[str],
    register: Register,
) -> tuple[str, Caution]:
    stops, weight = row.choices("prohibits", PROHIBITABLE), row.choice("weight", WEIGHTS)
    when, reader = row.choice("when", WHEN), row.choice("reader", ("", *READERS))
    low, high = (row.cells[end] for end in ("made_from", "made_until"))
    if bool(stops) != (weight == "stop"):
        raise row.broken("weight must be `stop` when the caution stops something, and only then")
    doing = row.choices("doing", (*DOING, ANY))
    if stops and (when != "now" or reader or low or high or doing != (ANY,) or row.cells["faults"] == ANY):
        raise row.broken("what stops something names its faults and holds now, for all readers, years and doings")
    caution = Caution(
        id=row.text("id"),
        words=row.cells["words"] or row.text("id"),
        classes=row.choices("classes", (*classes, ANY)),
        faults=row.choices("faults", (*faults, ANY)),
        not_faults=row.choices("not_faults", faults),
        places=row.choices("places", (*places, ANY)),
        made=(row.number("made_from") if low else -math.inf, row.number("made_until") if high else math.inf),
        reader=reader,
        when=when,
        doing=DOING if doing == (ANY,) else doing,
        danger=row.choice("danger", DANGERS),
        who=row.text("who"),
        prohibits=stops,
        weight=weight,
        source=register.source(row),
        locator=row.text("locator"),
        year=row.year(),
        status=row.choice("status", STATUSES),
    )
    return caution.id, caution
