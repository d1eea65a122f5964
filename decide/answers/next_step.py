"""What to ask, measure or look at next, and what that is worth: one step ahead, two where it costs something."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..diagnosis.check_order import NOT_MADE
from ..diagnosis.evidence import after_each_reading, falls, is_better_now, updated, worth_of_check
from ..load.tables.evidence import Asked, SymptomQuestion
from ..load.tables.symptoms import OWNER, WHO
from .diagnosis import Diagnosis

QUESTION: Final = "question"
READING: Final = "reading"
CHECK: Final = "check"

LEAST_WORTH: Final = 0.01  # What is worth less than a cent is worth nothing. [money]


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
    """What to do next: a question or reading that pays, the free ones first, or else the first check of the order.

    None where nothing is left to look at: replacing costs less, or one cause is left and known.

    >>> from decide.answers.diagnosis import diagnose
    >>> step = next_step(diagnose("refrigerator", "warm_throughout"))
    >>> step.kind, step.key
    ('question', 'compressor_sound')
    """
    for step in steps_of(diagnosis, who):
        if step.worth > LEAST_WORTH:
            asked: Asked = diagnosis.tests[step.key] if step.kind == READING else diagnosis.questions[step.key]
            known, fall = asked.under(diagnosis.symptom), step.worth + step.cost
            now = diagnosis.looking, diagnosis.chance, diagnosis.plan
            if step.cost == 0 or is_better_now(*now, known, fall, step.cost):
                return step
    made = [int(at) for at in diagnosis.plan.order if at != NOT_MADE]
    made = [at for at in made if WHO.index(diagnosis.symptom.links[at].cause.who) <= WHO.index(who)]
    if not made or (len(made) == 1 and diagnosis.chance[made[0]] > 1 - 1e-9):
        return None
    cause = diagnosis.symptom.links[made[0]].cause
    is_first = made[0] == int(diagnosis.plan.order[0])
    worth = worth_of_check(diagnosis.looking, diagnosis.chance, diagnosis.plan) if is_first else math.nan
    return Step(
        kind=CHECK, key=cause.cause, who=cause.who, worth=worth, cost=float(diagnosis.looking.check_cost[made[0]])
    )
