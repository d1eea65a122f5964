"""What whoever looked at it says beside the fault: several faults, none found, not tested, referred, gone, stopped."""

from typing import Any

import pytest

from decide.answers.answer import Answer, answer
from decide.errors import EntryErrors
from decide.load.cases.filled import OUTCOMES, WITH_REASON
from decide.show.terminal.as_json import as_data
from decide.show.text.ruler import about
from decide.show.text.words import Words

ENGLISH, SPANISH = Words.for_place("US"), Words.for_place("US", "es")
WHY = "smoke at the cord"


def told(outcome: str | None, reason: str = WHY, quote: float | None = 180.0) -> Answer:
    there: dict[str, Any] = {"class": "refrigerator", "age": 7.0, "fault": "compressor_start"}
    if outcome:
        there |= {"outcome": outcome, "outcome_reason": reason}
    repair = {} if quote is None else {"quote": quote}
    return answer({"appliance": there, "household": {"place": "US"}, "repair": repair})


@pytest.mark.parametrize("outcome", [each for each in OUTCOMES if each != "no_fault_found"])
def test_an_outcome_is_said_first_in_both_languages_and_stands_in_the_json(outcome: str) -> None:
    found = told(outcome)
    assert found.cautions[0].id == f"outcome_{outcome}"
    assert as_data(found)["cautions"][0]["id"] == f"outcome_{outcome}"
    for words in (ENGLISH, SPANISH):
        line = words.cautions(found)[0]
        assert line.text.startswith(words.in_place(f"outcome.{outcome}"))
        assert line.text.endswith(WHY)
        assert line.when == "now"


def test_a_stop_of_the_technician_goes_before_all_money() -> None:
    found = told("stopped")
    assert found.weighing.stopped_by == ("outcome_stopped",)
    assert WHY in ENGLISH.headline(found)
    assert "$" not in ENGLISH.headline(found)


def test_a_part_that_is_no_longer_made_leaves_no_repair() -> None:
    found = told("part_no_longer_made", "")
    assert found.weighing.repair.blocked_by == ("outcome_part_no_longer_made",)
    assert found.verdict.act != "repair"


def test_several_faults_are_one_more_failure_of_the_unit() -> None:
    one, more = told(None), told("several_faults", "")
    assert more.weighing.repair_limit < one.weighing.repair_limit
    second = {"class": "refrigerator", "age": 7.0, "fault": "compressor_start", "second_fault": True}
    same = answer({"appliance": second, "household": {"place": "US"}, "repair": {"quote": 180.0}})
    assert more.weighing.repair_limit == pytest.approx(same.weighing.repair_limit)


def test_where_no_fault_was_found_no_quote_is_weighed() -> None:
    with pytest.raises(EntryErrors) as refused:
        told("no_fault_found")
    assert "repair.quote: cannot be: no fault was found" in str(refused.value)
    found = told("no_fault_found", "", quote=None)
    assert found.undecided
    assert ENGLISH.cautions(found)[0].text == ENGLISH.say("outcome.no_fault_found")
    for words, verdict in ((ENGLISH, "No fault found"), (SPANISH, "No hay avería")):
        assert words.verdict(found) == verdict
        first, later, *more = words.sentences(found)
        assert first == words.say("outcome.no_fault_found")
        assert words.money(about(found.weighing.repair_limit)) in later
        assert not more
    assert "Say yes" not in ENGLISH.headline(found)


@pytest.mark.parametrize("outcome", WITH_REASON)
def test_what_stops_or_hands_on_needs_its_reason(outcome: str) -> None:
    with pytest.raises(EntryErrors) as refused:
        told(outcome, " ")
    assert f"appliance.outcome_reason: is needed with {outcome}" in str(refused.value)


@pytest.mark.parametrize(
    ("there", "said"),
    [
        ({"outcome": "gremlins"}, "appliance.outcome: must be one of several_faults"),
        ({"outcome": 3}, "appliance.outcome: must be one of several_faults"),
        ({"outcome_reason": "why not"}, "appliance.outcome_reason: goes with appliance.outcome"),
        ({"outcome": "stopped", "outcome_reason": "x" * 301}, "appliance.outcome_reason: must be a text of 300"),
        ({"outcome": "stopped", "outcome_reason": 7}, "appliance.outcome_reason: must be a text of 300"),
    ],
)
def test_what_cannot_be_used_names_its_field(there: dict[str, Any], said: str) -> None:
    with pytest.raises(EntryErrors) as refused:
        answer({"appliance": {"class": "refrigerator", "age": 7.0, **there}})
    assert said in str(refused.value)
