"""The command `mendpoint`: weigh a case, write one, look into the tables, open the screens.

Status 0 means an answer, 2 that something given cannot be used; what is wrong then stands on standard error. Whatever
is heavy is imported inside the command that needs it, so that the command starts fast.
"""

import contextlib
import datetime
import errno
import gc
import io
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, NoReturn

import typer
from typer.core import TyperGroup

from ...errors import CaseError, MendpointError, Message, ReadError
from ...load.files.plain_file import escaped
from ..terminal.outlet import BAD_INPUT, refused, tell
from ..text.phrases import LANGUAGE_ENV, languages
from . import USUAL_THRESHOLDS
from . import store as cli_store
from .checks import checks
from .confidence import breakeven, by_its_old_name, carbon, confidence, limits, scenarios
from .given import GIVEN, PHRASES, CaseFile, Figures, Force, argument, entries_of, option, path_of_today, tables_with
from .handout import handout, pocket
from .jobs import jobs, records
from .shop import bands, card, compare, quote

if TYPE_CHECKING:
    from ...load.cases.case_file import Entries

IN_WORDS: Final = frozenset({
    "title", "class", "fault", "outcome", "outcome_reason", "place", "region", "name", "limit", "scale", "category",
    "defrost", "placing", "file", "column", "quantity", "interval_data", "interval_unit", "interval_column",
    "depreciation", "at_end", "pays", "today", "gas_kind",
})  # fmt: skip
"""Entries that are text; all others are numbers, or true or false."""

EXTRAS: Final = {
    "streamlit": "screens", "starlette": "screens", "plotly": "screens", "surpyval": "records", "authlib": "signin",
    "httpx": "signin",
}  # fmt: skip
"""Packages that a plain installation lacks, and the extra that brings each."""


class _Group(TyperGroup):
    """The commands, which end with what cannot be used; arguments that are none cannot steer the terminal either."""

    def invoke(self, ctx: Any) -> Any:
        GIVEN.set({})
        try:
            return super().invoke(ctx)
        except MendpointError as error:
            raise refused(error, GIVEN.get()) from None
        except Exception as error:
            if hasattr(error, "format_message") and hasattr(error, "message"):
                error.message = escaped(str(error.message))
            raise


app = typer.Typer(
    cls=_Group,
    help=PHRASES.say("command.mendpoint"),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Run the command in a language that it speaks; a sign that the output cannot write becomes a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    wanted, known = os.environ.get(LANGUAGE_ENV, ""), languages()
    if wanted and wanted not in known:
        typer.echo(PHRASES.say("error.language", variable=LANGUAGE_ENV, known=", ".join(known), got=wanted), err=True)
        sys.exit(BAD_INPUT)
    try:
        app(prog_name="mendpoint")
    except SystemExit as end:
        _end(end.code, None)
    except ModuleNotFoundError as missing:
        extra = EXTRAS.get((missing.name or "").partition(".")[0])
        if extra is None:
            raise
        tell(PHRASES.say("error.extra", package=missing.name or "", install=f"pip install 'mendpoint[{extra}]'"))
        _end(BAD_INPUT, None)
    except OSError as error:
        if error.filename is not None:
            raise
        _end(BAD_INPUT, error)


def _end(status: int | str | None, error: OSError | None) -> NoReturn:
    """End the command; where its output cannot be written that is said, except where nobody listens any more."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError as late:
        error, status = late, status or BAD_INPUT
    if error is not None:
        if sys.stdout is not None:  # or it would be tried, and complained of, once more
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if error.errno != errno.EPIPE:
            with contextlib.suppress(OSError):
                tell(PHRASES.say("error.output", why=PHRASES.translated(Message(error.strerror or str(error)))))
    sys.exit(status)


def _say_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(version("mendpoint"))
        raise typer.Exit


@app.callback()
def mendpoint(
    version: Annotated[bool, option("version", "--version", callback=_say_version, is_eager=True)] = False,
) -> None:
    """Take what comes before a command."""


@app.command(help=PHRASES.say("command.weigh"))
def weigh(
    case: CaseFile,
    json: Annotated[bool, option("json", "--json")] = False,
    everything: Annotated[bool, option("all", "--all")] = False,
    changes: Annotated[list[str] | None, option("set", "--set", metavar="FIELD=VALUE")] = None,
    figures: Figures = None,
) -> None:
    """Weigh the options of a case file."""
    from ...answers.answer import answer

    entries = entries_of(case)
    for change in changes or []:
        entries = _changed(entries, change)
        GIVEN.set(entries)
    reference = tables_with(figures)
    found = answer(entries, reference, case.parent)
    if json:
        from ...answers.scenarios import what_ifs
        from ..terminal.as_json import as_json

        typer.echo(as_json(found, what_ifs(entries, found, reference=reference, folder=case.parent)))
    else:
        from ..terminal.layout import show_answer
        from ..text.words import Words

        show_answer(Words.for_household(found.case.household), found, everything)


@app.command(help=PHRASES.say("command.classes"))
def classes(region: Annotated[str | None, option("region")] = None) -> None:
    """List the kinds of appliance that the tables know."""
    from ...load.tables.tables import CURRENCIES, tables
    from ..terminal.layout import show_classes
    from ..text.words import Words

    regions = [region] if region else list(CURRENCIES)
    known = {kind.kind: kind for each in regions for kind in tables().classes(each)}
    show_classes(Words.of(), tables(), known.values(), regions)


@app.command(help=PHRASES.say("command.places"))
def places() -> None:
    """List the places that the tables know."""
    from ...load.tables.tables import tables
    from ..terminal.layout import show_places
    from ..text.words import Words

    show_places(Words.of(), tables().known_places.values())


@app.command(help=PHRASES.say("command.sources"))
def sources(
    kind: Annotated[str | None, option("class", "--class")] = None, due: Annotated[bool, option("due", "--due")] = False
) -> None:
    """List every figure of the tables with who says so."""
    from ...load.tables.tables import tables
    from ..terminal.layout import show_due, show_sources
    from ..text.words import Words

    if due:
        show_due(Words.of(), tables(), datetime.date.today().year)
    else:
        show_sources(Words.of(), tables(), tables().kind(kind).kind if kind else None, datetime.date.today().year)


@app.command(help=PHRASES.say("command.new"))
def new(case: Annotated[Path, argument("case_to_write", metavar="CASE.toml")], force: Force = False) -> None:
    """Ask for what is needed and write a case file."""
    from .ask import ask_for_a_case

    ask_for_a_case(case, force)


@app.command(name="open", help=PHRASES.say("command.open"))
def open_screens(
    case: Annotated[Path | None, argument("case", metavar="[CASE.toml]")] = None,
    port: Annotated[int | None, option("port", min=1, max=65_535)] = None,
    network: Annotated[str | None, option("network", metavar="NAME")] = None,
    behind: Annotated[str | None, option("behind", metavar="https://NAME")] = None,
    proxy_secret: Annotated[Path | None, option("proxy_secret")] = None,
    sign_in: Annotated[Path | None, option("sign_in")] = None,
    owner: Annotated[list[str] | None, option("owner", metavar="NAME")] = None,
) -> None:
    """Open the screens in a browser."""
    from ...load.cases.case_file import read_case

    if case is not None:
        read_case(case)
    from ..serve import serve  # here, since a file that cannot be read needs no screens

    way: dict[str, Any] = {"behind": behind, "proxy_secret": proxy_secret, "sign_in": sign_in, "owners": owner or ()}
    gc.set_threshold(*USUAL_THRESHOLDS)
    serve(port=port, case=case, network=network, **way)


OTHERS: Final[dict[str, tuple[Callable[..., None], ...]]] = {
    "checks": (checks,), "handout": (handout,), "confidence": (breakeven, confidence, limits, scenarios),
    "carbon": (carbon,), "pocket": (pocket,), "records": (records,), "jobs": (jobs,),
    "shop": (quote, bands, compare, card),
}  # fmt: skip
"""Commands that stand in other modules, by the section of the texts that says what each is for."""
for _section, _commands in OTHERS.items():
    for _command in _commands:
        app.command(help=PHRASES.say(f"command.{_section}.{_command.__name__}"))(_command)
for _old, _command in (("sure", confidence), ("flips", breakeven)):
    app.command(name=_old, hidden=True)(by_its_old_name(_old, _command))
app.add_typer(cli_store.app, name="store", help=PHRASES.say("command.store.store"))


def _changed(entries: "Entries", change: str) -> "Entries":
    """The entries with one changed, as `--set` gives it; numbers are read by the habit of the place."""
    from ...load.cases.case_file import set_entry
    from ...load.cases.entry_paths import refuse_a_stray_path
    from ...load.tables.typed import typed_number
    from ..text.phrases import unit_of
    from ..text.words import Words

    path, equals, typed = (part.strip() for part in change.partition("="))
    if not (path and equals):
        raise typer.BadParameter(PHRASES.say("command.set_needs_value", given=change), param_hint="--set")
    path = path_of_today(path)
    try:
        refuse_a_stray_path(path)
    except CaseError as stray:
        raise ReadError(Message("--set {path}", path), stray.message) from None
    if typed in ("true", "false"):
        return set_entry(entries, path, typed == "true")
    if path.rpartition(".")[2] in IN_WORDS:
        return set_entry(entries, path, typed)
    words, unit = Words.for_entries(entries), unit_of(path)
    return set_entry(entries, path, typed_number(typed, path, words.number_locale(unit), unit, words.currency))
