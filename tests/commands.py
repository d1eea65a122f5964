"""The command line, run in this process, and what it prints as JSON."""

import json
from typing import Any

from typer.testing import CliRunner, Result

from decide.show.cli.main import app


def run(*arguments: object, typed: str | None = None) -> Result:
    return CliRunner().invoke(app, [str(each) for each in arguments], input=typed)


def json_of(*arguments: object) -> Any:
    """The JSON of a command; a word such as NaN, which is no JSON, fails."""
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output

    def refuse(word: str) -> None:
        raise AssertionError(word)

    return json.loads(result.stdout, parse_constant=refuse)
