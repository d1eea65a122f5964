"""The command `mendpoint store`: where it is, what it holds, all of it out and in, a visit deleted, its soundness.

`cli.py` adds it to the command `mendpoint`; status and errors are as described there.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from ..errors import MendpointError
from .cli_given import Json
from .outlet import print_json, refused
from .phrases import Phrases

if TYPE_CHECKING:
    from ..load.store import Store
    from ..load.store_records import VisitLine

PHRASES: Final = Phrases.of()

app = typer.Typer(no_args_is_help=True)


@app.command(help=PHRASES.say("command.store.where"))
def where(json: Json = False) -> None:
    """Say where the store is."""
    with _opened() as store:
        version = store.schema
        if json:
            print_json({"where": store.where, "version": version})
            return
        typer.echo(PHRASES.say("store.where", where=store.where))
        typer.echo(PHRASES.say("store.schema", version=version))


@app.command(help=PHRASES.say("command.store.export"))
def export(
    file: Annotated[Path, typer.Argument(help=PHRASES.say("command.store.export_file"), show_default=False)],
) -> None:
    """Write everything to one file."""
    with _opened() as store:
        typer.echo(PHRASES.say("store.exported", path=str(store.export_all(file))))


@app.command(name="import", help=PHRASES.say("command.store.import"))
def take_in(
    file: Annotated[Path, typer.Argument(help=PHRASES.say("command.store.import_file"), show_default=False)],
) -> None:
    """Take in everything from an export."""
    with _opened() as store:
        came = store.import_all(file)
        counts = {"new": str(came.new), "same": str(came.same), "both": str(came.both)}
        typer.echo(PHRASES.say("store.imported", **counts))


@app.command(name="list", help=PHRASES.say("command.store.list"))
def list_visits(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORD]...", help=PHRASES.say("command.store.search"), show_default=False),
    ] = None,
    json: Json = False,
) -> None:
    """List the visits."""
    with _opened() as store:
        lines = store.visits(" ".join(words or []))
    if json:
        print_json([_told(line) for line in lines])
    elif lines:
        _show(lines)
    else:
        typer.echo(PHRASES.say("store.none_found" if words else "store.none"))


@app.command(help=PHRASES.say("command.store.delete"))
def delete(
    visit: Annotated[str, typer.Argument(metavar="ID", help=PHRASES.say("command.store.id"), show_default=False)],
    yes: Annotated[bool, typer.Option("--yes", help=PHRASES.say("command.store.yes"))] = False,
) -> None:
    """Delete a visit and its files for good."""
    with _opened() as store:
        title = store.visit(visit).title or PHRASES.say("store.untitled")
        if not (yes or typer.confirm(PHRASES.say("store.ask_delete", title=title))):
            typer.echo(PHRASES.say("store.kept"))
            return
        store.delete_visit(visit)
        store.vacuum()
        typer.echo(PHRASES.say("store.deleted"))


@app.command(help=PHRASES.say("command.store.check"))
def check() -> None:
    """Say whether the store is sound."""
    with _opened() as store:
        typer.echo(PHRASES.say("store.sound", count=PHRASES.number(store.check(), 0)))


@contextmanager
def _opened() -> Iterator["Store"]:
    """The store for one command; what it cannot do is said, and the command ends."""
    from ..load.store import Store

    try:
        with Store.open() as store:
            yield store
    except MendpointError as fault:
        raise refused(fault) from None


def _told(line: "VisitLine") -> dict[str, str | int]:
    return {
        "id": line.id,
        "title": line.title,
        "version": line.version,
        "created": line.created.isoformat(),
        "changed": line.changed.isoformat(),
        "copy_of": line.copy_of,
    }


def _show(lines: list["VisitLine"]) -> None:
    from babel.dates import format_datetime

    from .terminal import Page

    rows = []
    for line in lines:
        title = line.title or PHRASES.say("store.untitled")
        if line.copy_of:
            title = PHRASES.say("store.copy_of", title=title, other=line.copy_of)
        when = format_datetime(line.changed.astimezone(), "short", locale=PHRASES.locale)
        rows.append((title, when, str(line.version), line.id))
    heads = [PHRASES.say("store.title"), PHRASES.say("store.changed"), PHRASES.say("store.saves")]
    Page().table([*heads, PHRASES.say("store.id")], rows, (2, 3))
