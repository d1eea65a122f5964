"""The command `mendpoint store`: where it is, what it holds, all of it out and in, things deleted, its soundness.

`cli.py` adds it to the command `mendpoint`; status and errors are as described there.
"""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from ...errors import ReadError
from ..terminal.outlet import attributes, print_json
from .given import PHRASES, Json, argument, option

if TYPE_CHECKING:
    from ...load.store.records import Thing, VisitLine
    from ...load.store.store import Store

GIGABYTE: Final = 1_000_000_000
"""[byte]"""


Kind = StrEnum("Kind", ["VISIT", "BOOK", "MAPPING", "FIGURES", "SETTING"])
"""What the store keeps."""


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
    file: Annotated[Path, argument("store.export_file")],
    without_people: Annotated[bool, option("store.without_people", "--without-people")] = False,
) -> None:
    """Write everything to one file."""
    with _opened() as store:
        typer.echo(PHRASES.say("store.exported", path=str(store.export_all(file, people=not without_people))))
        if without_people:
            typer.echo(PHRASES.say("store.left_out"))
        _say_damaged(store, store.damaged(deep=True))


@app.command(name="import", help=PHRASES.say("command.store.import"))
def import_file(
    file: Annotated[Path, argument("store.import_file")],
    most: Annotated[float, option("store.most", min=0, max=1000)] = 1.0,
) -> None:
    """Take in everything from an export."""
    from ...load.store.brought_visits import take_in
    from ..pocket.page import stamp

    with _opened() as store:
        came = take_in(store, file, round(most * GIGABYTE))
        counts = {"new": str(came.new), "same": str(came.same), "both": str(came.both)}
        typer.echo(PHRASES.say("store.imported", **counts))
        if came.stamp not in (None, stamp()):
            typer.echo(PHRASES.say("pocket.stale"))


@app.command(name="list", help=PHRASES.say("command.store.list"))
def list_visits(
    words: Annotated[list[str] | None, argument("store.search", metavar="[WORD]...")] = None,
    kind: Annotated[Kind, option("store.kind")] = Kind.VISIT,
    json: Json = False,
) -> None:
    """List the visits, or what else is kept."""
    with _opened() as store:
        lines = store.visits(" ".join(words or [])) if kind == Kind.VISIT else []
        _say_damaged(store, [thing for thing in store.damaged() if thing.noun == kind])
        if kind != Kind.VISIT:
            _list_things([thing for thing in store.things() if thing.noun == kind], kind, json)
            return
    if json:
        days = ("created", "changed")  # whose a visit is stays here
        plain = [attributes(line, "id", "title", "version", *days, "copy_of") for line in lines]
        print_json([{**each, **{day: each[day].isoformat() for day in days}} for each in plain])
    elif lines:
        _show(lines)
    else:
        typer.echo(PHRASES.say("store.none_found" if words else "store.none"))


@app.command(help=PHRASES.say("command.store.delete"), context_settings={"ignore_unknown_options": True})
def delete(
    name: Annotated[str, argument("store.id", metavar="ID")],
    kind: Annotated[Kind | None, option("store.kind")] = None,
    yes: Annotated[bool, option("store.yes", "--yes")] = False,
) -> None:
    """Delete something that is kept for good; an id of an older store may begin as an option does."""
    with _opened() as store:
        thing = _thing(store, name, kind)
        title = thing.label if thing.title or thing.noun != Kind.VISIT else PHRASES.say("store.untitled")
        values = {"what": PHRASES.say(f"store.noun.{thing.noun}"), "title": title}
        if not (yes or typer.confirm(PHRASES.say("store.ask_delete", **values))):
            typer.echo(PHRASES.say("store.kept"))
            return
        store.delete(thing)
        store.vacuum()
        typer.echo(PHRASES.say("store.deleted", **values))


def _thing(store: "Store", name: str, kind: Kind | None) -> "Thing":
    """The one thing, sound or damaged, that is kept by a name."""
    from ...load.store.records import NotFound

    every = {(each.noun, each.name): each for each in (*store.damaged(), *store.things()) if kind in (None, each.noun)}
    found = [each for each in every.values() if each.name == name]
    if not found:
        raise NotFound(kind or Kind.VISIT, name)
    if len(found) > 1:
        kinds = ", ".join(each.noun for each in found)
        raise ReadError(name, "More than one thing is kept by “{name}”: {kinds}. Say which with --kind.", name, kinds)
    return found[0]


@app.command(help=PHRASES.say("command.store.check"))
def check() -> None:
    """Say whether the store is sound."""
    with _opened() as store:
        typer.echo(PHRASES.say("store.sound", count=PHRASES.number(store.check(), 0)))


def _opened() -> "Store":
    from ...load.store.store import Store

    return Store.open()


def _say_damaged(store: "Store", things: "list[Thing]") -> None:
    """Say on standard error what was set aside."""
    from ...load.store.records import Damaged
    from ..text.words import Words

    words = Words.of()
    for line in words.explain(Damaged(store.where, tuple(things))):
        typer.echo(line, err=True)


def _list_things(things: "list[Thing]", kind: Kind, json: bool) -> None:
    from ..terminal.layout import Page

    if json:
        print_json([{"id": thing.name, "name": thing.label} for thing in things])
    elif things:
        rows = [(thing.label, thing.name) for thing in things]
        Page().table([PHRASES.say("store.name"), PHRASES.say("store.id")], rows, ())
    else:
        typer.echo(PHRASES.say("store.none_of", what=PHRASES.say(f"store.noun.{kind}")))


def _show(lines: list["VisitLine"]) -> None:
    from babel.dates import format_datetime

    from ..terminal.layout import Page

    rows = []
    for line in lines:
        title = line.title or PHRASES.say("store.untitled")
        if line.copy_of:
            title = PHRASES.say("store.copy_of", title=title, other=line.copy_of)
        when = format_datetime(line.changed.astimezone(), "short", locale=PHRASES.locale)
        rows.append((title, when, str(line.version), line.id))
    heads = [PHRASES.say("store.title"), PHRASES.say("store.changed"), PHRASES.say("store.saves")]
    Page().table([*heads, PHRASES.say("store.id")], rows, (2, 3))
