"""A case holds its inputs to their bounds, and names each of them once."""

import math
from dataclasses import MISSING, fields, replace

import numpy as np
import pytest
from households import case_of, new_appliance

from decide.economics.case import Appliance, Case, Option, Quote, inputs, option_paths, vary
from decide.economics.household import Household
from decide.errors import CaseError, EntryErrors


def test_every_input_can_be_named_and_varied() -> None:
    case = case_of()
    paths = [entry.path for entry in inputs(case)]
    assert len(paths) == len(set(paths))
    assert {"appliance.age", "repair.quote.parts", "replace.appliance.electricity", "replace.2.price"} <= set(paths)
    for entry in inputs(case):
        same = vary(case, entry.path, entry.value)
        assert same == case


def test_the_second_replacement_is_called_the_second() -> None:
    assert option_paths(case_of()) == ("repair", "replace", "replace.2", "leave")


@pytest.mark.parametrize(
    "path", ["appliance", "appliance.kind", "repair.nonsense", "nothing.at.all", "replace.3.price"]
)
def test_a_path_that_leads_nowhere_is_refused_by_name(path: str) -> None:
    with pytest.raises(CaseError, match="is no input of this case") as caught:
        vary(case_of(), path, 1.0)
    assert caught.value.field == path


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("appliance.age", -1.0, "appliance.age: must be from 0 to 60 year, got -1.0"),
        ("appliance.age", math.nan, "appliance.age: must be from 0 to 60 year, got nan"),
        ("household.rate", 3.0, "household.rate: must be from 0 to 0.5 1/year, got 3.0"),
        ("repair.quote.amount", -5.0, "repair.quote.amount: must be from 0 to 100000 money, got -5.0"),
        ("appliance.age", np.array([3.0, 99.0]), "appliance.age: must be from 0 to 60 year"),
    ],
)
def test_a_value_out_of_bounds_names_field_bounds_unit_and_what_came(path: str, value: float, message: str) -> None:
    with pytest.raises(EntryErrors) as caught:
        vary(case_of(), path, value)
    assert message in str(caught.value)


# Own rows: what must be more than nothing, and what may be less.
MORE = {
    "mean_life", "life_shape", "hazard_ratio", "later_repair_log_sd", "remaining_life_factor",
    "repair_success_probability", "callback_window", "loan_years", "study_period",
}  # fmt: skip
LESS = {
    "electricity_escalation", "gas_escalation", "water_escalation", "price_escalation", "inflation", "energy_change",
}  # fmt: skip


def refused(case: Case, path: str, value: float) -> bool:
    try:
        vary(case, path, value)
    except EntryErrors:
        return True
    return False


def test_nothing_may_be_entered_wherever_an_amount_can_be_nothing_and_less_only_for_a_change() -> None:
    case = vary(case_of(), "household.study_period", 10.0)  # a need without end has to be discounted
    for entry in inputs(case):
        name = entry.path.split(".")[-1]
        assert refused(case, entry.path, 0.0) == (name in MORE), entry.path
        assert refused(case, entry.path, -0.001) == (name not in LESS), entry.path


@pytest.mark.parametrize(
    ("path", "least", "most"),
    [
        ("repair.callback_window", 1.0, 365.0),  # a day to a year
        ("repair.repair_warranty", 0.0, 3650.0),  # ten years
        ("replace.days_without", 0.0, 365.0),
        ("replace.loan_years", 1 / 12, 30.0),  # one payment at least, and they are monthly
    ],
)
def test_what_counts_in_days_or_payments_ends_with_the_year_or_the_last_of_them(
    path: str, least: float, most: float
) -> None:
    case = case_of()
    for value, beyond in ((least, least - 0.001), (most, most + 0.001)):
        assert not refused(case, path, value)
        assert refused(case, path, beyond)


def test_what_is_not_said_of_an_option_or_a_unit_counts_nothing_or_once() -> None:
    left_out = {
        each.name: each.default
        for kind in (Appliance, Option, Quote, Household)
        for each in fields(kind)
        if "bounds" in each.metadata and each.default is not MISSING and each.default != 0
    }
    assert left_out.pop("later_repair_log_sd") == 0.6
    assert left_out.pop("callback_window") == 30  # days, common practice
    assert {name for name, value in left_out.items() if value == math.inf} == {
        "planned_replacement_years", "study_period", "most_today",
    }  # fmt: skip
    assert {name for name, value in left_out.items() if value == 1} == {
        "hazard_ratio", "remaining_life_factor", "repair_success_probability", "loan_years",
    }  # fmt: skip
    assert set(left_out.values()) == {1, math.inf}


@pytest.mark.parametrize("part", ["delivery", "installation", "haul_away"])
@pytest.mark.parametrize("taken_off", ["rebate", "trade_in", "financed"])
def test_all_that_a_new_one_costs_may_be_lent_or_come_back_and_no_cent_more(part: str, taken_off: str) -> None:
    case = case_of()
    bought = replace(
        case.options[1], price=500.0, tax_rate=0.1, delivery=0.0, installation=0.0, haul_away=0.0, rebate=0.0,
        trade_in=0.0, financed=0.0,
    )  # fmt: skip
    whole = replace(bought, **{part: 40.0, taken_off: 590.0})
    replace(case, options=(case.options[0], whole))
    with pytest.raises(EntryErrors, match=rf"replace.{taken_off}: must not be more than what is left to pay"):
        replace(case, options=(case.options[0], replace(whole, **{taken_off: 591.0})))


def test_one_row_of_a_column_that_takes_off_too_much_is_enough_to_refuse_it() -> None:
    with pytest.raises(EntryErrors, match=r"replace.rebate: must not be more than what is left to pay"):
        vary(case_of(), "replace.rebate", np.array([0.0, 5000.0]))
    with pytest.raises(EntryErrors, match=r"repair.quote.fee_credit: must not be more than the quote"):
        vary(case_of(), "repair.quote.fee_credit", np.array([0.0, 5000.0]))


def test_all_faults_come_in_one_go() -> None:
    case = case_of()
    with pytest.raises(EntryErrors) as caught:
        Case(
            appliance=new_appliance(age=99.0, electricity=-1.0),
            household=replace(case.household, rate=9.0),
            options=case.options,
        )
    assert [fault.field for fault in caught.value.errors] == [
        "appliance.age",
        "appliance.electricity",
        "household.rate",
    ]


def test_a_need_without_end_needs_a_rate_above_every_escalation() -> None:
    with pytest.raises(EntryErrors, match=r"household.rate: must be above 0 and above every escalation"):
        vary(case_of(), "household.electricity_escalation", 0.05)
    with pytest.raises(EntryErrors, match=r"or give household.study_period"):
        vary(case_of(), "household.rate", 0.0)
    studied = vary(case_of(), "household.study_period", 10.0)
    assert vary(studied, "household.rate", 0.0).household.rate == 0.0


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (lambda o: o[1:], "repair: must be given once, got 0"),
        (lambda o: (o[0], o[3]), "replace: at least one replacement is needed"),
        (lambda o: (*o, replace(o[1], name="new")), "option.name: must differ"),
        (lambda o: (o[0], replace(o[1], appliance=None)), "replace.appliance: is needed for a replacement"),
        (
            lambda o: (o[0], replace(o[1], financed=5000.0)),
            "replace.financed: must not be more than what is left to pay",
        ),
        (lambda o: (o[0], replace(o[1], rebate=5000.0)), "replace.rebate: must not be more than what is left"),
        (
            lambda o: (o[0], replace(o[1], planned_replacement_years=3.0)),
            "replace.planned_replacement_years: plans the end of the unit there",
        ),
        (lambda o: (replace(o[0], action="mend"), *o[1:]), "mend.action: must be one of repair, replace, leave"),
    ],
)
def test_options_that_make_no_question_are_refused(options, message: str) -> None:
    case = case_of()
    with pytest.raises(EntryErrors) as caught:
        replace(case, options=options(case.options))
    assert message in str(caught.value)


def test_a_mean_life_within_the_delay_is_refused() -> None:
    with pytest.raises(EntryErrors, match=r"appliance.mean_life: must be above appliance.failure_free_years"):
        vary(case_of(), "appliance.failure_free_years", 20.0)
    with pytest.raises(EntryErrors, match=r"appliance.mean_life: must be above appliance.failure_free_years"):
        vary(case_of(), "appliance.failure_free_years", case_of().appliance.mean_life)


def test_nothing_in_a_case_can_be_changed_in_place() -> None:
    for noun in (case_of(), case_of().household, case_of().options[0]):
        assert isinstance(noun, Case | Household | Option)
        with pytest.raises(AttributeError):
            noun.title = "other"  # type: ignore[misc]


def test_a_study_of_more_years_than_any_need_is_refused() -> None:
    with pytest.raises(CaseError, match=r"household\.study_period: must be from 0.5 to 500 year, got 501"):
        vary(case_of(), "household.study_period", 501.0)
