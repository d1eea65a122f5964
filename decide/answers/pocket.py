"""Tables for a page that answers without this program: limits, edges of states and payments, written by the engine.

Nothing here is a second model. `limits` are those of `horizon` as a case stands, by the hazard of the unit (which kind
of fault, condition and earlier repairs make together), its age, the price of a new one and that of energy; `moved` says
how they move with how often it fails. `edges` are those of `decide` over all draws, over what a new one costs. Whoever
reads the tables interpolates: between hazards and prices in their logarithms.

A limit is the greatest by the ways on after a repair: to run on, or to be replaced in a planned year. It bends where
one way takes over, and each by itself is smooth; so the ways stand apart, and the greatest is taken after
interpolation. A few years stand for all: in most classes hardly a unit lives to see a later one.
"""

import datetime
import itertools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, Final

import numpy as np

from ..arrays import Floats, Number
from ..economics.case import AGE, REPAIR, REPLACE, Case, Option, vary_all
from ..economics.cash_flow import Study
from ..economics.decision import Decision
from ..economics.failures import Frailty
from ..economics.flows import LARGEST_HAZARD_RATIO, life_of, money
from ..economics.horizon import horizon_of
from ..economics.uncertainty import columns_of, values_at, varied
from ..economics.weigh import weigh
from ..load.cases.case_file import complete
from ..load.cases.filled import Filled
from ..load.cases.ranges import ranges_of
from ..load.cases.upkeep import frailty_of
from ..load.files.rows import ANY
from ..load.tables.draws import points
from ..load.tables.tables import ApplianceClass, Fault, Tables
from .answer import decided

HAZARD_KNOTS: Final = tuple(np.geomspace(0.6, LARGEST_HAZARD_RATIO, 7).tolist())
"""Hazards, over those of the class, at which limits stand; the last is the highest that there is. [-]"""
PRICE_KNOTS: Final = tuple((2.0 ** np.linspace(-1, 1, 5)).tolist())
"""Prices of a new one over the usual one; beyond both ends the page does not answer. [-]"""
ENERGY_KNOTS: Final = 4
BEYOND: Final = 1.1  # How far prices of energy go beyond those of the places. [-]
AGES: Final = (0.0, 0.25, 0.5, *map(float, range(1, 21)), 22.0, 24.0, 26.0, 28.0, 30.0)
"""Ages at which limits stand, besides those at which they bend. [year]"""
FAILING: Final = ((0.5, (0, 2, 4, 6)), (2.8, (2, 3, 5, 6)))
"""How often it fails beside others of its age, each with the knots of hazards at which limits are moved by it. [-]"""
CONDITIONS: Final = ("good", "worn", "poor")
EARLIER: Final = (None, 0, 1, 2, 3)
"""Earlier repairs that can be said; the last is that many or more, the first that nobody knows."""
EDGE_AGES: Final = (0.0, 1.0, 3.0, 5.0, 8.0, 13.0, 20.0, 30.0)
EDGE_EARLIER: Final = (0, 1, 3)
BETWEEN: Final = (None, 2)  # Earlier repairs at which edges stand for the middle price and energy alone.
EDGE_PRICES: Final = (0, 2, 4)
EDGE_ENERGIES: Final = (0, 1, ENERGY_KNOTS - 1)  # Which of the prices and energies edges stand at.
MIDDLE: Final = 1  # Which of those stand for what edges gain without a price, or where food spoils.
KIND_AGES: Final = (0, 2, 4, 6, 7)  # Which of those ages stand for what edges gain by the kind of fault.
UNITS: Final = (CONDITIONS, EDGE_EARLIER)
USUAL: Final = ("ordinary", False)  # The kind of fault at which edges stand, and that no food spoils.
PAID_YEARS: Final = (1, 5, 10)
WAYS: Final = (math.inf, 1.0, 2.0, 4.0, 8.0)
"""Years after which the mended unit may be replaced though it runs; the first two stand in every class. [year]"""
GAIN: Final = 0.002  # What another way must add to a limit, over the price of a new one, to stand in a class. [-]
OF_A_WAY: Final = 7
"""What is `said` of each way: how far its expected limit is from `limits`, then the four edges of states and both ends
of its range from that; behind all ways what is paid by the years for the repair without its quote, and a new one."""


@dataclass(frozen=True, kw_only=True)
class PocketClass:
    """Tables of one class. Axes: h hazard, p price (limits end with none known), e energy, a age, and others."""

    kind: str
    fuel: str  # What its energy price is the price of.
    ages: Floats  # [year]
    prices: Floats  # [money]
    energies: Floats  # [money/kWh]
    installed: bool  # Whether a price that is typed has its tax and installation in it.
    limits: Floats  # Shape (h, p, e, w, a), w the ways, the first to run on. [money]
    moved: Floats  # Shape (2, h of `FAILING`, p, 2, w, a), at the lowest and the highest price of energy. [money]
    by_other_fuel: Floats
    """What limits gain by each unit of electricity above `other_price`, where gas is burnt, shape (h, w, a). [kWh]"""
    other_price: float  # [money/kWh]
    groups: tuple[str, ...]  # Kinds of fault that can be mended, the ordinary one first.
    hazards: Floats  # Hazard in good condition, shape (groups, earlier, a). [-]
    failing: Floats  # How often it fails beside others of its age, shape (earlier, a). [-]
    worn: tuple[float, ...]  # By what each condition multiplies the hazard. [-]
    edges: Floats  # Shape (conditions, edge_earlier, edge_ages, edge_prices, edge_energies, said). [of a new one]
    by_kind: Floats
    """What they gain by the other kinds, shape (groups - 1, conditions, edge_earlier, kind_ages, 2, 2, said), at the
    lowest and the highest price and energy."""
    between: Floats  # Edges at earlier repairs between, shape (between, groups, conditions, kind_ages, said).
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

    @cached_property
    def knots(self) -> tuple[Floats, Floats]:
        """Prices of a new one [money] and of energy [money/kWh] at which the tables stand."""
        known = [energy_price(place.place, self.fuel, self.reference) for place in self.reference.places(self.region)]
        usual = float(f"{float(_new_one(self.usual).asked_price):.2g}")
        energies = np.linspace(min(known) / BEYOND, max(known) * BEYOND, ENERGY_KNOTS)
        return usual * np.array(PRICE_KNOTS), energies

    def limits(self, hazard: float, failing: float, price: float | None, energy: float, **more: Any) -> Floats:
        """Limits by way and age of a unit with a hazard that fails so often: a ratio says the one, a factor more."""
        ratio = 1 + float(self.frailty.defect_share) * (failing - 1)
        factor = (hazard / ratio) ** (-1 / float(self.usual.appliance.life_shape))
        more |= {"appliance__hazard_ratio": ratio, "repair__remaining_life_factor": factor}
        case = self.filled(price=price, energy=energy, **more).case
        found = _Costs(vary_all(case, {AGE: self.ages}), WAYS).limits(partial(_moved, self.fuel, 1.0))
        return np.broadcast_to(found, (len(WAYS), *self.ages.shape))

    def made(self) -> PocketClass:
        """Ask for all of it."""
        prices, energies = self.knots
        usual = 1 + float(self.frailty.variance)
        found = _over((HAZARD_KNOTS, (*prices, None), energies), lambda h, p, e: self.limits(h, usual, p, e))
        moved = [
            _over((knots, prices, energies[[0, -1]]), lambda h, p, e, o=often: self.limits(HAZARD_KNOTS[h], o, p, e))
            - found[[*knots], :-1][:, :, [0, -1]]
            for often, knots in FAILING
        ]
        ways = self._ways(found[:, :-1] / prices[:, None, None, None])
        return PocketClass(
            kind=self.kind.kind,
            fuel=self.fuel,
            ages=self.ages,
            prices=prices,
            energies=energies,
            installed=_new_one(self.usual).sold_installed,
            limits=found[..., ways, :],
            moved=np.array(moved)[..., ways, :],
            by_other_fuel=self._by_other_fuel(usual, prices[2], energies[1])[:, ways],
            other_price=float(self.usual.household.electricity_price),
            failing=self._failing(),
            worn=tuple(self._condition(each) ** -float(self.usual.appliance.life_shape) for each in CONDITIONS),
            **self._by_fault(prices, energies, [WAYS[way] for way in ways]),
        )

    def _ways(self, limits: Floats) -> list[int]:
        """Which ways stand in the class, by limits over the price of a new one, shape (..., ways, ages)."""
        chosen, best = [0, 1], np.max(limits, axis=-2)
        while np.max(best - np.max(limits[..., chosen, :], axis=-2)) > GAIN:
            left = {way: np.max(best - np.max(limits[..., [*chosen, way], :], axis=-2)) for way in range(len(WAYS))}
            chosen.append(min(left, key=left.__getitem__))
        return chosen

    def _failing(self) -> Floats:
        like = life_of(replace(self.usual.appliance, hazard_ratio=1.0))
        known = (None if earlier is None else earlier + 1 for earlier in EARLIER)
        found = (self.frailty.failed(like, self.ages, n).failure_ratio for n in known)
        return np.array([np.broadcast_to(each, self.ages.shape) for each in found])

    def _condition(self, condition: str) -> float:
        return self.reference.needed(f"condition_{condition}", self.kind.kind, self.region).value

    def _by_other_fuel(self, failing: float, price: float, energy: float) -> Floats:
        if self.fuel != "gas" or "electricity" not in self.kind.fuels:
            return np.zeros((len(HAZARD_KNOTS), len(WAYS), *self.ages.shape))
        usual = float(self.usual.household.electricity_price)
        low, high = (
            np.array([self.limits(h, failing, price, energy, household__electricity_price=each) for h in HAZARD_KNOTS])
            for each in (usual, 2 * usual)
        )
        return (high - low) / usual

    def _by_fault(self, prices: Floats, energies: Floats, ways: Sequence[float]) -> dict[str, Any]:
        """All that goes by the kind of fault, and by whether food spoils."""
        faults, at, energy = self._faults(), prices[2], energies[[*EDGE_ENERGIES]]
        plain, kinds = faults[USUAL], sorted({kind for kind, _ in faults}, key=lambda kind: (kind != USUAL[0], kind))

        def edges(
            fault: str, price: Any = (at,), moved: Any = energy[1:2], ages: Any = EDGE_AGES, units: Any = UNITS
        ) -> Floats:
            def ask(condition: str, earlier: int | None, age: float, price: float | None) -> Floats:
                factor = None if condition == CONDITIONS[0] else self._condition(condition)
                known = {"appliance__fault": fault, "appliance__earlier_repairs": earlier}
                filled = self.filled(age, price, energy[1], **known, repair__remaining_life_factor=factor)
                return self._edges(filled, moved / energy[1], ways)

            return _over((*units, ages, price), ask)

        base = edges(plain, prices[[*EDGE_PRICES]], energy)
        middle = base[:, :, :, MIDDLE, MIDDLE]
        ends = prices[[0, -1]], energies[[0, -1]], [EDGE_AGES[at] for at in KIND_AGES]
        spoils = {kind: (kind, False) not in faults for kind in kinds}
        # beside each an ordinary one that spoils food as it does, for food counts by itself
        mended = [(faults[each], faults[USUAL[0], each[1]]) for each in spoils.items()]
        beside = base[:, :, KIND_AGES][:, :, :, ::2, ::2]
        by_kind = [edges(one, *ends) - (beside if like == plain else edges(like, *ends)) for one, like in mended[1:]]
        units = (CONDITIONS, BETWEEN)
        known = {each: edges(each, ages=ends[2], units=units)[..., 0, 0, :] for each in {*itertools.chain(*mended)}}
        unpriced = edges(plain, (None,))[..., 0, 0, :] - middle
        spoiled, spoiling = 0.0, np.zeros((len(EDGE_AGES), middle.shape[-1]))
        if (USUAL[0], True) in faults:
            both = faults[USUAL[0], True], plain
            cases = (self.filled(price=at, energy=energy[1], appliance__fault=each).case for each in both)
            with_food, without = (float(weigh(case).repair_limit) for case in cases)
            one, other = (
                self._decided(price=at, appliance__fault=each).cost_of_new
                * edges(each, units=(CONDITIONS[:1], EARLIER[:1]))[0, 0, :, 0, 0]
                for each in both
            )
            spoiled, spoiling = with_food - without, one - other
        cost = [self._decided(price=price, appliance__fault=plain).cost_of_new for price in (at, prices[-1], None)]
        a_unit = (cost[1] - cost[0]) / (prices[-1] - at)
        return {
            "groups": tuple(kinds),
            "hazards": np.array([self._hazards(each) for each, _ in mended]),
            "edges": base,
            "by_kind": np.array(by_kind).reshape(-1, *beside.shape),
            "between": np.moveaxis(np.array([known[one] - known[like] + known[plain] for one, like in mended]), 2, 0),
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

    def _decided(self, **known: Any) -> Decision:
        return decided(self.filled(**known), self.reference)

    @cached_property
    def _like(self) -> Decision:
        """A decision on the class: any other differs from it in its amounts alone."""
        return self._decided()

    def _edges(self, filled: Filled, energies: Floats, ways: Sequence[float]) -> Floats:
        """What is said of a case, over what a new one costs, at prices of energy over its own; shape (energies, said).

        All costs are linear in the price of energy, draw by draw: draws made at one price follow another.
        """
        ranges = ranges_of(filled)
        drawn, paid, rows = points(len(ranges)), self._paid(filled.case), []
        at_each = values_at(ranges, drawn[:, columns_of(ranges, drawn.shape[1])], standing=1)
        weighed = _Costs(varied(filled.case, ranges, at_each), ways)
        new = float(np.mean(np.broadcast_to(weighed.new, len(drawn) + 1)[1:]))
        like = replace(self._like, doubt=self._like.doubt * (new / self._like.cost_of_new))
        for energy in energies:
            move = partial(_moved, self.fuel, energy)
            rests, others = weighed.moved(move)
            standing, rests, others = np.min(others[:, 0]) - rests[:, 0], rests[:, 1:], others[:, 1:]
            edges = list[Number]()
            for rest, stands in zip(rests, standing, strict=True):
                limit = float(np.min(np.mean(others, axis=1)) - np.mean(rest))
                there = replace(like, rest=rest, others=others, weighing=replace(like.weighing, repair_limit=limit))
                edges += [limit - stands, *there.zones.beyond, *(x - limit for x in there.limit_range)]
            rows.append(np.array([*edges, *(each for parts in paid for each in move(parts))]) / new)
        return np.array(rows)

    def _paid(self, case: Case) -> list[dict[str, Floats]]:
        """What is paid in so many years, by category, for the repair without its quote and for a new one."""
        new, study = _new_one(case), Study(case, money(case.household), PAID_YEARS[-1])
        flows = (study.cash(option, new, with_what_is_left=False) for option in (case.repair, new))
        return [{part: np.cumsum(paid)[[*PAID_YEARS]] for part, paid in each.by_year.items()} for each in flows]


class _Costs:
    """What a case costs, by category: by each way on after the repair, and by the options that are none."""

    def __init__(self, case: Case, ways: Sequence[float]) -> None:
        horizon = horizon_of(case, money(case.household))
        self._ways = [horizon.cost(replace(case.repair, planned_replacement_years=years)) for years in ways]
        self._others = [horizon.cost(option) for option in case.options if option.action != REPAIR]
        self.new = horizon.today(_new_one(case))
        """What a new one costs today. [money]"""

    def moved(self, move: Callable[..., Floats]) -> tuple[Floats, Floats]:
        """Costs by the ways and of the other options as `move` adds them up; shapes (ways, ...) and (others, ...)."""
        ways, others = (np.array(np.broadcast_arrays(*map(move, costs))) for costs in (self._ways, self._others))
        return ways, others

    def limits(self, move: Callable[..., Floats]) -> Floats:
        """Limits by the ways, as the case stands; shape (ways, ...). [money]"""
        ways, others = self.moved(move)
        return np.asarray(np.min(others, axis=0) - ways)


def _new_one(case: Case) -> Option:
    return next(option for option in case.options if option.action == REPLACE)


def _moved(fuel: str, times: float, parts: Mapping[str, Number]) -> Floats:
    """What parts add up to where energy costs so many times as much; shape of the parts. [money]"""
    return np.asarray(sum(parts.values()) + parts[fuel] * (times - 1))


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
