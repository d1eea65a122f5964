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

import math
from typing import Any

import numpy as np

from .arrays import Number


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

    def __reduce__(self) -> tuple[Any, ...]:
        return _as_it_was, (type(self), self.args, self.__dict__)


def _as_it_was(kind: type[MendpointError], args: tuple[Any, ...], attributes: dict[str, Any]) -> MendpointError:
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(attributes)
    return error


class CaseError(MendpointError):
    """What the visitor gave cannot be used."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(f"{field}: {message}")
        self.field = field
        self.message = message


class OutOfRange(CaseError):
    """A number lies outside the bounds that its field declares."""

    def __init__(self, field: str, low: float, high: float, unit: str, got: object) -> None:
        self.low, self.high, self.unit, self.got = low, high, unit, got
        super().__init__(field, f"must be {bounds_in_words(low, high)}{unit and ' '}{unit}, got {got}")


class NotAbove(OutOfRange):
    """A number is not above its bound, which it may not reach itself."""

    def __init__(self, field: str, low: float, unit: str, got: object) -> None:
        self.low, self.high, self.unit, self.got = low, math.inf, unit, got
        CaseError.__init__(self, field, f"must be more than {low:g}{unit and ' '}{unit}, got {got}")


class EntryErrors(CaseError):
    """Several errors of one case, found in one go."""

    def __init__(self, errors: list[CaseError]) -> None:
        self.errors = tuple(errors)
        MendpointError.__init__(self, "\n".join(str(error) for error in errors))
        self.field = errors[0].field
        self.message = str(self)


class ReadError(MendpointError):
    """A file from outside cannot be read; says where in it."""

    def __init__(self, where: str, message: str) -> None:
        super().__init__(f"{where}: {message}")
        self.where = where
        self.message = message


class StoreError(MendpointError):
    """The store cannot be opened, read or written; says where it stands, what is in the way and what the system said.

    `trouble` is one of `full`, `readonly`, `locked`, `corrupt`, `unreachable`, `newer`, `address`, `driver`,
    `damaged`, `log`, `other`.
    """

    def __init__(self, where: str, trouble: str, detail: str = "") -> None:
        super().__init__(f"the store at {where}: {trouble}{detail and ', '}{detail}")
        self.where, self.trouble, self.detail = where, trouble, detail


class DataError(MendpointError):
    """A shipped table breaks its own rules; never the visitor's fault."""


class NoSolution(MendpointError):
    """A search found no answer in the interval it was given."""


def bounds_in_words(low: float, high: float) -> str:
    """Say an interval as a person would.

    >>> bounds_in_words(0, 60), bounds_in_words(0, float("inf"))
    ('from 0 to 60', '0 or more')
    """
    if math.isinf(low) and math.isinf(high):
        return "a number"
    if math.isinf(high):
        return f"{low:g} or more"
    if math.isinf(low):
        return f"{high:g} or less"
    return f"from {low:g} to {high:g}"


def require(field: str, value: Number, low: float, high: float, unit: str) -> None:
    """Raise `OutOfRange` unless every value lies within its bounds; what is not a number never does.

    Parameters
    ----------
    field : name of the input, as the file or the page has it
    value : number or column, shape (...) [unit]
    low, high : bounds, both allowed; infinite: none, and infinity itself is let through [unit]
    unit : for the error text; empty for a share or ratio
    """
    within = (np.asarray(value) >= low) & (np.asarray(value) <= high)
    if not within.all():
        raise OutOfRange(field, low, high, unit, np.asarray(value)[~within].flat[0])
