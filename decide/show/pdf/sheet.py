"""One page to hand over: what stands on it, and the page as plain text for who listens to it.

`handout` draws the same sheet as a PDF, so they cannot disagree; all of it comes from the report.
"""

import datetime
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from babel.dates import format_date

from ...answers.answer import Answer
from ...load.tables.symptoms import OWNER
from ...load.tables.tables import tables
from ..text.report import SECTIONS, FirstLayer, ahead, first_layer, paid_text
from ..text.ruler import ruler_text
from ..text.words import CautionLine, Words
from .logo import Shop


@dataclass(frozen=True)
class Sheet:
    """All that stands on the page, in words."""

    shop: Shop
    on: datetime.date
    date: str
    question: str
    facts: tuple[str, ...]
    layer: FirstLayer
    once_safe: str
    cautions: tuple[CautionLine, ...]
    """For the people of the home, the most dangerous first."""
    questions: tuple[str, ...]
    extra: tuple[str, ...]


def sheet_of(
    words: Words,
    answer: Answer,
    *,
    on: datetime.date,
    shop: Shop | None = None,
    extra: Sequence[str] = (),
) -> Sheet:
    """Gather all that stands on the page: in the customer's language, under the shop, dated, with further lines."""
    layer = first_layer(words, answer)
    said = " ".join(layer.sentences)
    lines = [line for line in words.cautions(answer, OWNER) if line.is_open and line.text not in said]
    return Sheet(
        shop=shop or Shop(),
        on=on,
        date=format_date(on, "long", locale=words.locale),
        question=_question(words, answer),
        facts=tuple(_facts(words, answer)),
        layer=layer,
        once_safe=words.once_safe(answer),
        cautions=tuple(lines),
        questions=questions(words, answer),
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
    yield words.say("paper.place", place=words.place(answer.case.household.place))
    yield from words.money_text(answer)
    if answer.case.title:
        yield words.say("paper.named", title=answer.case.title)


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


def handout_text(words: Words, answer: Answer, sheet: Sheet) -> str:
    """The same page as plain text, for a screen reader; what the page has no room for stands here as well."""
    return "\n".join(_lines(words, answer, sheet)) + "\n"


def _lines(words: Words, answer: Answer, sheet: Sheet) -> Iterator[str]:
    """The page as lines, safety before money; then why, all cautions, and every figure."""
    layer, currency = sheet.layer, answer.case.household.currency
    yield from filter(None, (sheet.shop.name, sheet.shop.address, sheet.date, ""))
    yield words.say("paper.title")
    yield sheet.question
    yield from sheet.facts
    yield from ("", layer.verdict, " ".join(layer.sentences))
    cautions = ["", words.say("first.safety")]
    for head, members in words.caution_lists(words.cautions(answer, OWNER)):
        cautions += [*filter(None, (head,)), *(f"- {line.text}" for line in members)]
    if layer.stopped:
        yield from cautions
    yield from filter(None, (sheet.once_safe,))
    if layer.ruler is not None and not layer.stopped:
        yield ruler_text(words, layer.ruler, currency)
    yield ""
    for card in layer.cards:
        facts = (words.say("paper.fact", label=a, value=b) for a, b in zip(layer.labels, card.values, strict=True))
        yield words.say("paper.fact", label=card.name, value="; ".join(facts))
    if layer.paid is not None:
        yield from ("", words.say("first.paid"), paid_text(words, layer.paid, currency))
    yield from (words.say("paper.fact", label=line.label, value=line.text) for line in layer.gains)
    yield from sheet.extra
    yield from ("", words.say("paper.questions"), *(f"- {text}" for text in sheet.questions))
    if not layer.stopped:
        yield from cautions
    for name, build in {**{each: SECTIONS[each] for each in ("why", "costs", "numbers")}, "more": ahead}.items():
        yield from ("", words.say(f"section.{name}"))
        for block in build(words, answer):
            yield from ("", block.head) if block.head else ()
            yield from block.sentences
            for line in block.lines:
                small = f" ({line.small})" if line.small else ""
                yield f"- {words.say('paper.fact', label=line.label, value=line.text)}{small}"
            for row in block.table[1:]:
                cells = (f"{head} {cell}" for head, cell in zip(block.table[0][1:], row[1:], strict=True) if cell)
                yield f"- {words.say('paper.fact', label=row[0], value='; '.join(cells))}"
    yield from ("", words.say("paper.foot"))
