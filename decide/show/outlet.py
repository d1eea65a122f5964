"""The ways out of a command besides its tables: data for other programs, or what could not be used."""

from collections.abc import Mapping
from typing import Any, Final

import typer

from ..errors import MendpointError

BAD_INPUT: Final = 2


def print_json(data: object) -> None:
    """Print data as JSON."""
    from .as_json import written

    typer.echo(written(data))


def refused(fault: MendpointError, entries: Mapping[str, Any] | None = None) -> typer.Exit:
    """Say on standard error what cannot be used; the exit that goes with it."""
    from .words import Words

    words = Words.for_entries(entries or {})
    for line in words.explain(fault, words.currency):
        typer.echo(line, err=True)
    return typer.Exit(BAD_INPUT)
