"""A shop's own figures: kept in a file, put in place of shipped ones, and shown as what an answer rests on."""

import datetime
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.economics.weigh import weigh
from decide.errors import CaseError, ReadError
from decide.load.files.plain_file import write_file
from decide.load.jobs.own_figures import BookOrigin, LocalFigure, parsed, read_figures, with_local, written
from decide.load.jobs.own_records import local_figures
from decide.load.tables.tables import STATUSES, tables
from decide.shop.lifetimes import Spells, not_identified
from decide.shop.records import RecordFigure
from decide.show.text.words import Words

MEAN = LocalFigure(
    kind="refrigerator",
    region="US",
    quantity="mean_life",
    value=13.0,
    low=11.5,
    high=14.8,
    unit="year",
    n=214,
    since=datetime.date(2019, 1, 7),
    until=datetime.date(2026, 10, 23),
    shop="An invented shop",
    made=datetime.date(2026, 11, 25),
)
SHAPE = replace(MEAN, quantity="life_shape", value=2.3, low=1.9, high=2.8, unit="-")
DELAY = replace(MEAN, quantity="failure_free_years", value=0.0, low=0.0, high=0.0)
LIFE = (MEAN, SHAPE, DELAY)
HOLDS = replace(MEAN, quantity="repair_success_probability", value=0.97, low=0.95, high=0.99, unit="share", n=180)
SHARE = replace(MEAN, quantity="quote_share", value=0.33, low=0.3, high=0.36, unit="share", n=88)
ENTRIES = {"appliance": {"class": "refrigerator", "age": 9}, "household": {"place": "US"}, "repair": {"quote": 320}}


def test_figures_come_back_from_a_file_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "figures.csv"
    write_file(path, written([*LIFE, HOLDS]))
    assert read_figures(path) == (*LIFE, HOLDS)
    assert path.read_text("utf-8").splitlines()[0] == "class,region,quantity,value,low,high,unit,n,from,to,shop,made"


def test_own_figures_take_the_place_of_shipped_ones_of_their_class_and_region_only() -> None:
    own = with_local(tables(), [*LIFE, SHARE])
    assert own.figure("mean_life", "refrigerator", "US").value == 13.0
    assert own.figure("quote_share", "refrigerator", "US").value == 0.33
    for quantity, kind, region in (("mean_life", "refrigerator", "EU"), ("quote_share", "dishwasher", "US")):
        assert own.figure(quantity, kind, region) == tables().figure(quantity, kind, region)
    assert tables().figure("mean_life", "refrigerator", "US").value != 13.0


def test_the_limit_of_a_case_moves_with_the_shops_own_life() -> None:
    shipped, own = answer(ENTRIES), answer(ENTRIES, with_local(tables(), LIFE))
    # a shorter life leaves a nine-year-old unit fewer years, so that less is worth paying for its repair
    assert float(own.case.appliance.mean_life) == 13.0
    assert float(own.weighing.repair_limit) < float(shipped.weighing.repair_limit) - 10
    asked = {
        **ENTRIES,
        "appliance": {**ENTRIES["appliance"], "mean_life": 13, "life_shape": 2.3, "failure_free_years": 0},
    }
    entered = {**asked, "replace": [{"appliance": {"mean_life": 13, "life_shape": 2.3, "failure_free_years": 0}}]}
    assert weigh(own.case).repair_limit == pytest.approx(weigh(answer(entered).case).repair_limit)


def test_the_assumptions_name_the_shop_its_jobs_and_days_with_the_interval() -> None:
    found = answer(ENTRIES, with_local(tables(), [*LIFE, HOLDS]))
    lines = {line.path: line for line in Words.of().assumptions(found)}
    life = lines["appliance.mean_life"]
    assert "Own records of An invented shop, 214 jobs, 2019-01-07 to 2026-10-23" in life.source
    assert life.range == "11.5 to 14.8 years"
    assert life.status == "from the shop's own records"
    assert "180 jobs" in lines["repair.repair_success_probability"].source


def test_the_interval_of_an_own_figure_is_what_the_figure_may_be() -> None:
    found = answer(ENTRIES, with_local(tables(), LIFE))
    ranges = {path: item for item in found.ranges for path in item.paths}
    life = ranges["appliance.mean_life"]
    assert [set(ends) for ends in (life.lows, life.values, life.highs)] == [{11.5}, {13.0}, {14.8}]


def test_each_citation_is_a_source_of_its_own_and_the_status_is_no_shipped_one() -> None:
    own = with_local(tables(), [*LIFE, HOLDS])
    keys = {
        own.figure(quantity, "refrigerator", "US").source.key
        for quantity in ("mean_life", "repair_success_probability")
    }
    assert keys == {"own-records", "own-records-2"}
    assert keys <= own.sources.keys()
    assert own.figure("mean_life", "refrigerator", "US").status not in STATUSES


@pytest.mark.parametrize(
    "half", [LIFE[:2], LIFE[1:], (MEAN, DELAY), (*LIFE, MEAN), (replace(MEAN, kind="microwave_oven"),)]
)
def test_half_a_life_a_figure_twice_and_an_unknown_class_are_refused(half: tuple[LocalFigure, ...]) -> None:
    with pytest.raises(CaseError):
        with_local(tables(), half)


def test_a_delay_that_reaches_the_mean_is_refused() -> None:
    with pytest.raises(CaseError, match="delay"):
        with_local(tables(), (MEAN, SHAPE, replace(DELAY, value=12.0, high=12.5)))


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"quantity": "price"}, "quantity"),
        ({"unit": "month"}, "unit"),
        ({"region": "XX"}, "region"),
        ({"value": float("nan")}, "value"),
        ({"low": 14.0}, "value"),
        ({"high": float("inf")}, "value"),
        ({"n": 0}, "1 job or more"),
        ({"until": datetime.date(2018, 1, 1)}, "to"),
        ({"shop": "=HYPERLINK(1)"}, "shop"),
        ({"shop": " "}, "shop"),
        ({"shop": "a\nb"}, "shop"),
        ({"shop": "x" * 81}, "shop"),
    ],
)
def test_what_no_figure_can_be_is_refused(change: dict[str, object], text: str) -> None:
    with pytest.raises(CaseError, match=text):
        replace(MEAN, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "columns"),
        ("class,region\n", "columns"),
        (written([MEAN]).replace("13.0", "thirteen"), "line 2: value must be a number, got 'thirteen'"),
        (written([MEAN]).replace("2019-01-07", "7 Jan 2019"), "line 2: from must be a day such as 2026-03-01"),
        (written([MEAN]) + "refrigerator,US\n", "line 3: needs 12 cells, has 2"),
        (written([MEAN]).replace("11.5", "13.5"), "line 2: value"),
        ('class,"', "no csv"),
    ],
)
def test_a_file_that_was_spoiled_is_refused_with_its_line(text: str, sentence: str) -> None:
    with pytest.raises(ReadError, match=sentence):
        parsed(text, "figures.csv")


def test_a_file_that_is_missing_no_text_or_too_large_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        read_figures(tmp_path / "none.csv")
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(ReadError, match="UTF-8"):
        read_figures(tmp_path / "odd.csv")
    (tmp_path / "large.csv").write_text("x" * 1_000_001)
    with pytest.raises(ReadError, match="larger than 1 MB"):
        read_figures(tmp_path / "large.csv")
    with pytest.raises(ReadError, match="none"):
        write_file(tmp_path / "none" / "figures.csv", written(LIFE))


def test_a_finding_of_too_few_is_no_figure() -> None:
    book = BookOrigin(shop="An invented shop", since=MEAN.since, until=MEAN.until, made=MEAN.made)
    found = {"repair_success_probability": RecordFigure(3), "later_repair_log_sd": RecordFigure(40, 0.5, 0.4, 0.6)}
    life = not_identified(Spells(entry=np.empty(0), exit=np.empty(0), ended=np.empty(0, dtype=bool)))
    each = SimpleNamespace(kind="refrigerator", region="US", life=life, findings=lambda: found)
    assert [figure.quantity for figure in local_figures((each,), book)] == ["later_repair_log_sd"]
