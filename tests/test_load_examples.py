"""One worked example of what reads files, entries and their names."""

import re
from pathlib import Path

import pytest

from decide.economics.bounds import Bounds
from decide.errors import CaseError
from decide.load.cases.consumption import counts_more
from decide.load.cases.entry_paths import refuse_a_stray_path
from decide.load.cases.reading import allowed
from decide.load.cases.scenarios import scenarios_of
from decide.load.files.file_names import made_plain, plain_name, same_file
from decide.load.files.json_text import json_of
from decide.load.files.plain_file import escaped, new_file
from decide.load.files.toml_text import toml_of
from decide.load.meters.interval_data import DaylightRule


def test_daylight_rule_decoded() -> None:
    assert DaylightRule.decoded("360E2000") == DaylightRule(month=3, operator=3, weekday=7, day=0, hour=2, second=0)


def test_counts_more() -> None:
    assert (counts_more("dishwasher", "US", "kwh_per_year"), counts_more("refrigerator", "US", "kwh_per_year")) == (
        "hot_water",
        "",
    )


def test_refuse_a_stray_path() -> None:
    with pytest.raises(CaseError, match=re.escape("quote: is not known; did you mean repair.quote?")):
        refuse_a_stray_path("quote")


def test_allowed() -> None:
    assert allowed(Bounds("year", 0, 60)) == "from 0 to 60 year"


def test_scenarios_of() -> None:
    assert [
        each.name for each in scenarios_of({"scenario": [{"name": "we move", "set": {"household.study_period": 3}}]})
    ] == ["we move"]


def test_same_file() -> None:
    assert same_file("L\u00d6G.CSV") == same_file("lo\u0308g.csv")


def test_plain_name() -> None:
    assert plain_name("file", "log.csv") == "log.csv"


def test_made_plain() -> None:
    assert (made_plain("C:\\logs\\kitchen.csv"), made_plain("../../.bashrc"), made_plain("con.csv", {"_con.csv"})) == (
        "kitchen.csv",
        "bashrc",
        "2-_con.csv",
    )


def test_json_of() -> None:
    assert json_of('{"fan_worn": 12}', "counts.json") == {"fan_worn": 12}


def test_escaped() -> None:
    assert escaped("a\x1b]0;b\x07.csv") == "a\\x1b]0;b\\x07.csv"


def test_toml_of() -> None:
    assert toml_of(b"[appliance]\nage = 12", "case.toml") == {"appliance": {"age": 12}}


def test_new_file(tmp_path: Path) -> None:
    with new_file(tmp_path / "a.txt") as file:
        file.write(b"whole")
    assert (tmp_path / "a.txt").read_bytes() == b"whole"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]
