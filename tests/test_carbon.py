"""Carbon on the engine of money: identities, numbers by hand with the sourced factors, and the tables behind them."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from households import case_of, new_appliance
from spoilt_tables import copied, spoil

from decide.economics.carbon import (
    CARBON_ENTRIES,
    CarbonFigures,
    carbon_confidence,
    in_carbon,
    later_repairs,
    refrigerant_loss,
    with_price_of_carbon,
    years_compared,
)
from decide.economics.case import Case, Option, Prohibition, Quote, inputs, vary
from decide.economics.household import Landlord, PriceSteps
from decide.economics.weigh import measure, weigh
from decide.energy.tariff import steady_escalation
from decide.errors import CaseError, DataError, EntryErrors
from decide.finance.life import Weibull
from decide.load.cases import carbon_figures
from decide.load.cases.carbon_figures import CARBON_UNITS, COLUMNS, all_ranges, carbon_of, carbon_tables
from decide.load.cases.case_file import complete
from decide.load.cases.ranges import ranges_of
from decide.load.tables.tables import CURRENCIES, tables

# EPA GHG Emission Factors Hub 2025, Table 1: natural gas 53.06 kg CO2, 1 g CH4, 0.1 g N2O a million Btu (AR5: 28, 265).
GAS_A_THERM = 5.3115
# IPCC AR4, as in 40 CFR 98 Table A-1, from memory: R-134a 1430; a household refrigerator holds 0.10 to 0.25 kg.
R134A = 1430
VENTED_150_G = 215
# EPA eGRID2023, Table 1, total output emission rate in CO2e, lb/MWh.
EGRID_LB_A_MWH = {"US": 775.239, "US-AK": 904.591, "US-HI": 1498.679}
LB = 0.45359237
# Steiner, Faist Emmenegger, Jungbluth, Frischknecht: Timely replacement of white goods, equation (3): replace where the
# yearly share of a new unit's making is less than what it saves in a year of use.


def figures(**changes: object) -> CarbonFigures:
    """Invented figures for the invented household: two units to buy, the second of them used."""
    given: dict[str, object] = {
        "electricity": 0.4, "electricity_growth": -0.04, "gas": 0.18, "water": 0.5, "repair": 20.0,
        "repair_refrigerant": 0.0, "made": (300.0, 300.0), "refrigerant": (5.0, 5.0),
    }  # fmt: skip
    return CarbonFigures(**{**given, **changes})


def in_years(case: Case, years: float, **changes: object) -> Case:
    return dataclasses.replace(case, household=dataclasses.replace(case.household, study_period=years, **changes))


def sure_to_last(case: Case, years: float) -> Case:
    """The invented household with two ways only and units that are sure to outlast the years, and do not drift."""
    lasting = {
        "mean_life": 60.0,
        "failure_free_years": 40.0,
        "life_shape": 10.0,
        "efficiency_degradation_rate": 0.0,
        "maintenance_and_repair": 0.0,
        "water": 0.0,
    }
    there = dataclasses.replace(case.appliance, age=0.0, **lasting)
    repair = Option(name="repair", action="repair", quote=case.options[0].quote)
    new = Option(name="new", action="replace", appliance=new_appliance(**lasting), price=620.0)
    return in_years(dataclasses.replace(case, appliance=there, options=(repair, new)), years)


# one engine, two answers


def test_the_carbon_list_with_the_prices_of_money_is_money() -> None:
    case = in_years(case_of(), 12.0, rate=0.0, day_cost=0.0, inflation=0.0, electricity_escalation=0.01)
    plain = {
        "delivery": 0.0,
        "haul_away": 0.0,
        "rebate": 0.0,
        "warranty": 0.0,
        "annual_loss_of_use": 0.0,
        "repair_success_probability": 1.0,
    }
    unit = {"later_repair_median": 260.0, "maintenance_and_repair": 30.0}
    case = dataclasses.replace(
        case,
        appliance=dataclasses.replace(case.appliance, **unit),
        options=tuple(
            dataclasses.replace(o, **plain, appliance=o.appliance and dataclasses.replace(o.appliance, age=0.0, **unit))
            for o in case.options
        ),
    )
    home = case.household
    as_money = figures(
        electricity=home.electricity_price,
        electricity_growth=0.01,
        gas=home.gas_price,
        water=home.water_price,
        repair=260.0,
        made=(620.0, 220.0),
        refrigerant=(0.0, 0.0),
    )
    money, carbon = weigh(case), weigh(in_carbon(case, as_money))
    assert carbon.repair_limit == pytest.approx(float(money.repair_limit), rel=1e-12)
    for paid, emitted in zip(money.options, carbon.options, strict=True):
        assert {category: float(cost) for category, cost in emitted.by_category.items()} == pytest.approx(
            {category: float(cost) for category, cost in paid.by_category.items()}, rel=1e-12
        )


def test_nothing_that_emits_nothing_emits_anything() -> None:
    none = figures(electricity=0.0, gas=0.0, water=0.0, repair=0.0, made=(0.0, 0.0), refrigerant=(0.0, 0.0))
    found = weigh(in_carbon(case_of(), none))
    assert [float(option.present_cost) for option in found.options] == [0.0] * len(found.options)
    assert found.repair_limit == 0.0


def test_all_figures_doubled_double_all_answers() -> None:
    once = figures()
    twice = figures(electricity=0.8, gas=0.36, water=1.0, repair=40.0, made=(600.0, 600.0), refrigerant=(10.0, 10.0))
    one, two = (weigh(in_carbon(case_of(), each)) for each in (once, twice))
    assert two.repair_limit == pytest.approx(2 * float(one.repair_limit), rel=1e-12)


def test_what_a_repair_emits_moves_the_advantage_one_for_one_and_not_the_limit() -> None:
    found = [weigh(in_carbon(case_of(), figures(repair_refrigerant=kg))) for kg in (0.0, 50.0, 215.0)]
    assert [float(each.repair_limit) for each in found] == pytest.approx([float(found[0].repair_limit)] * 3)
    gone = [float(found[0].advantage - each.advantage) for each in found]
    assert gone == pytest.approx([0.0, 50.0, 215.0])


def test_money_and_who_pays_it_change_nothing_in_carbon() -> None:
    case = case_of()
    landlord = Landlord(tax_rate=0.3, pays_energy=0.0, depreciation=(1.0,))
    home = dataclasses.replace(case.household, rate=0.09, electricity_price=1.0, day_cost=50.0, landlord=landlord)
    other = dataclasses.replace(
        case, household=home, options=tuple(dataclasses.replace(o, days_without=20.0) for o in case.options)
    )
    assert weigh(in_carbon(other, figures())).repair_limit == weigh(in_carbon(case, figures())).repair_limit


# by hand


@pytest.mark.published("IPCC AR4 as in 40 CFR 98 table A-1")
def test_a_charge_that_escapes_weighs_what_the_worked_example_says() -> None:
    assert refrigerant_loss(0.15, R134A) == pytest.approx(VENTED_150_G, abs=0.5)
    assert refrigerant_loss(0.15, R134A, 0.5) == pytest.approx(107.25)


def test_two_ways_that_are_sure_to_last_emit_what_a_hand_adds_up() -> None:
    # 12 years at 0.4 kg/kWh, no decline: repair 20 + 380 x 0.4 x 12 = 1844; new 305 + 300 x 0.4 x 12 = 1745; each less
    # what is left of it: 48 of 60 years, 305 x 48 / 60 = 244
    case = sure_to_last(case_of(), 12.0)
    found = weigh(in_carbon(case, figures(electricity_growth=0.0, made=(300.0,), refrigerant=(5.0,))))
    repair, new = (float(option.present_cost) for option in found.options[:2])
    assert repair == pytest.approx(20 + 380 * 0.4 * 12 - 305 * 48 / 60, rel=1e-4)
    assert new == pytest.approx(305 + 300 * 0.4 * 12 - 305 * 48 / 60, rel=1e-4)


def test_a_grid_that_gets_cleaner_is_summed_as_calculus_does() -> None:
    case, fall = sure_to_last(case_of(), 12.0), -math.log(1 - 0.04)
    found = weigh(in_carbon(case, figures(made=(300.0,), refrigerant=(5.0,))))
    by_hand = 380 * 0.4 * (1 - math.exp(-fall * 12)) / fall
    assert float(found.options[0].by_category["electricity"]) == pytest.approx(by_hand, rel=1e-4)


@pytest.mark.parametrize(("saved", "years"), [(80.0, 8.9), (200.0, 3.6), (10.0, None)])
def test_a_new_unit_makes_up_for_its_making_when_a_hand_says_so(saved: float, years: float | None) -> None:
    # 305 - 20 = 285 kg more at once; 80 kWh at 0.4 kg save 32 a year: 8.9 years
    case = sure_to_last(case_of(), 12.0)
    there = dataclasses.replace(case.appliance, electricity=300.0 + saved)
    carbon = in_carbon(
        dataclasses.replace(case, appliance=there), figures(electricity_growth=0.0, made=(300.0,), refrigerant=(5.0,))
    )
    found = float(np.asarray(measure(carbon, weigh(carbon)).simple_payback))
    assert math.isnan(found) if years is None else found == pytest.approx(years, abs=0.05)


@pytest.mark.parametrize("saved", [10.0, 12.0, 13.0, 20.0, 200.0])
@pytest.mark.published("Steiner et al., Timely replacement of white goods, equation (3)")
def test_the_verdict_is_that_of_the_published_criterion_where_it_holds(saved: float) -> None:
    # It knows no repair, and an old unit that would run as long as a new one does: 60 years here, the study's length.
    case, certain = sure_to_last(case_of(), 60.0 - 1e-9), Weibull.with_mean(60.0, 10.0, 59.99)
    there = dataclasses.replace(case.appliance, electricity=300.0 + saved, retirement=certain)
    appliance = dataclasses.replace(case.options[1].appliance, retirement=certain)
    options = (case.options[0], dataclasses.replace(case.options[1], appliance=appliance))
    case = dataclasses.replace(case, appliance=there, options=options)
    found = weigh(in_carbon(case, figures(electricity_growth=0.0, repair=0.0, made=(300.0,), refrigerant=(0.0,))))
    ratio = (300.0 / 60.0) / (saved * 0.4)
    assert (float(found.options[1].present_cost) < float(found.options[0].present_cost)) == (ratio < 1)


def test_the_repair_limit_is_the_emission_at_which_both_are_equal() -> None:
    limit = float(weigh(in_carbon(case_of(), figures(made=(900.0, 900.0)))).repair_limit)
    assert limit > 0
    # later repairs are of the same size, so only the part of today's alone is moved
    at_limit = weigh(in_carbon(case_of(), figures(made=(900.0, 900.0), repair_refrigerant=limit - 20.0)))
    assert float(at_limit.advantage) == pytest.approx(0.0, abs=1e-9)


def test_years_are_those_of_the_household_or_of_a_new_unit() -> None:
    case = case_of()
    assert years_compared(case) == 13.0
    assert years_compared(in_years(case, 7.5)) == 7.5


def test_a_used_unit_counts_the_part_of_its_making_that_its_years_are() -> None:
    options = in_carbon(case_of(), figures()).options
    life = Weibull.with_mean(13.0, 2.2, 0.0)
    left = float(life.mean_residual_life(6.0) / life.mean_residual_life(0.0))
    assert options[1].price == pytest.approx(305.0)
    assert float(options[2].price) == pytest.approx(305.0 * left)


def test_later_repairs_are_what_the_upkeep_pays_for() -> None:
    assert later_repairs(new_appliance(maintenance_and_repair=30.0, later_repair_median=150.0)) == pytest.approx(0.2)
    assert later_repairs(new_appliance(maintenance_and_repair=30.0, later_repair_median=0.0)) == 0.0
    column = later_repairs(
        new_appliance(
            maintenance_and_repair=np.array([30.0, 0.0, 30.0]), later_repair_median=np.array([150.0, 150.0, 0.0])
        )
    )
    assert np.asarray(column) == pytest.approx([0.2, 0.0, 0.0])


def test_a_caution_that_refuses_the_repair_refuses_it_in_carbon_too() -> None:
    case = dataclasses.replace(case_of(), prohibitions=(Prohibition(action="repair", caution="c"),))
    assert math.isnan(float(weigh(in_carbon(case, figures())).repair_limit))
    with pytest.raises(CaseError, match="ruled out"):
        carbon_confidence(in_carbon(case, figures()), ())


def test_figures_that_make_no_case_are_refused() -> None:
    with pytest.raises(CaseError, match=r"carbon\.made"):
        in_carbon(case_of(), figures(made=(300.0,)))
    with pytest.raises(EntryErrors, match=r"household\.electricity_price"):
        in_carbon(case_of(), figures(electricity=math.nan))


# how sure


def test_with_no_ranges_the_draws_are_all_the_case() -> None:
    case = in_carbon(case_of(), figures())
    found, costs = carbon_confidence(case, ()), [float(option.present_cost) for option in weigh(case).options[:4]]
    assert found.low == pytest.approx(found.high)
    assert found.low == pytest.approx(min(costs[1:]) - costs[0], rel=1e-9)
    assert found.share_least[int(np.argmin(costs))] == 1.0


def test_a_wider_range_of_the_making_makes_it_less_sure() -> None:
    filled = carbon_of(complete(WASHER).case, {})
    making = next(each for each in filled.ranges if each.paths[0] == "replace.price")
    narrow = dataclasses.replace(making, lows=(0.95 * making.values[0],), highs=(1.05 * making.values[0],))
    wide, tight = (carbon_confidence(filled.case, (each,)) for each in (making, narrow))
    assert wide.high - wide.low > 5 * (tight.high - tight.low)
    assert sum(wide.share_least) == pytest.approx(1.0)


# a price of carbon


def test_a_price_of_nothing_changes_nothing() -> None:
    case = case_of()
    assert weigh(with_price_of_carbon(case, figures(), 0.0)).repair_limit == weigh(case).repair_limit


def test_a_price_of_carbon_adds_it_to_what_is_emitted_today() -> None:
    case = case_of()
    priced = with_price_of_carbon(case, figures(), 200.0)
    assert priced.household.electricity_price == pytest.approx(0.35 + 0.2 * 0.4)
    assert priced.household.gas_price == pytest.approx(0.12 + 0.2 * 0.18)
    assert priced.options[1].price == pytest.approx(620 + 0.2 * 305)
    assert priced.options[0].quote == Quote(amount=260.0 + 0.2 * 20)
    taxed = vary(case, "replace.tax_rate", 0.2)  # no tax is due on it
    assert with_price_of_carbon(taxed, figures(), 200.0).options[1].due == pytest.approx(taxed.options[1].due + 61)
    # a fifth of a repair a year, whether of the unit there or of one that is bought
    kept = {"maintenance_and_repair": 30.0, "later_repair_median": 150.0}
    there, bought = dataclasses.replace(case.appliance, **kept), new_appliance(**kept)
    options = (case.options[0], dataclasses.replace(case.options[1], appliance=bought), *case.options[2:])
    priced = with_price_of_carbon(dataclasses.replace(case, appliance=there, options=options), figures(), 200.0)
    for unit in (priced.appliance, priced.options[1].appliance):
        assert unit.maintenance_and_repair == pytest.approx(30.0 + 0.2 * 0.2 * 20)


@pytest.mark.parametrize("price", [50.0, 200.0, 1_000.0])
def test_money_with_a_price_of_carbon_is_money_plus_that_price_of_the_carbon(price: float) -> None:
    # over a study without interest, where carbon and money are summed alike and the steady growth is exact
    case = in_years(sure_to_last(case_of(), 12.0), 12.0, rate=0.0, residual_share=1.0)
    emitted = figures(electricity_growth=0.0, made=(300.0,), refrigerant=(5.0,))
    money, carbon, mixed = (
        weigh(each) for each in (case, in_carbon(case, emitted), with_price_of_carbon(case, emitted, price))
    )
    for paid, kilograms, both in zip(money.options[:2], carbon.options[:2], mixed.options[:2], strict=True):
        expected = float(paid.present_cost) + price / 1000 * float(kilograms.present_cost)
        assert float(both.present_cost) == pytest.approx(expected, rel=1e-9)


def test_a_steady_growth_is_worth_the_two_prices_that_grow_apart() -> None:
    case = in_years(sure_to_last(case_of(), 12.0), 12.0, rate=0.0, residual_share=1.0)
    emitted = figures(electricity_growth=-0.06, made=(300.0,), refrigerant=(5.0,))
    money, carbon, mixed = (
        weigh(each) for each in (case, in_carbon(case, emitted), with_price_of_carbon(case, emitted, 200.0))
    )
    apart = float(money.options[0].present_cost) + 0.2 * float(carbon.options[0].present_cost)
    assert float(mixed.options[0].present_cost) == pytest.approx(apart, rel=2e-3)


def test_a_price_of_carbon_is_the_same_in_every_block_of_a_tariff() -> None:
    steps = PriceSteps(upto=(100.0, 250.0, math.inf), level=(0.5, 1.0, 1.8))
    case = in_years(case_of(), 12.0, electricity_steps=steps)
    priced = with_price_of_carbon(case, figures(), 200.0).household
    for flow in (60.0, 180.0, 400.0):
        paid = 0.35 * float(steps.priced(flow)) + 0.2 * 0.4 * flow
        assert priced.electricity_price * float(priced.electricity_steps.priced(flow)) == pytest.approx(paid)


# the tables

WASHER = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190}}


def fridge(age: float, region: str = "US", fault: str = "refrigerant_leak") -> Case:
    entries = {"appliance": {"class": "refrigerator", "age": age, "fault": fault}, "household": {"place": region}}
    return complete(entries).case


@pytest.mark.published("EPA GHG Emission Factors Hub 2025, table 1")
def test_gas_emits_what_the_factor_hub_prints_by_the_therm() -> None:
    figure = carbon_tables().figure("gas", "furnace_gas", "US")
    assert figure.value * 29.3071 == pytest.approx(GAS_A_THERM, abs=5e-4)


@pytest.mark.parametrize(("place", "printed"), EGRID_LB_A_MWH.items())
@pytest.mark.published("EPA eGRID2023, table 1")
def test_grids_emit_what_egrid_prints_in_pounds(place: str, printed: float) -> None:
    assert carbon_tables().grid[place][0].value == pytest.approx(printed * LB / 1000, abs=5e-5)


def test_every_place_has_a_grid_and_every_class_a_making() -> None:
    assert set(carbon_tables().grid) == set(tables().known_places)
    for region in CURRENCIES:
        for kind in tables().classes(region):
            for quantity in CARBON_UNITS:
                figure = carbon_tables().figure(quantity, kind.kind, region)
                assert float(figure.low or 0.0) <= figure.value <= float(figure.high or 0.0)
                assert figure.source.citation


def test_every_class_that_can_lose_refrigerant_says_which() -> None:
    sealed = {k for fault in tables().known_faults.values() if fault.sealed for k in fault.classes}
    for kind in sealed:
        for region in tables().known_classes[kind].regions:
            assert carbon_tables().refrigerant(kind, region, 1960) is not None


@pytest.mark.parametrize(
    ("age", "region", "name"),
    [(40, "US", "R-12"), (20, "US", "R-134a"), (3, "US", "R-600a"), (20, "EU", "R-600a"), (29, "EU", "R-134a")],
)
def test_an_old_unit_holds_what_was_filled_in_then(age: float, region: str, name: str) -> None:
    assert carbon_of(fridge(age, region), {}, 2026).refrigerants[0] == name


def test_a_repair_of_the_sealed_circuit_refills_a_charge_and_another_does_not() -> None:
    leak, fan = (
        carbon_of(fridge(20, "US", fault), {}, 2026).figures for fault in ("refrigerant_leak", "condenser_fan")
    )
    assert leak.repair_refrigerant == pytest.approx(0.15 * R134A * 0.5)
    assert fan.repair_refrigerant == 0.0


@pytest.mark.slow
@pytest.mark.parametrize("region", CURRENCIES)
def test_every_fault_that_opens_the_circuit_refills_a_charge(region: str) -> None:
    for fault in tables().known_faults.values():
        for kind in tables().classes(region):
            if fault.classes == ("*",) or kind.kind not in fault.classes:
                continue
            there = {"class": kind.kind, "age": 9, "fault": fault.fault}
            found = carbon_of(complete({"appliance": there, "household": {"place": region}}).case, {}, 2026)
            assert (found.figures.repair_refrigerant > 0) == fault.sealed, (fault.fault, kind.kind)
            assert bool(found.refrigerants[0]) == fault.sealed


def test_a_heat_pump_s_reversing_valve_is_changed_with_the_circuit_open() -> None:
    # common practice, no source: the valve is soldered into the circuit, so its charge is taken out and filled in anew
    there = {"class": "heat_pump_air", "age": 5}
    valve, leak = (
        carbon_of(complete({"appliance": {**there, "fault": fault}}).case, {}, 2026).figures
        for fault in ("reversing_valve", "refrigerant_leak")
    )
    assert valve.repair_refrigerant == leak.repair_refrigerant > 1000


def test_what_is_entered_takes_the_place_of_the_tables() -> None:
    entered = {
        "electricity": 0.05, "electricity_growth": 0.0, "gas": 0.2, "water": 1.0, "made": 500.0, "refrigerant": 1.0,
        "repair": 7.0, "repair_refrigerant": 3.0,
    }  # fmt: skip
    found = carbon_of(fridge(20), entered, 2026)
    assert found.defaults == ()
    assert found.figures == CarbonFigures(**{**entered, "made": (500.0,), "refrigerant": (1.0,)})
    assert [each for each in found.ranges if each.lows != each.highs] == []


def test_ranges_hold_their_values_and_name_inputs_of_the_case_in_carbon() -> None:
    filled = complete(
        {
            **WASHER,
            "household": {"place": "DE"},
            "replace": [{}, {"name": "used", "price": 200, "appliance": {"age": 5}}],
        }
    )
    found = carbon_of(filled.case, {}, 2026)
    known = {entry.path for entry in inputs(found.case)}
    ranges = all_ranges(found, ranges_of(filled))
    paths = [path for each in ranges for path in each.paths]
    assert set(paths) <= known
    assert all(len(set(each.paths)) == len(each.paths) for each in ranges)
    assert {"household.electricity_price", "replace.price", "replace.2.price", "repair.quote.amount"} <= set(paths)
    assert not {"household.rate", "household.inflation"} & set(paths)


@pytest.mark.published("EIA Annual Energy Outlook, reference case, power sector")
def test_the_american_path_is_the_outlook_s() -> None:
    # AEO reference case, Mt a quad: 41.85 in 2025, 32.83 in 2030, 21.03 in 2035, 15.61 in 2040, 14.69 in 2050
    levels = carbon_tables().paths["US"].levels[0]
    assert levels[[4, 9, 14, 24]] == pytest.approx(np.array([32.83, 21.03, 15.61, 14.69]) / 41.85, abs=1e-3)


def test_a_steady_decline_sums_to_the_path() -> None:
    found = carbon_of(complete(WASHER).case, {}, 2026)
    years = round(found.years)
    steady = (1 + float(found.figures.electricity_growth)) ** np.arange(1, years + 1)
    assert float(np.sum(steady)) == pytest.approx(
        float(np.sum(carbon_tables().paths["US"].levels[0, :years])), rel=1e-9
    )


BROKEN = [
    ("carbon_figures.csv", "*,*,repair", "unit", "lb", "unit must be one of kg"),
    ("carbon_figures.csv", "*,*,repair", "note", "", "must give its reason"),
    ("carbon_figures.csv", "*,*,repair", "low", "999", "low <= value <= high"),
    ("carbon_figures.csv", "*,*,repair", "source", "", "source is empty"),
    ("carbon_grid.csv", "US,", "loss", "0.9", "loss must be a share"),
    ("carbon_grid.csv", "US,", "place", "XX", "place must be one of"),
    ("carbon_grid.csv", "US,", "status", "sure", "status must be one of"),
    ("carbon_paths.csv", "US,2025", "level", "0.9", "begin at 1"),
    ("carbon_refrigerants.csv", "room_ac,US,2010", "since", "1940", "must follow each other"),
]


@pytest.mark.parametrize(("name", "row", "column", "cell", "error_text"), BROKEN)
def test_a_row_that_breaks_the_rules_is_refused(
    name: str, row: str, column: str, cell: str, error_text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoil(copied(tmp_path, COLUMNS) / name, row, {column: cell})
    tables()  # the other tables, before the folder is another
    monkeypatch.setattr(carbon_figures, "data_dir", lambda: tmp_path)
    carbon_tables.cache_clear()
    try:
        with pytest.raises(DataError, match=error_text):
            carbon_tables()
    finally:
        monkeypatch.undo()
        carbon_tables.cache_clear()


@pytest.mark.parametrize("region", CURRENCIES)
def test_every_class_can_be_put_in_carbon_with_all_ranges_within_bounds(region: str) -> None:
    for kind in tables().classes(region):
        fault = next((each.fault for each in tables().faults(kind.kind) if each.sealed), "other")
        entries = {"appliance": {"class": kind.kind, "age": 9, "fault": fault}, "household": {"place": region}}
        found = carbon_of(complete(entries).case, {}, 2026)
        bounds = {entry.path: entry.bounds for entry in inputs(found.case)}
        for each in found.ranges:
            for path, *ends in zip(each.paths, each.lows, each.highs, strict=True):
                assert all(bounds[path].admits(end) for end in ends), (kind.kind, path, ends)


def test_the_steady_change_of_every_path_can_be_entered_whatever_the_years() -> None:
    for path in carbon_tables().paths.values():
        for years in range(1, path.levels.shape[-1] + 1):
            for levels in path.levels:
                assert -0.1 <= steady_escalation(levels[:years], 0.0) <= 1e-9


@pytest.mark.parametrize("name", CARBON_ENTRIES)
def test_nothing_may_be_entered_of_what_is_given_off_and_less_only_of_its_growth(name: str) -> None:
    entries = {"appliance": {"class": "dishwasher", "age": 8}, "repair": {"quote": 200}}
    complete({**entries, "carbon": {name: 0}})
    if name == "electricity_growth":
        complete({**entries, "carbon": {name: -0.01}})
    else:
        with pytest.raises(EntryErrors, match=rf"carbon.{name}: must be from 0"):
            complete({**entries, "carbon": {name: -0.01}})
