"""Symptoms, what can be behind each, and the numbers that decide a check: the shipped tables, or a shop's own.

Four csv files in data/: what people see (`symptoms.csv`), what can be behind it and what that asks for (`causes.csv`),
how often and in which order (`symptom_causes.csv`), and numbers (`check_facts.csv`). Their words stand in the language
file; a row of a shop's own brings its own words. What the columns mean is written in data/README.md.
"""

import functools
import graphlib
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from ...arrays import Floats, Truths
from ...diagnosis.check_order import MOST_CAUSES
from ...errors import CaseError, DataError, Message, ReadError
from ..files.json_text import json_of
from ..files.plain_file import content_of
from ..files.rows import ANY, CsvRow, keyed, rows
from .sourced import Citation, Register, above_zero, columns_of, open_ends
from .tables import CURRENCIES, Tables, data_dir, tables

OWNER: Final = "owner"
WHO: Final = (OWNER, "technician", "licensed")
"""Who may make a check or mend what it finds, from the least training to the most."""

NOBODY: Final = "nobody"  # Stands for who may mend what cannot be repaired.

TROUBLE: Final = ("look", "switch", "clean", "wait", "empty", "measure")
"""What an owner's check asks for beside money, from the least to the most; the last where a meter is asked for."""

HAZARDS: Final = ("live", "charged", "gas", "flue", "refrigerant", "height", "glass", "blades")
"""What a check can bring hands near to; none of them is for an owner."""

FACT_UNITS: Final = ("C", "K", "bar", "cm", "h", "s", "month", "percent", "ohm", "uA")

COLUMNS: Final = columns_of("symptoms", "causes", "symptom_causes", "check_facts")
"""The files, each with its columns in order."""

ROUNDING: Final = 1e-6  # How far the shares of a symptom may be from adding up to 1. [-]
LONGEST_CHECK: Final = 480  # [minute]
LARGEST_COUNTS: Final = 1_000_000  # Counts are a page of text. [byte]


@dataclass(frozen=True, slots=True)
class Cause:
    """What can be behind a symptom; money is that of the region, rough enough to stand for either."""

    cause: str
    fault: str  # What it amounts to in faults.csv.
    minutes: float  # To find out whether it is that. [minute]
    who: str
    mend: str  # One of WHO, or NOBODY: then it has no price.
    parts: tuple[float, float]  # Eight in ten lie within. [money]
    hours: tuple[float, float]  # Of labour; eight in ten lie within. [hour]
    meter: bool  # Whether an owner who asks for it can make the check with a meter, on a circuit that is dead.
    trouble: str  # One of TROUBLE for what an owner can check or ask to measure; else empty.
    hazard: tuple[str, ...]  # Of HAZARDS; empty for what an owner can check.
    name: str  # Words of its own; empty where the language file has them.
    look: str
    basis: Citation

    @property
    def of_the_house(self) -> bool:
        """Whether it lies in the wiring of the house, which a new appliance would share."""
        return self.fault == "power_supply" and (self.mend == "licensed" or not self.parts[1])


@dataclass(frozen=True, slots=True)
class Link:
    """How often a cause is behind a symptom, and which causes are checked before it."""

    cause: Cause
    share: float
    after: tuple[str, ...]
    basis: Citation


@dataclass(frozen=True)
class Symptom:
    """What people see or hear, with all that can be behind it."""

    symptom: str
    classes: tuple[str, ...]
    name: str
    often: float  # How often it comes, beside the other symptoms of a class; only their proportion counts. [-]
    basis: Citation
    links: tuple[Link, ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """The causes, in the order of the file."""
        return tuple(link.cause.cause for link in self.links)

    @property
    def shares(self) -> Floats:
        """How often each cause is behind it. [-]"""
        return np.array([link.share for link in self.links])

    @property
    def after(self) -> Truths:
        """Row i marks what is checked before cause i."""
        return np.array([[other in link.after for other in self.ids] for link in self.links])

    def with_meter(self) -> "Symptom":
        """The same for an owner who asks to measure where the circuit is dead."""
        own = (replace(link, cause=replace(link.cause, who=OWNER)) if link.cause.meter else link for link in self.links)
        return replace(self, links=tuple(own))

    def which(self, causes: Mapping[str, float] | tuple[str, ...], field: str) -> Truths:
        """Mark some causes by id; CaseError where one is not among them."""
        for cause in causes:
            if cause not in self.ids:
                raise CaseError(field, "{cause!r} is no cause of it; known: {known}", cause, ", ".join(self.ids))
        return np.array([cause in causes for cause in self.ids])


@dataclass(frozen=True, slots=True)
class CheckFact:
    """A number that decides a check, or two that it lies between; NaN where that end is open."""

    fact: str
    causes: tuple[str, ...]
    regions: tuple[str, ...]
    low: float
    high: float
    unit: str
    basis: Citation


@dataclass(frozen=True)
class Symptoms:
    """All symptoms of a region, read and checked."""

    known: Mapping[str, Symptom]
    facts: tuple[CheckFact, ...]

    def of_class(self, kind: str) -> tuple[Symptom, ...]:
        """The symptoms of a class in the region, in the order of the file."""
        return tuple(symptom for symptom in self.known.values() if kind in symptom.classes)

    def symptom(self, kind: str, symptom: str) -> Symptom:
        """Look up a symptom of a class."""
        possible = {each.symptom: each for each in self.of_class(kind)}
        if not possible:
            raise CaseError("class", "no symptoms are listed for {kind}", kind)
        if symptom not in possible:
            template = "{wanted!r} is not known; known for this class: {possible}"
            raise CaseError("symptom", template, symptom, ", ".join(possible))
        return possible[symptom]

    def facts_of(self, cause: str, region: str) -> tuple[CheckFact, ...]:
        """The numbers that decide the check of a cause in a region."""
        here = (fact for fact in self.facts if fact.regions == (ANY,) or region in fact.regions)
        return tuple(fact for fact in here if cause in fact.causes)


def symptoms(region: str = "US") -> Symptoms:
    """Read the shipped symptoms, once a run; what can be behind one differs by region."""
    return read_symptoms(data_dir())[region]


@functools.cache
def read_symptoms(folder: Path) -> Mapping[str, Symptoms]:
    """Read a folder of tables as shipped, whose words stand in the language file; by region."""
    return _read({name: folder / name for name in COLUMNS}, tables(), None)


def own_symptoms(own: Mapping[str, Path], region: str) -> Symptoms:
    """Read a shop's own files, by the names of the shipped ones, which take the place of those that it has not.

    Raises `DataError`: a row breaks the rules; the message names the file and the line.
    """
    shipped = data_dir()
    return _read({name: own.get(name, shipped / name) for name in COLUMNS}, tables(), read_symptoms(shipped))[region]


def read_counts(path: Path, listed: Symptoms) -> dict[str, dict[str, float]]:
    """Read a shop's own counts: for each symptom, in how many jobs each cause was the one.

    Raises `ReadError`: no such file, no JSON of that shape, a symptom or cause that is not listed, or no count.
    """
    content = content_of(path, LARGEST_COUNTS, Message("is larger than {most:,} bytes", LARGEST_COUNTS))
    try:
        found = json_of(content.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise ReadError(path.name, "is no JSON file: {error}", error) from error
    if not isinstance(found, dict) or not all(isinstance(each, dict) for each in found.values()):
        raise ReadError(path.name, "must map symptoms to causes, and these to counts")
    for symptom, counts in found.items():
        if symptom not in listed.known:
            raise ReadError(path.name, "{symptom!r} is no symptom that is listed", symptom)
        for cause, count in counts.items():
            if cause not in (known := listed.known[symptom].ids):
                template = "{cause!r} is no cause of {symptom}; known: {known}"
                raise ReadError(path.name, template, cause, symptom, ", ".join(known))
            if type(count) not in (int, float) or not 0 <= count < math.inf:
                template = "{symptom} {cause}: a count must be 0 or more, got {got!r}"
                raise ReadError(path.name, template, symptom, cause, count)
    return found


def _read(
    paths: Mapping[str, Path], reference: Tables, shipped: Mapping[str, Symptoms] | None
) -> Mapping[str, Symptoms]:
    """Read and check the files for each region; rows that are not among the shipped ones need words of their own."""
    table = {name: rows(path, COLUMNS[name]) for name, path in paths.items()}
    worded = _worded(shipped)
    causes = keyed(table["causes.csv"], lambda row: _cause(row, reference, worded))
    heads = keyed(table["symptoms.csv"], lambda row: _head(row, reference, worded))
    links: dict[tuple[str, str], list[tuple[CsvRow, Link]]] = {}
    seen: set[tuple[str, str, str]] = set()
    for row in table["symptom_causes.csv"]:
        symptom, cause, share = row.choice("symptom", heads), row.choice("cause", causes), above_zero(row, "share", 1)
        link = Link(causes[cause], share, row.choices("after", causes), basis_of(row, reference))
        listed = row.choices("regions", (*CURRENCIES, ANY))
        for region in CURRENCIES if listed == (ANY,) else listed:
            if (symptom, cause, region) in seen:
                raise row.broken("{symptom} {cause} is listed twice", symptom, cause)
            seen.add((symptom, cause, region))
            links.setdefault((symptom, region), []).append((row, link))
    for symptom in heads:
        if not any((symptom, region) in links for region in CURRENCIES):
            raise DataError("symptom_causes.csv: nothing is listed for {symptom}", symptom)
    decided = {*causes, *(worded or ())}  # a shop that lists other causes keeps the shipped numbers all the same
    facts = tuple(keyed(table["check_facts.csv"], lambda row: _fact(row, decided, reference, worded)).values())
    if shipped is None and (idle := sorted(causes.keys() - {cause for _, cause, _ in seen})):
        raise DataError("causes.csv: no symptom names {idle}", ", ".join(idle))
    found: dict[str, dict[str, Symptom]] = {region: {} for region in CURRENCIES}
    for name, region in ((name, region) for name in heads for region in CURRENCIES if (name, region) in links):
        found[region][name] = _symptom(heads[name], links[name, region], reference, region)
    return {region: Symptoms(known, facts) for region, known in found.items()}


def _worded(shipped: Mapping[str, Symptoms] | None) -> frozenset[str] | None:
    """Ids that have their words in the language file; None while reading the shipped files themselves."""
    if shipped is None:
        return None
    known = [each for region in shipped.values() for each in region.known.values()]
    facts = (fact.fact for region in shipped.values() for fact in region.facts)
    return frozenset({*(each.symptom for each in known), *(cause for each in known for cause in each.ids), *facts})


def words_of(row: CsvRow, worded: frozenset[str] | None, key: str, columns: tuple[str, ...]) -> tuple[str, ...]:
    """Words of its own: a shipped row has none, one that is not shipped needs them."""
    texts = tuple(row.cells[column] for column in columns)
    if worded is None and any(texts):
        raise row.broken("{where}: the words of a shipped row stand in the language file", ", ".join(columns))
    if worded is not None and key not in worded and not all(texts):
        template = "{key} is not among the shipped ones and needs words of its own in {columns}"
        raise row.broken(template, key, ", ".join(columns))
    return texts


def _head(row: CsvRow, reference: Tables, worded: frozenset[str] | None) -> tuple[str, Symptom]:
    """Read a symptom, as yet without what can be behind it."""
    symptom, often = row.text("symptom"), above_zero(row, "often", 1)
    classes = row.choices("classes", reference.known_classes)
    if not classes:
        raise row.broken("classes is empty")
    (name,) = words_of(row, worded, symptom, ("name",))
    return symptom, Symptom(symptom, classes, name, often, basis_of(row, reference), ())


def basis_of(row: CsvRow, reference: Tables) -> Citation:
    """Who says so, as a row tells; a judgement gives its reason."""
    return Citation(**Register(reference.sources).cited(row))


def _cause(row: CsvRow, reference: Tables, worded: frozenset[str] | None) -> tuple[str, Cause]:
    cause, who, mend = row.text("cause"), row.choice("who", WHO), row.choice("mend", (*WHO, NOBODY))
    minutes, parts, hours = above_zero(row, "minutes", LONGEST_CHECK), _ends(row, "parts"), _ends(row, "hours")
    if mend == OWNER and hours != (0.0, 0.0):
        raise row.broken("what an owner can mend asks for no paid hours")
    if mend == NOBODY and parts + hours != (0.0, 0.0, 0.0, 0.0):
        raise row.broken("what cannot be repaired has no price: parts and hours must be 0")
    if mend not in (OWNER, NOBODY) and hours[0] <= 0:
        raise row.broken("what an owner cannot mend asks for paid hours")
    if mend == OWNER and parts[0] == 0 < parts[1]:
        raise row.broken("parts must not begin at 0 where no labour comes with them")
    if mend != NOBODY and WHO.index(mend) < WHO.index(who):
        raise row.broken("mend cannot be open to {mend} where the check itself takes {who}", mend, who)
    meter, hazard = row.choice("meter", ("yes", "no")) == "yes", row.choices("hazard", HAZARDS)
    trouble = row.choice("trouble", TROUBLE[:-1] if who == OWNER else TROUBLE[-1:] if meter else ("",))
    if hazard and (who == OWNER or meter):
        raise row.broken("no owner checks what is near {hazard}", ", ".join(hazard))
    if meter and who != "technician":
        raise row.broken("meter is open only where the check takes a technician")
    name, look = words_of(row, worded, cause, ("name", "look"))
    fault = row.choice("fault", reference.known_faults)
    return cause, Cause(
        cause, fault, minutes, who, mend, parts, hours, meter, trouble, hazard, name, look, basis_of(row, reference)
    )


def _ends(row: CsvRow, what: str) -> tuple[float, float]:
    low, high = row.number(f"{what}_low"), row.number(f"{what}_high")
    if not 0 <= low <= high:
        raise row.broken("0 <= {what}_low <= {what}_high does not hold for {low:g}, {high:g}", what, low, high)
    return low, high


def _symptom(head: Symptom, listed: list[tuple[CsvRow, Link]], reference: Tables, region: str) -> Symptom:
    """Put a symptom together, and refuse what holds of no single row."""
    symptom, where = head.symptom, listed[-1][0]
    links = tuple(link for _, link in listed)
    total = sum(link.share for link in links)
    if len(links) > MOST_CAUSES:
        raise where.broken("{symptom} has {n} causes; {most_causes} at most", symptom, len(links), MOST_CAUSES)
    if abs(total - 1) > ROUNDING:
        raise where.broken("the shares of {symptom} must add up to 1, got {got:g}", symptom, total)
    by_id = {link.cause.cause: link for link in links}
    sold = tuple(kind for kind in head.classes if region in reference.kind(kind).regions)
    for row, link in listed:
        _refuse_stray(row, link, by_id, sold, reference)
    try:
        graphlib.TopologicalSorter({cause: link.after for cause, link in by_id.items()}).prepare()
    except graphlib.CycleError as error:
        raise where.broken("after goes in a circle in {symptom}: {text}", symptom, ", ".join(error.args[1])) from error
    even = tuple(Link(link.cause, link.share / total, link.after, link.basis) for link in links)
    return replace(head, links=even)


def _refuse_stray(
    row: CsvRow, link: Link, by_id: Mapping[str, Link], classes: tuple[str, ...], reference: Tables
) -> None:
    """Refuse a prerequisite that is not of the symptom, or comes from a paid check to a free one; a stray fault."""
    for other in link.after:
        if other not in by_id:
            raise row.broken("after names {other}, which is no cause of the same symptom", other)
        if link.cause.who == OWNER and (who := by_id[other].cause.who) != OWNER:
            raise row.broken("an owner's check cannot wait for {other}, which takes {who}", other, who)
    cause, fault = link.cause.cause, link.cause.fault
    held = reference.known_faults[fault].classes
    for kind in classes:
        if held != (ANY,) and kind not in held:
            raise row.broken("{cause} amounts to {fault}, which {kind} cannot have", cause, fault, kind)
        if reference.cannot_be_repaired(kind, fault) != (link.cause.mend == NOBODY):
            template = (
                "{cause} amounts to {fault}: its mend must be {nobody} where a caution rules the "
                "repair out, and only there"
            )
            raise row.broken(template, cause, fault, NOBODY)


def _fact(
    row: CsvRow, causes: Collection[str], reference: Tables, worded: frozenset[str] | None
) -> tuple[str, CheckFact]:
    fact = row.text("fact")
    if worded is not None and fact not in worded:
        raise row.broken("{fact} has no words; known: those of the shipped file", fact)
    low, high = open_ends(row)
    named = row.choices("causes", causes)
    if not named:
        raise row.broken("causes is empty")
    regions = row.choices("regions", (*CURRENCIES, ANY))
    return fact, CheckFact(fact, named, regions, low, high, row.choice("unit", FACT_UNITS), basis_of(row, reference))
