"""Tables for a page that answers without this program: limits, edges of states and payments, written by the engine.

Nothing here is a second model. `limits` are those of `weigh` as a case stands, by the hazard of the unit (which kind of
fault, condition and earlier repairs make together), its age, the price of a new one and that of energy; `moved` says
how they move with how often it fails. `edges` are those of `decide` over all draws, less what `weigh` says, over what
a new one costs. Whoever reads the tables interpolates: between hazards and prices in their logarithms.
"""

import datetime
import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, Final

import numpy as np

from ..arrays import Floats, Number
from ..economics.case import AGE, REPAIR, REPLACE, Case, vary, vary_all
from ..economics.cash_flow import cash
from ..economics.decision import Decision, decide
from ..economics.failures import Frailty
from ..economics.flows import LARGEST_HAZARD_RATIO, life_of, money
from ..economics.weigh import Weighing, weigh
from ..load.cases.case_file import complete
from ..load.cases.filled import Filled
from ..load.cases.ranges import ranges_of
from ..load.cases.upkeep import frailty_of
from ..load.files.rows import ANY
from ..load.tables.draws import points, sureness
from ..load.tables.tables import ApplianceClass, Fault, Tables

HAZARD_KNOTS: Final = tuple(np.geomspace(0.6, LARGEST_HAZARD_RATIO, 7).tolist())
"""Hazards, over those of the class, at which limits stand; the last is the highest that there is. [-]"""
PRICE_KNOTS: Final = tuple((2.0 ** np.linspace(-1, 1, 5)).tolist())
"""Prices of a new one over the usual one; beyond both ends the page does not answer. [-]"""
ENERGY_KNOTS: Final = 5
BEYOND: Final = 1.1  # How far prices of energy go beyond those of the places. [-]
AGES: Final = (0.0, 0.25, 0.5, *map(float, range(1, 21)), 22.0, 24.0, 26.0, 28.0, 30.0)
"""Ages at which limits stand, besides those at which they bend. [year]"""
FAILING: Final = ((0.5, (0, 2, 4, 6)), (2.8, (2, 3, 5, 6)))
"""How often it fails beside others of its age, each with the knots of hazards at which limits are moved by it. [-]"""
PRICES_MOVED: Final = (0, 2, 4)
ENERGIES_MOVED: Final = (0, ENERGY_KNOTS - 1)
CONDITIONS: Final = ("good", "worn", "poor")
EARLIER: Final = (None, 0, 1, 2, 3)
"""Earlier repairs that can be said; the last is that many or more, the first that nobody knows."""
EDGE_AGES: Final = (0.0, 0.4, 1.0, 3.0, 5.0, 8.0, 13.0, 20.0, 30.0)
EDGE_EARLIER: Final = (0, 1, 2, 3)
EDGE_PRICES: Final = (0, 2, 4)
EDGE_ENERGIES: Final = (0, 1, ENERGY_KNOTS - 1)  # Which of the prices and energies edges stand at.
USUAL: Final = ("ordinary", False)  # The kind of fault at which edges stand, and that no food spoils.
PAID_YEARS: Final = (1, 5, 10)
SAID: Final = 7 + 2 * len(PAID_YEARS)
"""What `edges` hold: how far the expected limit, the four edges of states and both ends of its range are from it, then
what is paid by the years for the repair without its quote, and for a new one."""


@dataclass(frozen=True, kw_only=True)
class PocketClass:
    """Tables of one class. Axes: h hazard, p price (limits end with none known), e energy, a age, and others."""

    kind: str
    fuel: str  # What its energy price is the price of.
    ages: Floats  # [year]
    prices: Floats  # [money]
    energies: Floats  # [money/kWh]
    installed: bool  # Whether a price that is typed has its tax and installation in it.
    limits: Floats  # Shape (h, p, e, a). [money]
    moved: Floats  # Shape (2, h of `FAILING`, p, e, a). [money]
    by_other_fuel: Floats
    """What limits gain by each unit that electricity is above `other_price`, where gas is burnt, shape (a). [kWh]"""
    other_price: float  # [money/kWh]
    groups: tuple[str, ...]  # Kinds of fault that can be mended.
    hazards: Floats  # Hazard in good condition, shape (groups, earlier, a). [-]
    failing: Floats  # How often it fails beside others of its age, shape (earlier, a). [-]
    worn: tuple[float, ...]  # By what each condition multiplies the hazard. [-]
    edges: Floats  # Shape (conditions, edge_earlier, edge_ages, edge_prices, edge_energies, said). [of a new one]
    by_kind: Floats
    """What they gain by kind of fault, shape (groups, conditions, edge_earlier, edge_ages, 2, said), at
    the lowest and the highest price."""
    unpriced: Floats  # What they gain where no price is known, shape (conditions, edge_earlier, edge_ages, said).
    spoiled: float  # By what spoilt food moves limits. [money]
    spoiling: Floats  # By what it moves edges, shape (edge_ages, said). [money]
    cost_of_new: tuple[float, float, float]
    """What a new one costs: at a price of 0, for each unit of its price, and where no price is known. [money]"""


@dataclass(frozen=True)
class _Maker:
    """Asks the engine about one class."""

    kind: ApplianceClass
    region: str
    today: datetime.date
    reference: Tables

    def filled(self, age: float = 10.0, price: float | None = None, energy: float | None = None, **more: Any) -> Filled:
        """A case of the class; further entries by their paths."""
        entries: dict[str, Any] = {
            "appliance": {"class": self.kind.kind, "age": age},
            "household": {"place": self.region, "today": self.today.isoformat()},
            REPAIR: {},
            REPLACE: [{} if price is None else {"price": price}],
        }
        if energy is not None:
            entries["household"][f"{self.fuel}_price"] = energy
        for path, value in more.items():
            noun, name = path.split("__")
            if value is not None:
                entries[noun][name] = value
        return complete(entries, self.reference)

    @cached_property
    def fuel(self) -> str:
        """What its energy price is the price of: gas where it burns any."""
        return "gas" if "gas" in self.kind.fuels else "electricity"

    @cached_property
    def usual(self) -> Case:
        """The class as it is when nothing is known of the unit."""
        return self.filled().case

    @cached_property
    def frailty(self) -> Frailty:
        """How much its units differ."""
        return frailty_of(self.reference, self.kind, self.region)

    @cached_property
    def ages(self) -> Floats:
        """Ages of the tables, with those at which something begins or ends: a warranty, an era of the law."""
        bends = {
            self.today.year - made
            for (kind, region, _), vintage in self.reference.vintages.items()
            if (kind, region) == (self.kind.kind, self.region)
            for made in vintage.years
        }
        warranty = self.reference.figure("warranty_new", self.kind.kind, self.region)
        bends |= {warranty.value} if warranty else set()
        return np.array(sorted({*AGES, *(float(each) for each in bends if 0 < each < AGES[-1])}))

    def limits(self, hazard: float, failing: float, price: float | None, energy: float, **more: Any) -> Floats:
        """Limits by age of a unit with a hazard that fails so often: an entered ratio says the one, a factor more."""
        ratio = 1 + float(self.frailty.defect_share) * (failing - 1)
        factor = (hazard / ratio) ** (-1 / float(self.usual.appliance.life_shape))
        more |= {"appliance__hazard_ratio": ratio, "repair__remaining_life_factor": factor}
        case = self.filled(price=price, energy=energy, **more).case
        return np.broadcast_to(np.asarray(weigh(vary_all(case, {AGE: self.ages})).repair_limit), self.ages.shape)

    def made(self) -> PocketClass:
        """Ask for all of it."""
        bought = next(option for option in self.usual.options if option.appliance is not None)
        prices = float(f"{float(bought.asked_price):.2g}") * np.array(PRICE_KNOTS)
        known = [energy_price(place.place, self.fuel, self.reference) for place in self.reference.places(self.region)]
        energies = np.linspace(min(known) / BEYOND, max(known) * BEYOND, ENERGY_KNOTS)
        usual = 1 + float(self.frailty.variance)
        found = _over((HAZARD_KNOTS, (*prices, None), energies), lambda h, p, e: self.limits(h, usual, p, e))
        moved = [
            _over(
                ([HAZARD_KNOTS[at] for at in knots], prices[[*PRICES_MOVED]], energies[[*ENERGIES_MOVED]]),
                lambda h, p, e, often=often: self.limits(h, often, p, e),
            )
            - found[np.ix_(knots, PRICES_MOVED, ENERGIES_MOVED)]
            for often, knots in FAILING
        ]
        return PocketClass(
            kind=self.kind.kind,
            fuel=self.fuel,
            ages=self.ages,
            prices=prices,
            energies=energies,
            installed=bought.sold_installed,
            limits=found,
            moved=np.array(moved),
            by_other_fuel=self._by_other_fuel(usual, prices[2], energies[1]),
            other_price=float(self.usual.household.electricity_price),
            failing=self._failing(),
            worn=tuple(self._condition(each) ** -float(self.usual.appliance.life_shape) for each in CONDITIONS),
            **self._by_fault(prices, energies),
        )

    def _failing(self) -> Floats:
        like = life_of(replace(self.usual.appliance, hazard_ratio=1.0))
        known = (None if earlier is None else earlier + 1 for earlier in EARLIER)
        found = (self.frailty.failed(like, self.ages, n).failure_ratio for n in known)
        return np.array([np.broadcast_to(each, self.ages.shape) for each in found])

    def _condition(self, condition: str) -> float:
        return self.reference.needed(f"condition_{condition}", self.kind.kind, self.region).value

    def _by_other_fuel(self, failing: float, price: float, energy: float) -> Floats:
        if self.fuel != "gas" or "electricity" not in self.kind.fuels:
            return np.zeros(self.ages.shape)
        usual = float(self.usual.household.electricity_price)
        known = 1 + float(self.frailty.variance * self.frailty.defect_share)  # hazard of a unit with one known failure
        low, high = (
            self.limits(known, failing, price, energy, household__electricity_price=each) for each in (usual, 2 * usual)
        )
        return (high - low) / usual

    def _by_fault(self, prices: Floats, energies: Floats) -> dict[str, Any]:
        """All that goes by the kind of fault, and by whether food spoils."""
        faults, at, energy = self._faults(), prices[2], energies[[*EDGE_ENERGIES]]
        plain, kinds = faults[USUAL], dict.fromkeys(kind for kind, _ in faults)

        def edges(fault: str, price: Iterable[float | None], energies: Floats = energy[1:2]) -> Floats:
            known = CONDITIONS, EDGE_EARLIER, EDGE_AGES, price
            return _over(known, lambda kept, n, age, at: self._edges(fault, kept, n, age, at, energies))

        base, ends = edges(plain, prices[[*EDGE_PRICES]], energy), prices[[0, -1]]
        by_kind = np.zeros((len(kinds), *base.shape[:3], len(ends), SAID))
        for row, kind in enumerate(kinds):
            if kind != USUAL[0]:
                spoils = (kind, False) not in faults
                beside = edges(faults[USUAL[0], True], ends)[..., 0, :] if spoils else base[:, :, :, ::2, 1]
                by_kind[row] = edges(faults[kind, spoils], ends)[..., 0, :] - beside
        unpriced = edges(plain, (None,))[:, :, :, 0, 0] - base[:, :, :, 1, 1]
        spoiled, spoiling = 0.0, np.zeros((len(EDGE_AGES), SAID))
        if (USUAL[0], True) in faults:
            both = faults[USUAL[0], True], plain
            with_food, without = (
                weigh(self.filled(price=at, energy=energy[1], appliance__fault=each).case) for each in both
            )
            spoiled = float(with_food.repair_limit - without.repair_limit)
            one, other = (
                self._new(each, at)
                * _over((EDGE_AGES,), lambda age, each=each: self._edges(each, "good", None, age, at, energy[1:2])[0])
                for each in both
            )
            spoiling = one - other
        cost = [self._new(plain, price) for price in (at, prices[-1], None)]
        a_unit = (cost[1] - cost[0]) / (prices[-1] - at)
        return {
            "groups": tuple(kinds),
            "hazards": np.array([self._hazards(faults[kind, (kind, False) not in faults]) for kind in kinds]),
            "edges": base,
            "by_kind": by_kind,
            "unpriced": unpriced,
            "spoiled": spoiled,
            "spoiling": spoiling,
            "cost_of_new": (cost[0] - a_unit * at, a_unit, cost[2]),
        }

    def _faults(self) -> dict[tuple[str, bool], str]:
        """By what of a fault moves an answer, a fault like that; what cannot be mended has no limit."""
        found: dict[tuple[str, bool], str] = {}
        for fault in self.reference.faults(self.kind.kind):
            if not self.reference.cannot_be_repaired(self.kind.kind, fault.fault):
                found.setdefault(kind_of(fault, self.kind.kind, self.region, self.reference), fault.fault)
        return dict(sorted(found.items(), key=lambda each: each[0][1]))  # those that spoil no food first

    def _hazards(self, fault: str) -> Floats:
        rows = []
        for earlier in EARLIER:
            case = self.filled(appliance__fault=fault, appliance__earlier_repairs=earlier).case
            by_age = case.by_age.get("appliance.hazard_ratio")
            ratio = case.appliance.hazard_ratio if by_age is None else by_age(self.ages)
            rows.append(np.broadcast_to(np.asarray(ratio, dtype=float), self.ages.shape))
        return np.array(rows)

    def _new(self, fault: str, price: float | None) -> float:
        """What a new one costs with a fault. [money]"""
        return self._decided(price=price, appliance__fault=fault)[0].cost_of_new

    def _decided(self, *given: Any, **more: Any) -> tuple[Decision, Case]:
        filled = self.filled(*given, **more)
        ranges = ranges_of(filled)
        return decide(filled.case, ranges, points(len(ranges)), sureness(self.reference, self.region)), filled.case

    def _edges(
        self, fault: str, condition: str, earlier: int | None, age: float, price: float | None, energies: Floats
    ) -> Floats:
        """What `SAID` says, over what a new one costs; shape (energies, said).

        All costs are linear in the price of energy, draw by draw: draws made at one price follow another, unless a plan
        to replace it later changes with that.
        """
        factor = None if condition == CONDITIONS[0] else self._condition(condition)
        known = {"appliance__fault": fault, "appliance__earlier_repairs": earlier}
        at = energies[len(energies) // 2]
        found, case = self._decided(age, price, at, repair__remaining_life_factor=factor, **known)
        ranges, paid, rows = found.ranges, self._paid(found, case), []
        for energy in energies:
            here, move = vary(case, f"household.{self.fuel}_price", energy), partial(_moved, self.fuel, energy / at)
            stands, decided = weigh(here), found
            if stands.planned_years != found.weighing.planned_years:
                decided = decide(here, ranges, points(len(ranges)), found.sureness)
            elif energy != at:
                rest, others = _costs(found.drawn, move)
                limit = float(np.min(np.mean(others, axis=1)) - np.mean(rest))
                weighing = replace(found.weighing, repair_limit=limit)
                decided = replace(found, rest=rest, others=others, weighing=weighing)
            limit = decided.repair_limit
            edges = [limit - stands.repair_limit, *decided.zones.beyond, *(x - limit for x in decided.limit_range)]
            rows.append(np.array([*edges, *(each for parts in paid for each in move(parts))]) / found.cost_of_new)
        return np.array(rows)

    def _paid(self, found: Decision, case: Case) -> list[dict[str, Floats]]:
        """What is paid in so many years, by category, for the repair without its quote and for the best new one."""
        options, prices = found.weighing.options, money(case.household)
        bought = min((cost for cost in options if cost.action == REPLACE), key=lambda cost: cost.present_cost)
        flows = [
            cash(case, cost.option, options[int(cost.successor)].option, prices, PAID_YEARS[-1], False)
            for cost in (found.weighing.repair, bought)
        ]
        return [{part: np.cumsum(paid)[[*PAID_YEARS]] for part, paid in each.by_year.items()} for each in flows]


def _moved(fuel: str, times: float, parts: Mapping[str, Number]) -> Floats:
    """What parts add up to where energy costs so many times as much; shape of the parts. [money]"""
    return np.asarray(sum(parts.values()) + parts[fuel] * (times - 1))


def _costs(weighed: Weighing[Any], move: Callable[..., Floats]) -> tuple[Floats, Floats]:
    """Costs of the best plan of repairing and of the other options; shape (...) and (options, ...). [money]"""
    costs = [(cost.action, move(cost.by_category)) for cost in weighed.options]
    plans, others = ([cost for action, cost in costs if (action == REPAIR) == own] for own in (True, False))
    return min(plans, key=np.mean), np.array(others)


def pocket_class(kind: str, region: str, today: datetime.date, reference: Tables) -> PocketClass:
    """Have the tables of a class written for a region, not a place in it, as they hold today."""
    return _Maker(reference.kind(kind), region, today, reference).made()


def kind_of(fault: Fault, kind: str, region: str, reference: Tables) -> tuple[str, bool]:
    """What of a fault moves an answer: what it tells of the unit, and whether food spoils."""
    loses = reference.figure("food_loss", kind, region) is not None
    return "core" if fault.kind == "unmendable" else fault.kind, fault.spoils_food and loses


def energy_price(place: str, fuel: str, reference: Tables) -> float:
    """Usual price of a unit of energy more in a place: the average one less what does not move with use. [money/kWh]"""
    moving = reference.figure(f"{fuel}_marginal", ANY, reference.region_of(place))
    return reference.energy_price(place, fuel).value * (moving.value if moving else 1.0)


def _over(axes: Sequence[Iterable[Any]], ask: Callable[..., Floats]) -> Floats:
    """What is answered at all points of some axes; the axes of the answer come last."""
    listed = [[*axis] for axis in axes]
    found = np.array([ask(*point) for point in itertools.product(*listed)])
    return found.reshape(*map(len, listed), *found.shape[1:])
