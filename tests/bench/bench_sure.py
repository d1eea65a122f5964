"""What the page at the door spends on how sure its answer is; run with `pytest -s`."""

import time
from collections.abc import Callable

from decide.answers.answer import answer
from decide.answers.confidence import (
    breakeven_of,
    decision_confidence,
    has_verdict,
    outcome_distribution_of,
    ready_paths,
)
from decide.answers.limits import limits_of
from decide.economics.breakeven import STUDY_PERIOD
from decide.load.tables.tables import tables
from decide.show.text.certainty import breakeven_row, confidence_text, worth_finding
from decide.show.text.report import HOUSEHOLDS, LONGEST_STAY, sure_blocks
from decide.show.text.words import Words


def spent(work: Callable[[], object]) -> float:
    """How long it takes. [s]"""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def test_the_section_of_the_page_against_two_hundred_milliseconds() -> None:
    words, times = Words.for_place("US"), {}
    decision_confidence(
        answer({"appliance": {"class": "freezer_chest", "age": 3}, "repair": {"quote": 90}}).case, (), 2
    )  # imports
    for kind in tables().classes("US"):
        found = answer({"appliance": {"class": kind.kind, "age": 9}, "repair": {"quote": 217}})
        if not has_verdict(found):
            continue

        def section() -> None:
            confidence = found.confidence  # noqa: B023
            confidence_text(words, found, confidence), worth_finding(words, confidence)  # noqa: B023
            list(sure_blocks(words, found, confidence))  # noqa: B023
            for path in ready_paths(found):  # noqa: B023
                if path != STUDY_PERIOD:
                    breakeven_row(words, found, breakeven_of(found.case, path))  # noqa: B023

        times[kind.kind] = spent(section)
        again = spent(section)
    slowest = max(times, key=times.__getitem__)
    middle = sorted(times.values())[len(times) // 2]
    print(f"\nthe section, {len(times)} kinds: middle {middle * 1e3:.0f} ms, slowest {times[slowest] * 1e3:.0f} ms")
    print(f"({slowest}); asked again {again * 1e3:.0f} ms")


def test_what_waits_for_a_tap() -> None:
    entries = {"appliance": {"class": "clothes_washer", "age": 9}, "repair": {"quote": 217}}
    found = answer(entries)
    print(f"\nluck of {HOUSEHOLDS} households {spent(lambda: outcome_distribution_of(found, HOUSEHOLDS)) * 1e3:.0f} ms")
    print(f"years to stay {spent(lambda: breakeven_of(found.case, STUDY_PERIOD, LONGEST_STAY)) * 1e3:.0f} ms")
    print(f"the limits at 31 ages {spent(lambda: limits_of('clothes_washer')) * 1e3:.0f} ms")
    studied = answer({**entries, "household": {"study_period": 8}})
    few = spent(lambda: studied.confidence)
    many = spent(lambda: decision_confidence(found.case, found.ranges, 4096))
    print(f"how sure over 8 years {few * 1e3:.0f} ms; 4096 draws without end {many * 1e3:.0f} ms")
