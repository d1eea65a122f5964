"""What an answer rests on, said: every input with who says so, how it was worked out, and what a meter found."""

import datetime
import math
from collections.abc import Iterator
from dataclasses import MISSING, dataclass, fields
from typing import TYPE_CHECKING, Final

from ...answers.answer import Answer
from ...economics.case import Input, inputs, option_paths
from ...energy.consumption import ROUGH
from ...errors import Message, gaps_of
from ...load.cases.parts.entries import ENTERED_WITH
from ...load.cases.reading import DefaultUsed, Derived
from ...load.tables.labels import Basis
from .freshness import dated, money_of, stands_for
from .phrases import DECLARED, Phrases, noun_of
from .ruler import about

if TYPE_CHECKING:
    from ...load.cases.measured import AgainstRated

JUDGED: Final = "judgement"

SURE: Final = 0.9
FAR: Final = 1.2
"""A measured use is told to be above the rated one from this chance on, and far above from this ratio on: homes differ
from the test by some, so that less is no finding. Judgements. [-]"""
AMOUNTS: Final = frozenset({"new", "most", "usual", "entered", "there"})
"""Facts of a rule that are amounts of what it works out."""

LEAST_GAP: Final = 0.01
FULL_OF_GAPS: Final = 0.5
"""Shares of a log from which what is missing is told beside its figure, and with the answer itself. Judgements. [-]"""


@dataclass(frozen=True)
class Assumption:
    """One input of the answer: what was taken, and who says so."""

    path: str
    group: str
    label: str
    value: str
    status: str
    origin: str
    """`entered`, `figure` (from the tables, or worked out from a label, a meter, a tariff) or `plain` (what nothing
    entered means)."""
    range: str = ""
    source: str = ""
    note: str = ""


class Grounds(Phrases):
    """Everything that is said of what an answer rests on."""

    def assumptions(self, answer: Answer, this_year: int | None = None) -> list[Assumption]:
        """List every input with what was taken for it, and who says so where nobody entered it."""
        this_year = this_year or datetime.date.today().year
        used = {default.field: default for default in answer.defaults}
        derived = {each.field: each for each in answer.derived}
        named = {entry.path for entry in inputs(answer.case)}
        lines = [self.taken(default, this_year) for path, default in used.items() if path not in named]
        for entry in inputs(answer.case):
            if entry.path in derived:
                lines.append(self._derived(derived[entry.path]))
            elif entry.path in used:
                lines.append(self.taken(used[entry.path], this_year))
            elif _can_be_entered(entry.path) and not (
                entry.path.endswith(".most_today") and math.isinf(one(entry.value))
            ):
                lines.append(self._entered(answer, entry))
        order = list(dict.fromkeys(self.noun(entry.path) for entry in inputs(answer.case)))
        return sorted(lines, key=lambda line: order.index(line.group))

    def taken(self, default: DefaultUsed, this_year: int) -> Assumption:
        """Say a figure of the tables that was taken; where it is printed, or the reason of a judgement."""
        figure, facts = default.estimate, {}
        judged = figure.status == JUDGED
        if not judged:
            facts = {"citation": figure.source.citation, "locator": figure.locator, "year": str(figure.year)}
        sentences = (
            *dated(self, default, this_year),
            self.translated(self._in_units_of_the_place(default)),
            "" if judged else figure.note,
        )
        return self.assumed(
            default.field,
            default.value,
            default.unit,
            range=self._ends(*range_of(default), default.unit, default.field),
            source=figure.note if judged else self.say("assumption.source", **facts),
            status=self.status(figure.status),
            note="; ".join(filter(None, sentences)),
        )

    def assumed(self, path: str, value: float, unit: str, **changed: str) -> Assumption:
        """One input with its value, and what else is said of it."""
        usual = {"group": self.noun(path), "label": self.label(path), "origin": "figure"}
        return Assumption(path=path, value=self.quantity(value, unit, path), **usual | changed)

    def _in_units_of_the_place(self, default: DefaultUsed) -> str:
        """How a value follows, with the amounts in it as people of the place count them."""
        rule, local = default.rule, self.local(default.unit, default.field)
        if not isinstance(rule, Message) or local.factor == 1:
            return rule
        facts = {name: local.shown(fact) if name in AMOUNTS else fact for name, fact in rule.facts.items()}
        return Message(rule.template, *(facts[name] for name in gaps_of(rule.template)))

    def money_text(self, answer: Answer) -> list[str]:
        """Say whose money amounts are in, and which price of energy that counts is not the place's own."""
        sentences = [money_of(self)]
        for default in answer.defaults:
            fuel = default.field.removeprefix("household.").removesuffix("_price")
            if default.stands_for and any(one(cost.by_category[fuel]) for cost in answer.weighing.options):
                label, text = self.label(default.field), stands_for(self, default.stands_for)
                sentences.append(self.say("freshness.named", label=label, text=text))
        return sentences

    def _derived(self, derived: Derived) -> Assumption:
        how = " ".join(self._how(derived))
        return self.assumed(
            derived.field,
            derived.value,
            derived.unit,
            range=self._ends(derived.low, derived.high, derived.unit, derived.field),
            source="; ".join(self._citations(derived.bases)) or how,
            status=self.status(derived.status),
            note=how if derived.bases else "",
        )

    def _ends(self, low: float | None, high: float | None, unit: str, path: str) -> str:
        if high is None:
            return ""
        highest = self.quantity(high, unit, path)
        if low is None:
            return self.say("assumption.at_most", high=highest)
        return self.say("assumption.range", low=self.figure(low, unit, path), high=highest)

    def _how(self, derived: Derived) -> Iterator[str]:
        """Say how an input was worked out."""
        key = derived.way
        if key in ("log", "readings") and "runs" in derived.facts:
            key += "_of_runs"
        if key == "class" and derived.low is None:
            key = "best_class"
        facts = {name: self.number(value, 1) for name, value in derived.facts.items() if math.isfinite(value)}
        yield self.say(f"derived.{key}", text=derived.source, **facts)
        yield from self._gaps(derived, LEAST_GAP)
        if derived.counts:
            yield self.say(f"derived.counts_{derived.counts}")
        yield from map(self.translated, derived.remarks)

    def _gaps(self, derived: Derived, told_from: float) -> Iterator[str]:
        if (missing := derived.facts.get("missing", 0.0)) >= told_from:
            yield self.say("derived.gaps", share=self.percent(missing, 0 if missing < 0.995 else 1))

    def _citations(self, bases: tuple[Basis, ...]) -> Iterator[str]:
        """One citation a source, with the places in it."""
        for citation, year in dict.fromkeys((basis.source, basis.year) for basis in bases):
            places = dict.fromkeys(basis.locator for basis in bases if (basis.source, basis.year) == (citation, year))
            yield self.say("assumption.source", citation=citation, locator="; ".join(places), year=str(year))

    def findings(self, answer: Answer) -> list[str]:
        """Say what of the entries asks for a second look: age, quote, and how measured uses compare with rated ones."""
        return [*self._remarks(answer), *self.to_look_at(answer)]

    def to_look_at(self, answer: Answer) -> Iterator[str]:
        """Say whether to look at the unit before so large a bill, and of a meter: its gaps, and how it compares."""
        if answer.look_first:
            yield self.say("remark.look_first", years=self.number(one(answer.case.appliance.age), 0))
        for derived in answer.derived:
            facts = derived.facts
            if "runs" not in facts and facts.get("hours", ROUGH) < ROUGH:
                yield self.say("finding.short", hours=self.number(facts["hours"], 1))
            yield from self._gaps(derived, FULL_OF_GAPS)
        for found in answer.findings:
            yield from self.against_rated(found)

    def _remarks(self, answer: Answer) -> Iterator[str]:
        found = answer.remarks
        if found is None:
            return
        if answer.unusual:
            yield self.unusual(answer)
        if found.beyond_data:
            life = self.number(one(answer.case.appliance.mean_life), 0)
            yield self.say("remark.beyond_data", years=self.number(one(answer.case.appliance.age), 0), life=life)

    def unusual(self, answer: Answer) -> str:
        """Ask whether a quote far from the usual one is meant."""
        usual = answer.remarks.usual if answer.remarks else None
        facts = {end: self.money(about(getattr(usual, end))) for end in ("low", "high")}
        return self.say("remark.unusual", quote=self.price(one(answer.weighing.quoted)), **facts)

    def against_rated(self, measured: "AgainstRated") -> list[str]:
        """Say how a measured use compares with the rated one; far above, with the checks that cost next to nothing."""
        ratio, excess = measured.finding.ratio, measured.finding.excess
        far = one(measured.finding.chance_above) >= SURE and one(ratio.value) >= FAR
        below = one(measured.finding.chance_above) <= 1 - SURE
        facts = {
            "ratio": self.number(one(ratio.value), 2),
            "rated": self.quantity(measured.rated, "kWh/year"),
            "excess": self.quantity(round(one(excess.value)), "kWh/year"),
            "low": self.number(one(excess.low), 0),
            "high": self.number(one(excess.high), 0),
        }
        sentences = [self.say(f"finding.{'far_above' if far else 'below' if below else 'near'}", **facts)]
        if not far:
            return sentences
        kind = measured.group if measured.group in ("cooling", "laundry") else "other"
        return [*sentences, self.say(f"finding.check_{kind}")]

    def _entered(self, answer: Answer, entry: Input) -> Assumption:
        origin = "plain" if _is_plain(entry) else "entered"
        paths = dict(zip(option_paths(answer.case), answer.case.options, strict=True))
        option = paths.get(entry.path.removesuffix(".price")) if entry.path.endswith(".price") else None
        installed = option is not None and option.price_includes_installation
        label = self.say("label.case.price_includes_installation") if installed else self.label(entry.path)
        changed = {"label": label, "status": self.say(f"assumption.{origin}"), "origin": origin}
        return self.assumed(entry.path, one(entry.value), entry.bounds.unit, **changed)

    def status(self, status: str) -> str:
        """Say how far a figure can be trusted."""
        return self.say(f"assumption.{status.replace(' ', '_')}")


def range_of(default: DefaultUsed) -> tuple[float | None, float | None]:
    """Range of a default, in its own unit: where a rule made it from a figure, in the figure's proportion."""
    figure = default.estimate
    scale = default.value / figure.value if default.rule else 1.0
    low, high = (None if end is None else end * scale for end in (figure.low, figure.high))
    return low, high


def one(value: object) -> float:
    """The number of a single case."""
    return float(value)  # type: ignore[arg-type]


def _can_be_entered(path: str) -> bool:
    head, *rest = path.split(".")
    inner = [step for step in rest if not step.isdigit()]
    return head not in ENTERED_WITH or len(inner) > 1 or inner[0] in ENTERED_WITH[head]


_PLAIN: Final = {
    noun: {item.name: item.default for item in fields(kind) if item.default is not MISSING}
    for noun, kind in DECLARED.items()
}


def _is_plain(entry: Input) -> bool:
    """Whether an input is what nothing entered means: so are a fuel not run on, and no age of a unit that is bought."""
    noun, name = noun_of(entry.path)
    unasked = name in ("electricity", "gas", "water") or entry.path.endswith(".appliance.age")
    return one(entry.value) == (0.0 if unasked else _PLAIN[noun].get(name))
