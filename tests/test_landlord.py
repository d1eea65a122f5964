"""After-tax weighing for a landlord, against worked examples of a textbook and of lectures, yearly cash, identities."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import numpy_financial as npf
import pytest
from commands import run
from households import case_of, standard_error
from scipy.optimize import brentq
from yearly_cash import cash

from decide.answers.answer import answer
from decide.economics.case import Case, Quote, inputs, vary
from decide.economics.flows import course_of, flows_of, money
from decide.economics.household import Landlord
from decide.economics.landlord import after_tax_share, purchase_weight, straight_line, worth_of_deductions
from decide.economics.outcomes import outcome_distribution
from decide.economics.weigh import weigh
from decide.errors import CaseError, EntryErrors
from decide.finance import nominal_rate
from decide.load.cases.case_file import complete
from decide.load.cases.landlord_entry import schedules
from decide.show.text.carbon_words import landlord_text
from decide.show.text.words import Words

# University of Calgary, ENGG 209, lecture notes on replacement with taxes (a pump), second-hand: tax 40 %, 10 % a year,
# capital tax factor 0.7455; present equivalents after tax, printed to the unit.
ENGG209_FACTOR = 0.7455
ENGG209_DEFENDER = {"operating": 1492, "opportunity": 1864, "salvage": 560, "total": 2796}
ENGG209_CHALLENGER = {"capital": 2982, "operating": 746, "salvage": 1120, "total": 2608}

# Newnan, Eschenbach, Lavelle, Engineering Economic Analysis, second-hand: read in a scanned copy that does not print
# the edition (the ninth, 2004, from memory). Chapter 13, After-Tax Replacement Analysis, pp. 424-425, going on from
# Example 13-9: keep a computer at 80 a year, or buy one for 1050 that saves 120 a year and is worth 250 in the end;
# five years, tax 34 %, 8 % a year after tax, straight line over 4 years. Cash after tax by year, printed to the unit.
# The last digit of the challenger's annual cost cannot be read in the copy: 85 is the page's own sum, worked out.
NEWNAN_DEFENDER = (-404, 83, 83, -53, -53, -53)
NEWNAN_CHALLENGER = (-1050, 147, 147, 147, 147, 79 + 250)
NEWNAN_ANNUAL_COST = {"defender": 93, "challenger": 85}

# The same book, second-hand as above: chapter 12, p. 386, Figure 12-3: a truck for 3000 that saves 800 a year and is
# sold for 750 after five years, tax 34 %, 5-year property, half of the fifth year's percentage in the year of the sale.
NEWNAN_DEPRECIATION = (600.0, 960.0, 576.0, 345.6, 172.8)
NEWNAN_TAXED_ON_SALE = 404.4
NEWNAN_RATE_OF_RETURN = 0.1124

# McGill University, MIME 310 Engineering Economy, tutorial 7.1, second-hand: tax 45 %, 12 % a year, half the price a
# year with half a year at both ends.
MIME310_FACTOR = 0.6401

# IRS Publication 946, Appendix A, Table A-1: 5-year property, half-year convention; second-hand, read in an open
# energy-cost code that carries the table.
TABLE_A1_FIVE_YEARS = (0.2, 0.32, 0.192, 0.1152, 0.1152, 0.0576)


def half_year_declining_balance(share: float, years: int) -> tuple[float, ...]:
    """What Canada's capital cost allowance deducts by year: half the share first, then the share of what is left."""
    left, deducted = 1.0, []
    for year in range(years):
        deducted.append(left * (share / 2 if year == 0 else share))
        left -= deducted[-1]
    return tuple(deducted)


def rented(case: Case, **changes: object) -> Case:
    """The invented household, let to tenants."""
    landlord = Landlord(**{"tax_rate": 0.3, "pays_energy": 1.0, "depreciation": straight_line(5), **changes})
    return dataclasses.replace(case, household=dataclasses.replace(case.household, landlord=landlord))


@pytest.mark.published("University of Calgary, ENGG 209, lecture 20, second-hand", "engg209-sunk-overhaul")
def test_the_capital_tax_factor_of_the_lecture_comes_out() -> None:
    factor = after_tax_share(0.4, half_year_declining_balance(0.2, 400), 0.10)
    assert float(factor) == pytest.approx(ENGG209_FACTOR, abs=5e-5)


@pytest.mark.published("University of Calgary, ENGG 209, lecture 20, second-hand", "engg209-sunk-overhaul")
def test_the_lecture_s_pump_is_replaced_after_tax() -> None:
    factor = float(after_tax_share(0.4, half_year_declining_balance(0.2, 400), 0.10))
    operating = {cost: float(-npf.pv(0.10, 3, cost)) * (1 - 0.4) for cost in (1000, 500)}
    left = {worth: worth * factor * 1.1**-3 for worth in (1000, 2000)}
    defender = {"operating": operating[1000], "opportunity": 2500 * factor, "salvage": left[1000]}
    challenger = {"capital": 4000 * factor, "operating": operating[500], "salvage": left[2000]}
    for printed, found in ((ENGG209_DEFENDER, defender), (ENGG209_CHALLENGER, challenger)):
        assert {name: round(value) for name, value in found.items()} == pytest.approx(
            {name: printed[name] for name in found}, abs=1
        )
    assert sum(defender.values()) - 2 * defender["salvage"] == pytest.approx(ENGG209_DEFENDER["total"], abs=1)
    assert sum(challenger.values()) - 2 * challenger["salvage"] == pytest.approx(ENGG209_CHALLENGER["total"], abs=1)


@pytest.mark.published("McGill University, MIME 310, tutorial 7.1, second-hand")
def test_the_capital_tax_factor_of_a_straight_line_with_half_years_comes_out() -> None:
    assert float(after_tax_share(0.45, (0.25, 0.5, 0.25), 0.12)) == pytest.approx(MIME310_FACTOR, abs=5e-5)


def annual(present: float) -> float:
    """The same cost in each of the textbook's five years at its 8 %."""
    return float(-npf.pmt(0.08, 5, present))


@pytest.mark.published("Newnan, Eschenbach, Lavelle, Engineering Economic Analysis, pp. 424-425, second-hand")
def test_the_textbook_s_upkeep_is_deducted_at_once_and_what_is_left_of_the_old_purchase_over_two_years() -> None:
    maintenance_and_repair = float(-npf.pv(0.08, 5, 80)) * (1 - 0.34)
    opportunity = 200 + 0.34 * (800 - 200)  # sold, it would bring 200 and a loss of 600 to deduct
    assert -opportunity == pytest.approx(NEWNAN_DEFENDER[0], abs=0.5)
    saved = 0.34 * 800 * float(worth_of_deductions(straight_line(2), 0.08))
    found = opportunity + maintenance_and_repair - saved
    assert -found == pytest.approx(float(npf.npv(0.08, NEWNAN_DEFENDER)), abs=1)
    assert annual(found) == pytest.approx(NEWNAN_ANNUAL_COST["defender"], abs=0.5)


@pytest.mark.published("Newnan, Eschenbach, Lavelle, Engineering Economic Analysis, pp. 424-425, second-hand")
def test_the_textbook_s_purchase_weighs_what_its_depreciation_leaves_of_it() -> None:
    case = rented(case_of(), tax_rate=0.34, depreciation=straight_line(4))
    home = dataclasses.replace(case.household, rate=0.08, inflation=0.0)
    borne = float(purchase_weight(home)) * (1 - 0.34 / 1.08)  # back from before tax, as a case keeps it, to after tax
    # 800 is written off; 250 of the price comes back in the end at its book value and is not taxed
    saved = float(-npf.pv(0.08, 5, 120)) * (1 - 0.34)
    found = 800 * borne + 250 - saved - 250 / 1.08**5
    assert -found == pytest.approx(float(npf.npv(0.08, NEWNAN_CHALLENGER)), abs=1)
    assert annual(found) == pytest.approx(NEWNAN_ANNUAL_COST["challenger"], abs=0.5)
    assert annual(found) < NEWNAN_ANNUAL_COST["defender"]  # the book buys


@pytest.mark.published("Newnan, Eschenbach, Lavelle, Engineering Economic Analysis, figure 12-3, second-hand")
def test_the_textbook_s_truck_earns_its_rate_of_return_after_tax_by_the_shipped_schedule() -> None:
    shares = schedules()["us-5-year-half-year"][0]
    until_sold = (*shares[:4], shares[4] / 2)
    assert [3000 * share for share in until_sold] == pytest.approx(NEWNAN_DEPRECIATION, abs=0.05)
    taxed = 750 - 3000 * (1 - sum(until_sold))
    assert taxed == pytest.approx(NEWNAN_TAXED_ON_SALE, abs=0.05)

    def worth(rate: float) -> float:
        saved = float(-npf.pv(rate, 5, 800 * (1 - 0.34), 750 - 0.34 * taxed))
        return saved - 3000 * float(after_tax_share(0.34, until_sold, rate))

    assert float(brentq(worth, 0.01, 0.5)) == pytest.approx(NEWNAN_RATE_OF_RETURN, abs=5e-5)


@pytest.mark.published("IRS Publication 946, table A-1, second-hand")
def test_the_shipped_schedule_is_the_published_one() -> None:
    assert schedules()["us-5-year-half-year"][0] == TABLE_A1_FIVE_YEARS
    assert all(sum(shares) == pytest.approx(1.0) for shares, _ in schedules().values())


@pytest.mark.published("IRS Publication 946, table A-1, second-hand")
def test_the_published_percentages_are_those_of_the_declining_balance_that_changes_to_a_straight_line() -> None:
    # Publication 946 says how the table is made: 200 % declining balance, half a year at both ends, straight line once
    # that deducts more
    left, found = 1.0, []
    for year in range(6):
        remaining = 5.5 - year
        balance = left * 0.4 * (0.5 if year == 0 else 1.0)
        straight = left * min(1.0, 1 / remaining) if year else 0.0
        found.append(max(balance, straight))
        left -= found[-1]
    assert np.round(found, 4) == pytest.approx(TABLE_A1_FIVE_YEARS, abs=1e-9)


@pytest.mark.parametrize(
    "shares", [straight_line(5), TABLE_A1_FIVE_YEARS, (1.0,), half_year_declining_balance(0.2, 30)]
)
def test_the_worth_of_deductions_is_the_npv_of_the_years(shares: tuple[float, ...]) -> None:
    assert float(worth_of_deductions(shares, 0.0506)) == pytest.approx(
        float(npf.npv(0.0506, (0.0, *shares))), rel=1e-12
    )


def test_a_purchase_and_a_repair_weigh_as_their_explicit_yearly_cash_after_tax_does() -> None:
    case = rented(case_of(), tax_rate=0.24, depreciation=TABLE_A1_FIVE_YEARS)
    rate = float(nominal_rate(case.household.rate, case.household.inflation))
    repair, new = case.options[0], case.options[1]
    taxed_at_once = 1 - 0.24 / (1 + rate)

    def after_tax(paid: float, shares: tuple[float, ...]) -> float:
        return float(npf.npv(rate, [paid, *(-0.24 * paid * share for share in shares)]))

    quote = float(flows_of(case, repair).once["repair"])
    assert quote * taxed_at_once == pytest.approx(after_tax(quote, (1.0,)))
    capital = new.price + new.delivery + new.installation - new.rebate
    explicit = after_tax(float(capital), TABLE_A1_FIVE_YEARS) + after_tax(float(new.haul_away), (1.0,))
    assert float(flows_of(case, new).once["purchase"]) * taxed_at_once == pytest.approx(explicit)


def test_a_purchase_that_is_deducted_whole_is_treated_like_a_repair() -> None:
    case = case_of()
    expensed = weigh(rented(case, depreciation=(1.0,)))
    assert expensed.repair_limit == pytest.approx(float(weigh(case).repair_limit), rel=1e-12)


def test_without_tax_nothing_changes() -> None:
    case = case_of()
    assert weigh(rented(case, tax_rate=0.0)).repair_limit == pytest.approx(float(weigh(case).repair_limit), rel=1e-12)


@pytest.mark.parametrize("period", [math.inf, 8.0])
def test_the_slower_a_purchase_is_deducted_the_dearer_a_repair_may_be(period: float) -> None:
    case = case_of()
    case = dataclasses.replace(case, household=dataclasses.replace(case.household, study_period=period))
    limits = [float(weigh(rented(case, depreciation=straight_line(years))).repair_limit) for years in (1, 5, 10, 27)]
    assert limits == sorted(limits)
    assert limits[0] < limits[-1]


def test_the_limit_is_still_the_quote_at_which_both_ways_cost_the_same() -> None:
    case = rented(case_of(), tax_rate=0.24, depreciation=TABLE_A1_FIVE_YEARS, pays_energy=0.4)
    limit = float(weigh(case).repair_limit)
    at_limit = weigh(
        rented(case_of(Quote(amount=limit)), tax_rate=0.24, depreciation=TABLE_A1_FIVE_YEARS, pays_energy=0.4)
    )
    assert at_limit.advantage == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("which", range(4), ids=["repair", "new", "used", "leave"])
def test_the_mean_of_a_landlord_s_luck_is_what_the_weighing_expects(which: int) -> None:
    case = vary(rented(case_of()), "household.study_period", 12.0)
    option, successor = case.options[which], case.options[1]  # the one new unit
    expected = sum(cash(case, option, successor, money(case.household), 12.0, True).present.values())
    found = outcome_distribution(case, option)
    assert found.spread.mean == pytest.approx(expected, abs=4 * standard_error(found))


def test_a_landlord_who_pays_no_bills_saves_nothing_by_a_frugal_unit() -> None:
    case = rented(case_of(), pays_energy=0.0)
    frugal = vary(case, "replace.appliance.electricity", 1.0)
    assert weigh(frugal).repair_limit == pytest.approx(float(weigh(case).repair_limit), rel=1e-12)
    assert float(weigh(frugal).options[1].by_category["electricity"]) == 0.0


def test_bills_are_borne_in_proportion() -> None:
    case = case_of()
    half, whole = (weigh(rented(case, pays_energy=share)).options[0].by_category for share in (0.5, 1.0))
    for fuel in ("electricity", "water"):
        assert 2 * float(half[fuel]) == pytest.approx(float(whole[fuel]))


def test_what_is_paid_today_is_the_price_and_not_its_weight() -> None:
    case = case_of()
    untaxed, taxed = weigh(case), weigh(rented(case))
    for before, after in zip(untaxed.options[:4], taxed.options[:4], strict=True):
        assert after.today == pytest.approx(float(before.today))
    assert sum(course_of(rented(case), case.options[1], money(case.household)).once.values()) > float(
        untaxed.options[1].today
    )


def test_a_column_of_tax_rates_is_weighed_row_by_row() -> None:
    case = rented(case_of())
    rates = np.array([0.0, 0.12, 0.24, 0.37])
    column = weigh(vary(case, "household.landlord.tax_rate", rates)).repair_limit
    each = [float(weigh(vary(case, "household.landlord.tax_rate", float(rate))).repair_limit) for rate in rates]
    assert column == pytest.approx(each, rel=1e-12)


def test_a_case_refuses_what_no_tax_knows() -> None:
    with pytest.raises(EntryErrors, match="no more than 1 together"):
        rented(case_of(), depreciation=(0.6, 0.6))
    with pytest.raises(EntryErrors, match="must be shares from 0 to 1"):
        rented(case_of(), depreciation=(-0.1, 0.6))
    rented(case_of(), depreciation=(0.0, 0.5, 0.5))  # a year may be left out
    with pytest.raises(EntryErrors, match=r"replace.financed: cannot be weighed for a landlord"):
        vary(rented(case_of()), "replace.financed", 100.0)
    with pytest.raises(EntryErrors, match=r"replace.pays: cannot be weighed for a landlord"):  # one row is enough
        vary(rented(case_of()), "replace.financed_share", np.array([0.0, 0.5]))
    with pytest.raises(EntryErrors, match=r"household.landlord.tax_rate"):
        rented(case_of(), tax_rate=math.nan)
    with pytest.raises(CaseError, match="depreciation_years"):
        straight_line(0)


ENTRIES = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190}}
TAXED = {"tax_rate": 0.24, "pays_energy": 0.0, "depreciation": "us-5-year-half-year"}


def entries(**landlord: object) -> dict[str, object]:
    return {**ENTRIES, "household": {"landlord": landlord}}


def test_entries_make_a_landlord() -> None:
    found = complete(entries(**TAXED)).case.household.landlord
    assert found == Landlord(tax_rate=0.24, pays_energy=0.0, depreciation=TABLE_A1_FIVE_YEARS)
    years = complete(entries(tax_rate=0.24, pays_energy=1, depreciation_years=4)).case.household.landlord
    assert years is not None
    assert years.depreciation == (0.25,) * 4
    own = complete(entries(tax_rate=0.24, pays_energy=1, depreciation=[0.5, 0.5])).case.household.landlord
    assert own is not None
    assert own.depreciation == (0.5, 0.5)


@pytest.mark.parametrize(
    ("landlord", "error_text"),
    [
        ({}, "household.landlord.tax_rate: is needed"),
        ({"tax_rate": 0.2}, "household.landlord.pays_energy: is needed"),
        ({**TAXED, "depreciation_years": 5}, "got both"),
        ({"tax_rate": 0.2, "pays_energy": 0}, "got neither"),
        ({**TAXED, "depreciation": "none"}, "must be one of us-5-year-half-year; all-at-once"),
        ({**TAXED, "depreciation": []}, "must be shares by tax year"),
        ({**TAXED, "depreciation": [0.5, "x"]}, "must be shares by tax year"),
        ({**TAXED, "depreciation": [0.9, 0.9]}, "no more than 1 together"),
        ({"tax_rate": 0.2, "pays_energy": 0, "depreciation_years": 4.5}, "whole number of years"),
        ({"tax_rate": 0.2, "pays_energy": 0, "depreciation_years": math.inf}, "whole number of years"),
        ({"tax_rate": 0.2, "pays_energy": 0, "depreciation_years": 90}, "from 1 to 50 year"),
        ({**TAXED, "tax_rate": 0.9}, "from 0 to 0.6"),
        ({**TAXED, "tax": 0.9}, "household.landlord.tax: is not known"),
    ],
)
def test_what_makes_no_landlord_is_said(landlord: dict[str, object], error_text: str) -> None:
    with pytest.raises(EntryErrors) as error:
        complete(entries(**landlord))
    assert error_text in str(error.value)


def test_a_landlord_is_told_that_it_is_no_tax_advice_and_nobody_else_is() -> None:
    words, taxed, own = Words.of("en"), answer(entries(**TAXED)), answer(ENTRIES)
    assert landlord_text(words, taxed)[-1].startswith("This is not tax advice.")
    assert landlord_text(words, own) == []


def test_a_weighing_prints_the_caution_about_tax_and_the_one_about_local_law(tmp_path: Path) -> None:
    path = tmp_path / "let.toml"
    landlord = 'tax_rate = 0.24\npays_energy = 0\ndepreciation = "us-5-year-half-year"\n'
    path.write_text(
        f'[appliance]\nclass = "clothes_washer"\nage = 8\n[repair]\nquote = 190\n[household.landlord]\n{landlord}',
        "utf-8",
    )
    printed = " ".join(run("weigh", str(path)).output.split())
    assert "This is not tax advice." in printed
    assert "Local codes, the maker's instructions and licensed practice come first" in printed


def test_power_that_tenants_pay_is_no_reason() -> None:
    """Nobody argues with a bill that is not the reader's."""
    words = Words.for_place("US")
    unit = {"class": "refrigerator", "age": 14, "electricity": 600}
    owner, landlord = (
        answer({"appliance": unit, "repair": {"quote": 190}, "household": home})
        for home in ({}, {"landlord": {**TAXED, "pays_energy": 0.0}})
    )
    assert any("kWh" in each for each in words.because(owner))
    assert not any("kWh" in each for each in words.because(landlord))


def test_a_landlord_s_inputs_are_listed_and_have_names_and_help() -> None:
    words, found = Words.of("en"), answer(entries(**TAXED))
    paths = [entry.path for entry in inputs(found.case) if "landlord" in entry.path]
    assert paths == ["household.landlord.tax_rate", "household.landlord.pays_energy"]
    assumed = {line.path: line for line in words.assumptions(found)}
    for path in paths:
        assert words.label(path) != path
        assert words.help(path).endswith(".")
        assert assumed[path].origin == "entered"
    assert assumed["household.landlord.tax_rate"].value == "24%"


def test_a_landlord_s_weights_are_told_in_a_sentence() -> None:
    words, found = Words.of("en"), answer(entries(**TAXED))
    text, _ = landlord_text(words, found)
    price = float(found.case.options[1].price)
    assert words.money(price * float(purchase_weight(found.case.household))) in text
    assert landlord_text(words, answer(ENTRIES)) == []
