"""One page to hand over: what stands on it, and the page as plain text for who listens to it.

`handout` draws the same sheet as a PDF, so they cannot disagree; every word comes from `Words`.
"""

import datetime
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from babel.dates import format_date

from ...answers.answer import Answer
from ...answers.confidence import breakeven_of, confidence_of_answer, has_limit, has_verdict, ready_paths
from ...economics.decision import DecisionConfidence
from ...load.tables.symptoms import OWNER
from ...load.tables.tables import tables
from ..text.certainty import breakeven_row, confidence_text, limit_text, quote_row
from ..text.words import FLOWS, Assumption, CautionLine, OptionRow, Words
from .logo import Shop

FIRST: Final = (
    "repair.remaining_life_factor", "replace.price", "appliance.mean_life", "appliance.electricity", "appliance.gas",
    "household.electricity_price", "household.gas_price", "household.rate", "appliance.maintenance_and_repair",
)  # fmt: skip
"""Inputs that move most answers: they are named first among what an answer rests on."""

BREAKEVEN_INPUTS: Final = 3
"""Inputs besides the quote on which a flip is told."""

QUESTIONS: Final = 5

HEADS: Final = ("option", "today", "yearly", "present", "years", "note")


@dataclass(frozen=True)
class Sheet:
    """All that stands on the page, in words."""

    shop: Shop
    on: datetime.date
    date: str
    question: str
    facts: tuple[str, ...]
    verdict: str
    headline: str
    once_safe: str
    stopped: bool
    cautions: tuple[CautionLine, ...]
    options: tuple[OptionRow, ...]
    because: tuple[str, ...]
    confidence: tuple[str, ...]
    shares: tuple[tuple[float, str], ...]
    """In what share of samples each option is the cheapest, and how that is said."""
    breakeven_values: tuple[tuple[str, str], ...]
    questions: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    extra: tuple[str, ...]


def handout_text(words: Words, answer: Answer, sheet: Sheet) -> str:
    """The same page as plain text, for a screen reader; what the page has no room for stands here as well."""
    return "\n".join(_lines(words, answer, sheet)) + "\n"


def sheet_of(
    words: Words,
    answer: Answer,
    *,
    on: datetime.date,
    shop: Shop | None = None,
    extra: Sequence[str] = (),
) -> Sheet:
    """Gather all that stands on the page.

    Parameters
    ----------
    words : Words
        The customer's language.
    answer : Answer
    on : date
        The day that it bears.
    shop : Shop, optional
        Name, address line and logo to print above.
    extra : sequence of str
        Further lines about the answer.
    """
    confidence = confidence_of_answer(answer)
    order = {origin: rank for rank, origin in enumerate(("figure", "entered", "plain"))}
    places = {path: rank for rank, path in enumerate(FIRST)}

    def rank(line: Assumption) -> tuple[bool, int, int]:
        """What counts most first: figures, then what was entered; a price of energy on which no unit runs last."""
        bare = ".".join(step for step in line.path.split(".") if not step.isdigit())
        fuel = bare.removeprefix("household.").removesuffix("_price")
        idle = fuel in FLOWS and not any(float(cost.by_category[fuel]) for cost in answer.weighing.options)
        return idle, order[line.origin], places.get(bare, len(places))

    return Sheet(
        shop=shop or Shop(),
        on=on,
        date=format_date(on, "long", locale=words.locale),
        question=_question(words, answer),
        facts=tuple(_facts(words, answer)),
        verdict=words.verdict(answer),
        headline=words.headline(answer),
        once_safe=words.once_safe(answer),
        stopped=bool(answer.weighing.stopped_by),
        cautions=tuple(line for line in words.cautions(answer, OWNER) if line.is_open),
        options=tuple(row for row in words.options(answer) if not row.hidden),
        because=(*words.because(answer), *words.findings(answer)),
        confidence=tuple(_confidence_text(words, answer, confidence)),
        shares=tuple(_shares(words, confidence)),
        breakeven_values=tuple(_breakeven_values(words, answer)),
        questions=questions(words, answer)[:QUESTIONS],
        assumptions=tuple(sorted(words.assumptions(answer), key=rank)),
        extra=tuple(extra),
    )


def _question(words: Words, answer: Answer) -> str:
    appliance = answer.case.appliance
    facts = {"kind": words.kind(appliance.kind), "age": words.years(float(appliance.age))}
    if not answer.case.fault:
        return words.say("paper.question_without_fault", **facts)
    fault = words.fault(answer.case.fault)
    return words.say("paper.question", **facts, fault=fault[:1].lower() + fault[1:])


def _facts(words: Words, answer: Answer) -> Iterator[str]:
    quoted, currency = answer.weighing.quoted, answer.case.household.currency
    if math.isfinite(quoted):
        shown = words.money(quoted, currency, cents=abs(quoted - round(quoted)) >= 0.005)
        yield words.say("paper.quote", quote=shown)
    else:
        yield words.say("paper.no_quote")
    yield words.say("paper.place", place=words.place(answer.case.household.place))
    yield from words.money_text(answer)
    if answer.case.title:
        yield words.say("paper.named", title=answer.case.title)


def _confidence_text(
    words: Words, answer: Answer, confidence: DecisionConfidence | tuple[float, float] | None
) -> list[str]:
    if confidence is None:
        return []
    if isinstance(confidence, DecisionConfidence):
        return confidence_text(words, answer, confidence)
    return limit_text(words, answer, *confidence)


def _shares(words: Words, confidence: DecisionConfidence | tuple[float, float] | None) -> Iterator[tuple[float, str]]:
    if isinstance(confidence, DecisionConfidence):
        for name, share in zip(confidence.names, confidence.share_cheapest, strict=True):
            facts = {"name": words.option(name), "share": words.share(share)}
            yield share, words.say("paper.share", **facts)


def _breakeven_values(words: Words, answer: Answer) -> Iterator[tuple[str, str]]:
    """Where the verdict flips: on the quote first; nothing where the repair is ruled out."""
    if not has_limit(answer):
        return
    row = quote_row(words, answer)
    yield row.label, row.text
    if has_verdict(answer):
        for path in ready_paths(answer)[:-1][:BREAKEVEN_INPUTS]:  # the last takes a search of its own
            row = breakeven_row(words, answer, breakeven_of(answer.case, path))
            yield row.label, row.text


def questions(words: Words, answer: Answer) -> tuple[str, ...]:
    """What to ask the technician, what counts most first."""
    return tuple(words.say(f"question.{key}") for key in _asked(answer))


def _asked(answer: Answer) -> Iterator[str]:
    """What to ask the technician, what counts most first, as the keys of the questions name it."""
    case, taken = answer.case, {default.field for default in answer.defaults}
    repair = answer.weighing.repair
    if answer.weighing.stopped_by:
        yield "safe"
    if not repair.blocked_by:
        yield "quote" if math.isnan(answer.weighing.quoted) else "firm"
    if "gas" in tables().known_classes[case.appliance.kind].fuels:
        yield "gas"
    if tables().opens_the_circuit(case.fault):
        yield "sealed"
    if not repair.blocked_by:
        yield "part"
        yield "warranty"
        if "repair.remaining_life_factor" in taken:
            yield "wear"
        yield "wait"
    yield "maker"


def _lines(words: Words, answer: Answer, sheet: Sheet) -> Iterator[str]:
    """The page as lines, safety before money."""
    yield from filter(None, (sheet.shop.name, sheet.shop.address, sheet.date, ""))
    yield words.say("paper.title")
    yield sheet.question
    yield from sheet.facts
    cautions = ["", words.say("paper.cautions")]
    for head, members in words.caution_lists(list(sheet.cautions)):
        cautions += [*filter(None, (head,)), *(f"- {line.text}" for line in members)]
    yield from ("", sheet.verdict, sheet.headline)
    if sheet.stopped:
        yield from cautions
    yield from filter(None, (sheet.once_safe,))
    yield from _listed(words, "options", [_option(words, row) for row in sheet.options])
    yield from _listed(words, "why", [*sheet.because, *_chart_text(words, answer), *sheet.extra])
    yield from _listed(words, "confidence", [*sheet.confidence, *(text for _, text in sheet.shares)])
    facts = [words.say("paper.fact", label=label, value=text) for label, text in sheet.breakeven_values]
    yield from _listed(words, "breakeven_values", facts)
    yield from _listed(words, "questions", sheet.questions)
    if not sheet.stopped:
        yield from cautions
    yield from _listed(words, "assumptions", [_assumed(words, line) for line in sheet.assumptions])
    yield from ("", words.say("paper.foot"))


def _listed(words: Words, head: str, lines: Sequence[str]) -> list[str]:
    return ["", words.say(f"paper.{head}"), *(f"- {line}" for line in lines)] if lines else []


def _option(words: Words, row: OptionRow) -> str:
    cells = dict(zip(HEADS[1:], (row.today, row.yearly, row.present, row.years, row.note), strict=True))
    sentences = [
        words.say("paper.fact", label=words.say(f"paper.{key}"), value=cell) for key, cell in cells.items() if cell
    ]
    return words.say("paper.fact", label=row.name, value="; ".join(sentences))


def _chart_text(words: Words, answer: Answer) -> list[str]:
    if not has_limit(answer):
        return []
    from ..charts.drawn import breakeven_alt  # here, since it draws as well

    return [breakeven_alt(answer, words)]


def _assumed(words: Words, line: Assumption) -> str:
    facts = {"label": f"{line.group}, {line.label}", "value": line.value, "status": line.status}
    if line.origin != "figure":
        return words.say("paper.plain", **facts)
    return words.say("paper.weighed", **facts, range=line.range or "-", source=line.source or line.note)
