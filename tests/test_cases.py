"""Worked questions: inputs, the expected answer, and who says so. The same tables are what the program opens."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from decide.answers.answer import Answer, answer

CASES = sorted((Path(__file__).parent / "cases").glob("*.toml"))


def found(given: Answer, name: str) -> float:
    """A number of the answer by its name, such as `repair_limit` or `options.0.expected_remaining_life`."""
    for part in (given.weighing, given.measures):
        value: Any = part
        for step in name.split("."):
            value = value[int(step)] if step.isdigit() else getattr(value, step, None)
            if value is None:
                break
        else:
            return float(value)
    raise KeyError(name)


def marked(path: Path) -> Any:
    """A worked case, with what its source says first: who, and not the whole working."""
    source = tomllib.loads(path.read_text("utf-8"))["source"]
    return pytest.param(path, marks=pytest.mark.published(source.split(": ")[0]), id=path.stem)


@pytest.mark.parametrize("path", [marked(path) for path in CASES])
def test_a_worked_case_gives_its_answer(path: Path) -> None:
    worked = tomllib.loads(path.read_text("utf-8"))
    given = answer(worked["case"])
    expected = dict(worked["expected"])
    within = expected.pop("within")
    assert expected
    for name, value in expected.items():
        assert found(given, name) == pytest.approx(value, abs=within), name
