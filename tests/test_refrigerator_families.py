"""The nine families of a refrigerator, each walked from the complaint to the quote and to what to mind.

Evidence as a technician would give it, the cause that it leaves, the check, the bill, the quote built from it, the
verdict of the one answer, and the cautions. The stories are ours and invented.
"""

from dataclasses import dataclass, field

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.answers.diagnosis import Diagnosis, cautions_of, diagnose
from decide.answers.next_step import CHECK, next_step
from decide.load.tables.symptoms import NOBODY, OWNER
from decide.load.tables.tables import tables
from decide.load.tables.usual_bills import usual_quote

AGE = 7.0


@dataclass(frozen=True)
class Story:
    symptom: str
    cause: str
    """What the evidence leaves as the likeliest."""
    answers: dict[str, str]
    readings: dict[str, float] = field(default_factory=dict)
    least: float = 0.5
    """Its share by then is no less. [-]"""


STORIES = (
    Story("warm_throughout", "fridge_start_relay", {"compressor_sound": "clicks"}, {"start_device_ohm": 900.0}, 0.9),
    Story("warm_above", "evaporator_fan_still", {"air_in_freezer": "no", "coat_on_wall": "no"},
          {"evaporator_fan_volt": 12.0}, 0.7),
    Story("door_water_frozen", "freezer_set_too_cold", {"freezer_too_cold": "yes"},
          {"freezer_temperature": -26.0}, 0.9),
    Story("no_ice", "filter_clogged", {"dispenser_runs": "thin_stream"}, {"fill_volume": 40.0}),
    Story("not_dispensed", "ice_motor", {"what_fails": "ice_only", "heard_when_asked": "nothing"},
          {"ice_motor_volt_us": 118.0}),
    Story("not_defrosting", "defrost_heater", {"coat_even": "yes"}, {"defrost_heater_ohm_us": 99_999.0}, 0.9),
    Story("fan_noise", "fan_worn", {"stops_with_door": "yes", "snow_on_wall": "no"}, least=0.7),
    Story("drain_blocked", "drain_dirty", {"slime_in_hole": "yes", "ice_on_floor": "no"}, least=0.7),
    Story("fridge_floor_water", "fridge_hose_leak", {"stops_with_tap": "yes", "first_wet": "along_line"}, least=0.7),
)  # fmt: skip


def told(story: Story) -> Diagnosis:
    return diagnose("refrigerator", story.symptom, age=AGE, answers=story.answers, readings=story.readings)


def cause_of(story: Story) -> int:
    return told(story).symptom.ids.index(story.cause)


@pytest.fixture(params=STORIES, ids=lambda story: story.symptom)
def story(request: pytest.FixtureRequest) -> Story:
    return request.param


def test_the_evidence_leaves_the_cause_as_the_likeliest_and_each_piece_helped(story: Story) -> None:
    found, at = told(story), cause_of(story)
    assert int(np.argmax(found.chance)) == at
    assert found.chance[at] >= story.least
    before = diagnose("refrigerator", story.symptom, age=AGE)
    assert found.chance[at] > before.chance[at] + 0.2


def test_the_check_of_that_cause_is_made_and_its_own_steps_come_before_it(story: Story) -> None:
    found, at = told(story), cause_of(story)
    assert at in found.steps
    place = found.steps.index(at)
    assert set(found.symptom.links[at].after) <= {found.symptom.ids[step] for step in found.steps[:place]} | {
        cause for cause, chance in zip(found.symptom.ids, found.chance, strict=True) if chance == 0
    }


def test_the_bill_is_that_of_the_cause_and_nearer_to_it_than_before(story: Story) -> None:
    found, at = told(story), cause_of(story)
    before = diagnose("refrigerator", story.symptom, age=AGE)
    median = float(found.bill.quantile(0.5))
    assert 0.6 * float(found.bill.low[at]) <= median <= 1.6 * max(float(found.bill.high[at]), 1.0)
    usual = float(found.bill.by_cause[at])
    assert abs(float(found.bill.mean) - usual) < abs(float(before.bill.mean) - usual)
    assert found.finding_out > 0


def priced(story: Story) -> Answer:
    found, at = told(story), cause_of(story)
    there = {"class": "refrigerator", "age": AGE, "fault": found.symptom.links[at].cause.fault}
    quote = {"quote": round(float(found.bill.by_cause[at]), 2)}
    return answer({"appliance": there, "household": {"place": "US"}, "repair": quote})


def test_the_quote_lies_in_the_usual_range_of_the_fault_and_the_one_answer_agrees(story: Story) -> None:
    found, at, weighed = told(story), cause_of(story), priced(story)
    link = found.symptom.links[at]
    assert weighed.weighing.repair_limit == pytest.approx(float(found.limits[at]))
    assert (weighed.weighing.quoted <= weighed.weighing.repair_limit) == (found.verdicts[story.cause] == "repair")
    if link.cause.mend not in (OWNER, NOBODY):
        usual = usual_quote("refrigerator", link.cause.fault, "US", tables())
        assert usual is not None
        assert not usual.far(float(found.bill.by_cause[at]), weighed.remarks.far)  # type: ignore[union-attr]
        assert not weighed.unusual


def test_what_to_mind_comes_with_the_fault_and_with_all_that_may_still_be(story: Story) -> None:
    found = told(story)
    of_the_fault = {caution.id for caution, _ in cautions_of(found, story.cause)}
    of_all = {caution.id for caution, _ in cautions_of(found)}
    assert of_the_fault
    said = {"electric_disconnect": "electric_live"}  # where something may be tested live, that is said with it
    assert all(each in of_all or said.get(each) in of_all for each in of_the_fault)
    assert any(caution.when == "working" for caution, _ in cautions_of(found, story.cause))


def test_going_on_by_the_next_step_finds_the_cause(story: Story) -> None:
    """What follows is the check of the cause, or a step that does not take it off the top."""
    answers, readings, out = dict(story.answers), dict(story.readings), list[str]()
    for _ in range(20):
        found = diagnose("refrigerator", story.symptom, age=AGE, answers=answers, readings=readings, out=tuple(out))
        step = next_step(found)
        if step is None or (step.kind == CHECK and step.key == story.cause):
            break
        if step.kind == CHECK:
            out.append(step.key)  # it is not that one
            continue
        asked = found.questions.get(step.key) or found.tests[step.key]
        rows = asked.likelihoods.get(story.cause) or asked.likelihoods.get("*")
        likely = asked.outcomes[int(np.argmax(rows))]  # type: ignore[arg-type]
        if step.key in found.questions:
            answers[step.key] = likely
        else:
            reading = found.tests[step.key]
            low = reading.low if np.isfinite(reading.low) else reading.high - 1
            high = reading.high if np.isfinite(reading.high) else reading.low + 1
            readings[step.key] = {
                "pass": (low + high) / 2, "marginal": high + reading.margin / 2,
                "below": low - 2 * reading.margin - 1, "above": high + 2 * reading.margin + 1,
            }[likely]  # fmt: skip
    final = diagnose("refrigerator", story.symptom, age=AGE, answers=answers, readings=readings, out=tuple(out))
    assert final.symptom.ids[int(np.argmax(final.chance))] == story.cause
