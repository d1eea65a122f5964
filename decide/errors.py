"""What can go wrong, as a tree.

MendpointError
  CaseError          what the visitor gave cannot be used; carries the field to point at
    OutOfRange       a number lies outside the bounds that its field declares
      NotAbove       it is not above a bound that it may not reach itself
    EntryErrors      several of them, found in one go
  ReadError          a file from outside cannot be read; carries the place (row, column, line)
  StoreError         the store cannot be opened, read or written; carries the place and what stands in the way
  DataError          a shipped table breaks its own rules; never the visitor's fault
  NoSolution         a search found no answer in the interval it was given
"""

import copy
import math
import re
import string
from collections.abc import Sequence
from typing import Any, Self

import numpy as np

from .arrays import Number


class Message(str):
    """A sentence in English that knows its template and the facts in its gaps, so that it is said in any language.

    The facts stand in the order in which the template names them; `more` are facts that it does not say. An error among
    them is its sentence.

    >>> told = Message("must be {least:g} or more, got {got!r}", 0, "-1")
    >>> told, told.facts
    ("must be 0 or more, got '-1'", {'least': 0, 'got': '-1'})
    """

    template: str
    facts: dict[str, Any]

    def __new__(cls, template: str, /, *facts: object, **more: object) -> Self:
        """Fill the facts into the template; one without facts is taken as it stands."""
        plain = [getattr(fact, "sentence", str(fact)) if isinstance(fact, Exception) else fact for fact in facts]
        named = dict(zip(gaps_of(template), plain, strict=True)) | more if facts else {}
        made = super().__new__(cls, template.format(**named) if facts else template)
        made.template, made.facts = template, named
        return made


def gaps_of(template: str) -> list[str]:
    """The names of a template's gaps, each once.

    >>> gaps_of("{a} of {b!r}, {a:g}")
    ['a', 'b']
    """
    return list(dict.fromkeys(gap for _, gap, _, _ in string.Formatter().parse(template) if gap))


class MendpointError(Exception):
    """Anything that this program reports in words of its own; it can be handed from one process to another.

    Examples
    --------
    >>> try:
    ...     raise OutOfRange("appliance.age", 0, 60, "year", 99)
    ... except MendpointError as error:
    ...     print(error)
    appliance.age: must be from 0 to 60 year, got 99
    """

    def __init__(self, message: str = "", /, *facts: object) -> None:
        self.message = message if isinstance(message, Message) else Message(message, *facts)
        self.sentence: str = self.message
        """The message with the place that it is about."""
        super().__init__(self.message)

    @property
    def code(self) -> str:
        """What is wrong, without its facts and its place: the words of the innermost message's template.

        >>> CaseError("household.rate", "must be one of {known}, got {got}", "a, b", "c").code
        'must_be_one_of_known_got_got'
        """
        innermost = self.message
        while isinstance(inner := innermost.facts.get("message"), Message):
            innermost = inner
        return "_".join(re.findall(r"[a-z0-9]+", innermost.template.lower()))

    def __reduce__(self) -> tuple[Any, ...]:
        return _as_it_was, (type(self), self.args, self.__dict__)


def _as_it_was(kind: type[MendpointError], args: tuple[Any, ...], attributes: dict[str, Any]) -> MendpointError:
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(attributes)
    return error


class CaseError(MendpointError):
    """What the visitor gave cannot be used."""

    def __init__(self, field: str, message: str, /, *facts: object) -> None:
        super().__init__(message, *facts)
        self.field = field
        self.sentence = Message("{where}: {message}", field, self.message)
        self.args = (str(self.sentence),)

    def at(self, field: str) -> Self:
        """The same error of another entry."""
        moved = copy.copy(self)
        moved.field, moved.sentence = field, Message("{where}: {message}", field, self.message)
        moved.args = (str(moved.sentence),)
        return moved


class OutOfRange(CaseError):
    """A number lies outside the bounds that its field declares."""

    def __init__(self, field: str, low: float, high: float, unit: str, got: object) -> None:
        self.low, self.high, self.unit, self.got = low, high, unit, got
        super().__init__(field, "must be {bounds}, got {got}", bounds_in_words(low, high, unit), got)


class NotAbove(OutOfRange):
    """A number is not above its bound, which it may not reach itself."""

    def __init__(self, field: str, low: float, unit: str, got: object) -> None:
        self.low, self.high, self.unit, self.got = low, math.inf, unit, got
        above = Message("more than {low:g} {unit}", low, unit) if unit else Message("more than {low:g}", low)
        CaseError.__init__(self, field, "must be {bounds}, got {got}", above, got)


class OneOf(CaseError):
    """One of a few things has to be said, such as a column of a file; whoever asks can offer them."""

    def __init__(self, field: str, choices: tuple[str, ...], message: str, /, *facts: object) -> None:
        super().__init__(field, message, *facts)
        self.choices = choices


class EntryErrors(CaseError):
    """Several errors of one case, found in one go."""

    def __init__(self, errors: list[CaseError]) -> None:
        self.errors = tuple(errors)
        MendpointError.__init__(self, "\n".join(str(error) for error in errors))
        self.field = errors[0].field


class ReadError(MendpointError):
    """A file from outside cannot be read; says where in it."""

    def __init__(self, where: str, message: str, /, *facts: object) -> None:
        super().__init__(message, *facts)
        self.where = where
        self.sentence = Message("{where}: {message}", where, self.message)
        self.args = (str(self.sentence),)


class StoreError(MendpointError):
    """The store cannot be opened, read or written; says where it stands, what is in the way and what the system said.

    `trouble` is one of `full`, `readonly`, `locked`, `corrupt`, `unreachable`, `newer`, `address`, `driver`,
    `damaged`, `log`, `other`.
    """

    def __init__(self, where: str, trouble: str, detail: str = "") -> None:
        super().__init__(f"the store at {where}: {trouble}{detail and ', '}{detail}")
        self.where, self.trouble, self.detail = where, trouble, detail

    @property
    def code(self) -> str:
        """What stands in the way."""
        return self.trouble


class DataError(MendpointError):
    """A shipped table breaks its own rules; never the visitor's fault."""


class NoSolution(MendpointError):
    """A search found no answer in the interval it was given."""


def bounds_in_words(low: float, high: float, unit: str = "") -> Message:
    """Say an interval as a person would.

    >>> bounds_in_words(0, 60, "year"), bounds_in_words(0, float("inf"))
    ('from 0 to 60 year', '0 or more')
    """
    if math.isinf(low) and math.isinf(high):
        bounds = Message("a number")
    elif math.isinf(high):
        bounds = Message("{low:g} or more", low)
    elif math.isinf(low):
        bounds = Message("{high:g} or less", high)
    else:
        bounds = Message("from {low:g} to {high:g}", low, high)
    return Message("{bounds} {unit}", bounds, unit) if unit else bounds


def either(names: Sequence[str]) -> Message:
    """Names with "or" between them.

    >>> either(["a", "b", "c"])
    'a or b or c'
    """
    first, *rest = names
    return Message("{one} or {others}", first, either(rest)) if rest else Message("{one}", first)


def require(field: str, value: Number, low: float, high: float, unit: str) -> None:
    """Raise `OutOfRange` unless every value lies within its bounds; what is not a number never does.

    Both bounds are allowed; where one is infinite there is none, and infinity itself is let through. `unit` is for the
    error text, empty for a share or ratio.
    """
    if isinstance(value, float) and low <= value <= high:
        return
    within = (np.asarray(value) >= low) & (np.asarray(value) <= high)
    if not within.all():
        raise OutOfRange(field, low, high, unit, np.asarray(value)[~within].flat[0])
