"""The command that says what to check first, what the bill may be, and whether a visit is worth its fee.

`cli.py` adds it to the command `mendpoint`; status and errors are as described there.
"""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

from ...errors import ReadError
from ..terminal.outlet import attributes, print_json
from .given import GIVEN, Figures, argument, home_of, option, tables_with

if TYPE_CHECKING:
    from ...answers.diagnosis import Diagnosis
    from ...load.tables.evidence import Evidence
    from ...load.tables.symptoms import Symptoms
    from ..text.words import Words

WIDTH: Final = 126
"""What the table of checks takes without cutting a code in two. [character]"""


def checks(
    kind: Annotated[str | None, argument("checks.class", metavar="[CLASS]")] = None,
    symptom: Annotated[str | None, argument("checks.symptom", metavar="[SYMPTOM]")] = None,
    place: Annotated[str, option("checks.place")] = "US",
    age: Annotated[float | None, option("checks.age")] = None,
    out: Annotated[str, option("checks.out")] = "",
    found: Annotated[str | None, option("checks.found")] = None,
    answer: Annotated[list[str] | None, option("checks.answer", "--answer", metavar="QUESTION=ANSWER")] = None,
    reading: Annotated[list[str] | None, option("checks.reading", "--reading", metavar="READING=VALUE")] = None,
    covered: Annotated[str, option("checks.covered")] = "",
    meter: Annotated[bool, option("checks.meter", "--meter")] = False,
    fee: Annotated[float | None, option("checks.fee")] = None,
    credited: Annotated[float, option("checks.credited")] = 0.0,
    rate: Annotated[float | None, option("checks.rate")] = None,
    folder: Annotated[Path | None, option("checks.folder")] = None,
    counts: Annotated[Path | None, option("checks.counts")] = None,
    figures: Figures = None,
    json: Annotated[bool, option("checks.json", "--json")] = False,
    everything: Annotated[bool, option("checks.all", "--all")] = False,
) -> None:
    """Say what to check first."""
    from ...answers.diagnosis import diagnose
    from ...load.tables.evidence import evidence, read_folder
    from ...load.tables.symptoms import read_counts, symptoms
    from ...load.tables.tables import tables
    from ..text.words import Words

    GIVEN.set(home_of(place))
    words = Words.for_place(tables().place(place).place)
    region = tables().region_of(place)
    listed, asked = (symptoms(region), evidence()) if folder is None else read_folder(folder, region)
    if kind is None or symptom is None:
        _list(words, listed, None if kind is None else tables().kind(kind).kind, json)
        return
    diagnosis = diagnose(
        kind, symptom, place=place, age=age, out=_ids(out), answers=_pairs(answer, "answer"),
        readings=_values(words, asked, reading), covered=_ids(covered), meter=meter, rate=rate, fee=fee,
        credited=credited, listed=listed, asked=asked, counts=None if counts is None else read_counts(counts, listed),
        reference=tables_with(figures),
    )  # fmt: skip
    if found is not None:
        diagnosis.symptom.which((found,), "found")
    if json:
        print_json({**diagnosis_data(diagnosis, found), **evidence_data(words, diagnosis, found)})
    else:
        _show(words, diagnosis, found, everything)


def _ids(typed: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(part.strip() for part in typed.split(",") if part.strip()))


def _pairs(given: list[str] | None, field: str) -> dict[str, str]:
    """What was given as KEY=VALUE, by key."""
    found: dict[str, str] = {}
    for part in given or ():
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not (key and equals and value):
            raise ReadError(f"--{field}", "{part!r} is not of the form KEY=VALUE", part)
        if key in found:
            raise ReadError(f"--{field}", "{key} is given twice", key)
        found[key] = value
    return found


def _values(words: "Words", asked: "Evidence", given: list[str] | None) -> dict[str, float]:
    """Readings, in the unit of the table or of the region; of one that is not known the value is left to `diagnose`."""
    from ..text.evidence import value_of

    typed = _pairs(given, "reading")
    return {
        key: value_of(words, asked.readings[key], value) if key in asked.readings else 0.0
        for key, value in typed.items()
    }


def _list(words: "Words", listed: "Symptoms", kind: str | None, json: bool) -> None:
    """List the symptoms by class."""
    from ...load.tables.tables import tables
    from ..terminal.layout import Page
    from ..text.checks import symptom_name

    kinds = [each for each in tables().known_classes if kind in (None, each)]
    rows = [(each, found) for each in kinds for found in listed.of_class(each)]
    if json:
        complaints = [{"class": each, "key": s.symptom, "name": symptom_name(words, s)} for each, s in rows]
        print_json({"class": kind, "complaints": complaints})
        return
    page = Page()
    page.heading(words.say("checks.classes"))
    heads = [words.say(f"checks.{head}") for head in ("kind", "code", "symptom")]
    page.table(heads, [(each, s.symptom, symptom_name(words, s)) for each, s in rows])
    if rows:
        page.line()
        page.line(words.say("checks.next", kind=rows[0][0], symptom=rows[0][1].symptom))


def _show(words: "Words", diagnosis: "Diagnosis", found: str | None, everything: bool) -> None:
    """Show what to mind, the checks in their order, the money and the visit."""
    from ..terminal.layout import Page, show_cautions
    from ..text import checks as text
    from ..text.evidence import verdict_text
    from ..text.report import Piece

    page, lines = Page(WIDTH), text.caution_list(words, diagnosis, found)
    page.line(text.title(words, diagnosis), "bold")
    page.heading(words.say("checks.cautions"))
    show_cautions(page, words, lines, everything)
    page.line()
    if found is not None:
        page.line(text.found_text(words, diagnosis, found))
    else:
        page.blocks([Piece(sentences=tuple(text.standing(words, diagnosis)))])
        _show_evidence(page, words, diagnosis)
        _show_checks(page, words, text.check_rows(words, diagnosis), text.ending(words, diagnosis))
        parts = {"checks.money": text.money_text, "checks.visit": text.visit_text, "evidence.verdicts": verdict_text}
        told = {head: tuple(sentences(words, diagnosis)) for head, sentences in parts.items()}
        page.blocks(Piece(words.say(head), sentences) for head, sentences in told.items() if sentences)
        page.line()
        page.line(text.basis_text(words, diagnosis), "dim")


def _show_evidence(page: Any, words: "Words", diagnosis: "Diagnosis") -> None:
    """Show what was seen, what to do next, and all that can be answered and measured."""
    from ...answers.next_step import next_step
    from ..text import evidence as text
    from ..text.report import Piece

    if seen := tuple(map(" ".join, text.seen_rows(words, diagnosis))):
        page.blocks([Piece(words.say("evidence.seen"), seen)])
    page.blocks([Piece(words.say("evidence.next"), (text.step_text(words, diagnosis, next_step(diagnosis)),))])
    if questions := [each for each in diagnosis.questions.values() if each.key not in diagnosis.answers]:
        page.heading(words.say("evidence.questions"))
        heads = [words.say(f"evidence.{head}") for head in ("asked", "key", "answers")]
        answers = ("; ".join(f"{code} ({text.answer_text(words, code)})" for code in q.outcomes) for q in questions)
        lines = zip((text.question_text(words, q) for q in questions), (q.key for q in questions), answers, strict=True)
        page.table(heads, list(lines))
    if tests := [each for each in diagnosis.tests.values() if each.key not in diagnosis.readings]:
        page.heading(words.say("evidence.readings"))
        for test in tests:
            signs = {words.say(f"reading_unit.{test.unit}", n="").strip(): None, text.unit_text(words, test.unit): None}
            page.line(f"{text.reading_name(words, test)} ({', '.join(filter(None, (test.key, *signs)))})", "bold")
            page.line(f"{text.reading_point(words, test)}. {text.how_text(words, test)}")


def _show_checks(page: Any, words: "Words", rows: Any, ends: str) -> None:
    heads = ("cause", "code", "who", "minutes", "share", "cost", "bill")
    page.heading(words.say("checks.order"))
    page.table(
        [words.say(f"checks.{head}") for head in heads],
        [
            (words.say("checks.step", n=str(n), name=r.name), r.cause, r.who, r.minutes, r.share, r.cost, r.bill)
            for n, r in enumerate(rows, 1)
        ],
        range(3, 7),
    )
    if ends:
        page.line(ends)
    page.heading(words.say("checks.to_see"))
    for n, row in enumerate(rows, 1):
        page.line(words.say("checks.step", n=str(n), name=row.name), "bold")
        for sentence in filter(None, (row.look, *row.facts, row.after)):
            page.line(sentence)


def diagnosis_data(diagnosis: "Diagnosis", found: str | None = None) -> dict[str, Any]:
    """Lay a first look out as plain data; a number that does not exist is still NaN here."""
    from ...answers.diagnosis import cautions_of
    from ...load.tables.symptoms import NOBODY

    links, bill, worth, priced = diagnosis.symptom.links, diagnosis.bill, diagnosis.visit, diagnosis.no_repair < 1
    ends = {"low": bill.low, "median": bill.middle, "mean": bill.by_cause, "high": bill.high}
    shares = {"low": 0.1, "quarter": 0.25, "median": 0.5, "three_quarters": 0.75, "high": 0.9}
    return {
        "class": diagnosis.kind,
        "symptom": diagnosis.symptom.symptom,
        "currency": diagnosis.currency,
        "ruled_out": list(diagnosis.out),
        "found": found,
        "found_fault": next((link.cause.fault for link in links if link.cause.cause == found), None),
        "order": [
            {
                **attributes(links[step].cause, "cause", "fault"),
                "chance": float(diagnosis.chance[step]),
                "reached": float(diagnosis.plan.reached[place]),
                **attributes(links[step].cause, "who", "minutes"),
                "check_cost": float(diagnosis.looking.check_cost[step]),
                **{
                    f"repair_{name}": math.nan if links[step].cause.mend == NOBODY else float(end[step])
                    for name, end in ends.items()
                },
                "after": list(links[step].after),
            }
            for place, step in enumerate(diagnosis.steps)
            if step in diagnosis.shown
        ],
        "stops_early": diagnosis.stops_early,
        "expected_checking": float(diagnosis.expected.checking),
        "expected_repair": float(diagnosis.expected.repairing) if priced else math.nan,
        "cannot_be_repaired": diagnosis.no_repair,
        "bill": {name: float(bill.quantile(at)) if priced else math.nan for name, at in shares.items()},
        "bill_mean": float(bill.mean) if priced else math.nan,
        "repair_limit": diagnosis.limit,
        "fee": diagnosis.fee,
        "visit": None if worth is None else {name: float(value) for name, value in vars(worth).items()},
        "cautions": [caution.id for caution, _ in cautions_of(diagnosis, found)],
    }


def evidence_data(words: "Words", diagnosis: "Diagnosis", found: str | None = None) -> dict[str, Any]:
    """Lay out what can be asked and measured, and what was, as plain data."""
    from ...answers.next_step import next_step, why_none
    from ..text.evidence import question_text, reading_name

    step, chances = None if found else next_step(diagnosis), zip(diagnosis.symptom.ids, diagnosis.chance, strict=True)
    return {
        "questions": [
            {"key": q.key, "question": question_text(words, q), "answers": list(q.outcomes), "who": q.who}
            for q in diagnosis.questions.values()
        ],
        "readings": [
            {
                "key": r.key,
                "reading": reading_name(words, r),
                **attributes(r, "unit", "low", "high", "margin", "instrument", "who", "circuit"),
                "status": r.basis.status,
            }
            for r in diagnosis.tests.values()
        ],
        "answered": dict(diagnosis.answers),
        "measured": {
            key: {"value": value, "outcome": diagnosis.tests[key].outcome(value)}
            for key, value in diagnosis.readings.items()
        },
        "shares": {cause: float(chance) for cause, chance in chances},
        "next": None if step is None else attributes(step, "kind", "key", "who", "worth", "cost"),
        "next_reason": why_none(diagnosis, found) if step is None else None,
        "verdict_by_cause": diagnosis.verdicts,
        "limit_by_cause": dict(zip(diagnosis.symptom.ids, map(float, diagnosis.limits), strict=True)),
        "finding_out": diagnosis.finding_out,
        "covered": list(diagnosis.covered),
    }
