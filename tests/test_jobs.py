"""The columns of a job book: which jobs are taken, and books put one after another."""

import numpy as np
import pytest
from shop_books import jobs_of_columns

from decide.shop.jobs import DECISIONS, Jobs, concatenate


def book(kinds: tuple[str, ...], *jobs: tuple[str, str]) -> Jobs:
    """Jobs by class and decision."""
    kind, decision = zip(*jobs, strict=True)
    return jobs_of_columns(
        age=np.arange(float(len(jobs))),
        kinds=kinds,
        kind=np.array([kinds.index(each) for each in kind], np.int16),
        decision=np.array([DECISIONS.index(each) for each in decision], np.int16),
    )


def named(jobs: Jobs) -> list[str]:
    return [jobs.kinds[code] for code in jobs.kind]


def test_books_put_one_after_another_keep_the_classes_of_their_jobs() -> None:
    kinds = ("refrigerator", "dishwasher", "oven_gas")
    one = book(kinds, ("dishwasher", "repaired"), ("refrigerator", "left"))
    two = book(kinds, ("dishwasher", "replaced"), ("oven_gas", "open"))
    more = book(kinds, ("refrigerator", "repaired"))
    both = concatenate([one, two, more])
    assert both.kinds == kinds
    assert named(both) == [*named(one), *named(two), *named(more)]
    assert both.age.tolist() == [0, 1, 0, 1, 0]


def test_parts_with_other_lists_of_classes_are_not_put_together() -> None:
    one, two = (book(kinds, ("dishwasher", "repaired")) for kinds in (("refrigerator", "dishwasher"), ("dishwasher",)))
    with pytest.raises(ValueError, match="same lists"):
        concatenate([one, two])


def test_jobs_are_taken_by_class_and_told_by_decision() -> None:
    mixed = book(("refrigerator", "dishwasher"), ("dishwasher", "repaired"), ("refrigerator", "left"))
    assert named(mixed.of_kind("refrigerator")) == ["refrigerator"]
    assert len(mixed.of_kind("oven_gas").age) == 0
    assert mixed.decided("left", "replaced").tolist() == [False, True]
