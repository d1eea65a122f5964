"""Commands that tell where a verdict flips, how sure it is, and the best policy at every age.

`cli.py` adds them to the command `mendpoint`; status and errors are as described there.
"""

import functools
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ...errors import MendpointError
from ..terminal.outlet import print_json, refused, tell
from ..text.phrases import Phrases
from .given import (
    CaseFile,
    Figures,
    Force,
    Json,
    Place,
    answered,
    entries_of,
    home_of,
    path_of_today,
    ready_to_write,
    tables_with,
)

if TYPE_CHECKING:
    from ...load.cases.case_file import Entries

PHRASES: Final = Phrases.of()

MAP_ACROSS: Final = 31
MAP_DOWN: Final = 9
"""Values of the two inputs of a map."""


def breakeven(
    case: CaseFile,
    paths: Annotated[
        list[str] | None, typer.Option("--input", metavar="PATH", help=PHRASES.say("command.confidence.input"))
    ] = None,
    on_both: Annotated[
        tuple[str, str] | None, typer.Option("--map", metavar="X Y", help=PHRASES.say("command.confidence.map"))
    ] = None,
    figures: Figures = None,
    json: Json = False,
) -> None:
    """Say where the verdict flips."""
    from ...answers.confidence import breakeven_of, has_limit, has_verdict, ready_paths
    from ...economics.breakeven import around, two_way
    from ..terminal.confidence import breakeven_data, show_breakeven
    from ..text.words import Words

    entries: Entries = {}
    try:
        found = answered(case, figures, entries)
        # without a quote the limit alone is told; a repair that is ruled out is an error, which the search names
        ready = ready_paths(found) if has_verdict(found) or not has_limit(found) else ()
        there = [breakeven_of(found.case, path) for path in map(path_of_today, paths or ready)]
        both = None
        if on_both is not None:
            on_both = path_of_today(on_both[0]), path_of_today(on_both[1])
            x, y = around(found.case, on_both[0], MAP_ACROSS), around(found.case, on_both[1], MAP_DOWN)
            both = two_way(found.case, *on_both, x, y)
    except MendpointError as error:
        raise refused(error, entries) from None
    if json:
        print_json(breakeven_data(found, there, both))
    else:
        show_breakeven(Words.for_place(found.case.household.place), found, there, both)


def confidence(
    case: CaseFile,
    draws: Annotated[int | None, typer.Option(help=PHRASES.say("command.confidence.draws"), show_default=False)] = None,
    seed: Annotated[
        int | None, typer.Option(min=0, help=PHRASES.say("command.confidence.seed"), show_default=False)
    ] = None,
    figures: Figures = None,
    json: Json = False,
) -> None:
    """Say how sure the verdict is."""
    from ...answers.confidence import decision_confidence, outcome_distribution_of
    from ...economics.uncertainty import SEED
    from ..terminal.confidence import confidence_data, show_confidence
    from ..text.words import Words

    entries: Entries = {}
    try:
        found = answered(case, figures, entries)
        start = SEED if seed is None else seed
        known = decision_confidence(found.case, found.ranges, draws, start)
        lived = outcome_distribution_of(found, seed=start)
    except MendpointError as error:
        raise refused(error, entries) from None
    if json:
        print_json(confidence_data(found, known, lived, start))
    else:
        show_confidence(Words.for_place(found.case.household.place), found, known, lived)


def limits(
    kind: Annotated[
        str, typer.Argument(metavar="CLASS", help=PHRASES.say("command.confidence.class"), show_default=False)
    ],
    place: Place = "US",
    price: Annotated[
        float | None, typer.Option(help=PHRASES.say("command.confidence.price"), show_default=False)
    ] = None,
    to_file: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help=PHRASES.say("command.confidence.csv"), show_default=False),
    ] = None,
    figures: Figures = None,
    force: Force = False,
    json: Json = False,
) -> None:
    """List the highest quote worth paying at every age."""
    from ...answers.limits import limits_of
    from ...load.jobs.export import write_table
    from ..terminal.confidence import limits_data, limits_rows, show_limits
    from ..text.words import Words

    try:
        ready_to_write(force, (figures,), to_file)
        reference = tables_with(figures)
        found = limits_of(kind, place, price, reference)
        if to_file is not None:
            write_table(to_file, limits_rows(found), force)
    except MendpointError as error:
        raise refused(error, home_of(place)) from None
    if json:
        print_json(limits_data(found))
    else:
        show_limits(Words.for_place(place), found)
        if to_file is not None:
            tell(PHRASES.say("terminal.confidence.written", path=str(to_file)))


def scenarios(case: CaseFile, figures: Figures = None, json: Json = False) -> None:
    """Set what-ifs side by side: those of the case file, and a few that people ask."""
    from ...answers.answer import answer
    from ...answers.scenarios import ScenarioAnswer, shipped_for, what_ifs
    from ..terminal.as_json import scenario_data
    from ..terminal.confidence import show_scenarios
    from ..text.words import Words

    entries: Entries = {}
    try:
        entries = entries_of(case)
        reference = tables_with(figures)
        found = answer(entries, reference, case.parent)
    except MendpointError as error:
        raise refused(error, entries) from None
    words = Words.for_place(found.case.household.place)
    asked = ScenarioAnswer(words.say("scenario.as_it_is"), found)
    own = what_ifs(entries, found, reference=reference, folder=case.parent)
    shipped = what_ifs(entries, found, shipped_for(entries, found), reference, case.parent)
    if json:
        print_json({"scenarios": [scenario_data(each) for each in (asked, *own, *shipped)]})
    else:
        show_scenarios(words, (asked, *own, *shipped))


def by_its_old_name(old: str, command: Callable[..., None]) -> Callable[..., None]:
    """A command by the name that it had before; the new one is told on standard error."""

    @functools.wraps(command)
    def called(*arguments: Any, **options: Any) -> None:
        typer.echo(PHRASES.say("command.renamed", old=old, new=command.__name__), err=True)
        command(*arguments, **options)

    return called
