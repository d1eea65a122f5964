"""The question, each input declared once.

A `Case` is an appliance that has failed, the household that owns it, and the options it has today. Defender and
challenger are the same noun: an `Option` is a unit one could run from today, with what it costs to start and what
changes by starting. A used unit or a third model is another option, not another kind of thing; a case has one repair.

Every numeric field is one number or a column (one entry a case). Its unit, bounds and meaning stand beside it and
nowhere else: screens, files, help, break-even and sensitivity read them from here.
"""

import functools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Final, NamedTuple

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError, EntryErrors, OutOfRange
from ..finance.life import Life, Weibull
from .bounds import MONEY, Bounds, number
from .household import Household

REPAIR: Final = "repair"
REPLACE: Final = "replace"
LEAVE: Final = "leave"
WITHOUT: Final = "without"
ACTIONS: Final = (REPAIR, REPLACE, LEAVE, WITHOUT)  # What is done today.
LONGEST_STUDY: Final = 500  # Beyond it a need has no end. [year]

AGE: Final = "appliance.age"
INNER: Final = ("appliance", "quote", "landlord")  # Fields of a noun that hold another one.

CENT: Final = 0.01  # Sums of money closer than this are the same.
LEAST_SHARE: Final = 1e-6  # Shares that should make a whole may miss it by this much: they are printed rounded. [-]


@dataclass(frozen=True, kw_only=True)
class Appliance:
    """One physical unit: the one that stands there, or one that could be bought.

    Parameters
    ----------
    kind : str
        Id of its class, as `mendpoint classes` lists them.
    age, mean_life, life_shape, ... : float or ndarray, shape (...)
        Each input with its unit, bounds and meaning below. [as declared]
    retirement, maintenance_and_repair_by_age : optional
        In place of the inputs that give them.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}}).case.appliance
    >>> washer.kind, washer.age, 10 < washer.mean_life < 20
    ('clothes_washer', 8.0, True)
    """

    kind: str
    age: Number = number("year", 0, 60, doc="Years since it was bought new. The type plate or an old bill tells.")
    mean_life: Number = number("year", 1, 80, doc="From homes, counted until the unit left the household.")
    life_shape: Number = number("", 0.5, 10, doc="1: failures come at any age alike. Higher: closer together.")
    failure_free_years: Number = number("year", 0, 40, doc="Years in which hardly any of them leaves a household.")
    hazard_ratio: Number = number(
        "", 0.1, 20, 1, doc="How much sooner than others of its age it is given up: a failure is news. 1 for a new one."
    )
    electricity: Number = number("kWh/year", 0, 60_000, doc="A year's worth as it runs now: label or plug-in meter.")
    gas: Number = number(
        "kWh/year", 0, 200_000, doc="A year's worth, as the bills count it. Files keep kWh: 1 therm is 29.3 kWh."
    )
    water: Number = number("m3/year", 0, 2_000, doc="A year's worth. Files keep cubic metres: 264 US gallons each.")
    efficiency_degradation_rate: Number = number(
        "1/year", 0, 0.1, doc="How much more it uses after its first year, as a share of new. Later years add less."
    )
    efficiency_degradation_cap: Number = number("share", 0, 2, doc="Beyond this rise it does not go.")
    maintenance_and_repair: Number = number(
        "money/year", 0, 10_000, doc="An average year's spending on later repairs over its life, out of warranty."
    )
    later_repair_median: Number = number(MONEY, 0, 100_000, 0, doc="Half of later quotes are below it.")
    later_repair_log_sd: Number = number(
        "",
        0.05,
        2,
        0.6,
        doc="0.3: nearly all alike. 0.6: one in six is below half of the usual. 1: small jobs and very dear ones.",
    )
    retirement: Life | None = None  # A law of life of its own, in place of the one that mean, shape and delay give.
    maintenance_and_repair_by_age: Callable[[Floats], Floats] | None = None
    """Upkeep at an age over `maintenance_and_repair`, where it is not level. [-]"""

    @functools.cached_property
    def life_of_its_class(self) -> Weibull:
        """The Weibull life from its class's mean, shape and delay, as of a usual unit."""
        return Weibull.with_mean(self.mean_life, self.life_shape, self.failure_free_years)


@dataclass(frozen=True, kw_only=True)
class Quote:
    """What a repair is offered for: one amount with tax, or its parts.

    `fee_credit` is the part of a diagnostic fee that comes off when the repair is accepted; `fee_if_declined` is due
    only when it is not, and so is a cost of every other option. A fee that is due either way is no input: it is spent.

    Parameters
    ----------
    amount, parts, labour_hours, ... : float or ndarray, shape (...)
        Each input with its unit, bounds and meaning below. [as declared]

    Examples
    --------
    >>> Quote(parts=100, labour_hours=1.5, labour_rate=80, trip=30, tax_rate=0.1).total
    275.0
    """

    amount: Number = number(
        MONEY,
        0,
        100_000,
        0,
        doc="All that you pay if you accept, with tax; or leave it and give the parts of it below.",
    )
    parts: Number = number(MONEY, 0, 100_000, 0, doc="What the parts cost, before tax.")
    labour_hours: Number = number("hour", 0, 200, 0, doc="Hours that are billed.")
    labour_rate: Number = number("money/hour", 0, 1_000, 0, doc="What an hour of work costs, before tax.")
    trip: Number = number(MONEY, 0, 5_000, 0, doc="Before tax. Leave it out if it is due either way.")
    tax_rate: Number = number("share", 0, 0.5, 0, doc="On parts, labour and trip, as it stands on the quote.")
    fee_credit: Number = number(MONEY, 0, 5_000, 0, doc="What comes off the bill when you accept.")
    fee_if_declined: Number = number(MONEY, 0, 5_000, 0, doc="A fee due either way is spent and changes nothing.")

    @property
    def total(self) -> Number:
        """What the paper says the customer pays, before any credit: amount + built from parts with tax. [money]"""
        built = self.parts + self.labour_hours * self.labour_rate + self.trip
        return self.amount + built * (1 + self.tax_rate)


@dataclass(frozen=True, kw_only=True)
class Option:
    """Something the household can do today: have a unit repaired, buy one, live with the fault, or do without one.

    Parameters
    ----------
    name : str
        What tells it from the other options.
    action : str
        `repair`, `replace`, `leave` or `without`. Doing without runs no unit: it costs its loss of use a year, and
        nothing is bought later.
    appliance : Appliance, optional
        The unit that is bought; for a replacement alone.
    quote : Quote, optional
        What a repair is offered for.
    remaining_life_factor, price, ... : float or ndarray, shape (...)
        Each input with its unit, bounds and meaning below. [as declared]

    Examples
    --------
    >>> mended = Option(name="Repair it", action="repair", quote=Quote(amount=250), remaining_life_factor=0.8)
    >>> mended.quote.total, mended.days_without
    (250, 0)
    """

    name: str
    action: str
    appliance: Appliance | None = None  # The unit that is bought; none means the one that stands there.
    # what changes in the unit by starting
    remaining_life_factor: Number = number(
        "share", 0.05, 2, 1, doc="100% is as good as any of its age; at 70% it wears as if made to last 70% as long."
    )
    energy_change: Number = number(
        "share", -0.9, 5, 0, doc="What it will use against today: -10% after a good repair, +20% with the fault left."
    )
    annual_loss_of_use: Number = number("money/year", 0, 100_000, 0, doc="What you would pay a year to have it whole.")
    planned_replacement_years: Number = number("year", 0, math.inf, math.inf, doc="Leave empty: it runs till it fails.")
    # a repair
    quote: Quote | None = None
    repair_success_probability: Number = number(
        "share", 0.05, 1, 1, doc="Out of all such repairs, those that are still good after the time below."
    )
    repair_warranty: Number = number("day", 0, 3_650, 0, doc="Days in which the shop makes it good at no charge.")
    callback_window: Number = number("day", 1, 365, 30, doc="Days after which a repair that still runs has held.")
    # a purchase
    price: Number = number(MONEY, 0, 200_000, 0, doc="As on the price tag, before tax where tax is added at the till.")
    price_includes_installation: bool = False
    """Whether the price was given with all that it takes to have the unit run."""
    sold_installed: bool = False  # Whether people are quoted one price for such a unit and its work.
    tax_rate: Number = number("share", 0, 0.5, 0, doc="0 where the price includes it.")
    delivery: Number = number(MONEY, 0, 20_000, 0, doc="What bringing it costs, with tax.")
    installation: Number = number(MONEY, 0, 50_000, 0, doc="With tax, and with what must be changed for it to fit.")
    haul_away: Number = number(MONEY, 0, 5_000, 0, doc="What taking the old one away costs, with tax.")
    rebate: Number = number(MONEY, 0, 50_000, 0, doc="What comes back after buying.")
    trade_in: Number = number(MONEY, 0, 50_000, 0, doc="What someone pays for the old one.")
    financed: Number = number(MONEY, 0, 200_000, 0, doc="The part of what is due that is lent to you.")
    financed_share: Number = number(
        "share", 0, 1, 0, doc="What of the rest that is due is lent to you: 100% by card or in instalments."
    )
    loan_rate: Number = number("1/year", 0, 1, 0, doc="Yearly, as the lender states it.")
    loan_years: Number = number("year", 1 / 12, 30, 1, doc="Until it is paid off.")
    warranty: Number = number("year", 0, 20, 0, doc="Years in which its repairs cost nothing.")
    # until it runs
    days_without: Number = number("day", 0, 365, 0, doc="From today until it runs.")
    food_loss: Number = number(MONEY, 0, 5_000, 0, doc="Also other losses from waiting that come once.")
    food_loss_at_later_failures: Number = number(MONEY, 0, 5_000, 0, doc="When a later unit fails and is replaced.")

    @property
    def asked_price(self) -> Number:
        """What people call its price: that on its tag, or with tax and work where it is sold with them. [money]

        >>> furnace = Option(name="New", action="replace", price=1000, tax_rate=0.07, installation=3000)
        >>> furnace.asked_price, replace(furnace, sold_installed=True).asked_price
        (1000, 4070.0)
        """
        return self.due if self.sold_installed else self.price

    @property
    def due(self) -> Number:
        """Its price with tax and all that it takes to have it run, before anything comes off. [money]"""
        return self.price * (1 + self.tax_rate) + self.delivery + self.installation + self.haul_away


@dataclass(frozen=True, kw_only=True)
class Prohibition:
    """An action that a caution refuses, whatever the economics say."""

    action: str
    caution: str


class Input(NamedTuple):
    """One numeric input of a case: where it stands, its unit and bounds, and what it is now."""

    path: str
    bounds: Bounds
    value: Number


@dataclass(frozen=True, kw_only=True)
class Case:
    """A household's question. Building one holds every input to its bounds and reports all errors in one go.

    `load.cases.case_file.complete` builds one from what is known; `vary` changes an input.

    Parameters
    ----------
    appliance : Appliance
        The unit that stands there and has failed.
    household : Household
        Who owns it.
    options : tuple of Option
        What can be done today: one repair, at least one replacement, and what else there is.
    prohibitions : tuple of Prohibition, optional
        Actions that a caution refuses.
    title, fault : str, optional
        What the case is called; id of the fault.
    second_fault : str, optional
        Another fault found today, where it is known which.
    by_age : mapping, optional
        Inputs that were taken by the appliance's age, and so follow it when it is varied, each with its rule.

    Raises
    ------
    EntryErrors
        Inputs out of bounds, or options, lives, rates or taxes that cannot be; each error names its field.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> case = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> [option.action for option in case.options], vary(case, "appliance.age", 9.0).appliance.age
    (['repair', 'replace'], 9.0)
    >>> vary(case, "appliance.age", 99.0)
    Traceback (most recent call last):
    decide.errors.EntryErrors: appliance.age: must be from 0 to 60 year, got 99.0
    """

    appliance: Appliance
    household: Household
    options: tuple[Option, ...]
    prohibitions: tuple[Prohibition, ...] = ()
    title: str = ""
    fault: str = "other"
    second_fault: str = ""
    by_age: Mapping[str, Callable[[Number], Number]] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        errors: list[CaseError] = [
            OutOfRange(entry.path, entry.bounds.low, entry.bounds.high, entry.bounds.unit, entry.value)
            for entry in inputs(self)
            if not entry.bounds.admits(entry.value)
        ]
        if not errors:
            errors = [*_options_that_cannot_be(self), *_lives_that_cannot_be(self), *_sums_without_end(self)]
            errors += _taxes_that_cannot_be(self)
        if errors:
            raise EntryErrors(errors)

    @functools.cached_property
    def _inputs(self) -> list[Input]:
        places = [("appliance", self.appliance), ("household", self.household)]
        found: list[Input] = []
        for path, noun in [*places, *zip(option_paths(self), self.options, strict=True)]:
            _add_inputs(found, path, noun)
        planned = {f"{path}.planned_replacement_years" for path in option_paths(self) if path.startswith(REPLACE)}
        return [entry for entry in found if entry.path not in planned]

    @property
    def faults(self) -> tuple[str, ...]:
        """The fault, and another one found today where it is known which."""
        return (self.fault, self.second_fault) if self.second_fault else (self.fault,)

    @property
    def repair(self) -> Option:
        """The repair; every case has one."""
        return next(option for option in self.options if option.action == REPAIR)

    def appliance_of(self, option: Option) -> Appliance:
        """The unit that an option runs: the one it buys, or the one that stands there."""
        return self.appliance if option.appliance is None else option.appliance


def option_paths(case: Case) -> tuple[str, ...]:
    """Name the place of each option: `repair`, `replace`, `replace.2`, `leave`."""
    seen: dict[str, int] = {}
    paths = []
    for option in case.options:
        seen[option.action] = seen.get(option.action, 0) + 1
        paths.append(option.action if seen[option.action] == 1 else f"{option.action}.{seen[option.action]}")
    return tuple(paths)


def inputs(case: Case) -> list[Input]:
    """List every numeric input of a case by its dotted path, such as `repair.quote.parts`.

    A replacement has no planned end to enter.
    """
    return case._inputs


def _add_inputs(found: list[Input], path: str, noun: Any) -> None:
    for name, bounds in _numeric(noun.__class__):
        value = getattr(noun, name)
        if bounds is not None:
            found.append(Input(f"{path}.{name}", bounds, value))
        elif value is not None:
            _add_inputs(found, f"{path}.{name}", value)


@functools.cache
def _numeric(kind: type) -> tuple[tuple[str, Bounds | None], ...]:
    """Fields of a noun that are inputs, with their bounds, and those that hold a noun of inputs, with none."""
    known = ((item.name, item.metadata.get("bounds")) for item in fields(kind))
    return tuple((name, bounds) for name, bounds in known if bounds is not None or name in INNER)


def vary(case: Case, path: str, value: Number) -> Case:
    """The same case with one input changed.

    Parameters
    ----------
    case : Case
        As it stands.
    path : str
        One of `inputs(case)`, such as `appliance.age` or `repair.quote.amount`.
    value : float or ndarray, shape (...)
        What it shall be; an array makes a column of cases. [unit of the input]

    Returns
    -------
    Case
        With the appliance's age goes what was taken by it.

    Raises
    ------
    CaseError
        The path is no input of the case, or the outcome is no case.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> case = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> vary(case, "repair.quote.amount", np.array([100.0, 300.0])).options[0].quote.total.tolist()
    [100.0, 300.0]
    """
    return vary_all(case, {path: value})


def vary_all(case: Case, changes: Mapping[str, Number]) -> Case:
    """The same case with several inputs changed at once, so that only the outcome is held to the rules of a case.

    With the appliance's age goes what was taken by it, unless that is changed too.

    Raises `CaseError`: a path is no input of the case, or the outcome is no case.
    """
    known = {entry.path for entry in inputs(case)}
    for path in changes:
        if path not in known:
            raise CaseError(path, "is no input of this case")
    if AGE in changes:
        by_age = {path: rule(changes[AGE]) for path, rule in case.by_age.items() if path in known}
        changes = {**by_age, **changes}
    by_holder: dict[str, dict[str, Number]] = {}
    for path, value in changes.items():
        holder, _, name = path.rpartition(".")
        by_holder.setdefault(holder, {})[name] = value
    places = zip(option_paths(case), case.options, strict=True)
    return replace(
        case,
        appliance=_changed(case.appliance, "appliance", by_holder),
        household=_changed(case.household, "household", by_holder),
        options=tuple(_changed(option, path, by_holder) for path, option in places),
    )


def _changed(noun: Any, place: str, changes: Mapping[str, Mapping[str, Number]]) -> Any:
    """One noun of the case, and the noun inside it, with the changes to each by its place."""
    own: dict[str, Any] = {**changes.get(place, {})}
    for inner in INNER:
        if (within := changes.get(f"{place}.{inner}")) is not None:
            own[inner] = replace(getattr(noun, inner), **within)
    return replace(noun, **own) if own else noun


def _options_that_cannot_be(case: Case) -> Iterator[CaseError]:
    """A case needs one repair to judge and something to buy when a unit ends; names tell the options apart."""
    actions = [option.action for option in case.options]
    for path, option in zip(option_paths(case), case.options, strict=True):
        if option.action not in ACTIONS:
            yield CaseError(f"{path}.action", "must be one of {known}, got {got}", ", ".join(ACTIONS), option.action)
        if (option.appliance is None) == (option.action == REPLACE):
            yield CaseError(f"{path}.appliance", "is needed for a replacement, and for nothing else")
        if option.action == REPLACE and not np.all(np.isinf(option.planned_replacement_years)):
            template = "plans the end of the unit there, not of one that is bought"
            yield CaseError(f"{path}.planned_replacement_years", template)
        yield from _more_than_it_costs(path, option)
    if actions.count(REPAIR) != 1:
        yield CaseError(REPAIR, "must be given once, got {got}", actions.count(REPAIR))
    if REPLACE not in actions:
        yield CaseError(REPLACE, "at least one replacement is needed: every unit ends one day")
    names = [option.name for option in case.options]
    if len(set(names)) < len(names):
        yield CaseError("option.name", "must differ from option to option")


def _more_than_it_costs(path: str, option: Option) -> Iterator[CaseError]:
    """Nothing takes more off a price than the price."""
    left = option.due
    for name in () if option.action == REPAIR else ("rebate", "trade_in", "financed"):
        left = left - getattr(option, name)
        if np.any(np.asarray(left) < -CENT) and np.any(np.asarray(getattr(option, name)) > 0):
            yield CaseError(f"{path}.{name}", "must not be more than what is left to pay")
            return
    if option.quote is not None and np.any(np.asarray(option.quote.total) - option.quote.fee_credit < -CENT):
        yield CaseError(f"{path}.quote.fee_credit", "must not be more than the quote")


def _taxes_that_cannot_be(case: Case) -> Iterator[CaseError]:
    """No schedule deducts more than was paid; interest is deducted by rules of its own, which no schedule knows."""
    landlord = case.household.landlord
    if landlord is None:
        return
    shares = np.asarray(landlord.depreciation, dtype=float)
    if not (shares.size and np.all((shares >= 0) & (shares <= 1)) and np.sum(shares) <= 1 + LEAST_SHARE):
        yield CaseError("household.landlord.depreciation", "must be shares from 0 to 1, no more than 1 together")
    for path, option in zip(option_paths(case), case.options, strict=True):
        for name, lent in (("financed", option.financed), ("pays", option.financed_share)):
            if np.any(np.asarray(lent) > 0):
                template = "cannot be weighed for a landlord: interest is taxed by its own rules"
                yield CaseError(f"{path}.{name}", template)


def _lives_that_cannot_be(case: Case) -> Iterator[CaseError]:
    bought = ((f"{path}.appliance", o.appliance) for path, o in zip(option_paths(case), case.options, strict=True))
    for path, unit in (("appliance", case.appliance), *bought):
        if unit is not None and not np.all(np.asarray(unit.mean_life) > unit.failure_free_years):
            template = "must be above {path}.failure_free_years ({years} year)"
            yield CaseError(f"{path}.mean_life", template, path, unit.failure_free_years)


def _sums_without_end(case: Case) -> Iterator[CaseError]:
    """A need without end has a finite present cost only while the discount rate outruns every price."""
    years = case.household.study_period
    if math.isfinite(years):
        if years > LONGEST_STUDY:
            template = "must be from 0.5 to {most} year, got {got:g}"
            yield CaseError("household.study_period", template, LONGEST_STUDY, years)
        return
    growths = ("electricity_escalation", "gas_escalation", "water_escalation", "price_escalation")
    highest = max(float(np.max(getattr(case.household, name))) for name in growths)
    lowest = float(np.min(np.expm1(case.household.discount_force)))
    if not lowest > max(highest, 0.0):
        template = (
            "must be above 0 and above every escalation ({highest:g} 1/year) when the need has "
            "no end, got {got:g}; or give household.study_period"
        )
        yield CaseError("household.rate", template, highest, lowest)
