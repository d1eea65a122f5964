"""One worked example of what reads files, entries and their names."""

import re
from pathlib import Path

import pytest

from decide.economics.bounds import Bounds
from decide.errors import CaseError
from decide.load.cases.carbon_figures import carbon_of, carbon_tables
from decide.load.cases.case_file import complete
from decide.load.cases.consumption import counts_more
from decide.load.cases.entry_paths import refuse_a_stray_path
from decide.load.cases.reading import allowed
from decide.load.cases.renamed import name_of_today
from decide.load.cases.scenarios import scenarios_of
from decide.load.files.file_names import made_plain, plain_name, same_file
from decide.load.files.json_text import json_of
from decide.load.files.plain_file import NewFile, escaped
from decide.load.files.toml_text import toml_of
from decide.load.meters.interval_data import DaylightRule
from decide.load.meters.meter_log import read_meter_log
from decide.load.meters.tariff_file import parse_tariff


def test_daylight_rule_decoded() -> None:
    assert DaylightRule.decoded("360E2000") == DaylightRule(month=3, operator=3, weekday=7, day=0, hour=2, second=0)


def test_read_meter_log() -> None:
    read = read_meter_log(b"Datum;Uhrzeit;Leistung (W)\n31.12.2025;23:59;80,5\n01.01.2026;00:00;79,5\n")
    assert (read.log.watts.tolist(), read.log.seconds.tolist(), read.value_column) == (
        [80.5, 79.5],
        [60.0, 60.0],
        "Leistung (W)",
    )


def test_parse_tariff() -> None:
    assert parse_tariff(b'commodity = "electricity"\nsource = "my bill"\nprice = 0.30').unit == "kWh"


def test_carbon_of() -> None:
    case = complete({"appliance": {"class": "refrigerator", "age": 12}, "household": {"place": "US-CA"}}).case
    found = carbon_of(case, {"made": 250.0}, 2026)
    assert (round(float(found.figures.electricity), 3), found.figures.made, round(found.years, 1)) == (
        0.219,
        (250.0,),
        17.4,
    )


def test_carbon_tables() -> None:
    assert carbon_tables().figure("made", "dishwasher", "EU").value == 275.0


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


def test_name_of_today() -> None:
    assert (name_of_today("replace.2.unit.upkeep"), name_of_today("repair.quote")) == (
        "replace.2.appliance.maintenance_and_repair",
        "repair.quote",
    )


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
    with NewFile(tmp_path / "a.txt") as file:
        file.write(b"whole")
    assert (tmp_path / "a.txt").read_bytes() == b"whole"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]
