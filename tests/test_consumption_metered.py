"""What a plug-in meter says a unit uses, and what is said of it beside the rated figure."""

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from steady_refrigerator import cycling
from test_consumption import CLASSES, DATA, FRIDGE, GERMANY, entries, faults_of, filled

from decide.answers.answer import answer
from decide.load.cases.ranges import ranges_of
from decide.show.text.words import Words


def by_minute(path: Path, watts: np.ndarray) -> None:
    rows = (f"2024-03-{1 + minute // 1440:02d} {minute // 60 % 24:02d}:{minute % 60:02d},{power:.1f}" for minute, power
            in enumerate(watts))  # fmt: skip
    path.write_text("\n".join(["time,power (W)", *rows, ""]), "utf-8")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    by_minute(tmp_path / "fridge.csv", cycling(3))
    by_minute(tmp_path / "hour.csv", cycling(1 / 12))
    shutil.copy(DATA / "refit_dishwasher_14_days_changes.csv", tmp_path / "dishwasher.csv")
    return tmp_path


def test_a_log_gives_a_year_with_the_interval_that_becomes_its_range(logs: Path) -> None:
    found = filled({**FRIDGE, "meter": {"file": "fridge.csv"}}, folder=logs)
    (year,) = found.derived
    # 120 W for 16 minutes of 40, all the year
    assert year.value == pytest.approx(120 * 16 / 40 * 8.76)
    assert year.low is not None
    assert year.high is not None
    assert year.low < year.value < year.high
    assert (year.way, year.status, year.facts["hours"]) == ("log", "measured", 72)
    (moved,) = [each for each in ranges_of(found) if "appliance.electricity" in each.paths]
    assert (moved.lows[0], moved.highs[0]) == (year.low, year.high)


def test_a_warmer_room_over_the_year_uses_more_and_is_surer(logs: Path) -> None:
    plain, warmer = (
        filled({**FRIDGE, "meter": {"file": "fridge.csv", **room}}, folder=logs).derived[0]
        for room in ({}, {"room": 19, "year_rooms": [18, 18, 19, 20, 22, 25, 27, 27, 24, 21, 19, 18]})
    )
    assert warmer.value > plain.value
    assert (warmer.high or 0) / warmer.value < (plain.high or 0) / plain.value


def test_two_readings_give_a_year_with_a_wider_interval(logs: Path) -> None:
    log = filled({**FRIDGE, "meter": {"file": "fridge.csv"}}, folder=logs).derived[0]
    readings = {"first": 10.0, "second": 10.0 + 0.048 * 72, "hours": 72}
    two = filled({**FRIDGE, "meter": readings}).derived[0]
    assert two.value == pytest.approx(log.value)
    assert (two.low or 0) < (log.low or 0) < (log.high or 0) < (two.high or 0)
    assert (two.way, two.status) == ("readings", "measured")


def test_what_is_used_in_runs_is_measured_by_the_run(logs: Path) -> None:
    # REFIT house 2, 1-14 May 2014: 14 runs of the dishwasher, 1.429 kWh on average, computed from the data.
    unit = {"class": "dishwasher", "cycles": 200, "meter": {"file": "dishwasher.csv", "longest_step": 1e7}}
    found = filled(unit, GERMANY, logs).derived[0]
    assert found.facts["runs"] == 14
    assert found.value == pytest.approx(200 * 1.429, abs=0.4)
    counted = {"class": "dishwasher", "cycles": 200, "meter": {"first": 0, "second": 7 * 1.429, "runs": 7}}
    assert filled(counted, GERMANY).derived[0].value == pytest.approx(200 * 1.429, rel=1e-9)
    usual = filled({**unit, "cycles": 200} | {"cycles": 241}, GERMANY, logs).derived[0].value
    del unit["cycles"]
    assert filled(unit, GERMANY, logs).derived[0].value == pytest.approx(usual)


METERS_REFUSED = [
    ({**FRIDGE, "meter": {"file": "hour.csv"}}, "meter.file", "measure at least 1.0 hours longer"),
    ({**FRIDGE, "meter": {"file": "none.csv"}}, "meter.file", "No such file"),
    ({**FRIDGE, "meter": {"file": "../fridge.csv"}}, "meter.file", "must stand in the folder"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "hours": 3}}, "meter.hours", "is not known"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "column": "x"}}, "meter.file", "is not one of"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "unit": "hp"}}, "meter.unit", "must be one of W; kW; Wh; kWh"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "quantity": "heat"}}, "meter.quantity", "power; energy; counter"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "year_rooms": [20]}}, "meter.year_rooms", "with the room's own"),
    ({**FRIDGE, "meter": {"file": "fridge.csv", "room": 20, "year_rooms": [20, 21]}}, "meter.year_rooms", "or twelve"),
    ({**FRIDGE, "meter": {"first": 3, "second": 2, "hours": 48}}, "meter.second", "second reading less the first"),
    ({**FRIDGE, "meter": {"first": 3, "second": 4}}, "meter.hours", "is needed"),
    ({**FRIDGE, "meter": {"first": 3, "second": 4, "hours": 2}}, "meter.hours", "from 3 to 100000 hour"),
    ({**FRIDGE, "meter": {}}, "meter", "needs a log (file), or two readings"),
    ({"class": "dishwasher", "meter": {"first": 3, "second": 4, "hours": 48}}, "meter.runs", "is needed"),
    ({"class": "dishwasher", "meter": {"file": "fridge.csv", "frost_free": 1}}, "meter.frost_free", "true or false"),
    ({"class": "room_ac", "meter": {"first": 3, "second": 4, "hours": 48}}, "meter", "it runs with the weather"),
    ({"class": "microwave", "meter": {"first": 3, "second": 4, "runs": 9}}, "cycles", "how often a year"),
]


@pytest.mark.parametrize(("unit", "field", "says"), METERS_REFUSED)
def test_a_meter_that_cannot_be_used_is_refused_by_name(unit: dict, field: str, says: str, logs: Path) -> None:
    found = faults_of(unit, folder=logs)
    assert says in found[field]
    assert len(found) == 1


# Measured beside rated, and what is said of it


def test_use_far_above_the_rated_one_is_a_finding_with_its_checks(logs: Path) -> None:
    unit = {**FRIDGE, "meter": {"file": "fridge.csv", "rated": 250}}
    found = filled(unit, folder=logs)
    (against,) = found.findings
    assert float(against.finding.ratio.value) == pytest.approx(420.48 / 250)
    sentences = Words.of().findings(answer(entries(unit), folder=logs))
    assert sentences[0].startswith(
        "Measured, it uses 1.68 times what is rated (250 kWh a year): 170 kWh a year too much"
    )
    assert "slip of paper" in sentences[1]
    near = Words.of().findings(answer(entries({**FRIDGE, "meter": {"file": "fridge.csv", "rated": 420}}), folder=logs))
    below = Words.of().findings(answer(entries({**FRIDGE, "meter": {"file": "fridge.csv", "rated": 900}}), folder=logs))
    assert len(near) == len(below) == 1
    assert "as homes differ from the test" in near[0]
    assert "less than what is rated" in below[0]
    assert Words.of().findings(answer(entries(FRIDGE))) == []


def test_a_meter_that_ran_for_hours_of_a_fortnight_is_no_full_measurement(logs: Path) -> None:
    def told(name: str, kept: np.ndarray) -> tuple[list[str], float]:
        header, *rows = (logs / "long.csv").read_text("utf-8").splitlines()
        (logs / name).write_text("\n".join([header, *np.array(rows)[kept], ""]), "utf-8")
        found = answer(entries({**FRIDGE, "meter": {"file": name, "longest_step": 60}}), folder=logs)
        (year,) = found.derived
        return list(Words.of().to_look_at(found)), (year.high or 0) / year.value

    by_minute(logs / "long.csv", cycling(14))
    minutes = np.arange(14 * 1440)
    whole, sure = told("whole.csv", minutes >= 0)
    assert whole == []
    in_pieces, rough = told("pieces.csv", minutes % 1300 < 18)
    assert in_pieces[0].startswith("The meter ran for 4.8 hours only. Take that as a rough guess")
    assert in_pieces[1] == "Between its first and its last reading, 99% of the time is missing."
    assert rough > 1.3 > 1.2 > sure
    days, _ = told("days.csv", minutes % 4320 < 1440)
    assert days == ["Between its first and its last reading, 62% of the time is missing."]
    readings = answer(entries({**FRIDGE, "meter": {"first": 1, "second": 1.4, "hours": 5}}))
    assert len(list(Words.of().to_look_at(readings))) == 1


SAID = [
    ({**FRIDGE, "label": {"kwh_per_year": 467}}, {}, "467 kWh a year", "", "As its label prints it.", "entered"),
    ({**FRIDGE, "label": {"limit": "3", "year": 2018, "fresh_volume": 14, "freezer_volume": 4}}, {}, "403 kWh a year",
     "at most 403 kWh a year", "10 CFR 430.32(a)", "from memory, to be checked"),
    ({"class": "clothes_washer", "cycles": 200, "label": {"class": "C", "year": 2000, "load": 5}}, GERMANY,
     "250 kWh a year", "230 to 270 kWh a year", "UK SI 1996/600", "read at the source"),
    ({**FRIDGE, "meter": {"first": 1, "second": 4, "hours": 60}}, {}, "438 kWh a year", " to ",
     "two readings, 60 hours", "measured"),
]  # fmt: skip


@pytest.mark.parametrize(("unit", "home", "value", "ends", "source", "status"), SAID)
def test_an_answer_says_where_a_figure_came_from(
    unit: dict, home: dict, value: str, ends: str, source: str, status: str
) -> None:
    found = answer(entries(unit, home))
    lines = Words.of(region="EU" if home else "US").assumptions(found)
    (line,) = [line for line in lines if line.path == "appliance.electricity"]
    assert line.value == value
    assert ends in line.range
    assert source in line.source
    assert line.status == status
    assert len({each.path for each in lines}) == len(lines)


def test_every_way_has_its_sentence(logs: Path) -> None:
    dishes = {"class": "dishwasher", "cycles": 200}
    units = [
        {**FRIDGE, "label": {"kwh_per_year": 467}},
        {"class": "dishwasher", "label": {"energy_factor": 0.5}},
        {"class": "dishwasher", "label": {"limit": "standard size", "year": 2011}},
        {**FRIDGE, "meter": {"file": "fridge.csv"}},
        {**FRIDGE, "meter": {"first": 1, "second": 4, "hours": 60}},
        {**dishes, "meter": {"file": "dishwasher.csv", "longest_step": 1e7}},
        {**dishes, "meter": {"first": 0, "second": 9, "runs": 7}},
        {**FRIDGE, "label": CLASSES[0][1]},
        {"class": "clothes_washer", "label": {"class": "A", "year": 2022, "load": 8}},
    ]
    for unit in units:
        for each in filled(unit, GERMANY if "class" in unit.get("label", {}) else {}, logs).derived:
            text = " ".join(Words.of()._how(each))
            assert text.endswith(".")
            assert "{" not in text
            assert not math.isnan(each.value)
