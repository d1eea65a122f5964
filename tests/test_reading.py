"""Entries as they are read: numbers, words and flags in their bounds, and files nowhere but beside the case."""

from pathlib import Path

import pytest

from decide.economics.case import Bounds
from decide.load.cases.reading import Derived, Reading
from decide.load.tables.labels import Basis
from decide.load.tables.tables import tables


@pytest.fixture
def reading(tmp_path: Path) -> Reading:
    (tmp_path / "case").mkdir()
    (tmp_path / "outside.csv").write_text("secret")
    (tmp_path / "case" / "log.csv").write_text("time,W")
    return Reading(tables(), tmp_path / "case")


def said(reading: Reading) -> dict[str, str]:
    return {fault.field: fault.message for fault in reading.faults}


@pytest.mark.parametrize("name", ["log.csv", "./log.csv", "logs/kitchen.csv"])
def test_a_file_beside_the_case_or_below_it_is_found(reading: Reading, name: str) -> None:
    found = reading.file("appliance.meter.file", name)
    assert found is not None
    assert found == reading.folder / name  # type: ignore[operator]
    assert not reading.faults


OUTSIDE = [
    "../outside.csv", "logs/../../outside.csv", "/etc/hostname", "..\\outside.csv", "C:\\log.csv", "C:log.csv",
    "\\\\host\\share\\log.csv", "//host/share/log.csv", "..",
]  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_file_elsewhere_is_refused(reading: Reading, name: str) -> None:
    assert reading.file("appliance.meter.file", name) is None
    assert "must stand in the folder of the case file or below it" in said(reading)["appliance.meter.file"]


def test_a_link_that_leads_elsewhere_is_refused(reading: Reading, tmp_path: Path) -> None:
    (tmp_path / "case" / "link.csv").symlink_to(tmp_path / "outside.csv")
    assert reading.file("f", "link.csv") is None
    assert "must stand in the folder" in said(reading)["f"]


@pytest.mark.parametrize("name", ["", "  ", "a\0b", 3, None, ["log.csv"]])
def test_what_is_no_name_of_a_file_is_refused(reading: Reading, name: object) -> None:
    assert reading.file("f", name) is None
    assert "must be the name of a file" in said(reading)["f"]


def test_a_case_without_a_folder_has_no_files() -> None:
    reading = Reading(tables())
    assert reading.file("f", "log.csv") is None
    assert "was not read from a folder" in said(reading)["f"]


def test_faults_of_numbers_words_and_flags_name_what_is_allowed_and_what_came(reading: Reading) -> None:
    table = {"age": "old", "size": 9, "sure": 1}
    reading.numbers("unit", table, {"age": Bounds("year", 0, 60), "size": Bounds("kg", 1, 8)})
    assert reading.flag("unit", table, "sure") is False
    assert reading.choice("unit.way", "fast", ("slow", "slower")) == "slow"
    reading.refuse_unknown("unit", table, ("ages", "size", "sure"))
    assert reading.table({"unit": 3}, "", "unit") == {}
    assert [str(fault) for fault in reading.faults] == [
        "unit.age: must be a number, from 0 to 60 year, got 'old'",
        "unit.size: must be from 1 to 8 kg, got 9",
        "unit.sure: must be true or false, got 1",
        "unit.way: must be one of slow; slower, got 'fast'",
        "unit.age: is not known; did you mean ages?",
        "unit: must be a table, got 3",
    ]


def test_what_is_derived_is_no_surer_than_its_least_sure_row() -> None:
    rows = [Basis("a", "law", "1", 2020, status, "") for status in ("found", "from memory", "second-hand")]
    assert Derived(field="f", value=1.0, unit="", way="limit", bases=tuple(rows)).status == "from memory"
    assert Derived(field="f", value=1.0, unit="", way="log").status == "measured"
    assert Derived(field="f", value=1.0, unit="", way="print").status == "entered"
