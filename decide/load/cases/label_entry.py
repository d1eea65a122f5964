"""The `label` entry of a unit: a rating, a legal limit or a European class, read and worked out.

A **limit** stands in for a rating that is lost: the unit is taken at the worst that the law let it be, which bounds its
label's figure from above. In a year of change the laxer limit counts. A **class** is a range; of the best class only
the upper end is known, and the worst class has none, so that its kWh must be given.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, Final, Literal

from ...economics.bounds import Bounds
from ...energy import eu_labels as eu
from ...energy.consumption import per_cycle_energy
from ...errors import CaseError, Message, OutOfRange
from ..tables import labels
from ..tables.labels import FROZEN, Basis, LabelScale, Limit, Rated
from ..tables.tables import ApplianceClass
from .rating import LABEL_NAMES, NUMBERS, RATINGS, WATER, Given, rated_use, water_use
from .reading import CaseReader

COOLING: Final = ("refrigerator", "refrigerator_compact", "freezer_upright", "freezer_chest")
LIMITED_AS: Final = {kind: names["limits"] for kind, names in LABEL_NAMES.items() if names["limits"]}
LABELLED_AS: Final = {kind: names["label"] for kind, names in LABEL_NAMES.items() if names["label"]}
"""What the federal limits and the European labels call each class."""

LIMITS_RATING: Final = {
    "max_energy": "kwh_per_year",
    "min_ef": "energy_factor",
    **{f"min_{name}": name for name in RATINGS},
}
"""The rating that a limit's metric limits."""

CATEGORIES: Final = (
    "refrigerator", "one-star-refrigerator", "two-star-refrigerator", "refrigerator-freezer", "upright-freezer",
    "chest-freezer",
)  # fmt: skip
"""Kinds of refrigerating appliance on the labels of 2011 to 2021."""
OLD_COMPARTMENTS: Final = ("cellar", "fresh_food", "zero_star_ice", "one_star", "two_star", *FROZEN)
COMPARTMENTS: Final = ("pantry", "wine_storage", "chill", *OLD_COMPARTMENTS)
FREE_OF_FROST: Final = 1.2
"""A frozen litre that is free of frost counts for more on the labels of 2011 to 2021: (EC) No 643/2009 Annex IV
point 2, from memory, as are the bounds of those labels. [-]"""
LITRES: Final = Bounds("litre", 0, 1_000)

WORDS: Final = {
    "scale": (),
    "category": CATEGORIES,
    "defrost": ("auto", "manual"),
    "placing": ("freestanding", "built_in"),
}
"""Entries of a class that are one of a few words, the usual one first."""


@dataclass(frozen=True)
class Ends:
    """A yearly flow, and what it may be instead where that is known."""

    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Labelled:
    """What a label says: how it was worked out, the flows, the rows used, and the words of the label."""

    way: str
    flows: Mapping[str, Ends]
    bases: tuple[Basis, ...]
    entered: str


def label_use(
    reader: CaseReader, path: str, table: Mapping[str, Any], kind: ApplianceClass, cycles: float | None
) -> Labelled | None:
    """Read a label; None where it cannot be used, with each error noted.

    `path` is that of the unit, whose label stands at `path.label`; `cycles` are those entered for it.
    """
    where, before = f"{path}.label", len(reader.errors)
    numbers = reader.numbers(where, table, NUMBERS)
    given = Given(reader, path, kind, numbers, cycles)
    borne = [name for name, rating in RATINGS.items() if rating.borne_by(kind)]
    mains = [name for name in (*borne, "limit", "class") if name in table]
    if len(mains) > 1:
        reader.refuse(f"{where}.{mains[1]}", "says the same thing twice, with {other}", mains[0])
    if not mains:
        borne += ["limit"] * (kind.kind in LIMITED_AS) + ["class"] * (kind.kind in LABELLED_AS)
        reader.refuse(where, "needs one of {borne}, which units of this class bear", ", ".join(borne))
    if len(mains) != 1:
        return None
    reader.refuse_unknown(where, table, _known(mains[0], kind))
    if len(reader.errors) > before:
        return None
    try:
        found = {"limit": _limited, "class": _classed}.get(mains[0], _rated)(mains[0], table, given)
        return replace(found, flows={**found.flows, **{k: Ends(v) for k, v in water_use(given).items()}})
    except OutOfRange as error:
        reader.errors.append(OutOfRange(f"{where}.{error.field}", error.low, error.high, error.unit, error.got))
    except CaseError as error:
        reader.refuse(f"{where}.{error.field}", error.message)
    return None


def _known(main: str, kind: ApplianceClass) -> tuple[str, ...]:
    """What can stand in a label with its main entry."""
    water = WATER if "water" in kind.fuels else ()
    if main == "limit" and kind.kind in COOLING:
        return ("limit", "year", "fresh_volume", "freezer_volume", "icemakers", "door_factor")
    if main == "limit":
        borne = [(*rating.needs, *rating.may, *water) for rating in RATINGS.values() if rating.borne_by(kind)]
        return ("limit", "year", "storage_volume", *dict.fromkeys(chain(*borne)))
    if main != "class":
        return (main, *RATINGS[main].needs, *RATINGS[main].may, *water)
    if LABELLED_AS.get(kind.kind) == "refrigerator_freezer":
        return ("class", "year", "scale", "litres", "doors", "category", "defrost", "placing")
    sizes = ("place_settings", "width") if kind.kind == "dishwasher" else ("load",)
    return ("class", "year", "scale", "label_cycles", *sizes, *water)


# A rating


def _rated(main: str, table: Mapping[str, Any], given: Given) -> Labelled:
    flows = rated_use(main, given)
    way = "print" if main in ("kwh_per_year", "therms_per_year", "kwh_per_100_cycles") else "rating"
    return Labelled(way, {name: Ends(value) for name, value in flows.items()}, tuple(given.bases), main)


# A legal limit


def _limited(main: str, table: Mapping[str, Any], given: Given) -> Labelled:
    if given.kind.kind not in LIMITED_AS:
        raise CaseError("limit", "the tables hold no federal limit for {kind}", given.kind.kind)
    if "year" not in given:
        raise CaseError("year", "is needed: the year in which it was made")
    entered = str(table["limit"])
    if given.kind.kind in COOLING:
        return _refrigerator_limit(entered, given)
    uses = [_at_the_limit(group, given) for group in _limits_called(entered, given).values()]
    worst = {name: max(use[name] for use in uses) for name in uses[0]}
    flows = {name: Ends(value, high=value) for name, value in worst.items()}
    return Labelled("limit", flows, tuple(given.bases), entered)


def _refrigerator_limit(entered: str, given: Given) -> Labelled:
    for name in ("fresh_volume", "freezer_volume"):
        if name not in given:
            raise CaseError(name, "is needed, in ft3; 0 where it has none")
    icemakers: Literal[0, 1] = 1 if given.numbers.get("icemakers") else 0
    sizes, door = (given["fresh_volume"], given["freezer_volume"]), given.numbers.get("door_factor", 1.0)
    found = labels.refrigerator_ceiling(entered, int(given["year"]), *sizes, icemakers, door)
    ceiling = float(found.value)
    return Labelled("limit", {"electricity": Ends(ceiling, high=ceiling)}, found.bases, entered)


def _limits_called(entered: str, given: Given) -> dict[str, list[Limit]]:
    """Limits of that description in the year, those that began together in one group."""
    of_kind = labels.limits(LIMITED_AS[given.kind.kind], int(given["year"]))
    usable = [limit for limit in of_kind if _rating_of(limit, given.kind)]
    descriptions = dict.fromkeys(limit.description for limit in usable)
    if entered not in descriptions:
        known = "; ".join(descriptions) or Message("none in that year")
        raise CaseError("limit", "must be one of {known}, got {got}", known, entered)
    groups: dict[str, list[Limit]] = {}
    for limit in usable:
        if limit.description == entered:
            groups.setdefault(limit.made_from.isoformat(), []).append(limit)
    return groups


def _rating_of(limit: Limit, kind: ApplianceClass) -> str | None:
    """The rating that a limit limits, where units of the class bear it or it stands beside one that they bear."""
    name = LIMITS_RATING.get(limit.metric)
    borne = {n for rating, each in RATINGS.items() if each.borne_by(kind) for n in (rating, *each.may)}
    return name if name in borne else None


def _at_the_limit(group: Sequence[Limit], given: Given) -> dict[str, float]:
    """Flows of a unit that is just within the limits."""
    worst: dict[str, float] = {}
    for limit in group:
        if limit.slope and "storage_volume" not in given:
            raise CaseError("storage_volume", "is needed, in gal: this limit depends on it")
        rated = labels.limit_at(limit, given.numbers.get("storage_volume", 0.0))
        worst[LIMITS_RATING[limit.metric]] = float(rated.value) / (100 if limit.unit == "%" else 1)
        given.bases.extend(rated.bases)
    main = next(name for name in worst if RATINGS[name].borne_by(given.kind))
    if "capacity" not in given:
        worst = {name: value for name, value in worst.items() if name == main or not name.startswith("seer")}
    return rated_use(main, replace(given, numbers={**given.numbers, **worst}))


# A European class


def _classed(main: str, table: Mapping[str, Any], given: Given) -> Labelled:
    scale = _scale(table, given)
    letter = str(table["class"])
    standard, yearly = _standard(scale, table, given)
    least, most, bases = labels.class_consumption(scale.name, letter, standard)
    if most == float("inf"):
        raise CaseError("class", "{letter} is the last and has no most; give the kWh that the label prints", letter)
    low, high = yearly(float(least)), yearly(float(most))
    ends = Ends((low + high) / 2, low, high) if low > 0 else Ends(high, high=high)
    return Labelled("class", {"electricity": ends}, (*bases, *given.bases), f"{letter}, {scale.name}")


def _scale(table: Mapping[str, Any], given: Given) -> LabelScale:
    """The label's scale: the one named, or the only one that units put on sale in that year bear."""
    if given.kind.kind not in LABELLED_AS:
        raise CaseError("class", "the tables hold no European label for {kind}", given.kind.kind)
    appliance = LABELLED_AS[given.kind.kind]
    if "scale" in table:
        named = labels.label_scale(str(table["scale"]))
        if named.appliance != appliance:
            raise CaseError("scale", "{name} is a label of another appliance", named.name)
        return named
    if "year" not in given:
        raise CaseError("year", "is needed: the year in which it was put on sale; or give the scale")
    borne = [
        scale for scale in labels.scales_for(appliance, int(given["year"])) if table["class"] in scale.scale.letters
    ]
    if not borne:
        raise CaseError("class", "no label of {year:g} has the class {letter}", given["year"], table["class"])
    if len(borne) > 1:
        raise CaseError("scale", "is needed: one of {known}", ", ".join(scale.name for scale in borne))
    return borne[0]


def _standard(scale: LabelScale, table: Mapping[str, Any], given: Given) -> tuple[Rated, Callable[[float], float]]:
    """Standard use of the unit's size, and how to make a year of what a class says of it."""

    def of_cycles(energy: float) -> float:
        return float(per_cycle_energy(energy, cycles))

    appliance, era = scale.name.rsplit("-", 1)
    if appliance == "fridge":
        rated = _fridge_2021(table, given) if era == "2021" else _fridge_2011(table, given)
        return rated, float
    if scale.name == "dryer-2025":
        raise CaseError("class", "the tables hold no standard use for the label of 2025; give kwh_per_100_cycles")
    if appliance == "dishwasher":
        settings, width = _needed(given, "place_settings"), _needed(given, "width")
        if era == "2011":
            size = "full" if settings >= 10 and width > 50 else "small"
            return labels.standard_use(f"standard-dishwasher-2011-{size}", settings), given.yearly
        cycles = given.cycles()
        return Rated(eu.dishwasher_standard_energy(settings, width), "kWh/cycle", ()), of_cycles
    load = _needed(given, "load")
    if scale.name in ("washer-2011", "dryer-2013"):
        return labels.standard_use(f"standard-{scale.name}", load), given.yearly
    cycles = given.cycles()
    if scale.name == "washer-2021":
        return Rated(eu.washer_standard_energy(load), "kWh/cycle", ()), of_cycles
    if scale.name == "washer-dryer-2021":
        return Rated(eu.washer_dryer_standard_energy(load), "kWh/cycle", ()), of_cycles
    return Rated(load, "kg", ()), of_cycles  # the labels of the nineties: kWh a kilogram


def _needed(given: Given, name: str) -> float:
    if name not in given:
        raise CaseError(name, "is needed, in {unit}", NUMBERS[name].unit)
    return given[name]


def _fridge_2021(table: Mapping[str, Any], given: Given) -> Rated:
    litres = _litres(table, given, COMPARTMENTS)
    words = (_word(table, given, name) for name in ("defrost", "placing"))
    return labels.fridge_standard(litres, int(given.numbers.get("doors", len(litres))), *words)


def _fridge_2011(table: Mapping[str, Any], given: Given) -> Rated:
    """Equivalent volume, each litre by how cold it is kept, on the line of its category."""
    litres = _litres(table, given, OLD_COMPARTMENTS)
    if "category" not in table:
        raise CaseError("category", "is needed: one of {known}", ", ".join(CATEGORIES))
    factors = [labels.label_figure(f"thermodynamic-2011-{kind}".replace("_", "-")) for kind in litres]
    free = FREE_OF_FROST if _word(table, given, "defrost") == "auto" else 1.0
    counted = [volume * (free if kind in FROZEN else 1.0) for kind, volume in litres.items()]
    volume = eu.equivalent_volume(counted, [factor.value for factor in factors])
    rated = labels.standard_use(f"standard-fridge-2011-{_word(table, given, 'category')}", volume)
    return Rated(rated.value, rated.unit, (*rated.bases, *(basis for factor in factors for basis in factor.bases)))


def _litres(table: Mapping[str, Any], given: Given, kinds: Sequence[str]) -> dict[str, float]:
    found = table.get("litres")
    if not isinstance(found, dict) or not found:
        raise CaseError("litres", "is needed, such as { fresh_food = 200, four_star = 100 }")
    for kind in found:
        if kind not in kinds:
            raise CaseError(f"litres.{kind}", "is not known for this label; known: {known}", ", ".join(kinds))
    path, before = f"{given.path}.label.litres", len(given.reader.errors)
    volumes = given.reader.numbers(path, found, dict.fromkeys(found, LITRES))
    if len(given.reader.errors) > before:
        raise CaseError("litres", "must be numbers")
    return volumes


def _word(table: Mapping[str, Any], given: Given, name: str) -> str:
    return given.reader.choice(f"{given.path}.label.{name}", table.get(name, WORDS[name][0]), WORDS[name])
