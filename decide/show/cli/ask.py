"""Asks for a case, one question at a time, and writes its file.

Each answer is held against the same reader that opens the file. One that cannot be used is asked for again, with the
reason; what was answered before is kept.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import typer

from ...errors import CaseError, EntryErrors, MendpointError, ReadError
from ...load.cases.case_file import Entries, complete, save_case, set_entry, write_case
from ...load.cases.parts.entries import SCHEMA
from ...load.files.plain_file import escaped, refuse_target
from ...load.tables.tables import tables
from ...load.tables.typed import typed_number
from ..text.phrases import unit_of
from ..text.words import Words

QUESTIONS: Final = (
    "household.place",
    "appliance.class",
    "appliance.age",
    "appliance.fault",
    "repair.quote",
    "repair.remaining_life_factor",
    "replace.price",
    "appliance.electricity",
    "title",
)
"""Entries that are asked for, in this order: the region decides on the classes, the class on the faults."""

Choices = Mapping[str, tuple[str, ...]]

NEEDED: Final = frozenset({"household.place", "appliance.class", "appliance.age", "appliance.fault"})


def ask_for_a_case(path: Path, force: bool = False) -> None:
    """Ask for a case and save it; a file that is there is written over only if that is wanted."""
    words = Words.of()
    if not path.absolute().parent.is_dir():
        raise ReadError(str(path), "is to stand in a folder that does not exist")
    refuse_target(path, over=True)
    shown = escaped(str(path))
    if path.exists() and not force and not typer.confirm(words.say("ask.overwrite", path=shown)):
        typer.echo(words.say("ask.kept", path=shown))
        raise typer.Exit(1)
    entries: Entries = {}
    try:
        for question in QUESTIONS:
            entries = _asked(question, entries)
    except typer.Abort:
        if entries:
            typer.echo(f"\n{words.say('ask.stopped')}", err=True)
            typer.echo(write_case(entries))
        raise
    try:
        save_case(path, {"schema": SCHEMA, **entries})
    except ReadError:
        typer.echo(words.say("ask.not_saved"), err=True)
        typer.echo(write_case(entries))
        raise
    typer.echo(words.say("ask.saved", path=shown))


def _asked(question: str, entries: Entries) -> Entries:
    """Ask until the answer can be used; the entries with it."""
    words = Words.for_entries(entries)
    choices = _choices(words, question, entries)
    if question in ("appliance.class", "appliance.fault"):
        for number, names in enumerate(choices.values(), start=1):
            typer.echo(f"{number:>3}  {names[0]}")
    asked = question
    if question == "replace.price" and words.region in tables().kind(entries["appliance"]["class"]).sold_installed:
        asked = "replace.price_installed"
    while True:
        typed = typer.prompt(words.say(f"ask.{asked}"), default="", show_default=False, prompt_suffix=" ").strip()
        if not typed and question not in NEEDED:
            return entries
        try:
            if not typed:
                raise CaseError(question, "is needed to go on")
            changed = set_entry(entries, question, _read(words, question, typed, choices))
            # raise what the reader of case files has against this answer; what is still to be asked is none of it
            try:
                complete(changed)
            except EntryErrors as found:
                here = [error for error in found.errors if error.field == question]
                if here:
                    raise EntryErrors(here) from None
            return changed
        except MendpointError as error:
            for line in words.explain(error):
                typer.echo(line, err=True)


def _read(words: Words, question: str, typed: str, choices: Choices) -> object:
    """What was typed as an entry: one of the choices, text, or a number."""
    if choices:
        ids, wanted = list(choices), typed.casefold()
        if typed.isdecimal() and 1 <= int(typed) <= len(ids) and question != "household.place":
            return ids[int(typed) - 1]
        known = {key: [name.casefold() for name in (key, *names)] for key, names in choices.items()}
        exact = [key for key, names in known.items() if wanted in names]
        partly = [key for key, names in known.items() if any(wanted in name for name in names[1:])]
        found = exact or partly
        if len(found) > 1:
            several = ", ".join(choices[key][0] for key in found)
            raise CaseError(question, "{given} fits several: {names}", typed, several)
        return found[0] if found else typed
    if question == "title":
        return typed
    unit = unit_of(question)
    number = typed_number(typed, question, words.number_locale(unit), unit, words.currency)
    return int(number) if number.is_integer() else number


def _choices(words: Words, question: str, entries: Entries) -> Choices:
    """Ids to choose from, each with its name and what it is called besides, where a question has any."""
    reference = tables()
    if question == "household.place":
        return {place: (words.place(place),) for place in reference.known_places}
    if question == "appliance.class":
        return {kind.kind: (words.kind(kind.kind), *kind.also) for kind in reference.classes(words.region)}
    if question == "appliance.fault":
        return {fault.fault: (words.fault(fault.fault),) for fault in reference.faults(entries["appliance"]["class"])}
    return {}
