"""Published paths of prices: their levels, their worth, and the one steady rise that is worth the same."""

import math

import numpy as np
import pytest

from decide.errors import CaseError, DataError
from decide.finance import escalated_uniform_present_value, indexed_uniform_present_value
from decide.load.cases.case_file import complete
from decide.load.tables import price_paths as module
from decide.load.tables.price_paths import price_path, price_paths

NAME = "us-residential-2025"

# NIST/FEMP real energy price tables 2025 (reference case), United States, residential: price of a year over that of
# 2025, as the public repository of building life-cycle costing holds them.
NIST_INDEX_2025 = {
    "electricity": {2026: 0.9444, 2027: 0.8959, 2028: 0.8908, 2030: 0.9064, 2035: 0.9472, 2040: 0.9171, 2050: 0.9694},
    "gas": {2026: 0.9788, 2027: 0.9461, 2028: 0.9259, 2030: 0.9074, 2035: 1.0129, 2040: 1.0058, 2050: 1.0488},
}
# The same tables: UPV* at 3 % over 5, 10 and 15 years, from every year's index.
NIST_UPV_STAR = {"electricity": [4.157, 7.8571, 11.0177], "gas": [4.2869, 8.1342, 11.572]}


@pytest.mark.parametrize("fuel", NIST_INDEX_2025)
@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential",
    "esc-nist-elec",
    "esc-nist-gas",
)
def test_the_levels_are_the_published_ones(fuel: str) -> None:
    path = price_path(NAME, fuel, "US")
    levels = path.levels[1:]
    for year, level in NIST_INDEX_2025[fuel].items():
        assert levels[year - 2026] == pytest.approx(level, abs=5e-5)
    assert path.basis.status == "found"
    assert path.years == 25


@pytest.mark.parametrize("fuel", NIST_UPV_STAR)
@pytest.mark.published(
    "NIST/FEMP real energy price tables 2025, reference case, United States, residential", "esc-nist-upvstar"
)
def test_levels_on_a_line_between_the_printed_years_are_worth_the_published_sums(fuel: str) -> None:
    path = price_path(NAME, fuel, "US")
    for years, printed in zip((5, 10, 15), NIST_UPV_STAR[fuel], strict=True):
        worth = float(indexed_uniform_present_value(np.array(path.levels[1 : years + 1]), 0.03))
        assert worth == pytest.approx(printed, rel=0.004)  # five of the fifteen years are not printed here


@pytest.mark.parametrize("fuel", NIST_UPV_STAR)
@pytest.mark.parametrize("rate", [0.0, 0.03, 0.08])
@pytest.mark.parametrize("years", [1.0, 9.6, 15.0, 80.0, math.inf])
def test_the_steady_rise_is_worth_what_the_path_is(fuel: str, rate: float, years: float) -> None:
    path = price_path(NAME, fuel, "US")
    rise, counted = path.escalation(rate, years)
    assert counted == min(25, round(years) if math.isfinite(years) else 25)
    worth = float(indexed_uniform_present_value(np.array(path.levels[1 : counted + 1]), rate))
    assert float(escalated_uniform_present_value(rate, rise, counted)) == pytest.approx(worth, rel=1e-9)


def test_an_index_takes_the_place_of_the_default_rise_over_the_study_period() -> None:
    entries = {
        "appliance": {"class": "refrigerator", "age": 8},
        "household": {"electricity_index": NAME, "study_period": 10, "rate": 0.03},
        "repair": {"quote": 100},
    }
    filled = complete(entries)
    (derived,) = filled.derived
    assert (derived.field, derived.way) == ("household.electricity_escalation", "index")
    assert derived.value == filled.case.household.electricity_escalation
    assert derived.facts == {"years": 10.0}
    assert derived.bases[0].source.startswith("NIST/FEMP")
    assert "household.electricity_escalation" not in {default.field for default in filled.defaults}
    assert "household.gas_escalation" in {default.field for default in filled.defaults}


def test_a_path_that_is_not_there_names_those_that_are() -> None:
    with pytest.raises(CaseError, match=rf"household.gas_index: must be one of {NAME}, got 'x'"):
        price_path("x", "gas", "US")
    with pytest.raises(CaseError, match="there is none for electricity in EU"):
        price_path(NAME, "electricity", "EU")


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (["2025,1", "2025,0.9"], "levels must be"),
        (["2025,1", "2026,-1"], "levels must be"),
        (["2025,0.5", "2026,0.9"], "levels must be"),
        (["2025,1", "2026,high"], "must be a number"),
    ],
)
def test_a_broken_path_is_refused(rows: list[str], says: str, tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = [f"p,US,gas,{row},law,table 1,2025,found," for row in rows]
    (tmp_path / module.FILE).write_text("\n".join([module.COLUMNS, *lines, ""]), encoding="utf-8")
    monkeypatch.setattr(module, "data_dir", lambda: tmp_path)
    price_paths.cache_clear()
    try:
        with pytest.raises(DataError, match=says):
            price_paths()
    finally:
        price_paths.cache_clear()
