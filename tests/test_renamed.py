"""Old names: files, links, visits, figures and commands still open by them, and say what they are called now."""

import dataclasses
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from commands import run
from conftest import ROOT
from streamlit.testing.v1 import AppTest
from test_door import page_with, texts

from decide.economics.case import Appliance, Option
from decide.load.cases.case_file import complete, parse_case
from decide.load.cases.renamed import RENAMED, entries_of_today, name_of_today
from decide.load.jobs.own_figures import BOUNDS, parsed
from decide.load.store.store import Store
from decide.load.tables.tables import UNITS
from decide.show.screens.state.address import fields_at
from decide.show.screens.state.fields import CHOSEN, TYPED
from decide.show.screens.state.session import EMPTY, FIRST_CASE

OLD = """[appliance]
class = "refrigerator"
age = 11
life_delay = 1
upkeep = 22
energy_drift = 0.01
energy_drift_cap = 0.3
quote_median = 210
quote_spread = 0.5
[repair]
quote = 300
outlook = 0.8
hold = 4
fix_holds = 0.9
spoiled_food = 40
[[replace]]
price = 900
spoiled_later = 25
[replace.unit]
upkeep = 20
[leave]
lost_worth = 60
[ranges]
"repair.outlook" = [0.5, 1.0]
"replace.unit.upkeep" = [10, 30]
"""
NEW = OLD
for _before, _now in RENAMED.items():
    NEW = NEW.replace(f"\n{_before} =", f"\n{_now} =").replace(f'.{_before}"', f'.{_now}"')
NEW = NEW.replace("replace.unit", name_of_today("replace.unit"))


@pytest.fixture
def old_file(tmp_path: Path) -> Path:
    path = tmp_path / "old.toml"
    path.write_text(OLD, "utf-8")
    return path


def test_every_new_name_is_one_of_an_entry_or_a_figure() -> None:
    known = {field.name for noun in (Appliance, Option) for field in dataclasses.fields(noun)} | UNITS.keys()
    assert set(RENAMED.values()) <= known
    assert not RENAMED.keys() & known
    assert not RENAMED.keys() & RENAMED.values()


def test_an_old_case_file_is_the_new_one() -> None:
    old: dict[str, str] = {}
    assert parse_case(OLD.encode(), old=old) == parse_case(NEW.encode())
    assert complete(parse_case(OLD.encode())).case == complete(parse_case(NEW.encode())).case
    assert set(RENAMED) <= {path.rpartition(".")[2] for path in old}
    assert old["replace.unit.upkeep"] == name_of_today("replace.unit") + ".maintenance_and_repair"
    assert old["ranges.repair.outlook"] == "ranges.repair.remaining_life_factor"


def test_what_is_new_stays_as_it_is() -> None:
    entries, old = parse_case(NEW.encode()), dict[str, str]()
    assert entries_of_today(entries, old) == entries
    assert not old


def test_both_names_at_once_are_refused_by_the_old_one() -> None:
    both = NEW.replace("[repair]\n", "[repair]\noutlook = 0.5\n")
    with pytest.raises(Exception, match=r"repair\.outlook: is not known; it is called remaining_life_factor now"):
        complete(parse_case(both.encode()))


@pytest.mark.slow
@pytest.mark.parametrize(("language", "said"), [("en", "is called"), ("es", "ahora se llama")])
def test_the_command_says_what_it_is_called_now(old_file: Path, language: str, said: str) -> None:
    new = old_file.with_name("new.toml")
    new.write_text(NEW, "utf-8")
    told, plain = (
        subprocess.run(
            [sys.executable, "-m", "decide", "weigh", str(path), "--json"],
            env={**os.environ, "MENDPOINT_LANGUAGE": language}, cwd=ROOT, capture_output=True, text=True, check=True,
        )
        for path in (old_file, new)
    )  # fmt: skip
    assert told.stdout == plain.stdout
    assert plain.stderr == ""
    assert f"repair.outlook {said} " in told.stderr
    assert "repair.remaining_life_factor" in told.stderr


def test_an_old_path_may_be_typed(old_file: Path) -> None:
    new = run("weigh", old_file, "--json", "--set", "repair.remaining_life_factor=0.5")
    old = run("weigh", old_file, "--json", "--set", "repair.outlook=0.5")
    assert old.stdout == new.stdout
    assert old.stderr.count("repair.outlook is called repair.remaining_life_factor now") == 2  # the file's, and this
    asked = run("breakeven", old_file, "--json", "--input", "repair.outlook")
    assert [each["path"] for each in json.loads(asked.stdout)["breakeven"]] == ["repair.remaining_life_factor"]


@pytest.mark.parametrize(("old", "new"), [("sure", "confidence"), ("flips", "breakeven")])
def test_an_old_command_still_works_and_says_the_new_word(old_file: Path, old: str, new: str) -> None:
    before, now = (run(command, old_file, "--json") for command in (old, new))
    assert (before.exit_code, now.exit_code) == (0, 0)
    assert before.stdout == now.stdout
    assert f"`mendpoint {old}` is called `mendpoint {new}` now." in before.stderr
    assert "`mendpoint" not in now.stderr
    commands = [line.split()[1] for line in run("--help").stdout.splitlines() if line.startswith(("│ ", "| "))]
    assert new in commands
    assert old not in commands


def test_old_figures_of_a_shop_are_read() -> None:
    head = "class,region,quantity,value,low,high,unit,n,from,to,shop,made\n"
    row = "refrigerator,US,{},0.9,0.8,0.95,{},40,2020-01-01,2025-01-01,An invented shop,2026-01-01\n"
    for old in ("fix_holds", "quote_spread"):
        [figure] = parsed(head + row.format(old, UNITS[RENAMED[old]]), "own.csv")
        assert figure.quantity == RENAMED[old]
        assert figure.quantity in BOUNDS


def test_an_old_link_fills_the_field() -> None:
    found = fields_at({"outlook": "0.4", "lost_worth": "60"}, EMPTY)
    assert (found["remaining_life_factor"], found["annual_loss_of_use"]) == (0.4, "60")


def test_an_old_visit_is_read_by_the_names_of_today() -> None:
    store = Store.open()
    fields = {"kind": "refrigerator", "outlook": 0.4, "lost_worth": "60", "kept": OLD}
    saved = store.save_visit(store.new_id(), tomllib.loads(OLD), version=0, title="invented", page=fields, files={})
    visit = store.visit(saved.id)
    assert {name_of_today(field) for field in fields} == set(visit.page)
    assert (visit.page["remaining_life_factor"], visit.page["annual_loss_of_use"]) == (0.4, "60")
    assert visit.entries == parse_case(NEW.encode())
    assert {key for key in RENAMED.values() if key in {*CHOSEN, *TYPED}} <= set(visit.page)
    assert "upkeep" in visit.text  # what was kept stays as it was written


def test_the_page_says_what_an_opened_file_calls_otherwise(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page: AppTest = page_with(parse_case(OLD.encode()), tmp_path, monkeypatch)
    assert not [text for text in texts(page) if "is called" in text]
    Path(tmp_path, "case.toml").write_text(OLD, "utf-8")
    monkeypatch.setenv(FIRST_CASE, str(tmp_path / "case.toml"))
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30).run()
    assert not again.exception
    said = [text for text in texts(again) if "is called" in text]
    assert "leave.lost_worth is called leave.annual_loss_of_use now. It was read all the same." in said
    assert len(said) == len(set(said)) >= len(RENAMED) - 1
