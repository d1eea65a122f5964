"""The report of an answer: what is said, once, in pieces that screen, paper and terminal each draw in their own way.

`first_layer` is what everybody sees: what to do, the ruler, what each way costs, and what will have been paid. The
sections behind it say why, what would change it, and what it rests on; each is built when somebody opens it.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby, starmap
from typing import Final

from ...answers.answer import Answer
from ...answers.carbon import carbon_answer
from ...answers.confidence import breakeven_of, has_limit, has_verdict, outcome_distribution_of, ready_paths
from ...answers.scenarios import ScenarioAnswer
from ...arrays import Floats
from ...economics.breakeven import STUDY_PERIOD, BreakevenValues
from ...economics.case import REPAIR, REPLACE, WITHOUT
from ...economics.decision import DecisionConfidence
from ...economics.flows import COST_CATEGORIES
from ...economics.outcomes import OutcomeDistribution
from ...economics.weigh import OptionCost
from ...errors import MendpointError
from . import certainty
from .answer_facts import with_cents
from .carbon_words import carbon_grounds, carbon_headline, carbon_rows, carbon_text, landlord_text
from .certainty import Line
from .grounds import Assumption
from .phrases import rounded_parts
from .ruler import Ruler, about, rival_of, ruler_of
from .words import Words

MOST_CARDS: Final = 3
TOLD_YEARS: Final = (1, 5, 10)
"""Years after which it is told what will have been paid."""
PAID_YEARS: Final = 20
"""How far the chart of what is paid looks ahead at most. [year]"""
HOUSEHOLDS: Final = 2_000
"""Households in which luck is drawn."""
LONGEST_STAY: Final = 20.0
"""Study periods are tried up to this one. [year]"""


@dataclass(frozen=True)
class Piece:
    """A piece of a section: a heading, sentences, small print, rows, a table whose first row is its head, a chart."""

    head: str = ""
    sentences: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    has_chart: bool = False
    """Whether the chart of what each way costs by the quote stands here, where there is one."""
    small: tuple[str, ...] = ()


@dataclass(frozen=True)
class OptionCard:
    """One way, and what it costs: a value for each of the labels of the cards."""

    name: str
    values: tuple[str, ...]
    best: bool = False


@dataclass(frozen=True)
class Paid:
    """What will have been paid by the end of each year with the repair and the best other way. [money]"""

    names: tuple[str, str]
    lines: tuple[Floats, Floats]
    crossing: float
    """Year in which the lines cross for good; NaN where they do not."""
    notes: tuple[str, ...] = ()
    """What of today's cost counts later than today, said."""

    @property
    def marked(self) -> tuple[int, ...]:
        """Years at which the amounts are written beside the lines."""
        last = len(self.lines[0]) - 1
        return (*(year for year in TOLD_YEARS if year <= 0.85 * last), last)  # amounts need a sixth of the width


@dataclass(frozen=True)
class FirstLayer:
    """What everybody sees of an answer."""

    verdict: str
    stopped: bool
    sentences: tuple[str, ...]
    """What to do, then the number, then how sure; where the use must stop, the order alone."""
    ruler: Ruler | None
    labels: tuple[str, ...]
    cards: tuple[OptionCard, ...]
    paid: Paid | None
    gains: tuple[Line, ...]
    """NPV and payback of the cheapest replacement, which is named where it is no usual new one."""
    sums: str = ""
    """Why what is paid and NPV can differ, where both stand."""
    both: str = ""
    """Of two repairs: what to do with each, which costs less in the long run, and of which the rest speaks."""


def first_layer(words: Words, answer: Answer) -> FirstLayer:
    """Build what everybody sees; of an appliance that must not be used the money stands behind a tap."""
    # nothing of buying new while somebody else owes the repair
    gains = () if answer.claim or not has_verdict(answer) else ("net_saving", "simple_payback")
    bought = words.bought(answer) if gains else ""
    npv = {"net_saving": words.say("first.npv_of", name=bought)} if bought else {}
    both, paid = [*words.each_repair(answer)], paid_of(words, answer)
    differ = gains and paid is not None and not math.isnan(answer.measures.net_saving)
    return FirstLayer(
        verdict=words.verdict(answer),
        stopped=bool(answer.weighing.stopped_by),
        sentences=tuple(words.sentences(answer)),
        ruler=ruler_of(answer),
        labels=tuple(words.say(f"card.{label}") for label in ("today", "yearly", "lasts", "another")),
        cards=tuple(_cards(words, answer)),
        paid=paid,
        gains=tuple(Line(npv.get(name, words.say(f"first.{name}")), words.measure(answer, name)) for name in gains),
        sums=words.say("first.sums") if differ else "",
        both=" ".join([*both, words.say("second.rest", name=words.repair_name(answer))]) if both else "",
    )


# the cards


def _cards(words: Words, answer: Answer) -> Iterator[OptionCard]:
    """The repair and the best other ways, at most three; what a caution refuses has none."""
    costs, best = answer.weighing.options, int(answer.weighing.best)
    allowed = [index for index in range(len(answer.case.options)) if not costs[index].blocked_by]
    repairs = [index for index in allowed if costs[index].action == REPAIR]
    others = sorted(set(allowed) - set(repairs), key=lambda index: (costs[index].left_out, costs[index].present_cost))
    settled = has_verdict(answer) and not answer.close and not answer.unpayable
    chosen = repairs[0] if costs[best].action == REPAIR and repairs else best
    for index in [*repairs, *sorted(others[: MOST_CARDS - len(repairs)])]:
        cost = costs[index]
        # the bill and nothing else; of a repair without a quote nobody knows it yet
        today = words.money(answer.bill(cost.option), cents=index in repairs and with_cents(answer))
        yearly = words.money(cost.equivalent_annual_cost)
        if cost.action == REPAIR and cost.option.quote is None:
            today, yearly = words.say("card.not_known"), words.say("card.and_the_bill", amount=yearly)
        chance = answer.another_bill[index].within_2 if index < len(answer.another_bill) else math.nan
        another = words.say("card.none") if math.isnan(chance) else words.odds(chance)
        values = (today, yearly, _years_left(words, answer, cost), another)
        yield OptionCard(words.card_name(answer, cost), values, settled and index == chosen)


def _years_left(words: Words, answer: Answer, cost: OptionCost[float]) -> str:
    if cost.action == WITHOUT:
        return words.say("card.none")
    low, high = answer.years_left(cost.option)
    if high < 1.5:
        return words.years(high)
    return words.say("card.years", low=words.number(low, 0), high=words.number(max(high, low + 1), 0))


# what will have been paid


def paid_of(words: Words, answer: Answer) -> Paid | None:
    """What will have been paid by year with the repair and the best other way; none without a quote to start from."""
    if not has_verdict(answer):
        return None
    costs, measures = answer.weighing.options, answer.measures
    other = rival_of(answer)
    payback = measures.simple_payback if other.action == REPLACE else math.nan
    ahead = max(TOLD_YEARS[-1], math.ceil(payback) + 1 if payback <= PAID_YEARS else 0)
    years = max(min(float(ahead), measures.years), 1.0)
    both = (costs[measures.repair], other)
    lines = [answer.paid(cost)[: math.ceil(years) + 1] for cost in both]
    crossing = payback if 0 < payback <= len(lines[0]) - 1 else math.nan
    names = (words.card_name(answer, both[0]), words.card_name(answer, other))
    later = answer.paid_later([cost.option for cost in both])
    notes = (words.say(f"paid.{part}") for part in later if part != "again")
    return Paid(names, (lines[0], lines[1]), crossing, tuple(notes))


def paid_text(words: Words, paid: Paid) -> str:
    """Say what the chart of what is paid shows, from the same numbers."""
    sentences = []
    for name, line in zip(paid.names, paid.lines, strict=True):
        amounts = [words.say("paid.after", amount=words.money(line[year]), n=str(year)) for year in paid.marked]
        sentences.append(words.say("paid.line", name=name, amounts=", ".join(amounts)))
    if not math.isnan(paid.crossing):
        sentences.append(words.say("paid.crossing", years=words.years(paid.crossing)))
    return " ".join((*sentences, *paid.notes))


# the sections


def why(words: Words, answer: Answer) -> list[Piece]:
    """Why it is so, how sure that is, and what would change it: the quote, and every other input that is ready."""
    blocks, paths = [because(words, answer)], []
    if not has_limit(answer):
        return blocks
    if has_verdict(answer):
        blocks += sure_blocks(words, answer, answer.confidence)
        paths = [path for path in ready_paths(answer) if path != STUDY_PERIOD]
    else:
        limits = certainty.limit_text(words, *answer.decision.limit_range)
        blocks.append(Piece(words.say("report.sure"), tuple(limits), small=(words.say("report.needs_quote"),)))
    flips = tuple(changes(words, answer, [breakeven_of(answer.case, path) for path in paths]))
    note = words.say("report.breakeven_note")
    return [*blocks, Piece(words.say("report.changes"), lines=flips, has_chart=True, small=(note,))]


def because(words: Words, answer: Answer) -> Piece:
    """The reasons in sentences."""
    sentences = (*words.reasons(answer), *words.because(answer), *landlord_text(words, answer), *words.findings(answer))
    return Piece(words.say("section.why"), sentences)


def sure_blocks(words: Words, answer: Answer, found: DecisionConfidence) -> Iterator[Piece]:
    """How sure the verdict is, what is worth finding out, and what moves it most."""
    shares = (
        Line(words.option(name), words.say("report.cheapest_in", share=words.share(share)))
        for name, share in zip(found.names, found.share_cheapest, strict=True)
    )
    drawn = words.say("confidence.drawn", draws=words.number(found.draws, 0))
    yield Piece(
        words.say("report.sure"), tuple(certainty.confidence_text(words, answer, found)), tuple(shares), small=(drawn,)
    )
    asked = tuple(certainty.worth_finding(words, found))
    yield Piece(words.say("report.find"), () if asked else (certainty.nothing_to_find(words, found),), asked)
    moved = certainty.movers(words, answer, found)
    ends = ((each.label, each.low, words.money(each.at_low), each.high, words.money(each.at_high)) for each in moved)
    heads = tuple(words.say(f"report.{head}") for head in ("input", "low", "at_low", "high", "at_high"))
    if moved:
        table = (heads, *ends)
        yield Piece(words.say("report.movers"), table=table, small=(words.say("report.movers_note"),))


def changes(words: Words, answer: Answer, found: Sequence[BreakevenValues]) -> list[Line]:
    """The highest quote worth paying, then where the verdict flips on each of these inputs."""
    return [certainty.quote_row(words, answer), *(certainty.breakeven_row(words, answer, each) for each in found)]


def numbers(words: Words, answer: Answer) -> list[Piece]:
    """What the answer rests on: every figure with who says so, what was entered, and what was taken."""
    lines = words.assumptions(answer)
    figures = [line for line in lines if line.origin == "figure"]
    blocks = [Piece(sentences=tuple(words.money_text(answer)), small=(words.say("report.numbers_note"),))]
    for group, members in groupby(figures, key=lambda line: line.group):
        blocks.append(Piece(group, lines=tuple(_grounds(words, line) for line in members)))
    for origin in ("entered", "plain"):
        rest = tuple(_grounds(words, line) for line in lines if line.origin == origin)
        blocks.append(Piece(words.say(f"report.{origin}_head"), lines=rest))
    return blocks


def _grounds(words: Words, line: Assumption) -> Line:
    value = f"{line.value}, {words.say('report.range', range=line.range)}" if line.range else line.value
    if line.origin != "figure":
        return Line(f"{line.label} ({line.group})", value)
    found = ": ".join(filter(None, (line.status, line.source)))
    return Line(line.label, value, "\n".join(filter(None, (found, line.note))))


def costs(words: Words, answer: Answer) -> list[Piece]:
    """What each way costs in all and what for, today's cost part by part, and replacing as an investment."""
    heads, options = ("option", "today", "yearly", "present", "years", "note"), words.options(answer)
    rows = ((o.name, o.today, o.yearly, o.present, o.years, o.note) for o in options if not o.hidden)
    table = (tuple(words.say(f"report.{head}") for head in heads), *rows)
    ends = math.isfinite(answer.case.household.study_period)
    note = words.say("report.options_note_ends" if ends else "report.options_note")
    blocks = [Piece(words.say("report.options"), table=table, small=(note,)), *_categories(words, answer)]
    for index, row in enumerate(options):
        if row.today and not row.hidden and len(parts := words.today_parts(answer, index)) > 1:
            blocks.append(Piece(words.say("report.today_of", name=row.name), lines=tuple(starmap(Line, parts))))
    name = words.option_name(answer, answer.measures.replacement)
    measured = tuple(starmap(Line, words.measures(answer)))
    blocks.append(Piece(words.say("report.measures", name=name), lines=measured))
    return blocks


def _categories(words: Words, answer: Answer) -> Iterator[Piece]:
    """What the money goes for with each option; amounts add up as printed."""
    shown = [index for index, row in enumerate(words.options(answer)) if row.today and not row.hidden]
    printed = []
    for index in shown:
        amounts = answer.weighing.options[index].by_category
        parts = rounded_parts([float(amounts[category]) for category in COST_CATEGORIES])
        printed.append([*parts, sum(parts, Decimal())])
    names = [*map(words.category, COST_CATEGORIES), words.say("report.present")]
    heads = (words.say("report.input"), *(words.option_name(answer, index) for index in shown))
    rows = (
        (name, *(words.money(amount) for amount in amounts))
        for name, *amounts in zip(names, *printed, strict=True)
        if any(amounts)
    )
    if shown:
        yield Piece(words.say("report.categories"), table=(heads, *rows))


def luck(words: Words, answer: Answer, lived: OutcomeDistribution) -> Piece:
    """What chance alone can change."""
    return Piece(words.say("report.luck"), (certainty.outcome_distribution_text(words, answer, lived),))


def ahead(words: Words, answer: Answer) -> list[Piece]:
    """Repair bills and ends to expect with each way, and what a year's wait or a liking for one of them changes."""
    rows = []
    for cost, bill in zip(answer.weighing.options, answer.another_bill, strict=False):
        if cost.blocked_by or math.isnan(bill.within_2):
            continue
        name, usual = words.card_name(answer, cost), bill.usual
        paid = "" if math.isnan(usual) else words.money(about(usual))
        ends = (words.odds(answer.chance_it_ends(cost.option, years)) for years in (1, 2, 5))
        billed = map(words.odds, (bill.within_1, bill.within_2, bill.within_5))
        rows += [(words.say("ahead.bill", name=name), *billed, paid), (words.say("ahead.ends", name=name), *ends, "")]
    heads = tuple(words.say(f"ahead.{head}") for head in ("what", "within_1", "within_2", "within_5", "usual"))
    bills = Piece(words.say("ahead.bills"), table=(heads, *rows), small=(words.say("ahead.note"),))
    sentences = tuple(words.waiting(answer)) if has_verdict(answer) else ()
    return [*([bills] if rows else []), *([Piece(words.say("ahead.wait"), sentences)] if sentences else [])]


def more(words: Words, answer: Answer) -> list[Piece]:
    """What lies ahead, luck, a stay of some years, and carbon."""
    blocks = ahead(words, answer)
    if has_verdict(answer):
        blocks.append(luck(words, answer, outcome_distribution_of(answer, HOUSEHOLDS)))
        found = breakeven_of(answer.case, STUDY_PERIOD, LONGEST_STAY)
        stay = (certainty.breakeven_row(words, answer, found).text,)
        blocks.append(Piece(words.say("report.stay"), stay, small=(words.say("report.stay_note"),)))
    return [*blocks, *carbon(words, answer)]


def carbon(words: Words, answer: Answer) -> Iterator[Piece]:
    """Which way emits less, and what that rests on."""
    try:
        found = carbon_answer(answer)
    except MendpointError as error:
        yield Piece(words.say("carbon_door.head"), tuple(words.explain(error)))
        return
    sentences = (carbon_headline(words, found), *carbon_text(words, found))
    yield Piece(words.say("carbon_door.head"), sentences, table=tuple(carbon_rows(words, found)))
    grounds = tuple(_grounds(words, line) for line in carbon_grounds(words, answer, found))
    yield Piece(words.say("carbon_door.grounds"), lines=grounds)


def scenario_rows(words: Words, asked: Sequence[ScenarioAnswer]) -> tuple[tuple[str, ...], ...]:
    """What-ifs side by side: a head, then each with its verdict, limit, NPV, payback and break-even; or why none."""
    heads = ("what", "verdict", "limit", "net_present_value", "payback", "breakeven")
    return (tuple(words.say(f"scenario.{head}") for head in heads), *(_scenario(words, each) for each in asked))


def _scenario(words: Words, asked: ScenarioAnswer) -> tuple[str, ...]:
    name, found = words.translated(asked.name), asked.found
    if found is None:
        return name, " ".join(words.explain(asked.error) if asked.error else ()), "", "", "", ""
    limit = found.weighing.repair_limit
    worth = words.money(about(limit)) if limit >= 0 else words.say("scenario.none")
    npv, bought = words.measure(found, "net_saving"), words.bought(found)
    named = words.say("scenario.npv_of", npv=npv, name=bought) if bought else npv
    years = found.measures.simple_payback
    year = (
        words.say("scenario.year", n=str(math.ceil(years))) if math.isfinite(years) else words.say("scenario.no_year")
    )
    return name, words.verdict(found), worth, named, words.measure(found, "simple_payback"), year


@dataclass(frozen=True)
class Gap:
    """What repairing has cost beyond the best other way by the end of each year, in one what-if. [money]"""

    name: str
    line: Floats


def gaps_of(words: Words, asked: Sequence[ScenarioAnswer]) -> list[Gap]:
    """A line for each what-if that has a quote and a repair: where it crosses nothing, both have cost the same."""
    found = ((each, paid_of(words, each.found)) for each in asked if each.found is not None)
    return [Gap(words.translated(each.name), paid.lines[0] - paid.lines[1]) for each, paid in found if paid is not None]


def gaps_text(words: Words, gaps: Sequence[Gap]) -> str:
    """Say where the lines end, from the same numbers."""
    sentences = (
        words.say(
            f"scenario.{'dearer' if gap.line[-1] > 0 else 'cheaper'}",
            name=gap.name,
            amount=words.money(abs(float(gap.line[-1]))),
            n=str(len(gap.line) - 1),
        )
        for gap in gaps
    )
    return " ".join(sentences)


SECTIONS: Final[dict[str, Callable[[Words, Answer], list[Piece]]]] = {
    "why": why,
    "costs": costs,
    "numbers": numbers,
    "more": more,
}
"""What stands behind the first layer, each under a name that leads to it."""
