"""The command that asks, and writes a case file."""

import resource
import tomllib
from pathlib import Path

import pytest
from test_cli import run

from decide.load.cases.case_file import read_case
from decide.load.tables.tables import tables


def test_new_asks_again_after_a_wrong_answer_and_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    answers = [
        "Atlantis", "ohio", "toaster", "icebox", "", "twelve", "99", "12", "compr", "5", "1.234", "250", "80%",
        "", "", "Our fridge",
    ]  # fmt: skip
    result = run("new", path, typed="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert read_case(path) == {
        "schema": 2,
        "title": "Our fridge",
        "household": {"place": "US-OH"},
        "appliance": {"class": "refrigerator", "age": 12, "fault": "compressor"},
        "repair": {"quote": 250, "remaining_life_factor": 0.8},
    }
    assert result.stderr.count("\n") == 7
    assert run("weigh", path).exit_code == 0


@pytest.mark.parametrize(
    ("called", "kind"),
    [
        ("fridge-freezer", "refrigerator"), ("wall oven", "oven_electric"), ("boiler", "boiler_gas"),
        ("furnace", "furnace_gas"), ("gas dryer", "clothes_dryer_gas"), ("washer", "clothes_washer"),
        ("tankless", "water_heater_tankless_gas"),
    ],
)  # fmt: skip
def test_new_knows_what_people_call_an_appliance(tmp_path: Path, called: str, kind: str) -> None:
    path = tmp_path / "new.toml"
    result = run("new", path, typed=f"US\n{called}\n7\nother\n\n\n\n\n\n")
    assert result.exit_code == 0, result.output
    assert read_case(path)["appliance"]["class"] == kind


@pytest.mark.parametrize("called", ["fridge", "stove", "AC", "dryer"])
def test_new_asks_which_where_several_are_called_so(tmp_path: Path, called: str) -> None:
    result = run("new", tmp_path / "new.toml", typed=f"US\n{called}\n")
    assert f"{called} fits several: " in result.stderr


def test_new_takes_a_number_from_its_list_and_leaves_the_rest_to_the_tables(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    result = run("new", path, typed="DE\n1\n4,5\n1\n\n\n\n\n\n")
    assert result.exit_code == 0, result.output
    first = tables().classes("EU")[0].kind
    assert read_case(path) == {
        "schema": 2,
        "household": {"place": "DE"},
        "appliance": {"class": first, "age": 4.5, "fault": tables().faults(first)[0].fault},
    }


def test_new_never_writes_over_a_file_unasked(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text("mine", "utf-8")
    assert run("new", path, typed="n\n").exit_code == 1
    assert run("new", path, typed="").exit_code == 1
    assert path.read_text("utf-8") == "mine"
    assert run("new", path, typed="y\nDE\n1\n4\n1\n\n\n\n\n\n").exit_code == 0
    assert read_case(path)["household"] == {"place": "DE"}


def test_new_stopped_half_way_writes_nothing_and_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    result = run("new", path, typed="DE\n1\n4,5\n")
    assert result.exit_code == 1
    assert not path.exists()
    kept = result.stdout[result.stdout.index("[household]") :]
    assert tomllib.loads(kept.removesuffix("Aborted!\n")) == {
        "household": {"place": "DE"},
        "appliance": {"class": tables().classes("EU")[0].kind, "age": 4.5},
    }


def test_new_refuses_a_folder_that_is_not_there_before_it_asks(tmp_path: Path) -> None:
    result = run("new", tmp_path / "none" / "new.toml", typed="DE\n")
    assert result.exit_code == 2
    assert "folder" in result.stderr


def test_new_refuses_a_folder_as_its_file_before_it_asks(tmp_path: Path) -> None:
    result = run("new", tmp_path, typed="y\nDE\n")
    assert (result.exit_code, result.stderr.count("\n")) == (2, 1)
    assert "Is a directory" in result.stderr


def test_new_prints_the_case_when_it_cannot_be_saved(tmp_path: Path) -> None:
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (10, before[1]))
    try:
        result = run("new", tmp_path / "new.toml", typed="DE\n1\n4\n1\n\n\n\n\nKitchen\n")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert result.exit_code == 2
    assert "File too large" in result.stderr
    assert list(tmp_path.iterdir()) == []
    assert 'title = "Kitchen"' in result.stdout
