"""Entries as they are read: numbers, words and flags in their bounds, and files nowhere but beside the case."""

from pathlib import Path

import pytest

from decide.economics.bounds import Bounds
from decide.load.cases.reading import CaseReader, Derived
from decide.load.tables.labels import Basis
from decide.load.tables.tables import tables


@pytest.fixture
def reader(tmp_path: Path) -> CaseReader:
    (tmp_path / "case").mkdir()
    (tmp_path / "outside.csv").write_text("secret")
    (tmp_path / "case" / "log.csv").write_text("time,W")
    return CaseReader(tables(), tmp_path / "case")


def errors_of(reader: CaseReader) -> dict[str, str]:
    return {error.field: error.message for error in reader.errors}


@pytest.mark.parametrize("name", ["log.csv", "./log.csv", "logs/kitchen.csv"])
def test_a_file_beside_the_case_or_below_it_is_found(reader: CaseReader, name: str) -> None:
    found = reader.file("appliance.meter.file", name)
    assert found is not None
    assert found == reader.folder / name  # type: ignore[operator]
    assert not reader.errors


OUTSIDE = [
    "../outside.csv", "logs/../../outside.csv", "/etc/hostname", "..\\outside.csv", "C:\\log.csv", "C:log.csv",
    "\\\\host\\share\\log.csv", "//host/share/log.csv", "..",
]  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_file_elsewhere_is_refused(reader: CaseReader, name: str) -> None:
    assert reader.file("appliance.meter.file", name) is None
    assert "must stand in the folder of the case file or below it" in errors_of(reader)["appliance.meter.file"]


def test_a_link_that_leads_elsewhere_is_refused(reader: CaseReader, tmp_path: Path) -> None:
    (tmp_path / "case" / "link.csv").symlink_to(tmp_path / "outside.csv")
    assert reader.file("f", "link.csv") is None
    assert "must stand in the folder" in errors_of(reader)["f"]


@pytest.mark.parametrize("name", ["", "  ", "a\0b", 3, None, ["log.csv"]])
def test_what_is_no_name_of_a_file_is_refused(reader: CaseReader, name: object) -> None:
    assert reader.file("f", name) is None
    assert "must be the name of a file" in errors_of(reader)["f"]


def test_a_case_without_a_folder_has_no_files() -> None:
    case_reader = CaseReader(tables())
    assert case_reader.file("f", "log.csv") is None
    assert "was not read from a folder" in errors_of(case_reader)["f"]


def test_faults_of_numbers_words_and_flags_name_what_is_allowed_and_what_came(reader: CaseReader) -> None:
    table = {"age": "old", "size": 9, "sure": 1}
    reader.numbers("unit", table, {"age": Bounds("year", 0, 60), "size": Bounds("kg", 1, 8)})
    assert reader.flag("unit", table, "sure") is False
    assert reader.choice("unit.way", "fast", ("slow", "slower")) == "slow"
    reader.refuse_unknown("unit", table, ("ages", "size", "sure"))
    assert reader.table({"unit": 3}, "", "unit") == {}
    assert [str(error) for error in reader.errors] == [
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
