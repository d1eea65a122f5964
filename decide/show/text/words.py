"""Picks the sentences: from an answer's numbers to what a householder reads. No figure is made here, only said.

The terminal, the screens and the hand-out take their text from `Words`, so they cannot disagree. Money is rounded as it
is printed: a gap is the difference of the two figures beside it, and parts add up to their sum.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, Self

from ...answers.answer import HALF as HALF
from ...answers.answer import Answer
from ...answers.safety import Safety, safety
from ...economics.case import LEAVE, REPAIR, WITHOUT
from ...economics.decision import LEANING
from ...economics.flows import flows_of, paid_today
from ...economics.household import GASES, NATURAL_GAS, PROPANE, Household
from ...economics.weigh import NUMBERS, OptionCost
from ...errors import CaseError, Message
from ...load.cases.filled import USUAL_WARRANTY
from ...load.tables.tables import CURRENCIES, Caution, tables
from .answer_facts import (
    FLOWS,
    course,
    has_quote,
    is_planned,
    is_usual,
    none_found,
    reason_for_none,
    ruled_out,
    running_cost,
    settled_by,
    two_repairs,
    with_cents,
    worth_counts,
    yearly_flow,
)
from .error_texts import ErrorTexts
from .grounds import Assumption as Assumption
from .grounds import Grounds, one
from .grounds import range_of as range_of
from .phrases import rounded, rounded_parts, unit_of
from .ruler import about, rival_of, ruler_of


@dataclass(frozen=True)
class OptionRow:
    """One option of the table, all of it text; an option that is ruled out has no figures."""

    name: str
    today: str
    yearly: str
    present: str
    years: str
    note: str
    hidden: bool = False
    """Whether it is not worth showing: a plan that brings nothing over running the unit until it fails."""


@dataclass(frozen=True)
class CautionLine:
    """A caution; `weight` is one of WEIGHTS, `when` one of WHEN or '' for what always holds."""

    weight: str
    text: str
    who: str
    when: str = ""
    is_open: bool = True
    """Whether it stands there without a tap."""


class Words(Grounds, ErrorTexts):
    """Everything that is said about an answer, in one language."""

    @classmethod
    def for_entries(cls, entries: Mapping[str, Any], language: str | None = None) -> Self:
        """The words of the place in which a case lies, however unfinished; of the first region where it says none."""
        home = entries.get("household", {})
        home = home if isinstance(home, Mapping) else {}
        gas = home.get("gas_kind")
        return cls.for_place(str(home.get("place", home.get("region"))), language, gas if gas in GASES else NATURAL_GAS)

    @classmethod
    def for_place(cls, place: str, language: str | None = None, gas: str = NATURAL_GAS) -> Self:
        """The words of a place, by its code or its name; of the first region where there is no such place."""
        try:
            known = tables().place(place)
        except CaseError:
            return cls.of(language, next(iter(CURRENCIES)))
        return replace(cls.of(language, known.region, known.place), gas=gas)

    @classmethod
    def for_household(cls, household: Household) -> Self:
        """The words of whoever lives there."""
        return cls.for_place(household.place, gas=household.gas_kind)

    # the answer

    def verdict(self, answer: Answer) -> str:
        """Say in a few words what to do; safety goes first, and of two repairs it says of which it speaks."""
        if answer.weighing.stopped_by:  # the fault is named where it is that fault that stops the use
            stops = {fault for c in answer.cautions if c.id in answer.weighing.stopped_by for fault in c.faults}
            named = [_uncapped(self.fault(fault)) for fault in answer.case.faults if fault in stops]
            return self.say("verdict.stop", fault=named[0]) if named else self.say("verdict.stopped")
        if none_found(answer):
            return self.say("verdict.none_found")
        said = self._act(answer)
        if two_repairs(answer):
            return self.say("second.of", name=self.repair_name(answer), verdict=_uncapped(said))
        return said

    def _act(self, answer: Answer) -> str:
        if answer.claim:
            return self.say("verdict.ask_maker" if answer.claim.by == USUAL_WARRANTY else "verdict.claim")
        if answer.unpayable:
            return self.say("verdict.too_dear", most=self.money(answer.case.household.most_today))
        if answer.undecided and answer.all_that_can_be_paid:
            return self.say("verdict.up_to", limit=self.money(answer.weighing.repair_limit))
        if answer.undecided:
            return self.say("verdict.open", limit=self._figures(answer)["limit"])
        leaning = "leaning_" if answer.verdict.state == LEANING else ""
        return self.say("verdict.close" if answer.close else f"verdict.{leaning}{course(answer)}")

    def headline(self, answer: Answer) -> str:
        """Say the answer in full sentences: `sentences` in one."""
        return " ".join(self.sentences(answer))

    def sentences(self, answer: Answer) -> list[str]:
        """Say what to do, the number, and how sure it is; what a caution orders goes first.

        Where the use must stop this is the order and no word of money; that is left to `once_safe`.
        """
        ordered = answer.weighing.stopped_by or ruled_out(answer) or none_found(answer)
        sentences = [self._caution(answer, ordered)] if ordered else []
        return sentences if answer.weighing.stopped_by else [*sentences, *self._money_text(answer)]

    def once_safe(self, answer: Answer) -> str:
        """Say what money says of an appliance that must not be used now; nothing of any other."""
        if not answer.weighing.stopped_by:
            return ""
        return self.say("headline.once_safe", text=" ".join(self._money_text(answer)))

    def _money_text(self, answer: Answer) -> Iterator[str]:
        weighing, facts = answer.weighing, self._figures(answer)
        if none_found(answer) and weighing.repair_limit > 0:
            yield self.say("headline.once_found", **facts)
            return
        if answer.claim and answer.remarks:  # who owes the repair; all else counts if that is refused
            left, usual = answer.claim.years_left, answer.claim.by == USUAL_WARRANTY
            owed = left + one(answer.case.appliance.age) if usual else answer.remarks.guarantee
            yield self.say(f"claim.{answer.claim.by}", years=self.number(owed, 1), span=self.years(owed))
            yield self.say("claim.refused")
            return
        if ruled_out(answer):
            best = weighing.options[int(weighing.best)]
            today = self.money(answer.bill(best.option))
            yield self.say("headline.remains", name=self._called(answer, best), today=today)
            return
        if answer.all_that_can_be_paid:
            yield self.say("headline.cash", most=self.money(answer.case.household.most_today))
            if weighing.cost_of_cash >= HALF and not answer.undecided:
                yield self.say("headline.cost_of_cash", cost=self.money(weighing.cost_of_cash))
            return
        other = self._called(answer, rival_of(answer))
        if weighing.repair_limit < 0:
            yield self.say("headline.negative", gap=facts["below"], name=other)
        elif answer.undecided:
            yield from self._at_what_quote(answer)
        elif worth_counts(answer):
            key = "worth" if "low" in facts and not answer.close else "worth_about" if "low" in facts else "worth_up_to"
            yield self.say(f"headline.{key}", **facts)
        if not answer.undecided:
            yield from self.how_sure(answer)
            if not answer.close and course(answer) == "repair_planned":
                yield self.say("headline.do_repair_planned", years=self.years(weighing.planned_years))

    def message(self, answer: Answer) -> str:
        """Say the answer in two sentences, to be sent or scanned; an order to stop is never shortened."""
        facts, appliance, stopped = self._figures(answer), answer.case.appliance, bool(answer.weighing.stopped_by)
        verdict = self.verdict(answer) if stopped else _uncapped(self.verdict(answer))
        whose = {"kind": self.kind(appliance.kind), "age": self.years(float(appliance.age))}
        known = {**facts, **whose, "verdict": verdict}
        if rows := [*self.each_repair(answer)]:
            return self.say("short.two", **known, both=" ".join(rows))
        head = self.say(f"short.{'stop' if stopped else 'quoted' if 'quote' in facts else 'head'}", **known)
        if stopped or ruled_out(answer):
            return " ".join((head, *self.sentences(answer)))
        worth = "low" in facts and not (answer.claim or answer.undecided)
        return f"{head} {self.say('short.worth', **facts) if worth else next(self._money_text(answer))}"

    def each_repair(self, answer: Answer) -> Iterator[str]:
        """Of each of two repairs what to do and its worth, as its own headline has it, and which costs less."""
        if (second := answer.second) is None or not two_repairs(answer):
            return
        named, gains = (self.repair_name(answer), self.repair_name(second, "second")), []
        for name, found in zip(named, (answer, second), strict=True):
            facts, said, ruler = self._figures(found), [self._act(found)], ruler_of(found)
            if ruler is not None and worth_counts(found):
                said.append(self.say("verdict.open", limit=facts["limit"]))
                gains.append(about(ruler.limit, ruler.certain) - ruler.quote)
            asked = facts.get("quote", self.say("card.not_known"))
            yield self.say("second.verdict", name=name, quote=asked, verdict=", ".join(map(_uncapped, said)))
        saves = answer.second_saves
        if not (math.isnan(saves) or answer.claim or second.claim):
            # no amount that the rounded ones before it would deny
            told = abs(saves) >= HALF and (len(gains) < 2 or (gains[1] - gains[0]) * saves > 0)
            amount = self.money(about(abs(saves), abs(saves) < 5))
            yield self.say(f"second.{'less' if told else 'same'}", name=named[saves > 0], amount=amount)

    def repair_name(self, answer: Answer, which: str = "first") -> str:
        """Name one of two repairs: as somebody named it, or by its number."""
        name = answer.case.repair.name
        return self.say(f"second.{which}") if isinstance(name, Message) else name

    def _at_what_quote(self, answer: Answer) -> Iterator[str]:
        """Up to which quote to say yes, and from which on no; between them it is the reader's call."""
        zones, facts = answer.decision.zones, self._figures(answer)
        act = self.say(f"ruler.{rival_of(answer).action}")
        if "low" not in facts:
            yield self.say("headline.yes_up_to", low=facts["limit"])
            yield self.say("ruler.above", act=act)
            return
        if zones.clear_repair > 0:
            yield self.say("headline.yes_up_to", low=facts["low"])
        yield self.say("headline.no_above", high=facts["high"], act=act)
        yield self.say("headline.between" if zones.clear_repair > 0 else "headline.below")

    def how_sure(self, answer: Answer) -> Iterator[str]:
        """Say in how many tests the verdict came out cheaper, and what the doubt costs unless it is clear."""
        verdict = answer.verdict
        share = self.share(verdict.share_by_act[verdict.act])
        costs = {cost.name: cost for cost in reversed(answer.weighing.options)}
        name, *other = (self._called(answer, costs[each]) for each in (verdict.option, verdict.second) if each)
        yield self.say("sure.cheaper", share=share, name=_capped(name))
        if answer.close and not answer.unpayable:
            amount = self.money(about(max(verdict.expected_loss, verdict.second_loss)))
            if two_repairs(answer):
                yield self.say("sure.either_of", name=_capped(name), other=other[0], amount=amount)
            else:
                yield self.say("sure.either", amount=amount)
                yield self.say(f"settle.{settled_by(answer)}")
        elif verdict.state == LEANING:
            loss = verdict.expected_loss
            yield self.say("sure.risk", amount=self.money(about(loss, fine=loss < 5)))

    def reasons(self, answer: Answer) -> Iterator[str]:
        """What makes even a free repair dear; and after a claim that is refused, what the repair is worth."""
        if not ruled_out(answer) and answer.weighing.repair_limit < 0:
            yield self.say("headline.because", reason=_capped(self._reason_against(answer)))
        if answer.claim and has_quote(answer):
            yield self.say("headline.worth_up_to", **self._figures(answer))

    def _figures(self, answer: Answer) -> dict[str, str]:
        """The quote as it was asked, the limit no finer than it is known, what it may be, and the ends of the call."""
        limit, ruler = answer.weighing.repair_limit, ruler_of(answer)
        quote, fine = answer.weighing.quoted, ruler is None or ruler.certain
        known = {"quote": self.money(quote, cents=with_cents(answer))} if has_quote(answer) else {}
        if ruler is not None:
            known |= {"limit": self.money(about(limit, fine)), "below": self.money(about(-limit, fine))}
            if not fine and ruler.clear_other < ruler.last and ruler.clear_other > 0:
                ends = dict(zip(("least", "most"), answer.decision.limit_range, strict=True))
                ends |= {"low": ruler.clear_repair, "high": ruler.clear_other}
                for name, end in ends.items():
                    shown = about(end)
                    known[name] = self.money(shown) if shown > 0 else self.say("confidence.nothing")
        return known

    def card_name(self, answer: Answer, cost: OptionCost[float]) -> str:
        """Name an option in two words where it is a usual one, and any other by its own name."""
        if cost.action == REPAIR:
            return self.repair_name(answer) if two_repairs(answer) else self.say("card.repair")
        return self.say("card.new") if is_usual(answer, cost) else self.option(cost.name)

    def bought(self, answer: Answer) -> str:
        """Name the replacement that is measured where it is no usual new one; '' where it is."""
        cost = answer.weighing.options[answer.measures.replacement]
        return "" if is_usual(answer, cost) else self._called(answer, cost)

    def _called(self, answer: Answer, cost: OptionCost[float]) -> str:
        """Name an option in the middle of a sentence: a typical new unit by its kind, any other by its own name."""
        if cost.action == REPAIR:
            own = two_repairs(answer)
            return self.say("name.own", name=self.repair_name(answer)) if own else self.say("card.repair")
        if cost.action in (LEAVE, WITHOUT):
            return self.say(f"name.{cost.action}")
        kind = answer.case.appliance_of(cost.option).kind
        if is_usual(answer, cost):
            return self.a_new(kind)
        return self.say("name.own", name=self.option(cost.name))

    def _reason_against(self, answer: Answer) -> str:
        """Say what makes even a free repair dear: the category in which it costs most beyond the best other way."""
        repairs = [cost for cost in answer.weighing.options if cost.action == REPAIR]
        repair, rival = min(repairs, key=lambda cost: cost.present_cost), rival_of(answer)
        more = {category: repair.by_category[category] - rival.by_category[category] for category in repair.by_category}
        worst = max((category for category in more if category != "repair"), key=more.__getitem__)
        here, there = (yearly_flow(answer, cost, worst) for cost in (repair, rival))
        key = worst if worst not in FLOWS or here > there else "price"
        facts = self._flows_in_words(worst, here, there) if key in FLOWS else {}
        return self.say(f"reason.{self._burnt(key)}", years=self.years(repair.expected_remaining_life), **facts)

    def _burnt(self, flow: str) -> str:
        """A flow by what is burnt: gallons of gas would be read as petrol."""
        return PROPANE if flow == "gas" and self.gas == PROPANE else flow

    def waiting(self, answer: Answer) -> Iterator[str]:
        """What buying in a year costs beyond buying now, and what one way must be worth a year to be the better one."""
        for name, more in answer.wait_a_year.items():
            key = "dearer" if more > 0 else "cheaper"
            yield self.say(f"ahead.{key}", name=self.option(name), amount=self.money(about(abs(more))))
        worth, other = answer.worth_more_a_year, self._called(answer, rival_of(answer))
        if math.isfinite(worth):
            key, name = ("other", _capped(other)) if worth > 0 else ("repair", other)
            yield self.say(f"ahead.worth_{key}", name=name, amount=self.money(about(abs(worth))))

    def because(self, answer: Answer) -> list[str]:
        """Say in a few sentences why: the years to expect, what comes after, and the cost of running either."""
        sentences = [*self._why_repair(answer), self._why_rival(answer)]
        sentences += self._cash(answer)
        if not answer.weighing.repair.blocked_by:
            sentences += [*self._why_use(answer), self._why_running(answer)]
        return sentences

    def _cash(self, answer: Answer) -> Iterator[str]:
        """What it costs that no more can be paid today, where that leaves the best way out."""
        cost, most = answer.weighing.cost_of_cash, answer.case.household.most_today
        if math.isnan(cost):
            yield self.say("because.cash_for_none", most=self.money(most))
        elif cost >= HALF:
            yield self.say("because.cash", most=self.money(most), cost=self.money(cost))

    def _why_repair(self, answer: Answer) -> Iterator[str]:
        repair = answer.weighing.repair
        if not repair.blocked_by:
            successor = answer.weighing.options[int(repair.successor)]
            price = flows_of(answer.case, successor.option).again.get("purchase", 0.0)
            facts = {"name": self._called(answer, successor), "price": self.money(price)}
            key = "repaired_then_without" if successor.action == WITHOUT else "repaired"
            yield self.say(f"because.{key}", years=self.years(repair.expected_remaining_life), **facts)

    def _why_rival(self, answer: Answer) -> str:
        rival = rival_of(answer)
        after = answer.weighing.options[int(rival.successor)]
        key = rival.action if after.name == rival.name or rival.action in (LEAVE, WITHOUT) else "replace_then"
        return self.say(
            f"because.{key}",
            name=_capped(self._called(answer, rival)),
            today=self.money(answer.bill(rival.option), cents=with_cents(answer)),
            years=self.years(rival.expected_remaining_life),
            worth=self.money(rival.option.annual_loss_of_use),
            after=self._called(answer, after),
        )

    def _why_use(self, answer: Answer) -> Iterator[str]:
        """What either uses, wherever they differ: it often decides, unless tenants pay for all of it."""
        if (owner := answer.case.household.landlord) is not None and not owner.pays_energy:
            return
        repair, rival = answer.weighing.repair, rival_of(answer)
        for flow in FLOWS:
            facts = self._flows_in_words(flow, *(yearly_flow(answer, cost, flow) for cost in (repair, rival)))
            if not facts["here"].startswith(f"{facts['there']} "):
                yield self.say(f"because.uses_{self._burnt(flow)}", **facts, name=self._called(answer, rival))

    def _flows_in_words(self, flow: str, here: float, there: float) -> dict[str, str]:
        """What two units use a year, as the place counts it, the first with its unit."""
        local = self.local(unit_of(f"appliance.{flow}"), f"appliance.{flow}")
        first, second = (self.number(local.shown(each), 0) for each in (here, there))
        return {"here": self._counted(f"unit.{local.name.partition('/')[0]}", 2, first), "there": second}

    def _why_running(self, answer: Answer) -> str:
        repair, rival = answer.weighing.repair, rival_of(answer)
        here, there = (rounded(running_cost(answer, cost)) for cost in (repair, rival))
        how = "alike" if here == there else "cheaper" if here < there else "dearer"
        facts = {"repair": self.money(here), "gap": self.money(abs(here - there))}
        return self.say(f"because.runs_{how}", name=self._called(answer, rival), **facts)

    def options(self, answer: Answer) -> list[OptionRow]:
        """List the options side by side, in the order of the weighing; what is `hidden` is not worth showing."""
        return [self._option(answer, index) for index in range(len(answer.weighing.options))]

    def _option(self, answer: Answer, index: int) -> OptionRow:
        cost, name = answer.weighing.options[index], self.option_name(answer, index)
        if cost.blocked_by:
            refused = self.say("option.cannot" if cost.action == REPAIR else "option.refused")
            return OptionRow(name, "", "", "", "", refused, hidden=is_planned(answer, index))
        return OptionRow(
            name=name,
            today=self.money(cost.today, cents=with_cents(answer)),
            yearly=self.money(cost.equivalent_annual_cost),
            present=self.money(cost.present_cost),
            years="" if cost.action == WITHOUT else self.years(cost.expected_remaining_life),
            note="; ".join(self._notes(answer, index)),
            hidden=is_planned(answer, index) and cost.present_cost >= answer.weighing.repair.present_cost,
        )

    def option_name(self, answer: Answer, index: int) -> str:
        """Name an option as its case does; the planned replacement with its year."""
        cost = answer.weighing.options[index]
        if not is_planned(answer, index):
            return self.option(cost.name)
        years = self.years(answer.weighing.planned_years)
        return self.say("option.planned", name=self.option(answer.weighing.repair.name), years=years)

    def _notes(self, answer: Answer, index: int) -> Iterator[str]:
        cost = answer.weighing.options[index]
        if index == int(answer.weighing.best) and not (answer.undecided or answer.close):
            yield self.say("option.cheapest")
        if cost.action == REPAIR and cost.option.quote is None:
            yield self.say("option.without_quote")
        if cost.left_out:
            yield self.say("option.left_out", most=self.money(answer.case.household.most_today))

    def today_parts(self, answer: Answer, index: int) -> list[tuple[str, str]]:
        """What an option takes today, piece by piece; the pieces add up to its `today` as printed."""
        cents = with_cents(answer)
        cost = answer.weighing.options[index]
        found = {} if cost.blocked_by else paid_today(answer.case, cost.option)
        amounts = {part: one(amount) for part, amount in found.items() if one(amount)}
        printed = zip(amounts, rounded_parts(list(amounts.values()), 2 * cents), strict=True)
        return [(self.say(f"today.{part}"), self.money(amount, cents=cents)) for part, amount in printed]

    def measures(self, answer: Answer) -> list[tuple[str, str]]:
        """Say what replacing is worth as an investment, each time compared with repairing."""
        unit = self.money(1.0)
        return [(self.say(f"measure.{name}", one=unit), self.measure(answer, name)) for name in NUMBERS]

    def measure(self, answer: Answer, name: str) -> str:
        """Say one measure of replacing as an investment, or why there is none."""
        value: float = getattr(answer.measures, name)
        if math.isnan(value):
            return self.say(f"no_measure.{reason_for_none(answer, name)}")
        if name == "net_saving":
            return self.say("measure.saving" if value >= 0 else "measure.loss", amount=self.money(abs(value)))
        if name.endswith("payback"):
            return self.years(value) if value > 0 else self.say("measure.at_once")
        if name.endswith("rate_of_return"):
            return self.quantity(round(value, 3), "1/year")
        return self.number(value, 2)

    def cautions(self, answer: Answer, reader: str | None = None) -> list[CautionLine]:
        """List what to mind; what cannot be repaired is only replaced."""
        doing = "replace" if ruled_out(answer) else None
        return self.safety_lines(safety(answer.cautions, answer.case.faults, reader, doing))

    def safety_lines(self, found: Safety, ifs: Mapping[str, str] | None = None) -> list[CautionLine]:
        """Say what to mind, stops that hold for one fault of several with its name; local codes and licences last."""
        lines = []
        for each in found.listed:
            text = self.caution_if(each, ifs or {})
            lines.append(CautionLine(each.weight, text, self.who(each), each.when, each in found.in_the_open))
        return [*lines, CautionLine("act", self.say("caution.last"), self.say("caution.who_last"))]

    def caution_if(self, caution: Caution, ifs: Mapping[str, str]) -> str:
        """Say a caution; a stop that holds for one fault of several with its name."""
        text, fault = self.caution_text(caution), ifs.get(caution.id, "") if caution.prohibits else ""
        return self.say("checks.cautions_if", fault=self.fault(fault), text=text) if fault else text

    def caution_lists(self, lines: list[CautionLine]) -> Iterator[tuple[str, list[CautionLine]]]:
        """Part cautions into what to do now, while working and afterwards, each named; '' for what always holds."""
        for when, members in groupby(lines, key=lambda line: line.when):
            yield self.say(f"caution.{when}") if when else "", list(members)

    # figures of an answer

    def _caution(self, answer: Answer, ids: tuple[str, ...]) -> str:
        known = {caution.id: caution for caution in answer.cautions}
        return " ".join(self.caution_text(known[each]) for each in dict.fromkeys(ids))


def _capped(text: str) -> str:
    return text[:1].upper() + text[1:]


def _uncapped(text: str) -> str:
    return text[:1].lower() + text[1:]
