"""One language and one way to write numbers: text and figures of a page are of one habit, that of its language.

All text stands in `language/<code>.toml`; a translation is one more file there. Numbers, money, percent and days are
written by Babel as the language is written in the region, so that no page mixes two habits, wherever it is read.
"""

import datetime
import functools
import math
import os
import string
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any, Final, Self, SupportsFloat

from babel import Locale, numbers
from babel.dates import format_datetime
from babel.languages import get_official_languages

from ...economics.bounds import MONEY
from ...economics.case import Appliance, Option, Quote
from ...economics.household import NATURAL_GAS, PROPANE, Household, Landlord
from ...errors import Message
from ...load.tables.tables import CURRENCIES, SAFETY_UNITS, Caution, tables
from .local_units import READINGS, LocalUnit, local_unit

LANGUAGES: Final = Path(__file__).resolve().parent / "language"

DEFAULT_LANGUAGE: Final = "en"
"""Language of the tables' own names, and of whoever asks for no other."""

LANGUAGE_ENV: Final = "MENDPOINT_LANGUAGE"
"""Variable of the environment that names the language of the command."""

MONTHS_BELOW: Final = 1.95
"""Spans shorter than this are told in months. [year]"""


@dataclass(frozen=True)
class Phrases:
    """Text of one language, and numbers as the place writes them."""

    text: Mapping[str, Any]
    region: str
    locale: Locale
    language: str = DEFAULT_LANGUAGE
    country: str = ""
    """Code of the place, where it is one of a country."""
    gas: str = NATURAL_GAS
    """What gas appliances burn there."""

    @classmethod
    def of(cls, language: str | None = None, region: str = "US", place: str = "") -> Self:
        """Read a language, once a run, for a region of the tables, and for a country of it where one is known.

        Without a language it is the one that the environment names.
        """
        language = language or current_language()
        text = _read(language)
        country = place if place.isalpha() else ""
        return cls(text, region, Locale.parse(text["locale"][region]), language, country)

    def number_locale(self, unit: str) -> str | None:
        """Locale by which typed numbers of a unit are read, where it is sure how they are written.

        All of the US write alike. The countries of the EU do not; there it is sure of money alone, where the reader's
        language is the country's own.
        """
        sure = self.region == "US" or (unit == MONEY and self.language in get_official_languages(self.country))
        return str(self.locale) if sure else None

    @property
    def currency(self) -> str:
        """The money of the region."""
        return CURRENCIES[self.region]

    def say(self, key: str, **facts: str) -> str:
        """Fill the facts into the sentence of that key."""
        found = self._find(key)
        if not isinstance(found, str):
            raise KeyError(key)
        return found.format(**facts)

    def _find(self, key: str) -> Any:
        found: Any = self.text
        for step in key.split("."):
            found = found[step]
        return found

    # names of the tables

    def kind(self, kind: str) -> str:
        """Name a class."""
        return self._named("kind", kind, lambda: tables().known_classes[kind].label)

    def fault(self, fault: str) -> str:
        """Name a fault."""
        return self._named("trouble", fault, lambda: tables().known_faults[fault].label)

    def place(self, place: str) -> str:
        """Name a region, state or country; a country as Babel knows it."""
        own = tables().known_places[place].label
        if self.language == DEFAULT_LANGUAGE:
            return own
        return self._named("where", place, lambda: Locale.parse(self.language).territories.get(place, own))

    def option(self, name: str) -> str:
        """Name an option: as it was named, or in plain words where nobody named it."""
        if not isinstance(name, Message) or "kind" not in name.facts:
            return self.translated(name)
        kind = name.facts["kind"]
        label = self.kind(kind)
        anew = self._named("a_new", kind, lambda: self.say("name.new_one", kind=label[:1].lower() + label[1:]))
        return anew[:1].upper() + anew[1:]

    def a_new(self, kind: str) -> str:
        """Name a new unit of a class in the middle of a sentence, short of what its name says behind a comma."""
        label = self.kind(kind).partition(",")[0]
        return self._named("a_new", kind, lambda: self.say("name.new", kind=label[:1].lower() + label[1:]))

    def caution_text(self, caution: Caution) -> str:
        """The text of a caution."""
        if caution.words.startswith("outcome."):
            return " ".join(filter(None, (self.in_place(caution.words), caution.locator)))
        return self.in_place(f"cautions.{caution.words}")

    def in_place(self, key: str, **more: Any) -> str:
        """A sentence with the words of the trade and the safety figures of the place."""
        return self.say(key, **_of_place(self.language, self.region, self.country), **more)

    def measured(self, value: float, unit: str) -> str:
        """Write a reading in the units of the region; hours and plain counts without a unit."""
        if unit in ("-", "h"):
            return self.number(value, 4)
        shown, name = self.converted(value, unit)
        return self.say(f"check_unit.{name}", n=shown)

    def converted(self, value: float, unit: str) -> tuple[str, str]:
        """The number of a reading in the units of the region, and the name of its unit there."""
        local = READINGS.get(unit) if self.region == "US" else None
        return (self.number(local.shown(value), 0), local.name) if local else (self.number(value, 1), unit)

    def local(self, unit: str, path: str) -> LocalUnit:
        """How an entry is said here, of which files keep that unit; without an entry, as files have it."""
        return local_unit(self.region, unit, path, self.gas) if path else LocalUnit(unit)

    def who(self, caution: Caution) -> str:
        """Who may do what a caution tells of."""
        return self._named("who", caution.who, lambda: caution.who)

    def _named(self, section: str, name: str, usual: Callable[[], str]) -> str:
        """A name as the region has it, else the language; that of the tables where neither has one of its own."""
        of_region = self.text.get(f"{section}_{self.region}", {}).get(name)
        return str(of_region or self.text.get(section, {}).get(name) or usual())

    def translated(self, message: str) -> str:
        """A message in this language, by its template; it stays as it is where the language has none for it.

        What was typed, and what other programs say, is no `Message`, and stays as it is too.
        """
        template = self.text.get("message", {}).get(message.template) if isinstance(message, Message) else None
        if template is None or not isinstance(message, Message):
            return message
        facts = {gap: self.translated(fact) if isinstance(fact, str) else fact for gap, fact in message.facts.items()}
        return _Figures(self.separators).vformat(template, (), facts) if facts else str(template)

    # figures

    def number(self, value: float, digits: int = 2) -> str:
        """Write a number with at most so many decimals."""
        pattern = "#,##0" + (f".{'#' * digits}" if digits else "")
        return numbers.format_decimal(rounded(value, digits), format=pattern, locale=self.locale)

    @property
    def separators(self) -> str:
        """The sign before decimals and the one between thousands."""
        return str(numbers.get_decimal_symbol(self.locale) + numbers.get_group_symbol(self.locale))

    def cents(self, value: float) -> str:
        """Write a number with two decimals, without a sign of money."""
        return numbers.format_decimal(rounded(value, 2), format="#,##0.00", locale=self.locale)

    def share(self, share: float) -> str:
        """Say a share of draws as people count."""
        if share >= 0.995:
            return self.say("confidence.nearly_all")
        if share < 0.005:
            return self.say("confidence.hardly_any")
        if 0.05 <= share <= 0.95:
            return self.say("confidence.of_ten", n=self.number(min(max(share * 10, 1), 9), 0))
        return self.say("confidence.of_hundred", n=self.number(share * 100, 0))

    def odds(self, chance: float) -> str:
        """Say a chance as people do."""
        if chance < 0.015:
            return self.say("card.rare")
        if chance < 0.095:
            return self.say("card.odds", n="1", of="50" if chance < 0.035 else "20" if chance < 0.075 else "12")
        return self.say("card.odds", n=self.number(min(round(10 * chance), 9), 0), of="10")

    def percent(self, share: float, digits: int = 2) -> str:
        """Write a share in percent."""
        pattern = self.locale.percent_formats[None].pattern.replace("#0", f"#0.{'#' * digits}")
        return numbers.format_percent(rounded(share, digits + 2), format=pattern, locale=self.locale)

    def money(self, amount: SupportsFloat, *, cents: bool = False) -> str:
        """Write an amount of money, in whole units unless cents are wanted; a half is rounded up."""
        return self._money(amount, "0.00" if cents else "0", 2 if cents else 0)

    def price(self, amount: float) -> str:
        """Write an amount as it was asked: with cents where it has some."""
        return self.money(amount, cents=abs(amount - round(amount)) >= 0.005)

    def _money(self, amount: SupportsFloat, decimals: str, digits: int) -> str:
        pattern = self.locale.currency_formats["standard"].pattern.replace("0.00", decimals)
        shown = rounded(amount, digits)
        return numbers.format_currency(shown, self.currency, format=pattern, locale=self.locale, currency_digits=False)

    def years(self, span: float) -> str:
        """Say a span of time roughly: months when it is short."""
        if math.isinf(span):
            return self.say("assumption.no_end")
        if round(span * 12) and span < MONTHS_BELOW:
            return self._counted("count.month", round(span * 12), self.number(round(span * 12)))
        return self._counted("count.year", round(span, 1), self.number(span, 1))

    def counted(self, key: str, count: int) -> str:
        """Say how many there are, with the word in the form that goes with the number."""
        return self._counted(key, count, self.number(count, 0))

    def _counted(self, key: str, count: float, shown: str) -> str:
        forms = self._find(key)
        return forms.get(self.locale.plural_form(abs(count)), forms["other"]).format(n=shown)

    def moment(self, when: datetime.datetime) -> str:
        """Write a day and its hour as they are on this computer."""
        return str(format_datetime(when.astimezone(), "short", locale=self.locale))

    def quantity(self, value: float, unit: str, path: str = "") -> str:
        """Write a value with its unit, as `case.py` or the tables declare it; of an entry, as people here say it."""
        if math.isinf(value):
            return self.say("assumption.no_end")
        local = self.local(self._bare(unit), path)
        return self._counted(f"unit.{local.name}", local.shown(value), self.figure(value, unit, path))

    def figure(self, value: float, unit: str, path: str = "") -> str:
        """Write a value as `quantity` does, but without the name of its unit."""
        local = self.local(self._bare(unit), path)
        bare, value = local.name, local.shown(value)
        if bare in ("share", "1/year"):
            return self.percent(value)
        if bare.startswith("money"):
            whole = abs(value - round(value)) < 0.005
            fine = "0.00##" if abs(value) < 1 else "0.00"
            return self.money(value) if whole else self._money(value, fine, 4)
        return self.number(value, 0 if abs(value) >= 1000 else 1 if abs(value) >= 100 else 3)

    def unit(self, unit: str, path: str = "") -> str:
        """Name a unit, for the head of a column or beside a field."""
        bare = self.local(self._bare(unit), path).name
        symbol = numbers.get_currency_symbol(self.currency, locale=self.locale) if bare.startswith("money") else ""
        sign = "%" if bare in ("share", "1/year") else symbol
        return str(self._find(f"unit.{bare}")["other"]).format(n=sign).strip()

    def _bare(self, unit: str) -> str:
        """The unit as `case.py` declares it: money without saying which."""
        return "none" if unit in ("", "-") else unit.replace(self.currency, "money")

    # inputs

    def label(self, path: str) -> str:
        """Name an input plainly, by its dotted path; an unknown path stands for itself."""
        noun, name = noun_of(path)
        if self.gas == PROPANE and noun != "carbon" and name in self.text["label"][PROPANE]:
            return self.say(f"label.{PROPANE}.{name}")
        for place in (noun, "case"):
            if name in self.text["label"].get(place, {}):
                return self.say(f"label.{place}.{name}")
        return path

    def help(self, path: str) -> str:
        """Say in one line what an input means; nothing where there is nothing to say."""
        noun, name = noun_of(path)
        return self.say(f"help.{noun}.{name}") if name in self.text["help"].get(noun, {}) else ""

    def noun(self, path: str) -> str:
        """Name what an input belongs to."""
        head, *rest = path.split(".")
        number = rest[0] if rest and rest[0].isdigit() else ""
        inner = "quote" if "quote" in rest[:-1] else "bought" if "appliance" in rest[:-1] else head
        if inner not in self.text["noun"]:
            return ""
        return self.say(f"noun.{inner}_numbered", n=number) if number else self.say(f"noun.{inner}")

    def full_label(self, path: str) -> str:
        """Name an input with what it belongs to, unless its name says so already."""
        label, noun = self.label(path), self.noun(path).lower()
        says_so = label == path or not noun or noun in label.lower()
        return label if says_so else self.say("noun.labelled", label=label, noun=noun)

    def category(self, category: str) -> str:
        """Name what a cost is for."""
        return self.say(f"cost_category.{category}")


@dataclass(frozen=True)
class _Figures(string.Formatter):
    """Fills facts into a message, with its numbers as its language writes them."""

    separators: str

    def format_field(self, value: Any, format_spec: str) -> str:
        text = str(super().format_field(value, format_spec))
        return text.translate(str.maketrans(".,", self.separators)) if isinstance(value, int | float) else text


@functools.cache
def languages() -> Mapping[str, str]:
    """Languages that the program speaks, each with its own name for itself; only the top of its file is read."""
    heads = {path.stem: path.read_text("utf-8").partition("[locale]")[0] for path in sorted(LANGUAGES.glob("*.toml"))}
    return {code: str(tomllib.loads(head)["language"]["name"]) for code, head in heads.items()}


def current_language() -> str:
    """The language that the environment names, where the program speaks it; else English."""
    wanted = os.environ.get(LANGUAGE_ENV, "")
    return wanted if wanted in languages() else DEFAULT_LANGUAGE


@functools.cache
def _read(language: str) -> Mapping[str, Any]:
    """The texts of a language; what an input means stands in English where `case.py` declares it."""
    text = tomllib.loads((LANGUAGES / f"{language}.toml").read_text("utf-8"))
    if language == DEFAULT_LANGUAGE:
        text["help"] = {
            noun: {item.name: item.metadata["doc"] for item in fields(kind) if "doc" in item.metadata}
            for noun, kind in DECLARED.items()
        }
    return text


@functools.cache
def _of_place(language: str, region: str, country: str) -> Mapping[str, str]:
    """What differs by place in a sentence: words of the trade and the figures that cautions name."""
    words, known = Phrases.of(language, region, country), tables()
    figures = {name: known.safety_figure(name, region, country) for name in SAFETY_UNITS}
    return {**words.text["trade"][region], **{n: words.measured(each.value, each.unit) for n, each in figures.items()}}


def rounded(value: SupportsFloat, digits: int = 0) -> Decimal:
    """Round as a till does: a half goes up, away from nothing. There is no minus nothing."""
    return _exact(value).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP) + 0


def rounded_parts(parts: Sequence[float], digits: int = 0) -> list[Decimal]:
    """Round parts so that they add up to their rounded sum: those that lose most by it go up (largest remainder)."""
    step = Decimal(1).scaleb(-digits)
    exact = [_exact(part) for part in parts]
    floors = [part.quantize(step, ROUND_FLOOR) for part in exact]
    missing = int((sum(exact, Decimal()).quantize(step, ROUND_HALF_UP) - sum(floors)) / step)
    losing = sorted(range(len(exact)), key=lambda at: floors[at] - exact[at])
    return [floor + (step if at in losing[:missing] else 0) for at, floor in enumerate(floors)]


def _exact(value: SupportsFloat) -> Decimal:
    """The number as it is written, not as a binary machine keeps it; to a millionth."""
    return Decimal(repr(round(float(value), 6)))


DECLARED: Final = {
    "appliance": Appliance,
    "household": Household,
    "landlord": Landlord,
    "option": Option,
    "quote": Quote,
}
"""The kinds of things whose inputs `case.py` declares."""


def unit_of(path: str) -> str:
    """Unit of an input, as `case.py` declares it; '' where it has none, or is no number."""
    noun, name = noun_of(path)
    if noun == "case" and name == "quote":
        return MONEY
    declared = {item.name: item.metadata for item in fields(DECLARED[noun])} if noun in DECLARED else {}
    return str(declared[name]["bounds"].unit) if "bounds" in declared.get(name, {}) else ""


_OF_AN_OPTION: Final = frozenset(item.name for item in fields(Option) if "bounds" in item.metadata)


def noun_of(path: str) -> tuple[str, str]:
    """What kind of thing an entry belongs to (appliance, household, option, quote, label ...), and its name there."""
    head, *rest = path.split(".")
    name = rest[-1] if rest else head
    for inner in ("quote", "label", "meter", "landlord"):
        if inner in rest[:-1]:
            return inner, name
    if head == "household" and len(rest) > 1:
        return "tariff", name
    if head == "household":
        return "household", name
    if head == "carbon" and rest:
        return "carbon", name
    if head == "appliance" or "appliance" in rest[:-1]:
        return "appliance", name
    return ("option" if rest and name in _OF_AN_OPTION else "case"), name
