"""What can go wrong, handed from one process to another."""

import pickle

import pytest

from decide.errors import (
    CaseError,
    EntryErrors,
    MendpointError,
    Message,
    NotAbove,
    OutOfRange,
    ReadError,
    StoreError,
    bounds_in_words,
)
from decide.load.store.records import NotFound
from decide.load.tables.typed import ForeignMoney, TwoReadings

ERRORS = [
    CaseError("repair.quote", "is odd"),
    OutOfRange("appliance.age", 0, 60, "year", -1.0),
    NotAbove("rate", -1, "1/year", -1.0),
    EntryErrors([CaseError("a", "b"), OutOfRange("c", 0, 1, "", 2)]),
    ReadError("book.csv, line 3", "has no quote"),
    ReadError(Message("{where}, row {row}", "a.csv", 3), "must be {bounds}, got {got}", bounds_in_words(0, 1), 2),
    StoreError("here", "full", "no space left"),
    NotFound("visit", "x" * 22),
    TwoReadings("repair.quote", "1,234", "1234", "1.234", 2),
    ForeignMoney("repair.quote", "$350", "EUR"),
]


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
def test_an_error_is_the_same_in_another_process(error: MendpointError) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert repr(vars(again)) == repr(vars(error))
    assert (again.code, again.message.template, again.message.facts) == (
        error.code, error.message.template, error.message.facts,
    )  # fmt: skip
    assert again.code


def test_bounds_open_to_one_side_are_said_as_such() -> None:
    infinity = float("inf")
    assert [bounds_in_words(*ends) for ends in ((0, 60), (3, infinity), (-infinity, 5), (-infinity, infinity))] == [
        "from 0 to 60",
        "3 or more",
        "5 or less",
        "a number",
    ]
