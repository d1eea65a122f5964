"""One page to hand over: what stands on it, and the same page as plain text for who listens to it.

`handout` draws the same sheet as a PDF, so they cannot disagree. An order to stop the use makes it a notice of danger.
"""

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from babel.dates import format_date

from ...answers.answer import Answer
from ...load.tables.symptoms import OWNER
from ...load.tables.tables import tables
from ..text.answer_facts import has_quote
from ..text.report import FirstLayer, first_layer, paid_text
from ..text.ruler import ruler_text
from ..text.words import Words
from .logo import Shop


@dataclass(frozen=True)
class Sheet:
    """All that stands on the page, in words."""

    shop: Shop
    on: datetime.date
    sender: tuple[str, ...]
    """How the shop is reached, and its licence."""
    dates: tuple[str, ...]
    """The day, who came, and until when the price stands."""
    question: str
    found: tuple[str, ...]
    """What was found and measured."""
    layer: FirstLayer
    cautions: tuple[str, ...]
    """For the people of the home, the most dangerous first."""
    notice: tuple[tuple[str, str], ...]
    """Of a danger: what is wrong, what to do, what not to do, and who to call, each with its head."""
    boxes: tuple[str, ...]
    """A head, and what is ticked below it: what is chosen, or of a danger what was shut off."""
    closing: tuple[str, ...]
    message: str
    """The answer in two sentences with the shop's phone, for the code and to be sent."""
    customer: str = ""
    """Whose it is, on the line for who signs."""


def sheet_of(
    words: Words,
    answer: Answer,
    *,
    on: datetime.date,
    shop: Shop | None = None,
    found: Sequence[str] = (),
    customer: str = "",
) -> Sheet:
    """Gather all that stands on the page, in the customer's language; `found` is what was found and measured."""
    shop, layer = shop or Shop(), first_layer(words, answer)
    sender = (shop.phone, shop.address, words.say("sheet.licence", licence=shop.licence) if shop.licence else "")
    dates = [format_date(on, "long", locale=words.locale)]
    dates += [words.say("sheet.technician", name=shop.technician)] if shop.technician else []
    if shop.valid_days and has_quote(answer) and not layer.stopped:
        until = format_date(on + datetime.timedelta(shop.valid_days), "medium", locale=words.locale)
        dates.append(words.say("sheet.valid", date=until))
    text = " ".join(layer.sentences)
    *lines, last = (line for line in words.cautions(answer, OWNER) if line.is_open and line.text not in text)
    lines = [line for line in lines if line.when != "working"]  # that is for whoever works on it
    orders = sum(line.weight in ("stop", "first") for line in lines)  # they stand first, and are long
    lines = [*lines[: max(orders, 2 if layer.stopped or orders else 3)], last]
    return Sheet(
        shop=shop,
        on=on,
        sender=tuple(filter(None, sender)),
        dates=tuple(dates),
        question=_question(words, answer),
        found=tuple(found),
        layer=layer,
        cautions=tuple(line.text for line in lines),
        notice=tuple(_notice(words, answer, shop, found, text)) if layer.stopped else (),
        boxes=tuple(_boxes(words, answer, layer)),
        closing=tuple(_closing(words, answer, shop)),
        message=message_of(words, answer, shop),
        customer=customer,
    )


def message_of(words: Words, answer: Answer, shop: Shop) -> str:
    """The answer in two sentences, and who gave it."""
    sender = ", ".join(filter(None, (shop.name, shop.phone)))
    text = f"{words.message(answer)} {sender}." if sender else words.message(answer)
    return text.replace("\xa0", " ").replace("\u202f", " ")  # in a text message each space may break


def _question(words: Words, answer: Answer) -> str:
    appliance = answer.case.appliance
    facts = {"kind": words.kind(appliance.kind), "age": words.years(float(appliance.age))}
    if not answer.case.fault:
        return words.say("paper.question_without_fault", **facts)
    named = (words.fault(fault) for fault in answer.case.faults)
    return words.say("paper.question", **facts, fault=" + ".join(fault[:1].lower() + fault[1:] for fault in named))


def _notice(words: Words, answer: Answer, shop: Shop, found: Sequence[str], order: str) -> Iterator[tuple[str, str]]:
    """What is wrong, the order as it stands, what must not be done, and who to call."""
    never = ["use", *(["repair"] if answer.weighing.repair.blocked_by else [])]
    name = ", ".join(filter(None, (shop.name, shop.phone))) or words.say("sheet.licensed")
    for head, text in (
        ("wrong", " ".join((f"{_question(words, answer)}.", *found))),
        ("order", order),
        ("never", " ".join(words.say(f"sheet.never_{each}") for each in never)),
        ("call", words.in_place("sheet.call_text", name=name)),
    ):
        yield words.say(f"sheet.{head}"), text


def _boxes(words: Words, answer: Answer, layer: FirstLayer) -> Iterator[str]:
    if layer.stopped:
        yield words.say("sheet.off")
        burns_gas = "gas" in tables().known_classes[answer.case.appliance.kind].fuels
        for each in ("gas", "power", "water", "tag")[not burns_gas :]:
            yield words.say(f"sheet.off_{each}")
        return
    second = [words.repair_name(answer.second, "second")] if answer.second and layer.both else []
    yield from (words.say("sheet.choose"), *(card.name for card in layer.cards), *second, words.say("sheet.later"))


def _closing(words: Words, answer: Answer, shop: Shop) -> Iterator[str]:
    """Where the numbers come from, which of them stand for others, and what becomes of the visit."""
    if not answer.weighing.stopped_by:
        yield " ".join((words.say("sheet.numbers"), *words.money_text(answer)[1:]))
    if shop.name:
        yield words.say("sheet.kept")


def sheet_text(words: Words, sheet: Sheet) -> str:
    """The same page as plain text, safety before money."""
    return "\n".join(_lines(words, sheet)) + "\n"


def _lines(words: Words, sheet: Sheet) -> Iterator[str]:
    def fact(label: str, text: str) -> str:
        return words.say("paper.fact", label=label, value=text)

    layer = sheet.layer
    yield from filter(None, (sheet.shop.name, *sheet.sender, *sheet.dates, "", sheet.question))
    cautions = ("", words.say("first.safety"), *(f"- {line}" for line in sheet.cautions))
    if layer.stopped:
        yield from ("", words.say("sheet.danger"), *(fact(*each) for each in sheet.notice), *cautions)
    else:
        yield from (*sheet.found, "", layer.verdict, " ".join(layer.sentences))
        if layer.ruler is not None:
            yield ruler_text(words, layer.ruler)
        yield ""
        for card in layer.cards:
            yield fact(card.name, "; ".join(fact(*each) for each in zip(layer.labels, card.values, strict=True)))
        yield from filter(None, (layer.both,))
        if layer.paid is not None:
            yield from ("", words.say("first.paid"), paid_text(words, layer.paid))
        yield from cautions
    yield from ("", *sheet.closing)


def questions(words: Words, answer: Answer) -> tuple[str, ...]:
    """What to ask the technician, what counts most first."""
    kind, blocked = answer.case.appliance.kind, bool(answer.weighing.repair.blocked_by)
    asked = {
        "safe": bool(answer.weighing.stopped_by),
        "quote": not blocked and not has_quote(answer),
        "firm": not blocked and has_quote(answer),
        "gas": "gas" in tables().known_classes[kind].fuels,
        "sealed": any(map(tables().opens_the_circuit, answer.case.faults)),
        "part": not blocked,
        "warranty": not blocked,
        "wear": not blocked and "repair.remaining_life_factor" in {default.field for default in answer.defaults},
        "wait": not blocked,
        "maker": True,
    }
    return tuple(words.say(f"question.{key}") for key, applies in asked.items() if applies)
