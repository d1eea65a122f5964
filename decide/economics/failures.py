r"""What a failure tells of an appliance, and how likely the next one is.

Appliances of one class differ in quality. Let each multiply the usual hazards by its own z, gamma distributed with mean
1 and variance theta (a frailty). The published life is that of the mixed population; a share w of its ends are defects:

.. math:: 1 + \theta H_0(a) = S(a)^{-\theta w}

with H_0 the cumulative hazard of ending by a defect of an appliance of quality z = 1. Repairable failures come to it
with the cumulative intensity L_0, whose level follows from the published share F_3 with a failure within three years:

.. math:: L_0(v) = \frac{(1 - F_3)^{-\theta} - 1}{\theta} \left(\frac{v}{3}\right)^{g}

A failure is news of z. Whoever failed n times by age a, today's failure included, has z distributed as gamma with shape
1/theta + n and rate 1/theta + H_0(a) + L_0(a). Where the history is not known L_0 is left out and n are the faults
found today: kappa_n is then 1 + n theta w.

All of it is closed form; every argument is a number or a column.

References
----------
.. [1] Vaupel, Manton & Stallard, The impact of heterogeneity in individual frailty on the dynamics of mortality,
   Demography 16, 439-454, 1979.
.. [2] Cook & Lawless, The Statistical Analysis of Recurrent Events, Springer 2007, chapter 3 (mixed Poisson processes).
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats, Number
from ..errors import require
from ..finance.life import Life

OBSERVED_YEARS = 3.0  # Age by which the published share of appliances has failed. [year]


@dataclass(frozen=True, kw_only=True)
class Frailty:
    """How much appliances of a class differ, and how often they fail. Fields are numbers or columns."""

    variance: Number  # Variance theta of the quality z. [-]
    defect_share: Number  # Share w of published ends that are defects; the rest is moving, taste, saving. [-]
    failure_share: Number  # Share F_3 of new appliances with a failure within three years. [-]
    growth: Number  # Exponent g by which repairable failures add up with age; above 1, they come faster with age. [-]

    def __post_init__(self) -> None:
        require("variance", self.variance, 1e-6, 10.0, "")
        require("defect_share", self.defect_share, 0.0, 1.0, "")
        require("failure_share", self.failure_share, 0.0, 0.95, "")
        require("growth", self.growth, 0.5, 4.0, "")

    def defects(self, life: Life, age: Number) -> Floats:
        """Cumulative hazard H_0 of ending by a defect, for quality 1, at an age of the published life. [-]"""
        return np.expm1(np.asarray(self.variance) * self.defect_share * life.cumulative_hazard(age)) / self.variance

    def failures(self, age: Number) -> Floats:
        """Cumulative intensity L_0 of repairable failures, for quality 1. [-]"""
        level = np.expm1(-np.asarray(self.variance) * np.log1p(-np.asarray(self.failure_share))) / self.variance
        return level * (np.asarray(age, dtype=float) / OBSERVED_YEARS) ** self.growth

    def failure_rate(self, age: Number) -> Floats:
        """Intensity of repairable failures at an age, dL_0/dv, for quality 1. [1/year]"""
        age = np.maximum(np.asarray(age, dtype=float), 1e-9)
        return self.growth * self.failures(age) / age

    def usual_failure_rate(self, life: Life, age: Number) -> Floats:
        """The same among all appliances that still serve: the good ones are left. [1/year]"""
        return self.failure_rate(age) / (1 + self.variance * self.defects(life, age))

    def failed(self, life: Life, age: Number, failures: Number | None = None, today: Number = 1) -> "Quality":
        """What is known of the quality of an appliance of an age [year] that has just failed.

        `life` is the published one of its class, `failures` how often it failed, today included; None: not known. Of an
        unknown history `today`, the faults found at once, is all that counts.
        """
        theta, count = np.asarray(self.variance), today if failures is None else failures
        require("failures", count, 1, 100, "")
        seen = self.defects(life, age) + (0.0 if failures is None else self.failures(age))
        return Quality(self, np.asarray(count, dtype=float) + 1 / theta, seen + 1 / theta, life, age)

    def serving(self, life: Life, age: Number) -> "Quality":
        """The same of one that serves at an age, with nothing else known of it; new at age 0."""
        return Quality(self, np.asarray(1 / self.variance), self.defects(life, age) + 1 / self.variance, life, age)


@dataclass(frozen=True)
class Quality:
    """What is known of the quality z of an appliance: it is gamma distributed with this shape and rate."""

    frailty: Frailty
    shape: Floats
    rate: Floats
    life: Life
    age: Number

    @property
    def quality(self) -> Floats:
        """Expected z: its failures over those of an appliance of quality 1. [-]"""
        return self.shape / self.rate

    @property
    def hazard_ratio(self) -> Floats:
        r"""Its hazard of ending today over that of all appliances of its age, kappa_n. [-]

        .. math:: \kappa_n = 1 - w + w\, E[z]\, (1 + \theta H_0(a))

        As a power of the published survival for all later years it is an approximation; with the history not known it
        is exact and 1 + n theta w at every age.
        """
        return 1 - self.frailty.defect_share + self.frailty.defect_share * self.failure_ratio

    @property
    def failure_ratio(self) -> Floats:
        """Its repairable failures today over those of all appliances of its age that serve. [-]"""
        return self.quality * (1 + np.asarray(self.frailty.variance) * self.frailty.defects(self.life, self.age))
