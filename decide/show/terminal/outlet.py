"""The ways out of a command besides its tables: data for other programs, or what could not be used or was written."""

from collections.abc import Mapping
from typing import Any, Final

import typer

from ...errors import MendpointError
from ...load.files.plain_file import escaped

BAD_INPUT: Final = 2


def print_json(data: object) -> None:
    """Print data as JSON."""
    from .as_json import written

    typer.echo(written(data))


def attributes(noun: object, *names: str) -> dict[str, Any]:
    """Some attributes of a noun by their names."""
    return {name: getattr(noun, name) for name in names}


def tell(line: str) -> None:
    """Say something on standard error, which is no part of the answer; names in it come from outside."""
    typer.echo(escaped(line), err=True)


def refused(error: MendpointError, entries: Mapping[str, Any] | None = None) -> typer.Exit:
    """Say on standard error what cannot be used; the exit that goes with it."""
    from ..text.words import Words

    words = Words.for_entries(entries or {})
    for line in words.explain(error, words.currency):
        tell(line)
    return typer.Exit(BAD_INPUT)
