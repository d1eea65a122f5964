"""The public API: its names, that each is documented with an example, and the paths that have always worked."""

import dataclasses
import doctest
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ROOT

import decide
from decide.economics.case import Appliance, Option, Quote
from decide.economics.household import Household, Landlord

FINANCE = {
    "EconomicLife", "adjusted_internal_rate_of_return", "discounted_payback", "economic_life",
    "equivalent_annual_cost", "escalated_uniform_present_value", "indexed_uniform_present_value",
    "internal_rate_of_return", "loan_payment", "loan_present_value", "net_saving", "nominal_rate",
    "present_value", "real_rate", "savings_to_investment_ratio",
    "simple_payback", "single_present_value", "uniform_present_value", "uniform_present_value_continuous",
    "LEAST_RATE", "FOR_GOOD", "LEAST_LOAN_RATE", "ROUNDING", "Truths", "Floats", "Number", "CaseError", "checked",
}  # fmt: skip
LIFE = {
    "AT_ONCE", "BRIEFEST", "FOR_EVER", "REACH", "SHAPES", "TRICOMI", "Exposure", "FromHazard", "Life", "Weibull",
}  # fmt: skip
"""What `decide.finance` and `decide.life` held when each was one module."""


def test_all_names_what_can_be_used() -> None:
    assert len(decide.__all__) == len(set(decide.__all__)) >= 15
    assert set(decide.__all__) <= set(dir(decide))
    assert {name for name in decide.__all__ if not callable(getattr(decide, name))} == set()
    with pytest.raises(AttributeError, match="has no attribute 'weight'"):
        decide.weight  # noqa: B018
    assert Path(decide.__file__).with_name("py.typed").is_file()


@pytest.mark.parametrize("name", decide.__all__)
def test_each_public_name_is_documented_with_an_example_that_is_run(name: str) -> None:
    found = getattr(decide, name)
    text = inspect.getdoc(found) or ""
    assert re.match(r"[^\n]{20,}\.(\n\n|$)", text)
    assert re.search(r"^Examples\n--------\n>>> ", text, re.MULTILINE)
    if not issubclass(found if inspect.isclass(found) else object, Exception):
        assert re.search(r"^Parameters\n----------\n", text, re.MULTILINE)
    [example] = [each for each in doctest.DocTestFinder(recurse=False).find(found, name) if each.examples]
    assert doctest.DocTestRunner(verbose=False).run(example).failed == 0


def test_importing_the_package_loads_next_to_nothing() -> None:
    code = "import sys, decide; print(sorted({'numpy', 'scipy', 'pandas', 'streamlit'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_the_paths_that_have_always_worked_still_do() -> None:
    code = (
        "import decide.finance, decide.life; print(decide.finance.present_value([0.0, 110.0], 0.1).round(9),"
        "decide.life.Weibull(shape=2.0, scale=10.0).shape)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert (done.stdout, done.stderr) == ("100.0 2.0\n", "")
    assert {name for name in FINANCE if not hasattr(decide.finance, name)} == set()
    assert {name for name in LIFE if not hasattr(decide.life, name)} == set()


@pytest.mark.parametrize("noun", [Appliance, Household, Landlord, Option, Quote])
def test_each_input_says_what_it_means_beside_its_bounds(noun: type) -> None:
    declared = [item for item in dataclasses.fields(noun) if "bounds" in item.metadata]
    assert len(declared) >= 2
    for item in declared:
        assert re.fullmatch(r"[A-Z0-9].{8,}[.?]", item.metadata["doc"]), item.name
