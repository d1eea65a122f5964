"""A case holds its inputs to their bounds, and names each of them once."""

import math
from dataclasses import replace

import numpy as np
import pytest
from households import case_of, new_appliance

from decide.economics.case import Case, Option, inputs, option_paths, vary
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


def test_nothing_in_a_case_can_be_changed_in_place() -> None:
    for noun in (case_of(), case_of().household, case_of().options[0]):
        assert isinstance(noun, Case | Household | Option)
        with pytest.raises(AttributeError):
            noun.title = "other"  # type: ignore[misc]


def test_a_study_of_more_years_than_any_need_is_refused() -> None:
    with pytest.raises(CaseError, match=r"household\.study_period: must be from 0.5 to 500 year, got 501"):
        vary(case_of(), "household.study_period", 501.0)
