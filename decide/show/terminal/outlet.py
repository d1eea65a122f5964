"""The ways out of a command besides its tables: data for other programs, or what could not be used or was written."""

import json
import math
from collections.abc import Mapping
from typing import Any, Final

import typer

from ...errors import EntryErrors, MendpointError, OneOf
from ...load.files.plain_file import escaped

BAD_INPUT: Final = 2


def print_json(data: object) -> None:
    """Print data as JSON."""
    typer.echo(written(data))


def written(data: object) -> str:
    """Write plain data as JSON."""
    return json.dumps(_plain(data), allow_nan=False, indent=2)


def _plain(value: Any) -> Any:
    """The same in what JSON knows: lists for columns, null for a number that does not exist or has no end."""
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if hasattr(value, "tolist"):  # an array, or one of its numbers
        return _plain(value.tolist())
    return None if isinstance(value, float) and not math.isfinite(value) else value


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
    for line in words.explain(error):
        tell(line)
    for each in error.errors if isinstance(error, EntryErrors) else (error,):
        if isinstance(each, OneOf):
            table, _, name = each.field.rpartition(".")
            tell(words.say("error.one_of", entry=f'{name} = "{each.choices[0]}"', table=table))
    return typer.Exit(BAD_INPUT)
