"""What the read-me shows can be run as it stands."""

import re
from pathlib import Path

import pytest
from test_cli import ROOT, run

READ_ME = re.findall(r"^mendpoint (.*?)(?:  +#.*)?$", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE)
ITS_OWN = {"case.toml", "own.csv", "rows.xlsx", "handout.pdf", "card.pdf"}
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
    begun = [each for each in READ_ME if not each.startswith(("meter", "bill"))]  # of files of one's own
    named = {word for command in begun for word in command.split() if re.search(r"\.\w{3,4}$", word)} - {"repair.quote"}
    assert len(named - ITS_OWN) >= 3
    assert all((ROOT / path).is_file() for path in named - ITS_OWN)
