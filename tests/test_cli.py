"""The command: what it prints, what other programs may rely on, and what it does with what cannot be used."""

import functools
import gc
import importlib
import math
import os
import re
import subprocess
import sys
import tomllib
import types
from pathlib import Path

import commands
import numpy as np
import pytest
from commands import run

from decide.answers.answer import answer
from decide.economics.weigh import weigh
from decide.load.cases.case_file import complete, read_case, set_entry
from decide.load.jobs.own_records import maximum_likelihood
from decide.load.tables.tables import tables
from decide.shop.lifetimes import Spells
from decide.show.cli.main import main
from decide.show.serve import serve
from decide.show.text.report import first_layer
from decide.show.text.words import Words

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "demo" / "refrigerator.toml"
GOLDEN = Path(__file__).parent / "golden" / "refrigerator.txt"

TANK = '[appliance]\nclass = "water_heater_gas"\nage = 9\nfault = "tank_leak"\n[household]\nplace = "US"\n'
json_of = functools.partial(commands.json_of, "weigh")

BARE = '[appliance]\nclass = "dishwasher"\nage = 5\n[household]\nplace = "DE"\n[leave]\nlost_worth = 90\n'


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    path = tmp_path / "tank.toml"
    path.write_text(TANK, "utf-8")
    return path


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    path = tmp_path / "bare.toml"
    path.write_text(BARE, "utf-8")
    return path


# the page


def test_the_page_of_the_invented_refrigerator_is_as_it_was() -> None:
    page = run("weigh", DEMO).stdout
    assert page == GOLDEN.read_text("utf-8"), (
        "the page has changed; if that is meant, note changed answers in DEVELOPERS.md and write the page anew: "
        "python -m decide weigh data/demo/refrigerator.toml > tests/golden/refrigerator.txt"
    )


def test_the_answer_stands_first() -> None:
    lines = run("weigh", DEMO).stdout.splitlines()
    found = answer(read_case(DEMO))
    assert lines[0] == found.case.title
    assert lines[2] == Words.of().verdict(found)
    assert lines[3].startswith("This repair is worth about ")


def test_the_page_shows_every_number_of_every_option_whole() -> None:
    page, whole, found = run("weigh", DEMO).stdout, run("weigh", DEMO, "--all").stdout, answer(read_case(DEMO))
    for card in first_layer(Words.of(), found).cards:
        assert all(value in page for value in (card.name, *card.values))
    *shown, planned = Words.of().options(found)
    assert planned.hidden
    assert planned.name not in whole
    for row in shown:
        assert all(number in whole for number in (row.name, row.today, row.yearly, row.present, row.years))
    assert "…" not in page + whole


def test_the_plain_page_ends_with_what_moves_most_answers_and_points_to_all() -> None:
    page, whole = run("weigh", DEMO).stdout, run("weigh", DEMO, "--all").stdout
    heads = ["What you will have paid", "Why", "Safety", "Numbers we used"]
    assert [line for line in page.splitlines() if line in heads] == heads
    assert "With --all:" in page.splitlines()[-2]
    assert "Price of electricity" in page
    assert "Price of gas" not in page
    for more in ("Where the money goes", "What to expect to pay", "Counted at the start: Repair it", "The sources"):
        assert more in whole
        assert more not in page


def test_what_is_shown_of_money_by_cause_adds_up_as_printed() -> None:
    page = run("weigh", DEMO, "--all").stdout
    _, table = page.split("Where the money goes\n")
    rows = [line for line in table.split("\n\n")[0].splitlines() if "$" in line]
    amounts = [[int(re.sub("[$,]", "", each)) for each in re.findall(r"-?\$[0-9,]+", row)] for row in rows]
    *categories, total = amounts
    assert len(categories) > 4
    assert [sum(column) for column in zip(*categories, strict=True)] == total


def test_safety_stands_before_money(tmp_path: Path) -> None:
    path = tmp_path / "gas.toml"
    path.write_text(TANK.replace("tank_leak", "gas_leak"), "utf-8")
    lines = run("weigh", path).stdout.splitlines()
    order = f"Stop: smell of gas, or a gas leak {Words.of().headline(answer(read_case(path)))}"
    assert " ".join(lines).startswith(order)
    first = next(i for i, line in enumerate(lines) if "$" in line)
    assert lines[first].startswith("Once it is safe: ")
    assert first > lines.index("Safety")


def test_a_repair_that_is_ruled_out_has_no_figures_on_the_page(tank: Path) -> None:
    page = run("weigh", tank).stdout
    assert page.startswith(
        "Replace it\nTurn its gas control to off. Then shut its cold water. Keep clear of hot water. A leaking "
    )
    assert not [line for line in page.splitlines() if line.startswith("Repair")]
    whole = run("weigh", tank, "--all").stdout
    (row,) = (line for line in whole.splitlines() if line.startswith("Repair it"))
    assert row.split("Repair it")[1].strip() == "Cannot be repaired"
    assert "and replace it in" not in run("weigh", tank, "--all").stdout


@pytest.mark.parametrize("flags", [(), ("--all",), ("--json",)])
@pytest.mark.parametrize("years", ["0.5", "1"])
def test_a_need_of_a_year_or_less_is_answered(bare: Path, years: str, flags: tuple[str, ...]) -> None:
    for quote in ((), ("--set", "repair.quote=90")):
        result = run("weigh", bare, "--set", f"household.study_period={years}", *quote, *flags)
        assert result.exit_code == 0, result.exception


def test_a_page_is_written_in_the_habit_of_its_language(bare: Path) -> None:
    assert "€80.50" in run("weigh", bare, "--set", "repair.quote=80,5").stdout


@pytest.mark.parametrize("width", ["20", "400"])
def test_numbers_are_whole_whatever_the_width_of_the_terminal(width: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", width)
    assert run("weigh", DEMO).stdout == GOLDEN.read_text("utf-8")


def test_output_that_is_no_terminal_has_no_colour_and_no_trailing_spaces() -> None:
    page = run("weigh", DEMO, "--all").stdout
    assert "\x1b" not in page
    assert not [line for line in page.splitlines() if line != line.rstrip()]


def test_names_from_a_file_cannot_steer_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text('title = "red \\u001b[31m [bold]x[/bold]"\n' + BARE, "utf-8")
    page = run("weigh", path).stdout
    assert "\x1b" not in page
    assert page.startswith("red  [31m [bold]x[/bold]\n")


def test_all_shows_every_assumption_and_every_year() -> None:
    short, whole = run("weigh", DEMO).stdout, run("weigh", DEMO, "--all").stdout
    lines = Words.of().assumptions(answer(read_case(DEMO)))
    squeezed = " ".join(whole.split())
    for line in lines:
        assert " ".join(line.value.split()) in squeezed
    assert re.search(r"^40 .*\$", whole, re.MULTILINE)
    assert not re.search(r"^40 .*\$", short, re.MULTILINE)
    assert "With --all" in short
    assert "With --all" not in whole


def test_every_answer_ends_its_cautions_with_local_codes(bare: Path, tank: Path) -> None:
    for path in (DEMO, bare, tank):
        assert "Local codes" in run("weigh", path).stdout


def test_a_study_period_says_what_becomes_of_the_rest(bare: Path) -> None:
    page = run("weigh", bare, "--set", "household.study_period=6", "--all").stdout
    assert "credited with what the unit is then still worth" in page
    assert re.search(r"^6 +-?€[0-9]+", page, re.MULTILINE)
    assert not re.search(r"^7 +-?€[0-9]+", page, re.MULTILINE)


def test_what_becomes_of_it_and_what_pays_are_set_in_words(bare: Path) -> None:
    stay = ("--set", "household.study_period=2", "--set", "repair.quote=90")
    sold = json_of(bare, *stay, "--set", "household.at_end=sell", "--set", "household.most_today=200")
    assert sold["stay"] == {"study_period": 2, "residual_share": 0, "resale_share": 0.25}
    assert [option["left_out"] for option in sold["options"]][:2] == [False, True]
    assert json_of(bare, *stay, "--set", "household.at_end=take along")["stay"]["study_period"] is None
    assert json_of(bare, *stay, "--set", "repair.pays=card")["options"][0]["today"] == 0
    claimed = json_of(bare, *stay, "--set", "repair.under_warranty=true")["claim"]
    assert (claimed["by"], claimed["limit"]) == ("repair_warranty", 0)


# for other programs


TOP = {
    "schema", "title", "currency", "repair_limit", "quoted", "advantage", "verdict", "stopped_by", "options",
    "state", "repair_limit_range", "cheapest_share", "share_by_act", "expected_loss", "second", "second_loss",
    "net_present_value", "simple_payback", "discounted_payback", "breakeven_year", "reasons", "paid_by_year",
    "another_bill", "scenarios", "second_repair",
    "successor", "planned_years", "measures", "cash_by_year", "cautions", "defaults_used", "derived", "findings",
    "money_of", "today", "stay", "most_today", "cost_of_cash", "wait_a_year", "worth_more_a_year",
    "beyond_data", "guarantee", "claim", "usual_quote", "quote_unusual", "look_first",
}  # fmt: skip
OPTION = {
    "name", "action", "today", "equivalent_annual_cost", "present_cost", "expected_remaining_life", "by_category",
    "blocked_by", "price_includes_installation", "left_out",
}  # fmt: skip
MEASURES = {
    "net_saving", "simple_payback", "discounted_payback", "running_payback", "discounted_running_payback",
    "savings_to_investment_ratio", "internal_rate_of_return", "adjusted_internal_rate_of_return",
}  # fmt: skip
CAUTION = {"id", "when", "reader", "weight", "danger", "open", "text", "who", "prohibits", "source"}
DEFAULT = {
    "field", "value", "unit", "source", "locator", "year", "status", "low", "high", "rule", "note", "price_year",
    "published", "index", "stands_for",
}  # fmt: skip


def test_the_json_keeps_its_names(bare: Path, tank: Path) -> None:
    for path in (DEMO, bare, tank):
        found = json_of(path)
        assert set(found) == TOP
        assert (next(iter(found)), found["schema"]) == ("schema", 2)
        assert all(set(option) == OPTION for option in found["options"])
        assert set(found["measures"]) == MEASURES
        assert all(set(caution) == CAUTION for caution in found["cautions"])
        assert all(set(default) == DEFAULT for default in found["defaults_used"])
        assert [flow["name"] for flow in found["cash_by_year"]] == [option["name"] for option in found["options"]]


def test_the_json_says_what_the_weighing_found() -> None:
    found, weighing = json_of(DEMO), answer(read_case(DEMO)).weighing
    assert found["repair_limit"] == pytest.approx(float(weighing.repair_limit))
    assert found["advantage"] == pytest.approx(found["repair_limit"] - found["quoted"])
    assert found["verdict"] == weighing.verdict == "replace"
    assert found["currency"] == "USD"
    for option in found["options"]:
        assert option["present_cost"] == pytest.approx(sum(option["by_category"].values()))


def test_what_does_not_exist_is_null(bare: Path, tank: Path) -> None:
    waiting = json_of(bare)
    assert waiting["quoted"] is None
    assert waiting["advantage"] is None
    assert waiting["verdict"] == "no quote"
    assert set(waiting["measures"].values()) == {None}
    refused = json_of(tank)
    assert refused["repair_limit"] is None
    assert refused["stopped_by"] == []
    assert refused["options"][0]["blocked_by"] == ["water_heater_tank_leak"]


def test_the_limit_in_the_json_is_where_the_verdict_flips(bare: Path) -> None:
    limit = json_of(bare)["repair_limit"]
    assert json_of(bare, "--set", f"repair.quote={limit - 1:.2f}")["verdict"] == "repair"
    assert json_of(bare, "--set", f"repair.quote={limit + 1:.2f}")["verdict"] != "repair"


def test_the_json_says_the_state_beside_a_verdict_that_keeps_its_words(bare: Path, tank: Path) -> None:
    bare.write_text(bare.read_text("utf-8").partition("[leave]")[0], "utf-8")
    plain = json_of(bare)
    limit, (_, high) = plain["repair_limit"], plain["repair_limit_range"]
    near, far = (json_of(bare, "--set", f"repair.quote={quote:.2f}") for quote in (limit + 2, high + 2))
    assert (near["state"], near["verdict"]) == ("close", "replace")
    assert (far["state"], far["verdict"]) == ("clear", "replace")
    assert far["share_by_act"]["replace"] > 0.95 > 0.65 > near["share_by_act"]["replace"]
    assert plain["state"] is plain["share_by_act"] is plain["second"] is None
    assert (json_of(tank)["state"], json_of(tank)["verdict"]) == ("clear", "replace")


def test_cash_by_year_adds_up_over_its_causes_and_starts_with_today() -> None:
    found = json_of(DEMO)
    for flow, option in zip(found["cash_by_year"], found["options"], strict=True):
        assert len(flow["total"]) == 61
        assert flow["total"] == pytest.approx([sum(each) for each in zip(*flow["by_category"].values(), strict=True)])
        assert flow["total"][0] == pytest.approx(option["today"])


def test_cash_without_discount_is_the_present_cost_over_a_study_period(bare: Path) -> None:
    changes = {"household.study_period": 6, "household.rate": 0, "repair.quote": 90}
    found = json_of(bare, *(part for path, value in changes.items() for part in ("--set", f"{path}={value}")))
    entries = read_case(bare)
    for path, value in changes.items():
        entries = set_entry(entries, path, value)
    as_it_stands = weigh(complete(entries).case)
    for flow, option in zip(found["cash_by_year"], as_it_stands.options, strict=True):
        assert sum(flow["total"]) == pytest.approx(float(option.present_cost), rel=1e-5)


def test_every_default_in_the_json_lies_within_its_range() -> None:
    for default in json_of(DEMO)["defaults_used"]:
        if default["low"] is not None:
            assert default["low"] <= default["value"] * (1 + 1e-9)
            assert default["value"] <= default["high"] * (1 + 1e-9)


# changes for one run


@pytest.mark.parametrize(
    ("typed", "read"),
    [("250", 250.0), ("7,5", 7.5), ("1.234,50", 1234.5), ("1,234.50", 1234.5), ("€ 250", 250.0), ("185 euros", 185.0)],
)
def test_a_change_reads_numbers_in_any_clear_habit(bare: Path, typed: str, read: float) -> None:
    assert json_of(bare, "--set", f"repair.quote={typed}")["quoted"] == read


def test_a_rate_may_be_given_in_percent(bare: Path) -> None:
    assert json_of(bare, "--set", "household.rate=4%") == json_of(bare, "--set", "household.rate=0,04")


def test_changes_are_taken_in_turn_and_may_be_text(bare: Path) -> None:
    found = json_of(
        bare, "--set", "title=Kitchen = mine", "--set", "appliance.fault=drain_pump", "--set", "repair.quote=9"
    )
    assert found["title"] == "Kitchen = mine"
    assert found["quoted"] == 9
    assert complete(read_case(bare)).case.title == ""


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ("repair.quote=1.234", "Did you mean 1,234 or 1.23? Type 1234 or 1.23."),
        ("repair.quote=1,234", "Did you mean 1,234 or 1.23? Type 1234 or 1.23."),
        ("repair.quote=$350", "'$350' is in another money than that of the place, EUR. Type the amount in EUR, or"),
        (
            "repair.quote=soon",
            "type it as a number, such as 185 or 185.50; 'soon' cannot be read.",
        ),
        ("repair.quote=-5", "must be from €0 to €100,000; -5 was given"),
        ("repair.quote=0.125", "two decimals"),
        ("quote=5", "--set quote: is not known; did you mean repair.quote?"),
        ("rate=3%", "did you mean household.rate?"),
        ("repairs.quote=5", "did you mean repair.quote"),
        ("prices=5", "did you mean replace.price or carbon.price?"),
        ("appliance.age=2014", "looks like a year. Type the age in years"),
        ("household.place=Germani", "did you mean DE"),
        ("repair.qote=5", "did you mean quote?"),
        ("household.rate=30", "3,000%"),
        ("replace.4.price=5", "there are 1"),
        ("appliance.fault=gas_leak", "What is broken"),
        ("household.place=Atlantis", "Place"),
        ("appliance=5", "must be a table"),
        ("repair.quote=nan", "'nan' cannot be read"),
        ("repair.quote=inf", "'inf' cannot be read"),
        ("a.b.c.d=1", "a.b.c.d: is not known"),
        ("appliance.class.x=1", "class"),
    ],
)
def test_a_change_that_cannot_be_used_is_refused_by_name(bare: Path, change: str, text: str) -> None:
    result = run("weigh", bare, "--set", change)
    assert result.exit_code == 2
    assert text in result.stderr.replace("\u00a0", " ")
    assert "Traceback" not in result.output


def test_a_state_may_be_given_by_its_name() -> None:
    assert json_of(DEMO, "--set", "household.place=hawaii") == json_of(DEMO, "--set", "household.place=US-HI")


def test_a_lone_mark_in_money_is_thousands_in_the_us_only_where_it_can_be() -> None:
    assert json_of(DEMO, "--set", "replace.price=1,234") == json_of(DEMO, "--set", "replace.price=1234")
    refused = run("weigh", DEMO, "--set", "replace.price=1.234")
    assert refused.exit_code == 2
    assert "Did you mean 1,234 or 1.23? Type 1234 or 1.23." in refused.stderr


def test_a_case_that_is_not_there_and_a_job_book_name_the_command_that_is_meant(tmp_path: Path) -> None:
    missing, book = run("weigh", tmp_path / "none.toml"), run("weigh", ROOT / "data" / "demo" / "jobs.csv")
    assert (missing.exit_code, book.exit_code) == (2, 2)
    assert "`mendpoint new FILE` makes a case file" in missing.stderr
    assert "a job book is weighed by `mendpoint jobs`" in book.stderr


def test_a_folder_that_is_no_job_book_is_named() -> None:
    assert run("jobs", ".").stderr == ".: Is a directory.\n"


def test_the_version_is_that_of_the_package() -> None:
    packaged = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert run("--version").stdout == f"{packaged['version']}\n"


def test_places_lists_every_place_by_code_and_name() -> None:
    listed = run("places").stdout
    for place in tables().known_places.values():
        assert re.search(rf"^{place.place} +{place.label} ", listed, re.MULTILINE)


def test_a_place_that_is_not_known_names_five_at_most() -> None:
    refused = run("weigh", DEMO, "--set", "household.place=US-XX").stderr
    assert 1 <= refused.count("US-") - 1 <= 5
    assert "mendpoint places" in refused


def test_a_change_without_a_value_is_a_fault_of_usage(bare: Path) -> None:
    result = run("weigh", bare, "--set", "repair.quote")
    assert result.exit_code == 2
    assert "field=value" in result.stderr


# what cannot be used


@pytest.mark.parametrize("flags", [(), ("--json",)])
def test_all_faults_are_told_in_one_go_on_standard_error(tmp_path: Path, flags: tuple[str, ...]) -> None:
    path = tmp_path / "case.toml"
    path.write_text(
        '[appliance]\nclass = "dishwasher"\nage = 99\n[household]\nplace = "DE"\nrate = 3\n[repair]\nquote = -5\n'
        "[[replace]]\nprice = true\n",
        "utf-8",
    )
    result = run("weigh", path, *flags)
    assert result.exit_code == 2
    assert result.stdout == ""
    lines = result.stderr.replace("\u00a0", " ").splitlines()
    assert len(lines) == 4
    assert "Age (the old one) must be from 0 to 60 years; 99 was given." in lines
    assert "Quote for the repair must be from €0 to €100,000; -5 was given." in lines


@pytest.mark.parametrize("flags", [(), ("--json",), ("--set", "repair.quote=5"), ("--set", "replace.price=5")])
@pytest.mark.parametrize(
    "content",
    [
        b"a = ", b"\xff\xfe", b"", b"appliance = 3", b"replace = 3", b"[replace]\nprice = 5", b"replace = [3]",
        b"household = []", b"[appliance]\nclass = 5\nage = 'x'", b"[appliance]\nclass = []\nfault = {a = 1}",
        b"[repair]\nquote = [1]\n", b"title = 1979-05-27", b"[household]\nplace = 3\nregion = 4",
    ],
)  # fmt: skip
def test_a_file_that_is_no_case_is_refused_without_a_traceback(
    tmp_path: Path, content: bytes, flags: tuple[str, ...]
) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    result = run("weigh", path, *flags)
    assert result.exit_code == 2, result.exception
    assert result.stdout == ""
    assert result.stderr.strip()
    assert isinstance(result.exception, SystemExit)


def test_a_file_that_is_missing_or_a_folder_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        for command in ("weigh", "open"):
            result = run(command, path)
            assert result.exit_code == 2
            assert str(path) in result.stderr


@pytest.mark.parametrize("arguments", [("weigh",), ("frob",), ("weigh", "x.toml", "--nope"), ("open", "--port", "0")])
def test_a_fault_of_usage_has_the_same_status(arguments: tuple[str, ...]) -> None:
    assert run(*arguments).exit_code == 2


# the screens, and starting


def test_open_starts_the_screens_with_the_case_and_the_port(bare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[dict[str, object]] = []
    serve = importlib.import_module("decide.show.serve")
    assert isinstance(serve, types.ModuleType)
    monkeypatch.setattr(serve, "serve", lambda **given: started.append(given))
    assert run("open", bare, "--port", "8123").exit_code == 0
    assert run("open", "--network", "shop-pc.local").exit_code == 0
    usual = {"port": None, "case": None, "network": None, "behind": None, "proxy_secret": None, "sign_in": None}
    usual["owners"] = ()
    assert started == [{**usual, "port": 8123, "case": bare}, {**usual, "network": "shop-pc.local"}]
    started.clear()
    asked = ("--behind", "https://shop.test", "--proxy-secret", "secret", "--owner", "a", "--owner", "b")
    assert run("open", *asked).exit_code == 0
    way = {"behind": "https://shop.test", "proxy_secret": Path("secret"), "owners": ["a", "b"]}
    assert started == [{**usual, **way}]


def test_what_serves_for_months_looks_for_circles_as_often_as_any_program(monkeypatch: pytest.MonkeyPatch) -> None:
    often: list[tuple[int, int, int]] = []
    serve = importlib.import_module("decide.show.serve")
    monkeypatch.setattr(serve, "serve", lambda **_: often.append(gc.get_threshold()))
    gc.set_threshold(200_000, 20, 100)
    assert run("open").exit_code == 0
    assert [str(each) for each in often] == [started("-c", "import gc; print(gc.get_threshold())").stdout.strip()]


def started(*arguments: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, **environment},
        check=False,
        timeout=120,
    )


def test_the_package_runs_as_the_command() -> None:
    whole = started("-m", "decide", "weigh", DEMO)
    assert whole.returncode == 0
    assert whole.stdout == GOLDEN.read_text("utf-8")
    assert started("-m", "decide", "weigh", "none.toml").returncode == 2


def test_an_output_that_knows_few_letters_is_no_fault(bare: Path) -> None:
    assert started("-m", "decide", "weigh", bare, PYTHONIOENCODING="ascii").returncode == 0


def test_weighing_loads_nothing_heavy() -> None:
    heavy = (
        "pandas", "streamlit", "plotly", "scipy.stats", "scipy.optimize", "sqlalchemy", "openpyxl", "matplotlib",
        "decide.load.meters.meter_log", "decide.load.cases.label_entry",
    )  # fmt: skip
    code = (
        "import sys; from typer.testing import CliRunner; from decide.show.cli.main import app; "
        f"result = CliRunner().invoke(app, ['weigh', {str(DEMO)!r}]); assert result.exit_code == 0; "
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    assert started("-c", code).stdout == "[]\n"


def test_no_colour_is_forced_on_who_wants_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert not re.search(r"\x1b\[[0-9;]*3[0-9]m", run("weigh", DEMO).stdout)


@pytest.mark.slow
def test_a_limit_is_a_number_or_null_in_every_class_and_region(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    for region in ("US", "EU"):
        for kind in tables().classes(region):
            text = f'[appliance]\nclass = "{kind.kind}"\nage = 8\n[household]\nplace = "{region}"\n'
            path.write_text(text, "utf-8")
            found = json_of(path)
            assert math.isfinite(found["repair_limit"])


def test_a_command_whose_package_is_not_installed_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    watched = Spells(entry=np.zeros(3), exit=np.array([4.0, 7.0, 9.0]), ended=np.ones(3, dtype=bool))
    asked = {"streamlit": lambda **_: serve(), "surpyval": lambda **_: maximum_likelihood(watched)}
    for (package, ask), extra in zip(asked.items(), ("screens", "records"), strict=True):
        for name in {package, *(each for each in sys.modules if each.startswith(f"{package}."))}:
            monkeypatch.setitem(sys.modules, name, None)
        monkeypatch.setattr("decide.show.cli.main.app", ask)
        with pytest.raises(SystemExit) as end:
            main()
        assert end.value.code == 2
        assert f"pip install 'mendpoint[{extra}]'" in capsys.readouterr().err


def test_a_case_is_weighed_and_printed_without_the_packages_of_extras(tmp_path: Path) -> None:
    start = """
import sys
sys.modules.update(dict.fromkeys(["streamlit", "starlette", "plotly", "surpyval", "SALib"]))
from decide.show.cli.main import app
for command in (["weigh", "data/demo/refrigerator.toml", "--json"],
                ["handout", "data/demo/refrigerator.toml", "--out", sys.argv[1], "--force"]):
    app(command, standalone_mode=False)
"""
    page = tmp_path / "page.pdf"
    done = subprocess.run(
        [sys.executable, "-c", start, str(page)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert page.stat().st_size > 10_000
