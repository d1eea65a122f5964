"""What the read-me shows can be run as it stands."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from test_cli import DEMO, ROOT, json_of, run

from decide.errors import EntryErrors
from decide.load.cases.case_file import complete
from decide.load.meters.tariff_file import parse_tariff

READ_ME = re.findall(r"^mendpoint (.*?)(?:  +#.*)?$", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE)
ITS_OWN = {"case.toml", "own.csv", "rows.xlsx", "handout.pdf", "card.pdf", "pocket.html"}
"""Files that the commands of README.md write themselves."""


@pytest.mark.parametrize("command", [each for each in READ_ME if each.startswith(("weigh", "jobs", "quote", "checks"))])
def test_what_the_read_me_shows_can_be_run_as_it_stands(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    if "own.csv" in command:
        assert run(*next(each for each in READ_ME if "--save own.csv" in each).split()).exit_code == 0
    assert run(*command.split()).exit_code == 0


def test_every_file_that_the_read_me_names_in_a_command_is_there_or_written_by_one() -> None:
    named = {word for command in READ_ME for word in command.split() if re.search(r"\.\w{3,4}$", word)} - {
        "repair.quote"
    }
    assert len(named - ITS_OWN) >= 3
    assert all((ROOT / path).is_file() for path in named - ITS_OWN)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "data/README.md"])
def test_every_module_test_and_table_that_a_page_names_is_there(page: str) -> None:
    """Whole paths, and names of tests by themselves; what is written NAME stands for many."""
    text = (ROOT / page).read_text("utf-8")
    paths = set(re.findall(r"\b(?:decide|tests|data)/[\w/]+\.(?:py|csv|toml)\b", text))
    paths |= {f"tests/{name}" for name in re.findall(r"(?<![\w/])test_\w+\.py\b", text)}
    missing = sorted(path for path in paths if "NAME" not in path and not (ROOT / path).exists())
    assert paths
    assert missing == []


def blocks(page: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", (ROOT / page).read_text("utf-8"), re.MULTILINE | re.DOTALL)


def test_the_python_of_the_read_me_runs_and_agrees_with_the_command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    [code] = blocks("README.md", "python")
    monkeypatch.chdir(ROOT)
    names: dict = {}
    exec(code, names)
    assert capsys.readouterr().out.count("\n") >= 3
    found, weighed, limits = json_of(DEMO), names["weighed"], names["decide"].weigh(names["older"]).repair_limit
    near = 0.02 * next(option["today"] for option in found["options"] if option["action"] == "replace")
    # `weigh` has the case as it stands, the command what is expected of it
    assert (weighed.verdict, weighed.repair_limit) == (found["verdict"], pytest.approx(found["repair_limit"], abs=near))
    assert limits.shape == (15,)
    assert limits[12 - 5] == pytest.approx(weighed.repair_limit)
    assert np.all(np.isfinite(limits))


def errors_of(entries: dict, folder: Path) -> dict[str, str]:
    try:
        complete(entries, folder=folder)
    except EntryErrors as found:
        return {error.field: error.message for error in found.errors}
    return {}


@pytest.mark.parametrize(
    ("page", "text"),
    [(page, each) for page in ("README.md", "DEVELOPERS.md") for each in blocks(page, "toml")],
    ids=lambda value: value[:20],
)
def test_every_entry_that_the_pages_show_is_known(page: str, text: str, tmp_path: Path) -> None:
    (tmp_path / "kitchen.csv").touch()
    (tmp_path / "my-tariff.toml").touch()
    pieces = re.split(r"\n\n(?=\[appliance\.)", text)  # of these a case has one
    for entries in map(tomllib.loads, pieces):
        known = {"class": "refrigerator", "age": 12, "fault": "compressor"}
        entries["appliance"] = {**known, **entries.get("appliance", {})}
        refused = errors_of(entries, tmp_path)
        assert {field: said for field, said in refused.items() if "is not known" in said} == {}


def test_the_tariff_that_the_pages_show_can_be_read() -> None:
    [text] = blocks("DEVELOPERS.md", "toml tariff")
    assert [line.name for line in parse_tariff(text.encode()).lines] == ["energy", "standing charge", "tax"]
