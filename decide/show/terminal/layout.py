"""Lays an answer and the tables out for a terminal; every word comes from `Words`.

Where the output is no terminal it is plain text, wide enough for every number.
"""

import math
import sys
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import typer
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ...answers.answer import Answer
from ...load.files.rows import ANY
from ...load.tables.tables import ENERGY, ApplianceClass, Estimate, Place, Tables
from ..text.freshness import due, money_of, newer_asked, prices_text
from ..text.report import Piece, ahead, because, costs, first_layer, paid_text, why
from ..text.ruler import ruler_lines, ruler_text
from ..text.words import CautionLine, Words

PLAIN_WIDTH: Final = 110
LEAST_WIDTH: Final = 76
"""Narrower than this a terminal wraps by itself; numbers are never cut. [character]"""
OPTION_WIDTH: Final = 14
"""What a column of one option takes. [character]"""
HEAD_WIDTH: Final = 18
"""A longer head of a column is folded. [character]"""
SHORT: Final = (
    "repair.remaining_life_factor", "replace.price", "appliance.mean_life", "appliance.electricity", "appliance.gas",
    "household.electricity_price", "household.gas_price", "household.rate",
)  # fmt: skip
"""The figures that move most answers: what is shown of those taken, unless all are asked for."""


class Page:
    """Standard output, written from the top down."""

    def __init__(self, least_width: int = 0) -> None:
        width = None if sys.stdout.isatty() else PLAIN_WIDTH
        console = Console(markup=False, highlight=False, emoji=False, width=width)
        console.width = max(console.width, LEAST_WIDTH, least_width)
        self._console = console

    def _write(self, *shown: RenderableType) -> None:
        with self._console.capture() as written:
            self._console.print(*shown)
        typer.echo("\n".join(line.rstrip() for line in written.get().splitlines()))

    def line(self, text: str = "", style: str = "") -> None:
        """Write a line, folded at words."""
        self._write(Text(printable(text), style=style))

    def heading(self, text: str) -> None:
        """Write a heading with room above it."""
        self.line()
        self.line(text, "bold underline")

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str]], numbers: Iterable[int] = ()) -> None:
        """Write a table; the columns of `numbers` stand to the right and are never folded or cut."""
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold", show_header=any(heads))
        right = set(numbers)
        for index, head in enumerate(heads):
            folded = "\n".join(textwrap.wrap(printable(head), HEAD_WIDTH))
            table.add_column(
                folded, justify="right" if index in right else "left", no_wrap=index in right, overflow="fold"
            )
        for row in rows:
            table.add_row(*(_cell(text) for text in row))
        self._write(table)

    def blocks(self, blocks: Iterable[Piece]) -> None:
        """Write the pieces of a section of the report; a chart is its table here."""
        for block in blocks:
            if block.head:
                self.heading(block.head)
            for sentence in block.sentences:
                self.line(sentence)
            if block.lines:
                heads = ("", "", "") if any(line.small for line in block.lines) else ("", "")
                self.table(heads, [(line.label, line.text, line.small)[: len(heads)] for line in block.lines])
            if block.table:
                self.table(block.table[0], block.table[1:], range(1, len(block.table[0])))
            for sentence in block.small:
                self.line(sentence, "dim")


def _cell(text: str) -> RenderableType:
    """A cell whose folded lines keep the indent of the first."""
    bare = text.lstrip(" ")
    return Padding(Text(printable(bare)), (0, 0, 0, len(text) - len(bare)))


def printable(text: str) -> str:
    """The text without anything that could steer a terminal; names come from files of others."""
    return "".join(character if character.isprintable() else " " for character in text)


def show_answer(words: Words, answer: Answer, everything: bool) -> None:
    """Show an answer: the first layer of the report, why, and what it rests on; every section if asked for all.

    Safety goes before money: where the use must stop, the cautions come before the cards.
    """
    layer = first_layer(words, answer)
    page = Page(24 + OPTION_WIDTH * (len(layer.cards) + 1))
    if answer.case.title:
        page.line(answer.case.title)
        page.line()
    page.line(layer.verdict, "bold")
    for sentence in layer.sentences:
        page.line(sentence)
    if layer.stopped:
        _cautions(page, words, answer, everything)
        page.line()
        page.line(words.once_safe(answer))
    if layer.ruler is not None:
        page.line()
        for line in ruler_lines(layer.ruler):
            page.line(line)
        page.line(ruler_text(words, layer.ruler), "dim")
    page.line()
    columns = zip(*(card.values for card in layer.cards), strict=True)
    heads = ["", *(card.name for card in layer.cards)]
    page.table(heads, zip(layer.labels, *zip(*columns, strict=True), strict=True), range(1, len(heads)))
    if layer.paid is not None:
        page.heading(words.say("first.paid"))
        page.line(paid_text(words, layer.paid))
    page.table(("", ""), [(line.label, line.text) for line in layer.gains])
    for sentence in filter(None, (layer.sums, layer.both)):
        page.line(sentence)
    page.blocks([because(words, answer)])
    if not layer.stopped:
        _cautions(page, words, answer, everything)
    if everything:
        page.blocks([*why(words, answer)[1:], *costs(words, answer), *ahead(words, answer)])
        _cash(page, words, answer, [index for index, row in enumerate(words.options(answer)) if row.today])
    _assumptions(page, words, answer, everything)


def _cash(page: Page, words: Words, answer: Answer, counted: Sequence[int]) -> None:
    page.heading(words.say("terminal.cash"))
    flows = answer.cash_by_year
    names = [words.say("terminal.today_row"), *(str(year) for year in range(1, len(flows[0].total_by_year)))]
    heads = [words.say("terminal.year"), *(words.option_name(answer, index) for index in counted)]
    rows = (
        (name, *(words.money(flows[index].total_by_year[year]) for index in counted)) for year, name in enumerate(names)
    )
    page.table(heads, rows, range(1, len(counted) + 1))
    home = answer.case.household
    if math.isfinite(home.study_period):
        kept = "left_over" if home.residual_share or home.resale_share else "left_behind"
        page.line(words.say(f"terminal.{kept}"), "dim")


def _cautions(page: Page, words: Words, answer: Answer, everything: bool) -> None:
    page.heading(words.say("terminal.cautions"))
    show_cautions(page, words, words.cautions(answer), everything)


def show_cautions(page: Page, words: Words, lines: list[CautionLine], everything: bool) -> None:
    """Show cautions as three lists: now, while working, afterwards; how many there are beside them, unless all."""
    shown = [line for line in lines if everything or line.is_open]
    for head, members in words.caution_lists(shown):
        if head:
            page.line(head, "bold")
        page.table(("", "", ""), [(words.say(f"caution.{line.weight}"), line.text, line.who) for line in members])
    if len(shown) < len(lines):
        page.line(words.say("terminal.more_cautions", n=str(len(lines) - len(shown))), "dim")


def _assumptions(page: Page, words: Words, answer: Answer, everything: bool) -> None:
    page.heading(words.say("terminal.assumptions"))
    for text in words.money_text(answer):
        page.line(text)
    lines = words.assumptions(answer)
    if not everything:
        known = {line.path: line for line in lines if line.origin == "figure"}
        heads = ["", *(words.say(f"terminal.{head}") for head in ("value", "range", "status"))]
        shown = [known[path] for path in SHORT if path in known and _counts(answer, path)]
        page.table(heads, [(line.label, line.value, line.range, line.status) for line in shown])
        for text in newer_asked(words, answer.defaults, {line.path for line in shown}):
            page.line(text)
        page.line(words.say("terminal.more", n=str(len(lines))), "dim")
        return
    cited = {source: str(n) for n, source in enumerate(dict.fromkeys(line.source for line in lines if line.source), 1)}
    heads = ["", *(words.say(f"terminal.{head}") for head in ("value", "range", "status", "source"))]
    rows: list[tuple[str, ...]] = []
    for group in dict.fromkeys(line.group for line in lines):
        rows.append((words.say("terminal.in_group", group=group), "", "", "", ""))
        for line in (each for each in lines if each.group == group):
            text = "; ".join(filter(None, [cited.get(line.source, ""), line.note]))
            rows.append((f"  {line.label}", line.value, line.range, line.status, text))
    page.table(heads, rows)
    page.heading(words.say("terminal.sources.citations"))
    page.table(("", ""), [(number, source) for source, number in cited.items()])


def _counts(answer: Answer, path: str) -> bool:
    """Whether a price of energy counts: some unit runs on it."""
    fuel = path.removeprefix("household.").removesuffix("_price")
    return fuel not in ENERGY or any(np.any(cost.by_category[fuel]) for cost in answer.weighing.options)


def show_classes(words: Words, reference: Tables, kinds: Iterable[ApplianceClass], regions: Sequence[str]) -> None:
    """Show classes of appliance, with the regions of those asked for in which each is sold."""
    rows = []
    for kind in kinds:
        sold = [region for region in kind.regions if region in regions]
        lives = [reference.figure("mean_life", kind.kind, region) for region in sold]
        years = ", ".join(words.number(life.value, 1) for life in lives if life is not None)
        fuels, also = ", ".join(map(words.category, kind.fuels)), ", ".join(kind.also)
        rows.append((kind.kind, words.kind(kind.kind), fuels, ", ".join(sold), years, also))
    heads = ("class", "label", "fuels", "regions", "life", "also")
    Page(170).table([words.say(f"terminal.classes.{head}") for head in heads], rows)


def show_places(words: Words, places: Iterable[Place]) -> None:
    """Show the places of the tables."""
    heads = [words.say(f"terminal.places.{head}") for head in ("place", "label", "region")]
    Page().table(heads, [(place.place, words.place(place.place), place.region) for place in places])


def show_due(words: Words, reference: Tables, this_year: int) -> None:
    """Show what of the tables is to be looked up anew, a line each for table, rows, period and what to do."""
    page, listed = Page(110), list(due(reference, this_year))
    heads = [words.say(f"due.{head}") for head in ("file", "rows", "period", "what")]
    if listed:
        page.table(heads, [(file, str(n), period, words.say(f"due.{what}")) for file, n, period, what in listed], (1,))
    else:
        page.line(words.say("due.nothing"))


def show_sources(words: Words, reference: Tables, kind: str | None, this_year: int) -> None:
    """Show every figure of the tables, or those of one class, with who says so and how old the prices are."""
    figures = [(name, place, what, figure) for (name, place, what), figure in reference.figures.items()]
    figures += [(ANY, place, f"{fuel}_price", figure) for (place, fuel), figure in reference.energy_prices.items()]
    chosen = [each for each in figures if kind in (None, each[0])]
    page, cells = Page(160), [_source_cells(words, *each) for each in chosen]
    if cells:
        page.table(
            [words.say(f"terminal.sources.{head}") for head in cells[0]],
            [list(each.values()) for each in cells],
            (3, 9),
        )
    page.heading(words.say("terminal.sources.citations"))
    used = {figure.source.key: figure.source for *_, figure in chosen}
    page.table(("", ""), [(key, f"{source.citation} {source.address}".rstrip()) for key, source in used.items()])
    if kind is None:
        page.line()
        page.line(prices_text(words, reference, this_year))
    page.line(money_of(words))


def _source_cells(words: Words, kind: str, place: str, quantity: str, figure: Estimate) -> dict[str, str]:
    """What is shown of a figure, by the heads of the columns."""
    anyone = words.say("terminal.sources.any")
    known = figure.low is not None and figure.high is not None
    ends = words.say("assumption.range", low=f"{figure.low:g}", high=f"{figure.high:g}") if known else ""
    price_year = figure.price_year if figure.published is None else f"{figure.published:g} ({figure.price_year})"
    return {
        "class": anyone if kind == ANY else kind,
        "region": anyone if place == ANY else place,
        "quantity": quantity,
        "value": f"{figure.value:g}",
        "unit": figure.unit,
        "range": ends,
        "published": price_year,
        "source": figure.source.key,
        "locator": figure.locator,
        "year": str(figure.year),
        "status": words.status(figure.status),
    }
