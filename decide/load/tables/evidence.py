"""What can be asked and measured about a symptom, and how likely each answer is under each cause.

Four csv files in data/: `questions.csv` and `readings.csv` with their `answer_likelihoods.csv` and
`reading_likelihoods.csv`. Their words stand in the language file. Rows of a shop's own are added to the shipped ones,
or take the place of those with the same key; they bring their own words. data/README.md tells what the columns mean.
"""

import functools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, TypeVar

import numpy as np

from ...arrays import Floats
from ...errors import CaseError, DataError, ReadError
from ..files.json_text import json_of
from ..files.rows import ANY, CsvRow, keyed, rows
from .sourced import Citation, above_zero, columns_of, open_ends
from .symptoms import COLUMNS as CAUSE_COLUMNS
from .symptoms import LONGEST_CHECK, OWNER, WHO, Symptom, Symptoms, basis_of, own_symptoms, symptoms, words_of
from .tables import CURRENCIES, Tables, data_dir, tables

CIRCUITS: Final = ("none", "dead", "live")
"""What is measured at: nothing opened, a circuit proved dead, or one under voltage, burning or under pressure."""

OUTCOMES: Final = ("below", "pass", "marginal", "above")  # What a reading can come to, in the order of its likelihoods.

COLUMNS: Final = columns_of("questions", "answer_likelihoods", "readings", "reading_likelihoods")
"""The files, each with its columns in order."""

OWN_TABLES: Final = "own_checks"
"""What a shop's own files are kept as, and called in an error."""

A_DAY: Final = 86_400  # [second]
LEAST_LIKELY: Final = 1e-4  # No answer is impossible: people mishear and misread. [-]

Kind = TypeVar("Kind", bound="Asked")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What questions and readings have alike."""

    key: str
    classes: tuple[str, ...]
    regions: tuple[str, ...]
    who: str
    minutes: float  # That it takes. [minute]
    name: str  # Words of a shop's own; empty where the language file has them.
    basis: Citation
    outcomes: tuple[str, ...]  # What it can come to: the answers, by code or in words of a shop's own, or OUTCOMES.
    likelihoods: Mapping[str, tuple[float, ...]]
    """Of the outcomes in their order, by cause; `*` for the causes not listed."""

    def holds(self, kind: str, region: str) -> bool:
        """Whether it is for a class in a region."""
        both = ((self.classes, kind), (self.regions, region))
        return all(listed == (ANY,) or here in listed for listed, here in both)

    def under(self, symptom: Symptom) -> Floats:
        """How likely each outcome is under each cause of a symptom, shape (outcomes, causes).

        A cause that nothing is listed for counts as the mean of those listed, by their shares: no news of it.
        """
        none = (0.0,) * len(self.outcomes)
        rows = [self.likelihoods.get(cause, self.likelihoods.get(ANY, none)) for cause in symptom.ids]
        found, known = np.array(rows).T, np.array([row is not none for row in rows])
        if not known.all():
            found[:, ~known] = (found @ (symptom.shares * known) / symptom.shares[known].sum())[:, None]
        return found


@dataclass(frozen=True, kw_only=True)
class SymptomQuestion(Asked):
    """What is asked about a symptom, with nothing opened."""

    symptoms: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Reading(Asked):
    """What can be measured, and what a sound one reads."""

    instrument: str
    unit: str
    low: float  # -inf where that side is open, like `high` inf.
    high: float
    margin: float  # Beside the range by so much at most is marginal.
    circuit: str  # One of CIRCUITS.
    point: str
    least: float  # A value below it, or above `most`, is a slip.
    most: float

    def outcome(self, value: float) -> str:
        """What a value comes to."""
        if self.low <= value <= self.high:
            return "pass"
        if self.low - self.margin <= value <= self.high + self.margin:
            return "marginal"
        return "below" if value < self.low else "above"


@dataclass(frozen=True)
class Evidence:
    """All questions and readings, read and checked."""

    questions: Mapping[str, SymptomQuestion]
    readings: Mapping[str, Reading]

    def questions_of(self, symptom: Symptom, kind: str, region: str) -> tuple[SymptomQuestion, ...]:
        """The questions about a symptom of a class in a region, in the order of the file."""
        about = (each for each in self.questions.values() if symptom.symptom in each.symptoms)
        return tuple(each for each in about if each.holds(kind, region))

    def readings_of(self, symptom: Symptom, kind: str, region: str) -> tuple[Reading, ...]:
        """The readings that speak of a cause of a symptom, in a class and a region."""
        about = (each for each in self.readings.values() if not each.likelihoods.keys().isdisjoint(symptom.ids))
        return tuple(each for each in about if each.holds(kind, region))


def find(wanted: str, possible: Sequence[Kind], field: str) -> Kind:
    """Look up a question or a reading by its key; CaseError names what is allowed where it is none of those."""
    found = {each.key: each for each in possible}
    if wanted not in found:
        raise CaseError(field, "{wanted!r} is not known here; known: {known}", wanted, ", ".join(found) or "-")
    return found[wanted]


@functools.cache
def evidence() -> Evidence:
    """Read the shipped questions and readings, once a run."""
    return _read({name: data_dir() / name for name in COLUMNS}, symptoms(), tables(), None)


def read_folder(folder: Path, region: str = "US") -> tuple[Symptoms, Evidence]:
    """Read a shop's own files: those of symptoms in place of the shipped ones, questions and readings beside them.

    Raises `ReadError`: the folder holds none of the files, or a row breaks the rules; then with the file and the line.
    """
    names = [*CAUSE_COLUMNS, *COLUMNS]
    own = {name: folder / name for name in names if (folder / name).is_file()}
    if not own:
        raise ReadError(str(folder), "holds none of {files}", ", ".join(names))
    try:
        listed = symptoms(region) if own.keys().isdisjoint(CAUSE_COLUMNS) else own_symptoms(own, region)
        return listed, _read(own, listed, tables(), evidence())
    except DataError as error:
        raise ReadError(str(folder), error.sentence) from error
    except (OSError, UnicodeDecodeError) as error:
        raise ReadError(str(folder), "cannot be read as UTF-8 text") from error


@functools.lru_cache(maxsize=8)
def read_kept(kept: str, region: str) -> tuple[Symptoms, Evidence]:
    """The same of files kept as one JSON text, by name; `ReadError` also where it holds something else."""
    given, names = json_of(kept, OWN_TABLES), (*CAUSE_COLUMNS, *COLUMNS)
    if not isinstance(given, dict) or not all(isinstance(text, str) for text in given.values()):
        raise ReadError(OWN_TABLES, "holds none of {files}", ", ".join(names))
    if stray := next((name for name in given if name not in names), None):
        raise ReadError(stray, "is none of {files}", ", ".join(names))
    with TemporaryDirectory() as folder:
        for name, text in given.items():
            Path(folder, name).write_text(text, "utf-8")
        try:
            return read_folder(Path(folder), region)
        except ReadError as error:
            raise ReadError("checks", error.message) from error  # the folder says nothing to anybody


def _read(paths: Mapping[str, Path], listed: Symptoms, reference: Tables, shipped: Evidence | None) -> Evidence:
    """Read and check the files; what is not in them is the shipped one."""
    table = {name: rows(paths[name], columns) if name in paths else () for name, columns in COLUMNS.items()}
    questions = keyed(table["questions.csv"], lambda row: _question(row, listed, reference, shipped))
    readings = keyed(table["readings.csv"], lambda row: _reading(row, reference, shipped))
    everywhere = (listed, *map(symptoms, CURRENCIES))  # what is behind a symptom differs by region
    causes = {cause for here in everywhere for each in here.known.values() for cause in each.ids}
    answered = _by_key(table["answer_likelihoods.csv"], "question", questions, causes, _answer_likelihoods)
    measured = _by_key(table["reading_likelihoods.csv"], "reading", readings, causes, _reading_likelihoods)
    for name, things, found in (("questions", questions, answered), ("readings", readings, measured)):
        if bare := [key for key in things if key not in found]:
            raise DataError("{name}.csv: no likelihoods are listed for {idle}", name, ", ".join(bare))
    before = shipped or Evidence({}, {})
    return Evidence(
        {**before.questions, **{key: replace(each, likelihoods=answered[key]) for key, each in questions.items()}},
        {**before.readings, **{key: replace(each, likelihoods=measured[key]) for key, each in readings.items()}},
    )


def _by_key(
    table: Iterable[CsvRow],
    column: str,
    known: Mapping[str, Kind],
    causes: set[str],
    read: Callable[[CsvRow, Kind], tuple[float, ...]],
) -> dict[str, dict[str, tuple[float, ...]]]:
    """The likelihoods of each question or reading, by cause."""
    found: dict[str, dict[str, tuple[float, ...]]] = {}
    for row in table:
        asked, cause = known[row.choice(column, known)], row.text("cause")
        if cause != ANY and cause not in causes:
            raise row.broken("{cause} is no cause that a symptom names", cause)
        given = found.setdefault(asked.key, {})
        if cause in given:
            raise row.broken("{key} is listed twice", f"{asked.key} {cause}")
        given[cause] = read(row, asked)
        basis_of(row, tables())
    return found


def _question(
    row: CsvRow, listed: Symptoms, reference: Tables, shipped: Evidence | None
) -> tuple[str, SymptomQuestion]:
    key, seconds = row.text("question"), above_zero(row, "seconds", A_DAY)
    answers = tuple(part.strip() for part in row.text("answers").split(";"))
    if len(answers) < 2 or len(set(answers)) < len(answers) or not all(answers):
        raise row.broken("answers must list two or more different ones, got {got!r}", row.cells["answers"])
    if not (about := row.choices("symptoms", listed.known)):
        raise row.broken("{column} is empty", "symptoms")
    own = words_of(row, None if shipped is None else frozenset(shipped.questions), key, ("name",))
    return key, SymptomQuestion(
        symptoms=about, outcomes=answers, minutes=seconds / 60, name=own[0], **_alike(row, key, reference)
    )


def _alike(row: CsvRow, key: str, reference: Tables) -> dict[str, Any]:
    """What questions and readings have alike; the likelihoods are added once they are read."""
    return {
        "key": key,
        "who": row.choice("who", WHO),
        "likelihoods": {},
        "classes": row.choices("classes", (*reference.known_classes, ANY)),
        "regions": row.choices("regions", (*CURRENCIES, ANY)),
        "basis": basis_of(row, reference),
    }


@functools.cache
def _bounds() -> Mapping[str, tuple[float, float]]:
    """What a value of each unit lies between."""
    table = rows(data_dir() / "reading_units.csv", "unit,least,most,source,locator,year,status,note")
    return {row.text("unit"): (row.number("least"), row.number("most")) for row in table if basis_of(row, tables())}


def _reading(row: CsvRow, reference: Tables, shipped: Evidence | None) -> tuple[str, Reading]:
    key, circuit = row.text("reading"), row.choice("circuit", CIRCUITS)
    (low, high), margin = open_ends(row, -math.inf, math.inf), row.number("margin")
    least, most = _bounds()[unit := row.choice("unit", _bounds())]
    if (low < least and low > -math.inf) or (high > most and high < math.inf):
        raise row.broken("low and high must lie between {least:g} and {most:g} {unit}", least, most, unit)
    if margin < 0:
        raise row.broken("margin must be 0 or more, got {got:g}", margin)
    if row.choice("who", WHO) == OWNER and circuit == "live":
        raise row.broken("an owner never measures on a live circuit")
    name, point = words_of(row, None if shipped is None else frozenset(shipped.readings), key, ("name", "point"))
    return key, Reading(
        outcomes=OUTCOMES, instrument=row.text("instrument"), unit=unit, margin=margin, low=low,
        minutes=above_zero(row, "minutes", LONGEST_CHECK), high=high, circuit=circuit, name=name, point=point,
        least=least, most=most, **_alike(row, key, reference),
    )  # fmt: skip


def _answer_likelihoods(row: CsvRow, question: SymptomQuestion) -> tuple[float, ...]:
    try:
        found = tuple(float(part) for part in row.text("likelihoods").split(";"))
    except ValueError:
        raise row.broken("{where} must be a number, got {got!r}", "likelihoods", row.cells["likelihoods"]) from None
    if len(found) != len(question.outcomes):
        raise row.broken("{key} has {n} answers, so it needs as many likelihoods", question.key, len(question.outcomes))
    return _whole(row, found, [LEAST_LIKELY] * len(found))


def _reading_likelihoods(row: CsvRow, reading: Reading) -> tuple[float, ...]:
    shut = {"below": math.isinf(reading.low), "above": math.isinf(reading.high), "marginal": reading.margin == 0}
    found = tuple(row.number(outcome) for outcome in OUTCOMES)
    for outcome, value in zip(OUTCOMES, found, strict=True):
        if shut.get(outcome) and value != 0:
            raise row.broken("{outcome} must be 0, as {key} is open on that side", outcome, reading.key)
    return _whole(row, found, [0.0 if shut.get(outcome) else LEAST_LIKELY for outcome in OUTCOMES])


def _whole(row: CsvRow, found: tuple[float, ...], least: Sequence[float]) -> tuple[float, ...]:
    """Likelihoods that add up to 1, none of them impossible."""
    total = sum(found)
    if not all(value >= low for value, low in zip(found, least, strict=True)) or abs(total - 1) > 1e-6:
        raise row.broken("likelihoods must be above 0 and add up to 1, got {got:g} in all", total)
    return tuple(value / total for value in found)
