r"""How likely customers are to accept a quote, from what they did before.

The chance is logistic in the *excess*, which is how far the incremental price lies above the customer's repair limit
as a share of the price of a new unit, and in the unit's age:

.. math:: p = 1 / (1 + e^{-(level + by\ excess \cdot x + by\ age \cdot a)}), \qquad x = (price - limit) / new

(The logarithm of price over limit would not exist where even a free repair is not worth it.) The coefficients are those
of greatest likelihood, found by Newton's method. Where a line between accepted and declined quotes can be drawn, the
likelihood has no greatest value, and that is said instead of a number.

**Enough records.** There must be ten of the rarer answer, accepted or declined, for each of the two slopes: with fewer
the coefficients of a logistic regression are biased and their intervals wrong too often [1]. With fewer records a
range of curves stands in their place; these are judgements, and labelled as such wherever they show.

Sources, from memory: [1] Peduzzi, Concato, Kemper, Holford & Feinstein, A simulation study of the number of events per
variable in logistic regression analysis, Journal of Clinical Epidemiology 49 (1996) 1373-1379. [2] Albert & Anderson,
On the existence of maximum likelihood estimates in logistic regression models, Biometrika 71 (1984) 1-10 (separation).
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_expit

from ..arrays import Floats, Number, unwrap
from ..errors import CaseError, NoSolution, require
from .jobs import DECLINED, LEFT, REPAIRED, REPLACED, Jobs

ANSWERS_A_SLOPE: Final = 10
"""Records of the rarer answer that each slope needs."""

NEEDED: Final = 2 * ANSWERS_A_SLOPE
"""Records of the rarer answer that the two slopes need."""

SETTLED: Final = 1e-10
SWEEPS: Final = 100

NINE_IN_TEN: Final = 1.6448536269514722
"""Standard errors to either side that hold nine tenths of a normal law."""


@dataclass(frozen=True)
class Curve:
    """Chance of acceptance by excess, a share of the price of new, and age. [-]"""

    level: float
    by_excess: float
    """A share of the price of new more makes the odds exp(by_excess x share) times what they were."""
    by_age: float = 0.0
    """[1/year]"""
    told: bool = field(default=True, kw_only=True)
    """Whether it is sure, nine times in ten, that a dearer quote is accepted less."""

    def chance(self, excess: Number, age: Number = 0.0) -> Number:
        """Chance that a quote is accepted at an excess, a share of the price of new, and an age [year]. [-]"""
        return unwrap(np.asarray(expit(self.level + self.by_excess * np.asarray(excess) + self.by_age * age)))


@dataclass(frozen=True)
class Fit:
    """A logistic regression: coefficients and how sure they are."""

    coefficients: Floats
    """The level, then one slope a predictor, shape (k + 1). [-]"""
    covariance: Floats
    """Shape (k + 1, k + 1)."""
    log_likelihood: float
    records: int

    @property
    def standard_errors(self) -> Floats:
        """Of each coefficient, shape (k + 1)."""
        return np.sqrt(np.diag(self.covariance))

    def interval(self, predictors: Floats) -> tuple[Floats, Floats]:
        """Where the chance lies in nine of ten such sets of records; predictors of shape (n, k). [-]"""
        design = _design(predictors)
        middle = design @ self.coefficients
        width = NINE_IN_TEN * np.sqrt(np.einsum("ni,ij,nj->n", design, self.covariance, design))
        return np.asarray(expit(middle - width)), np.asarray(expit(middle + width))


def logistic(predictors: Floats, accepted: NDArray[np.bool_]) -> Fit:
    """Fit a logistic regression by greatest likelihood; `predictors` of shape (n, k).

    A predictor that is not finite raises `OutOfRange`; `NoSolution`: a line tells all accepted from all declined, or a
    predictor is the same in all records, so that there is no fit.
    """
    require("predictor", predictors, -1e9, 1e9, "")
    design, answers = _design(predictors), np.asarray(accepted, dtype=float)
    # columns of one size: the search is then the same whatever the units
    centre, size = design.mean(axis=0), design.std(axis=0)
    centre[0], size[0] = 0.0, 1.0
    if not np.all(size > 0):
        raise NoSolution("acceptance: a predictor is the same in all records")
    scaled = (design - centre) / size
    if _separated(scaled, answers):
        raise NoSolution("acceptance: a line tells all accepted quotes from all declined ones; more records are needed")
    found, likelihood, information = _newton(scaled, answers)
    back = np.diag(1 / size)
    back[0, 1:] = -(centre / size)[1:]
    return Fit(back @ found, back @ np.linalg.inv(information) @ back.T, likelihood, len(answers))


def _design(predictors: Floats) -> Floats:
    return np.column_stack([np.ones(len(predictors)), predictors])


def _newton(design: Floats, answers: Floats) -> tuple[Floats, float, Floats]:
    """Coefficients, log-likelihood and information where the likelihood is greatest; a step that overshoots is cut."""
    found = np.zeros(design.shape[1])
    likelihood, information = _likelihood(design, answers, found), np.eye(design.shape[1])
    for _ in range(SWEEPS):
        chance = expit(design @ found)
        information = design.T @ (design * (chance * (1 - chance))[:, np.newaxis])
        step = np.linalg.solve(information, design.T @ (answers - chance))
        while _likelihood(design, answers, found + step) < likelihood - SETTLED and np.any(np.abs(step) > SETTLED):
            step = step / 2
        found = found + step
        likelihood = _likelihood(design, answers, found)
        if np.max(np.abs(step)) < SETTLED * (1 + np.max(np.abs(found))):
            return found, likelihood, information
    raise NoSolution("acceptance: the fit found no rest")


def _likelihood(design: Floats, answers: Floats, coefficients: Floats) -> float:
    line = design @ coefficients
    return float(np.sum(np.where(answers > 0, log_expit(line), log_expit(-line))))


def _separated(design: Floats, answers: Floats) -> bool:
    """Whether some line leaves no accepted quote on the side of the declined ones: a linear programme [2]."""
    from scipy.optimize import linprog

    signed = design * (2 * answers - 1)[:, np.newaxis]
    bounds = [(-1.0, 1.0)] * design.shape[1]
    found = linprog(-signed.sum(axis=0), A_ub=-signed, b_ub=np.zeros(len(signed)), bounds=bounds)
    return bool(signed.sum(axis=0) @ found.x > 1e-7)


@dataclass(frozen=True)
class Answers:
    """Past quotes that were answered, in columns of shape (n)."""

    excess: Floats
    """(incremental price - limit) / price of new. [-]"""
    age: Floats
    """[year]"""
    accepted: NDArray[np.bool_]

    @property
    def rarer(self) -> int:
        """Records of the rarer answer."""
        taken = int(np.count_nonzero(self.accepted))
        return min(taken, len(self.accepted) - taken)


def answers_of(jobs: Jobs, excess: Floats) -> Answers:
    """The answered quotes of a book whose excess, shape (jobs), and age are known; open ones tell nothing yet.

    Raises `CaseError`: there is not one excess a job.
    """
    if np.shape(excess) != (len(jobs),):
        raise CaseError("excess", "must have one entry a job ({n}), got {got}", len(jobs), np.shape(excess))
    answered = jobs.decided(REPAIRED, REPLACED, LEFT, DECLINED) & np.isfinite(excess) & np.isfinite(jobs.age)
    return Answers(excess[answered], jobs.age[answered], jobs.decided(REPAIRED)[answered])


def fitted(answers: Answers) -> tuple[Curve, Fit]:
    """The curve of the shop's own customers; `NoSolution`: too few of the rarer answer, or a line parts both."""
    if answers.rarer < NEEDED:
        raise NoSolution(
            "acceptance: needs {needed} accepted and {needed} declined quotes, has {rarer}", NEEDED, answers.rarer
        )
    fit = logistic(np.column_stack([answers.excess, answers.age]), answers.accepted)
    told = bool(fit.coefficients[1] + NINE_IN_TEN * fit.standard_errors[1] < 0)
    return Curve(*(float(each) for each in fit.coefficients), told=told), fit
