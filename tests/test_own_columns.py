"""Jobs that say the price of a new one, the household's rate and what units use, as `weigh` weighs that case."""

import itertools

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.answers.book import weigh_book
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.tables.tables import tables
from decide.shop.weigh_jobs import WeighedJobs

HEAD = "Appliance,Age,Quote,New price,Household rate,Electricity,kWh new"
KINDS = {"refrigerator": "Refrigerator", "clothes_washer": "Washing machine", "dishwasher": "Dishwasher"}
TODAY = {"today": "2026-11-30"}


def weighed(*rows: str, place: str = "US", head: str = HEAD) -> WeighedJobs:
    book, found = open_book("\n".join([head, *rows, ""]).encode(), "jobs.csv"), []
    result = weigh_book(book, guess_mapping(book, place), tables(), lambda _chunk, _jobs, each: found.append(each))
    assert result.skipped_rows == 0, result.shown
    (only,) = found
    return only


def entered(
    kind: str, age: float, price: float | None, rate: float | None, old: float | None, new: float | None
) -> dict:
    bought = {"price": price} if price is not None else {}
    there = {"class": kind, "age": age} | ({"electricity": old} if old is not None else {})
    if new is not None:
        bought["appliance"] = {"electricity": new}
    home = {"place": "US", **TODAY} | ({"rate": rate} if rate is not None else {})
    return {"appliance": there, "household": home, "replace": [bought], "repair": {"quote": 200}}


SAID = [
    (None, None, None, None), (650.0, None, None, None), (1900.0, None, None, None), (None, 0.03, None, None),
    (None, 0.18, None, None), (None, None, 500.0, None), (None, None, None, 90.0), (None, None, 500.0, 90.0),
    (975.0, 0.071, 433.0, 201.0),
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_a_row_has_the_limit_of_the_same_case(kind: str) -> None:
    cases = list(itertools.product((3.0, 9.0, 14.0), SAID))
    rows = [
        f"{KINDS[kind]},{age:g},200," + ",".join("" if each is None else f"{each:g}" for each in said)
        for age, said in cases
    ]
    found = weighed(*rows)
    for at, (age, said) in enumerate(cases):
        alone = answer(entered(kind, age, *said))
        new = alone.decision.cost_of_new
        assert abs(found.repair_limit[at] - alone.weighing.repair_limit) < 0.02 * new, (age, said)


def test_what_is_installed_has_its_work_in_the_price() -> None:
    found = weighed("Gas boiler,12,500,5200", place="DE", head="Appliance,Age,Quote,New price")
    home = {"place": "DE", **TODAY}
    alone = answer({"appliance": {"class": "boiler_gas", "age": 12}, "household": home, "replace": [{"price": 5200}]})
    assert found.repair_limit[0] == pytest.approx(alone.weighing.repair_limit, abs=0.01 * 5200)
    assert found.new_price[0] == 5200


def test_a_rate_is_written_in_percent_too_and_blank_cells_mean_the_tables() -> None:
    head = "Appliance,Age,Quote,Household rate,New price"
    percent, share, blank = weighed(
        "Dishwasher,6,150,8 %,", "Dishwasher,6,150,0.08,", "Dishwasher,6,150,,", head=head
    ).repair_limit
    plain = weighed("Dishwasher,6,150", head="Appliance,Age,Quote").repair_limit[0]
    assert percent == share != blank == plain


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("New price", "-5"),
        ("New price", "dear"),
        ("Household rate", "8"),
        ("Household rate", "high"),
        ("Electricity", "99999"),
    ],
)
def test_a_bad_cell_is_refused_with_its_row_and_column(column: str, cell: str) -> None:
    book = open_book(f"Appliance,Age,Quote,{column}\nDishwasher,6,150,\nDishwasher,6,150,{cell}\n".encode(), "jobs.csv")
    result = weigh_book(book, guess_mapping(book), tables())
    (refused,) = result.shown
    assert (refused.row, refused.column, refused.text) == (3, column, cell)
    assert result.rows == 2


def test_a_book_has_the_expected_limit_and_not_that_of_the_usual_figures() -> None:
    names, ages = ("Refrigerator", "Washing machine", "Dishwasher", "Microwave", "Gas furnace"), (2, 5, 8, 11, 14, 20)
    kinds = ("refrigerator", "clothes_washer", "dishwasher", "microwave", "furnace_gas")
    found = weighed(*(f"{name},{age},100" for name in names for age in ages), head="Appliance,Age,Quote").repair_limit
    far, plain = [], []
    for at, (kind, age) in enumerate(itertools.product(kinds, ages)):
        alone = answer({"appliance": {"class": kind, "age": age}, "household": {"place": "US", **TODAY}})
        far.append(abs(found[at] - alone.weighing.repair_limit) / alone.decision.cost_of_new)
        plain.append(found[at])
    assert np.max(far) < 0.005
    assert np.median(far) < 0.002
