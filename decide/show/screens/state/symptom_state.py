"""What the page at home keeps beside the fields of a case: step, symptom, and what was found. No screen here."""

from collections.abc import Mapping
from typing import Any, Final

from ....load.tables.evidence import OWN_TABLES, Evidence, evidence, read_kept
from ....load.tables.symptoms import Symptom, Symptoms, symptoms
from ....load.tables.tables import tables
from ....load.tables.typed import LONGEST

STEPS: Final = ("fault", "checks", "unit", "home", "quote", "answer")
"""The way through the page, a step at a time."""

SYMPTOM_FIELDS: Final = {
    "step": "1",
    "symptom": None,
    "out": "",
    "finding": "",
    "rents": None,
    "answers": "",
    "measured": "",
    "covered": None,
}
"""Fields of the page at home, each with what an empty one holds: the step that is open, the symptom, the causes ruled
out with commas between them, the cause that was found, and whether the home is rented; then what was answered and what
was measured as it was typed, `KEY=VALUE` with semicolons between them; and whether the maker still pays a part."""

LONGEST_PAIRS: Final = 4_000
"""Of a text in an address. [character]"""

ELSE: Final = "else"
"""Chosen in place of a symptom: none of those listed, or somebody told the cause."""


def checks_of(fields: Mapping[str, Any]) -> tuple[Symptoms, Evidence]:
    """What is listed where the household lives, asked and measured; with the shop's own tables, where it has any."""
    region, own = tables().region_of(str(fields["place"])), fields.get(OWN_TABLES)
    return read_kept(own, region) if own else (symptoms(region), evidence())


def symptoms_of(fields: Mapping[str, Any]) -> Symptoms:
    """What is listed where the household lives."""
    return checks_of(fields)[0]


def symptom_of(fields: Mapping[str, Any], known: Symptoms) -> Symptom | None:
    """The symptom that is chosen, with all that can be behind it."""
    listed = {each.symptom: each for each in known.of_class(str(fields.get("kind")))}
    return listed.get(str(fields.get("symptom")))


def settled_look(fields: Mapping[str, Any], known: Symptoms) -> dict[str, Any]:
    """Fields that hang together: a symptom of the class, findings of the symptom, and a step that can be taken."""
    symptom = symptom_of(fields, known)
    chosen = symptom.symptom if symptom else None
    if symptom is None and known.of_class(str(fields.get("kind"))):
        chosen = ELSE if fields.get("symptom") == ELSE or fields.get("fault") else None
    causes = {link.cause.cause: link.cause for link in symptom.links} if symptom else {}
    out = [cause for cause in dict.fromkeys(split(fields.get("out"))) if cause in causes]
    finding = str(fields.get("finding") or "")
    if finding not in causes or causes[finding].fault != fields.get("fault"):
        finding = ""
    found = {"symptom": chosen, "out": ",".join(out), "finding": finding, **_settled_evidence(fields, symptom)}
    # the step that is asked for, or the first one before it without which the rest makes no sense
    asked, last = str(fields.get("step")), lacking_step({**fields, **found}) or len(STEPS)
    return {**found, "step": str(min(int(asked), last)) if asked in map(str, range(1, len(STEPS) + 1)) else "1"}


def _settled_evidence(fields: Mapping[str, Any], symptom: Symptom | None) -> dict[str, str]:
    """What was answered and measured, as far as it goes with the symptom that is chosen."""
    known, about = checks_of(fields)[1], symptom.symptom if symptom else ""
    answers = {
        key: answer
        for key, answer in pairs(fields.get("answers")).items()
        if key in known.questions and about in known.questions[key].symptoms and answer in known.questions[key].outcomes
    }
    measured = {
        key: typed
        for key, typed in pairs(fields.get("measured")).items()
        if symptom and key in known.readings and not known.readings[key].likelihoods.keys().isdisjoint(symptom.ids)
    }
    return {"answers": joined(answers), "measured": joined(measured)}


def pairs(text: object) -> dict[str, str]:
    """Keys with their values that stand in one text."""
    parts = (part.partition("=") for part in str(text or "")[:LONGEST_PAIRS].split(";"))
    return {key: value for key, equals, value in parts if key and equals and value.strip()}


def joined(found: Mapping[str, str]) -> str:
    """Keys with their values in one text; what parts them is taken out of a value."""
    return ";".join(f"{key}={value.replace(';', ' ')[:LONGEST]}" for key, value in found.items())


def lacking_step(fields: Mapping[str, Any]) -> int | None:
    """The first step that still lacks something that the answer needs."""
    is_chosen = fields.get("fault") or fields.get("symptom") not in (None, ELSE)
    if not (fields.get("kind") and is_chosen):
        return 1
    return None if fields.get("age") or fields.get("age_about") else STEPS.index("unit") + 1


def split(causes: object) -> list[str]:
    """Causes that stand in one text."""
    return [cause for cause in str(causes or "").split(",") if cause]
