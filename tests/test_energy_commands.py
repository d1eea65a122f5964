"""The commands `meter` and `bill`: what they print, what other programs may rely on, and never a traceback."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from steady_refrigerator import cycling
from typer.testing import CliRunner, Result

from decide.energy.load_profile import evenly
from decide.energy.metering import annualise
from decide.energy.tariff import total
from decide.load.meters.meter_log import read_meter_log
from decide.load.meters.tariff_file import parse_tariff
from decide.show.cli.main import app

DATA = Path(__file__).parent / "data"
KITCHEN = DATA / "ukdale_fridge_3_days.csv"
DISHES = DATA / "refit_dishwasher_14_days_changes.csv"
TARIFF = (
    'commodity = "electricity"\nsource = "an invented supplier"\ncurrency = "EUR"\nrounding = 0.01\n'
    '[[line]]\nname = "energy"\nblocks = [{ price = 0.10, upto = 300 }, { price = 0.20 }]\n'
    '[[line]]\nname = "standing charge"\namount = 9.5\n[[line]]\nname = "tax"\nshare = 0.1\n'
)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(each) for each in arguments])


def json_of(*arguments: object) -> Any:
    """The JSON of a command; a word such as NaN, which is no JSON, fails."""
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output

    def refuse(word: str) -> None:
        raise AssertionError(word)

    return json.loads(result.stdout, parse_constant=refuse)


def a_log(path: Path, watts: np.ndarray) -> Path:
    rows = [f"{1_700_000_000 + 60 * minute},{power:.1f}" for minute, power in enumerate(watts)]
    path.write_text("\n".join(["time,power (W)", *rows, ""]), "utf-8")
    return path


@pytest.fixture
def tariff(tmp_path: Path) -> Path:
    (tmp_path / "tariff.toml").write_text(TARIFF, "utf-8")
    return tmp_path / "tariff.toml"


# a log


def test_a_log_says_its_year_first_with_its_bounds() -> None:
    page = run("meter", KITCHEN)
    year = annualise(read_meter_log(KITCHEN).log).energy
    assert page.exit_code == 0
    first = page.stdout.splitlines()[0]
    for figure in (year.value, year.low, year.high):
        assert f"{float(figure):.0f}" in first
    assert "nine chances in ten" in first
    assert "\x1b" not in page.stdout


def test_a_log_shows_what_was_found_in_it() -> None:
    page = run("meter", KITCHEN).stdout
    assert "Defrosts seen  1, about 63 hours apart" in page
    assert "72 hours, 97% missing between" in page
    dishes = run("meter", DISHES, "--runs", 220, "--longest-step", "1e7").stdout
    assert "14 whole, 0 cut off" in dishes
    assert "1.43 kWh, between" in dishes


def test_a_log_shows_a_compressor_s_times(tmp_path: Path) -> None:
    # 36 times a day, 16 minutes each; the last is not over at the end of a day and a half but for its pause
    page = run("meter", a_log(tmp_path / "a.csv", cycling(1.5))).stdout
    assert "54 times, for 16 minutes on average, 40% of the time" in page
    assert "Mean power     48 W" in page


def test_a_log_that_is_too_short_says_how_much_longer_to_measure(tmp_path: Path) -> None:
    short = run("meter", a_log(tmp_path / "short.csv", cycling(1 / 12)))
    assert short.exit_code == 2
    assert "covers 2.0 hours" in short.stderr
    assert "measure at least 1.0 hours longer" in short.stderr
    assert short.stdout == ""
    rough = run("meter", a_log(tmp_path / "rough.csv", cycling(1 / 4)))
    assert rough.exit_code == 0
    assert "This is rough" in rough.stdout
    assert "hours more bring the upper end to within" in rough.stdout


def test_as_many_hours_more_as_are_asked_for_bring_what_is_promised(tmp_path: Path) -> None:
    part = json_of("meter", a_log(tmp_path / "part.csv", cycling(1 / 4)))
    more = part["longer"]
    days = (part["hours"] + more["hours"]) / 24
    whole = json_of("meter", a_log(tmp_path / "whole.csv", cycling(days)))["energy"]
    assert whole["high"] / whole["value"] <= 1 + more["precision"] < part["energy"]["high"] / part["energy"]["value"]


def test_a_log_of_runs_without_a_whole_one_says_what_to_do(tmp_path: Path) -> None:
    cut = run("meter", a_log(tmp_path / "cut.csv", np.where(np.arange(300) < 60, 1500.0, 0.0)), "--runs", 200)
    assert cut.exit_code == 2
    assert "holds no whole run; start the meter before a run" in cut.stderr


def test_a_use_far_above_the_rated_one_is_told_with_its_checks() -> None:
    page = " ".join(run("meter", KITCHEN, "--rated", 200).stdout.split())
    assert "times what is rated (200 kWh a year)" in page
    assert "slip of paper" in page
    assert "Before anyone is paid" not in run("meter", KITCHEN, "--rated", 340).stdout


def test_a_warmer_year_uses_more() -> None:
    cool, warm = (json_of("meter", KITCHEN, "--room", 18, "--year-rooms", rooms) for rooms in ("18", "25"))
    assert warm["energy"]["value"] > cool["energy"]["value"]
    by_month = json_of("meter", KITCHEN, "--room", 18, "--year-rooms", " ".join(["25"] * 12))
    assert by_month["energy"] == pytest.approx(warm["energy"])


def test_a_frost_free_unit_without_a_defrost_uses_a_little_more(tmp_path: Path) -> None:
    log = a_log(tmp_path / "a.csv", cycling(1.5))
    plain, free = json_of("meter", log), json_of("meter", log, "--frost-free")
    assert free["energy"]["value"] == pytest.approx(1.04 * plain["energy"]["value"])


LOG = {
    "energy", "hours", "missing", "rows", "missing_rows", "time_column", "value_column", "unit", "quantity",
    "day_first", "clock_changes", "longer", "against_rated",
}  # fmt: skip


def test_the_json_of_a_log_keeps_its_names() -> None:
    by_itself = json_of("meter", KITCHEN, "--rated", 300)
    assert set(by_itself) == LOG | {"mean_watts", "rough", "spread", "cycles", "defrosts"}
    assert set(by_itself["against_rated"]) == {"ratio", "excess", "chance_above"}
    in_runs = json_of("meter", DISHES, "--runs", 220, "--longest-step", "1e7")
    assert set(in_runs) == LOG | {"runs", "standby_watts"}
    assert in_runs["runs"]["whole"] == 14
    assert in_runs["standby_watts"] is None


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["none.csv"], "No such file"),
        ([DISHES], "the steps are uneven"),
        ([KITCHEN, "--room", 50], "Room while it was measured must be from 12 to 40 °C; 50 was given."),
        ([KITCHEN, "--year-rooms", 20], "with the room's own"),
        ([KITCHEN, "--room", 20, "--year-rooms", "20 21"], "one temperature or twelve"),
        ([KITCHEN, "--room", 20, "--year-rooms", "warm"], "'warm' cannot be read"),
        ([KITCHEN, "--rated", -4], "must be from 1 to 60,000 kWh a year"),
        ([KITCHEN, "--rated", "nan"], "must be from 1 to 60,000 kWh a year"),
        ([KITCHEN, "--column", "heat"], "is not one of"),
        ([KITCHEN, "--unit", "hp"], "must be one of W"),
        ([KITCHEN, "--quantity", "heat"], "must be one of power"),
        ([KITCHEN, "--runs", "99999"], "must be from 0 to 5,000 runs a year"),
        ([KITCHEN, "--rated", "lots"], "--rated"),
    ],
)
def test_what_cannot_be_used_of_a_log_is_said_on_standard_error(arguments: list[object], says: str) -> None:
    result = run("meter", *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


# bills


def test_bills_of_a_year_add_up_line_by_line(tariff: Path) -> None:
    found = json_of("bill", tariff, "--use", 4200, "--without", 610)
    expected = total(parse_tariff(TARIFF.encode()), evenly(4200.0))
    assert found["total"] == pytest.approx(expected.tolist())
    assert [sum(month) for month in zip(*found["lines"].values(), strict=True)] == pytest.approx(found["total"])
    assert (found["unit"], found["currency"], found["source"]) == ("kWh", "EUR", "an invented supplier")
    apart = found["without"]
    assert apart["total"] == pytest.approx(total(parse_tariff(TARIFF.encode()), evenly(3590.0)).tolist(), abs=0.011)
    assert sum(apart["difference"]) == pytest.approx(apart["marginal_price"] * 610, abs=0.12)  # cents of twelve bills


def test_a_bill_is_shown_by_month_and_for_the_year_in_the_tariff_s_money(tariff: Path) -> None:
    page = run("bill", tariff, "--use", 4200, "--without", 610).stdout
    assert page.startswith("The year comes to €653.33, €0.1556 a kWh on average.\n")
    assert "Without 610 kWh it comes to €524.09: they cost €129.24, €0.212 a kWh." in page
    assert len([line for line in page.splitlines() if line[:2].strip().isdigit()]) == 12
    plain = run("bill", tariff, "--use", 4200).stdout
    assert "Without" not in plain


def test_a_year_may_be_given_by_its_months(tariff: Path) -> None:
    months = [100, 200, 300, 400, 500, 600, 600, 500, 400, 300, 200, 100]
    found = json_of("bill", tariff, "--use", " ".join(map(str, months)))
    assert found["use"] == pytest.approx(months)
    assert found["lines"]["energy"][3] == pytest.approx(50.0)  # 300 at 0.10 and 100 at 0.20, by hand
    assert found["without"] is None


def test_a_tariff_that_names_no_money_is_shown_in_plain_numbers(tmp_path: Path) -> None:
    path = tmp_path / "water.toml"
    path.write_text('commodity = "water"\nsource = "mine"\nprice = 4.5\n', "utf-8")
    page = run("bill", path, "--use", 90, "--without", 10)
    assert page.exit_code == 0
    assert page.stdout.startswith("The year comes to 405, 4.5 a m³ on average.\n")
    assert "$" not in page.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--use", "300 200"], "must be one number or twelve, got 2"),
        (["--use", "x"], "'x' cannot be read"),
        (["--use", "-3"], "What is drawn must be from 0 to 1,000,000 kWh a year; -3 was given."),
        (["--use", ""], "one number or twelve"),
        (["--use", "none.xml"], "No such file"),
        (["--use", "300", "--without", "600"], "is more than what is drawn"),
        (["--use", "300", "--fuel", "wood"], "must be one of electricity, gas, water"),
        ([], "--use"),
    ],
)
def test_what_cannot_be_used_of_a_bill_is_said_on_standard_error(arguments: list[str], says: str, tariff: Path) -> None:
    result = run("bill", tariff, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert "Traceback" not in result.stderr


def test_a_tariff_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "t.toml").write_text('commodity = "steam"\nprice = 1\n', "utf-8")
    result = run("bill", tmp_path / "t.toml", "--use", 300)
    assert result.exit_code == 2
    assert "commodity must be one of" in result.stderr


# a case file with files beside it


def test_a_case_finds_its_log_and_its_tariff_beside_it(tmp_path: Path, tariff: Path) -> None:
    a_log(tmp_path / "kitchen.csv", cycling(3))
    case = tmp_path / "case.toml"
    case.write_text(
        '[appliance]\nclass = "refrigerator"\nage = 9\n[appliance.meter]\nfile = "kitchen.csv"\nrated = 250\n'
        '[household]\nplace = "DE"\n[household.electricity_tariff]\nfile = "tariff.toml"\nbase_use = 3200\n'
        "[repair]\nquote = 180\n",
        "utf-8",
    )
    page = run("weigh", case, "--all")
    assert page.exit_code == 0, page.stderr
    squeezed = " ".join(page.stdout.split())
    assert "Measured, it uses 1,68 times what is rated" in squeezed
    assert "an invented supplier" in squeezed
    found = json.loads(run("weigh", case, "--json").stdout)
    assert {each["field"] for each in found["derived"]} == {"appliance.electricity", "household.electricity_price"}
    assert found["findings"][0]["ratio"]["value"] == pytest.approx(420.48 / 250)
    changed = run("weigh", case, "--set", "appliance.meter.frost_free=true", "--json")
    assert json.loads(changed.stdout)["derived"][0]["value"] > found["derived"][0]["value"]
    astray = run("weigh", case, "--set", "appliance.meter.file=../kitchen.csv")
    assert astray.exit_code == 2
    assert "Log of the meter (the appliance there): must stand in the folder of the case file" in astray.stderr
