"""Commands that tell where a verdict flips, how sure it is, the best policy at every age, and what emits less.

`main.py` adds them to the command `mendpoint`; status and errors are as described there.
"""

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ..terminal.outlet import attributes, print_json
from .given import (
    GIVEN,
    PHRASES,
    CaseFile,
    Figures,
    Json,
    Place,
    answered,
    argument,
    entries_of,
    home_of,
    option,
    path_of_today,
    tables_with,
)

if TYPE_CHECKING:
    from ...answers.answer import Answer
    from ...answers.carbon import CarbonAnswer

MAP_ACROSS: Final = 31
MAP_DOWN: Final = 9
"""Values of the two inputs of a map."""


def breakeven(
    case: CaseFile,
    paths: Annotated[list[str] | None, option("confidence.input", "--input", metavar="PATH")] = None,
    on_both: Annotated[tuple[str, str] | None, option("confidence.map", "--map", metavar="X Y")] = None,
    figures: Figures = None,
    json: Json = False,
) -> None:
    """Say where the verdict flips."""
    from ...answers.confidence import breakeven_of, has_limit, has_verdict, ready_paths
    from ...economics.breakeven import around, two_way
    from ..terminal.confidence import breakeven_data, show_breakeven
    from ..text.words import Words

    found = answered(case, figures)
    # without a quote the limit alone is told; a repair that is ruled out is an error, which the search names
    ready = ready_paths(found) if has_verdict(found) or not has_limit(found) else ()
    there = [breakeven_of(found.case, path) for path in map(path_of_today, paths or ready)]
    both = None
    if on_both is not None:
        on_both = path_of_today(on_both[0]), path_of_today(on_both[1])
        x, y = around(found.case, on_both[0], MAP_ACROSS), around(found.case, on_both[1], MAP_DOWN)
        both = two_way(found.case, *on_both, x, y)
    if json:
        print_json(breakeven_data(found, there, both))
    else:
        show_breakeven(Words.for_household(found.case.household), found, there, both)


def confidence(
    case: CaseFile,
    draws: Annotated[int | None, option("confidence.draws")] = None,
    seed: Annotated[int | None, option("confidence.seed", min=0)] = None,
    figures: Figures = None,
    json: Json = False,
) -> None:
    """Say how sure the verdict is."""
    from ...answers.confidence import decision_confidence, outcome_distribution_of
    from ...economics.uncertainty import SEED
    from ..terminal.confidence import confidence_data, show_confidence
    from ..text.words import Words

    found = answered(case, figures)
    start = SEED if seed is None else seed
    known = decision_confidence(found.case, found.ranges, draws, start)
    lived = outcome_distribution_of(found, seed=start)
    if json:
        print_json(confidence_data(found, known, lived, start))
    else:
        show_confidence(Words.for_household(found.case.household), found, known, lived)


def limits(
    kind: Annotated[str, argument("confidence.class", metavar="CLASS")],
    place: Place = "US",
    price: Annotated[float | None, option("confidence.price")] = None,
    figures: Figures = None,
    json: Json = False,
) -> None:
    """List the highest quote worth paying at every age."""
    from ...answers.limits import limits_of
    from ..terminal.confidence import limits_data, show_limits
    from ..text.words import Words

    GIVEN.set(home_of(place))
    found = limits_of(kind, place, price, tables_with(figures))
    if json:
        print_json(limits_data(found))
    else:
        show_limits(Words.for_place(place), found)


def scenarios(case: CaseFile, figures: Figures = None, json: Json = False) -> None:
    """Set what-ifs side by side: those of the case file, and a few that people ask."""
    from ...answers.answer import answer
    from ...answers.scenarios import ScenarioAnswer, shipped_for, what_ifs
    from ..terminal.as_json import scenario_data
    from ..terminal.layout import Page
    from ..text.report import scenario_rows
    from ..text.words import Words

    entries, reference = entries_of(case), tables_with(figures)
    found = answer(entries, reference, case.parent)
    words = Words.for_household(found.case.household)
    asked = ScenarioAnswer(words.say("scenario.as_it_is"), found)
    own = what_ifs(entries, found, reference=reference, folder=case.parent)
    shipped = what_ifs(entries, found, shipped_for(entries, found), reference, case.parent)
    if json:
        print_json({"scenarios": [scenario_data(each) for each in (asked, *own, *shipped)]})
    else:
        page, (heads, *rows) = Page(), scenario_rows(words, (asked, *own, *shipped))
        page.heading(words.say("scenario.head"))
        page.table(heads, rows, (2, 3, 4))


def by_its_old_name(old: str, command: Callable[..., None]) -> Callable[..., None]:
    """A command by the name that it had before; the new one is told on standard error."""

    @functools.wraps(command)
    def called(*arguments: Any, **options: Any) -> None:
        typer.echo(PHRASES.say("command.renamed", old=old, new=command.__name__), err=True)
        command(*arguments, **options)

    return called


FIGURES: Final = (
    "electricity", "electricity_growth", "gas", "water", "made", "refrigerant", "repair", "repair_refrigerant",
)  # fmt: skip
"""Figures of what things emit, as other programs get them."""


def carbon(case: CaseFile, figures: Figures = None, json: Json = False) -> None:
    """Say what emits less, repairing or a new one."""
    from ...answers.carbon import carbon_answer

    found = answered(case, figures)
    emitted = carbon_answer(found)
    if json:
        print_json(carbon_data(found, emitted))
    else:
        from ..terminal.layout import Page
        from ..text.report import carbon as pieces
        from ..text.words import Words

        Page().blocks(pieces(Words.for_household(found.case.household), found))


def carbon_data(answer: "Answer", found: "CarbonAnswer") -> dict[str, Any]:
    """The same as plain data, in kilograms of CO2 equivalent."""
    confidence = found.confidence
    return {
        "unit": found.weighing.unit,
        "years": found.years,
        "repair_limit": found.limit,
        "repair": found.weighing.quoted,
        "advantage": found.advantage,
        "payback_years": found.measures.running_payback,
        "options": [
            {
                **attributes(option, "name", "action"),
                "total": option.present_cost,
                **attributes(option, "by_category", "blocked_by"),
            }
            for option in found.weighing.options
        ],
        "figures": attributes(found.filled.figures, *FIGURES),
        "confidence": confidence
        and {
            "draws": confidence.draws,
            "share_least": dict(zip(confidence.names, confidence.share_least, strict=True)),
            **attributes(confidence, "low", "high"),
        },
        "price": found.filled.price,
        "repair_limit_priced": None if found.priced is None else found.priced.repair_limit,
        "repair_limit_money": found.in_money.repair_limit,
        "currency": answer.case.household.currency,
    }
