"""What to ask, measure or look at next, and what that is worth: one step ahead, two where it costs something."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..diagnosis.evidence import after_each_reading, falls, is_better_now, updated, worth_of_check
from ..load.tables.evidence import Asked, SymptomQuestion
from ..load.tables.symptoms import OWNER, WHO
from .diagnosis import Diagnosis

QUESTION: Final = "question"
READING: Final = "reading"
CHECK: Final = "check"


@dataclass(frozen=True, kw_only=True)
class Step:
    """Something that can be done next."""

    kind: str  # One of QUESTION, READING, CHECK.
    key: str
    who: str
    worth: float
    """What it takes off the expected cost of the visit and of the decision after it, its own cost paid; NaN where it
    is the only way on. [money]"""
    cost: float  # Of doing it. [money]


def steps_of(diagnosis: Diagnosis, who: str = WHO[-1]) -> list[Step]:
    """What is still to ask and to measure, by whoever has that training or less, with what each is worth; best first.

    What costs nothing stands first, by its worth, then what costs something, by its worth for its cost.
    """
    open_to = WHO[: WHO.index(who) + 1]
    done = {**diagnosis.answers, **diagnosis.readings}
    every: list[Asked] = [*diagnosis.questions.values(), *diagnosis.tests.values()]
    asked = [each for each in every if each.key not in done and each.who in open_to]
    likelihoods = [each.under(diagnosis.symptom) for each in asked]
    answers, readings = diagnosis.seen
    plain = [after_each_reading(diagnosis.chance, each) for each in likelihoods]
    shares = [
        np.array([updated(diagnosis.listed_chance, [*answers, row], readings, diagnosis.rule) for row in each])
        if isinstance(one, SymptomQuestion)
        else after
        for one, each, after in zip(asked, likelihoods, plain, strict=True)
    ]
    fall = np.minimum(  # an answer that takes another one's place is worth no more than it tells itself
        *(falls(diagnosis.looking, diagnosis.chance, diagnosis.plan, likelihoods, each) for each in (shares, plain))
    )
    found = []
    for one, each in zip(asked, fall, strict=True):
        cost = 0.0 if one.who == OWNER else one.minutes / 60 * diagnosis.rate
        kind = QUESTION if isinstance(one, SymptomQuestion) else READING
        found.append(Step(kind=kind, key=one.key, who=one.who, worth=float(each) - cost, cost=cost))
    return sorted(found, key=lambda step: (step.cost > 0, -step.worth / max(step.cost, 1.0)))


def next_step(diagnosis: Diagnosis, who: str = WHO[-1]) -> Step | None:
    """What to do next: a question or reading that pays, the free ones first, or else the first check that does.

    None where nothing is worth `least_worth` of figures.csv, as replacing costs less, or one cause is left and known.

    >>> from decide.answers.diagnosis import diagnose
    >>> step = next_step(diagnose("refrigerator", "warm_throughout"))
    >>> step.kind, step.key
    ('question', 'compressor_sound')
    """
    least, now = diagnosis.figure("least_worth"), (diagnosis.looking, diagnosis.chance, diagnosis.plan)
    for step in steps_of(diagnosis, who):
        if step.worth >= least:
            asked: Asked = diagnosis.tests[step.key] if step.kind == READING else diagnosis.questions[step.key]
            known, fall = asked.under(diagnosis.symptom), step.worth + step.cost
            if step.cost == 0 or is_better_now(*now, known, fall, step.cost):
                return step
    for at in [] if _is_known(diagnosis) else diagnosis.shown:
        cause, worth = diagnosis.symptom.links[at].cause, worth_of_check(*now, at)
        if WHO.index(cause.who) <= WHO.index(who) and not worth < least:  # NaN where it is the only way on
            cost = float(diagnosis.looking.check_cost[at])
            return Step(kind=CHECK, key=cause.cause, who=cause.who, worth=worth, cost=cost)
    return None


def _is_known(diagnosis: Diagnosis) -> bool:
    return float(np.max(diagnosis.chance)) > 1 - 1e-9


def why_none(diagnosis: Diagnosis, found: str | None) -> str:
    """Why nothing is next: the cause is found, it alone is left, or nothing is worth asking for any more."""
    return "found" if found else "one_left" if _is_known(diagnosis) else "little_worth"
