"""Does Mendpoint decide better than the rules of thumb? Simulated households whose truth is not of its model's form.

    python tests/bench/world.py [--jobs 10800] [--seed 1] [--futures 200]

Three truths make units fail, each by a law of its own; none reads the reference tables, and only what stands under
*Policies* imports the package. A stock of units runs from new by its owners' own rule, and its failures are the jobs,
so that ages, kinds of fault and hidden states come as often as they do. Both acts of a job are followed through many
futures with the same chances, to the end of its household's need. Costs are linear in the quote, so a job has one true
limit, and the regret of a verdict is how far the quote lies on its wrong side. USD and EUR are added at par, and each
class in a place has as many jobs as any other.

Left out: days without, food, disposal, used units, a replacement planned for later, worth left at a move.
"""

import argparse
import functools
import io
import time
from typing import Final

import numpy as np
import pandas as pd

STEP, HORIZON, SERVED = 0.25, 40.0, 60.0
"""Units are looked at each quarter; an endless need is followed so long; no unit of the stock is older. [year]"""
CORE, NEVER = 2, 1e6  # kinds of fault are 0 consumable, 1 ordinary, 2 core; the bill of what cannot be mended, money

# Three values are those of the three truths. life: mean years until a unit leaves the household.
#   US: EIA 2023 (15, 11.5, 15, 13, 17, 14.5, 10; microwave 10, DOE); Lutz et al. 2011 (refrigerator 19.8, gas tank
#   13.9, room AC 13); DOE from memory (refrigerator 17.4, washer 14.2); a consumer list (10, 9, 13, 13, 10, and 9);
#   Appliance Magazine (room AC 12); Wang et al. 2013 (dryer 14.7, oven 16); dishwasher 12: judgement.
#   EU: Wang et al. 2013 (14.6, 12.3, 11.75), UBA Texte 11/2016 (14.1, 11.9, 12.4), Forti et al. 2018 (14.6, 13.4,
#   12.7), test readers 2017 (washer 15), TNS Sofres 2010 (10.6, 10.1); boilers: Danish Energy Agency 2018 (20), Lutz
#   (25.3), a UK stock model (13.5); electric tanks: the US figures (12.5, 15.1, 11), as no European one was found.
# early: share with a failure within 3 years. US: reader surveys of 2013 (.11 to .31, .22, .20, .12, .14, .14) and 2006
#   (.08 to .28, .22, .13, .13, .11, .12), five-year shares scaled. EU: .017 a year (France 2023) to half of .09 (a
#   fault in Belgium). Room AC, tanks, boilers: judgement.
# price, work: a new one, its installation. US: EIA 2023 by Scout, USD of 2022, x .95 (BLS SS30021), work x 1.145
#   (CPI-U); gas tank between EIA (1,250) and NREL (2,245); microwave 230 USD of 2011; room AC, as its use, at the limit
#   of May 2026 (EIA 2024: 530, 158; 405 before). EU: washers of tests 320 to 1,070 EUR (2021, 2025); boilers 8,000 EUR
#   with their work (Germany, Finanztip 2025; 65 % of it equipment), 3,246 and 4,770 EUR of 2015 (France, 299 invoices,
#   Quelle Energie) x 1.035 and 1.29 (HICP); the rest judgement.
# bills: medians by kind of fault. DE: dishwasher pump 150 to 230, electronics 268 EUR (Stiftung Warentest 11/2018)
#   x 1.26 (CP0533); FR: about 120 EUR (60 Millions 2023); the rest judgement: a visit, an hour or two, the part.
# use: kWh a year of a new one; older: how much more one uses that is older than law years. RECS 2020 (range 197, gas
#   tank 5,311, dryer 712, room AC 820 in use), limits of 10 CFR 430.32; EU: judgement. water: m3 a year, judgement.
# working: share that still works when it goes: yard in Norway 2017 (.20, .31, .37, .41), else a third (UBA). left:
#   share of owners who leave the unit behind when they move, judgement.
PUBLISHED: Final = """
kind                   place life            early           price work bills   use   older law working left fuel water
refrigerator           US 15/19.8/17.4    .20/.15/.11  900    0 200/320/750     500  .2    12   .37 .5 electricity 0
clothes_washer         US 11.5/14.2/10    .22/.22/.19  746  229 190/320/480     150  .4     9   .20 .2 electricity 18
dishwasher             US 15/12/9         .20/.13/.19  409  206 190/280/350     240  .16 13.5   .31  1 electricity 3.3
clothes_dryer_electric US 13/14.7/13      .12/.13/.125 551  149 180/280/400     600  .3    12   .33 .2 electricity 0
range_electric         US 17/16/13        .14/.11/.09  599  160 190/280/420     197   0    10   .41  1 electricity 0
water_heater_gas       US 14.5/13.9/10    .06/.04/.10  1000 750 190/280/1e6    5000  .06 11.6   .33  1 gas         0
room_ac                US 10/13/12        .10/.06/.13  503  181 130/200/400     560  .3    .5   .33 .2 electricity 0
microwave              US 10/9/10         .14/.12/.07  240    0 110/140/190     110   0    10   .33 .2 electricity 0
refrigerator           DE 14.6/14.1/14.6  .11/.05/.14  600   30 140/230/450     200  .35    6   .37 .2 electricity 0
clothes_washer         DE 12.3/11.9/15    .10/.05/.15  550   60 130/230/350     105  .35    6   .20 .1 electricity 9
dishwasher             DE 11.75/12.4/12.7 .13/.05/.15  550   90 150/300/330     195  .25    6   .31 .5 electricity 2.5
water_heater_electric  DE 12.5/15.1/11    .06/.03/.10  400  350 150/220/1e6    1400  .03    8   .33  1 electricity 0
boiler_gas             DE 20/25.3/13.5    .25/.15/.35 5200 2800 220/450/1100  12500  .1    11   .33  1 gas         0
refrigerator           FR 14.6/10.6/14.1  .11/.05/.14  550   30 110/170/350     200  .35    6   .37 .2 electricity 0
clothes_washer         FR 12.3/10.1/13.4  .10/.05/.15  480   40 105/160/280     105  .35    6   .20 .1 electricity 9
dishwasher             FR 11.75/12.4/12.7 .13/.05/.15  500   60 110/190/280     195  .25    6   .31 .5 electricity 2.5
water_heater_electric  FR 12.5/15.1/11    .06/.03/.10  400  300 130/190/1e6    1800  .03    8   .33  1 electricity 0
boiler_gas             FR 20/25.3/13.5    .25/.15/.35 3360 1970 180/350/900   11000  .1    11   .33  1 gas         0
"""
FIGURES: Final = pd.read_csv(io.StringIO(PUBLISHED), sep=r"\s+")
# How much more again one uses that is older than the law before that one, and that law's age, by the limits of both.
#   US: 10 CFR 430.32 of 2001 (a top freezer of 20.8 cubic feet, 688 to 480 kWh), 2010 (dishwasher, 467 to 355), 2014
#   (room AC, EER 9.8 to 10.9); from memory 2007 (washer, MEF 1.04 to 1.26) and 2004 (tank of 40 gal, EF .54 to .59).
#   EU, from memory: Regulations (EC) 643/2009 (EEI 55 to 44), (EU) 1015/2010 (68 to 59) and 1016/2010 (71 to 63).
BEFORE: Final = {
    ("refrigerator", "US"): (0.43, 25.4), ("clothes_washer", "US"): (0.21, 19.9), ("dishwasher", "US"): (0.32, 16.9),
    ("water_heater_gas", "US"): (0.09, 22.9), ("room_ac", "US"): (0.11, 12.5),
    **{("refrigerator", place): (0.25, 14.4) for place in ("DE", "FR")},
    **{("clothes_washer", place): (0.15, 13.0) for place in ("DE", "FR")},
    **{("dishwasher", place): (0.13, 13.0) for place in ("DE", "FR")},
}  # fmt: skip
CELLS: Final = len(FIGURES)
LIVES, EARLY, BILLS = (np.array([row.split("/") for row in FIGURES[n]], float) for n in ("life", "early", "bills"))
EARLIER: Final = [BEFORE.get(where, (0.0, SERVED)) for where in zip(FIGURES.kind, FIGURES.place, strict=True)]
OLDER, LAW = (np.c_[FIGURES[name], np.array(EARLIER)[:, at]] for at, name in enumerate(("older", "law")))  # by law
WORKING, USUAL_USE = FIGURES.working.to_numpy(float), FIGURES.use.to_numpy(float)
USUAL, COOLING = (FIGURES.price + FIGURES.work).to_numpy(float), (FIGURES.kind == "refrigerator").to_numpy()
WARRANTY: Final = np.where(FIGURES.place == "US", 1.0, 2.0)  # common practice; Directive (EU) 2019/771
# Electricity and gas, money/kWh, and water, money/m3. US: EIA 2024, second-hand; 15.2 USD/Mcf and 13 USD/1000 gal from
#   memory. EU: Eurostat nrg_pc_204 and nrg_pc_202, 2025-S2; water 2 to 6 EUR from memory.
TARIFFS: Final = {"US": (0.1648, 0.05, 3.43), "DE": (0.3869, 0.1223, 4.0), "FR": (0.2561, 0.1436, 4.0)}
POWER, GAS, WATER = np.array([TARIFFS[place] for place in FIGURES.place]).T
ENERGY: Final = np.where(FIGURES.fuel == "gas", GAS, POWER)
TENURE: Final = 13.5  # mean years in a home, NEMS RSMISC
HOLDS: Final = np.array([0.97, 0.95, 0.9])  # callbacks 4 to 6 % (poll of a trade paper); by kind judgement
RATE, RATE_SPREAD = 0.08, 0.577  # so that 90 % of households are at 3 to 20 % (Newell & Siikamaki 2015: half to 11 %)
OWN_USE, OWN_TARIFF, OWN_BILL = 0.35, 0.2, 0.39  # log standard deviations, judgement; bill .3 by fault and .25 by shop


# ---- The truths: `hidden` is what nobody sees of a unit, `memory` what has befallen it ------------------------------


class Truth:
    """How units fail: hazards of the three kinds, and what time and repairs do to the memory."""

    name, own_price, price_trend, known_date, persists = "", 0.25, 0.0, 0.0, True
    middle, spread = 0.0, 0.0  # of the logarithm of `hidden`, which a household's next unit shares if it `persists`

    def __init__(self, rate: np.ndarray, core: np.ndarray) -> None:
        self.rate, self.core = rate, core  # level of both mendable kinds, 1/year; scale of the core's life, years

    def born(self, rng, n):
        return np.exp(rng.normal(self.middle, self.spread, n))

    def later(self, cell, hidden, memory, wear):
        return memory

    def mended(self, memory, kind):
        return memory


class Quality(Truth):
    """Units differ in quality, lognormal; bathtubs for three kinds of fault; a repair changes nothing else."""

    name, price_trend, persists, middle, spread = "A quality", -0.01, False, -0.18, 0.6  # trend: BLS, softened

    def hazards(self, cell, age, hidden, memory):
        share, rate, infant = age / self.core[cell], self.rate[cell] * hidden, 1 + 2 * np.exp(-2 * age)
        return rate * infant, rate * (0.6 * infant + share), hidden * (0.002 + 3 * share**2 / self.core[cell])


class Damage(Truth):
    """Wear adds up by a gamma process, faster in a hard household; a repair takes back a part of it (Kijima II)."""

    name, known_date, middle, spread, undone = "B damage", 0.5, -0.06, 0.35, np.array([0.02, 0.08, 0.35])

    def hazards(self, cell, age, hidden, memory):
        rate = self.rate[cell]
        return rate * (1 + 0.5 * memory), rate * (0.5 + memory), 3 * memory**2 * hidden / self.core[cell]

    def later(self, cell, hidden, memory, wear):
        return memory + hidden / self.core[cell] * wear * STEP

    def mended(self, memory, kind):
        return memory * (1 - self.undone[kind])


class Clusters(Truth):
    """Log-logistic lives; a failure draws others after it for about a year; dear makes are mended dearer."""

    name, own_price, price_trend, known_date, spread = "C clusters", 0.35, -0.02, 0.2, 0.15

    def hazards(self, cell, age, hidden, memory):
        scale, rate = self.core[cell] * hidden, self.rate[cell] * (1 + memory)
        core = 4 / scale * (age / scale) ** 3 / (1 + (age / scale) ** 4)
        return rate, rate * 1.6 * age / (age + 3), core * (1 + memory / 2)

    def later(self, cell, hidden, memory, wear):
        return memory * np.exp(-STEP / 0.8)

    def mended(self, memory, kind):
        return memory + 1.5


TRUTHS: Final = (Quality, Damage, Clusters)


# ---- Households, the failures of their stock, and what each act costs them ------------------------------------------


def households(truth, cell, rng):
    """Who owns the units: price of a new one, level of bills, rate, share of a new one it pays for repairs, use, its
    unit's use against others', tariff, rate of moving away from the unit, and its date where that is known."""
    n, own = len(cell), truth.own_price
    grade, moves = np.exp(rng.normal(-(own**2) / 2, own, n)), rng.random(n) < FIGURES.left.to_numpy()[cell]
    dated = moves & (rng.random(n) < truth.known_date)
    columns = {
        **{"cell": cell, "price": USUAL[cell] * grade, "level": grade ** (0.5 * (truth is Clusters))},
        **{"rate": np.minimum(RATE * np.exp(rng.normal(0, RATE_SPREAD, n)), 0.4), "upto": rng.uniform(0.3, 0.6, n)},
        **{"use": np.exp(rng.normal(-(OWN_USE**2) / 2, OWN_USE, n)), "old_use": np.exp(rng.normal(0, 0.1, n))},
        "tariff": np.exp(rng.normal(0, OWN_TARIFF, n)),
        "moves": np.where(moves & ~dated, np.exp(rng.normal(0, 0.5, n)) / TENURE, 0.0),
        "date": np.where(dated, rng.uniform(1, 12, n), np.inf),
    }
    return np.rec.fromarrays(list(columns.values()), names=list(columns))


def draws(rng, n):
    """A quarter's chances: of failing, its kind, that use ends or a repair fails, that none mends it; bill; wear."""
    return *rng.random((4, n)), rng.normal(0, OWN_BILL, n), rng.standard_gamma(2 * STEP, n) / (2 * STEP)


def failing(hazards, chance, kind):
    """Whether a unit fails in this quarter, and of what kind."""
    first, second, total = hazards[0], hazards[0] + hazards[1], sum(hazards)
    return chance < -np.expm1(-total * STEP), (kind * total > first).astype(int) + (kind * total > second)


def billed(level, cell, kind, age, life, luck, spread):
    """Quotes of failures. A part of the core's cannot be mended, of old ones most: parts are kept for 7 to 10 years
    (Regulations (EU) 2019/2019, 2019/2023), half of what France throws out runs or could; shares: judgement. [money]"""
    lost = (kind == CORE) & (luck < np.clip(0.8 * age / life, 0.2, 0.9))
    return np.where(lost, NEVER, BILLS[cell, kind] * level * np.exp(spread))


def willing(home, age, life):
    """What a household pays for a later repair at most: its own share of a new one, less for an old unit. [money]"""
    return home.price * home.upto * np.clip(1.3 - 0.6 * age / life, 0.3, 1.0)


def stock(model, owners, at_truth, rng):
    """A unit of each owner from new until it is not mended, or goes while it works: lives, which failed within three
    years, and the failures quoted for out of warranty: whose, age, kind, quote, hidden state, memory."""
    cell, life = owners.cell, LIVES[owners.cell, at_truth]
    hidden, memory, seen = model.born(rng, len(cell)), np.zeros(len(cell)), []
    lives, early, here = np.full(len(cell), SERVED), np.zeros(len(cell), bool), np.arange(len(cell))
    for age in np.arange(0, SERVED, STEP):
        chance, kinds, gone, luck, spread, wear = (each[here] for each in draws(rng, len(cell)))
        fails, kind = failing(model.hazards(cell[here], age, hidden[here], memory[here]), chance, kinds)
        failed, kind = here[fails], kind[fails]
        bill = billed(owners.level[failed], cell[failed], kind, age, life[failed], luck[fails], spread[fails])
        promised = age < WARRANTY[cell[failed]]
        asked, early[failed] = ~promised & (bill < NEVER / 100), early[failed] | (age < 3)
        who = failed[asked]
        seen.append((who, np.full(len(who), age), kind[asked], bill[asked], hidden[who], memory[who]))
        mended = promised | (bill < willing(owners[failed], age, life[failed]))
        memory[failed] = model.mended(memory[failed], kind)
        goes = gone < WORKING[cell[here]] / life[here] * STEP
        goes[fails] |= ~mended
        lives[here[goes]] = age + STEP / 2
        memory[here] = model.later(cell[here], hidden[here], memory[here], wear)
        here = here[~goes]
    return lives, early, [np.concatenate(each) for each in zip(*seen, strict=True)]


@functools.cache
def fitted(at_truth, seed, units=1000, rounds=14):
    """A truth whose stock has the published mean lives and shares of early failures."""
    truth, early, life = TRUTHS[at_truth], EARLY[:, at_truth], LIVES[:, at_truth]
    rate, core, cell = -np.log1p(-early) / 6, life * 1.3, np.repeat(np.arange(CELLS), units)
    for _ in range(rounds):
        rng = np.random.default_rng([seed, at_truth, 1])  # the same chances each time, so that it settles
        found = stock(truth(rate, core), households(truth, cell, rng), at_truth, rng)
        lives, share = (np.reshape(each, (-1, units)).mean(axis=1) for each in found[:2])
        core = core * np.clip(life / lives, 0.7, 1.5) ** 1.3
        rate = rate * np.clip(np.log1p(-early) / np.log1p(-np.clip(share, 0.005, 0.95)), 0.5, 2)
    return truth(rate, core)


def draw_jobs(at_truth, a_cell, seed, sample):
    """Failures of a stock: as many of each class and place, and otherwise as often as they come."""
    rng, truth = np.random.default_rng([seed, at_truth, sample]), TRUTHS[at_truth]
    owners = households(truth, np.repeat(np.arange(CELLS), 2 * a_cell + 200), rng)
    who, *rest = stock(fitted(at_truth, seed), owners, at_truth, rng)[2]
    some = np.concatenate([rng.choice(np.flatnonzero(owners.cell[who] == each), a_cell) for each in range(CELLS)])
    known = [owners[name][who[some]] for name in owners.dtype.names]
    names = [*owners.dtype.names, "age", "fault", "quote", "hidden", "memory"]
    return np.rec.fromarrays([*known, *(each[some] for each in rest)], names=names)


def ageing(cell, age):
    """Use of a cooling unit over that of a new one: +11 % after 2 years, +27 % after 16 (Paul et al. 2022)."""
    return np.where(COOLING[cell], 1 - 0.29 * np.expm1(-age / 4.2), 1.0)


def energy(jobs):
    """Yearly use of the old unit today and of a new one [kWh], the price [money/kWh], both with water [money/year]."""
    cell, price = jobs.cell, ENERGY[jobs.cell] * jobs.tariff
    behind = 1 / (1 + np.exp(-2 * (jobs.age[:, np.newaxis] - LAW[cell])))
    new, wet = USUAL_USE[cell] * jobs.use, (FIGURES.water.to_numpy() * WATER)[cell] * jobs.use
    old = new * np.prod(1 + OLDER[cell] * behind, axis=1) * jobs.old_use * ageing(cell, jobs.age)
    return old, new, price, old * price + wet * (1 + 0.4 * behind[:, 0]), new * price + wet


def true_limits(model, at_truth, jobs, futures, rng, batch=24_000):
    """The quote at which both acts cost the same, in the mean over the futures of each job. [money]"""
    each = max(1, batch // futures)
    starts = range(0, len(jobs), each)
    return np.concatenate([_limits(model, at_truth, jobs[at : at + each], futures, rng) for at in starts])


def _limits(model, at_truth, jobs, futures, rng):
    home = np.repeat(jobs, futures)
    n, cell, now_old, now_new = len(home), home.cell, *energy(home)[3:]
    gone = home.moves + (WORKING / LIVES[:, at_truth])[cell]  # moving, or a new one for taste: then both acts are alike
    end = np.minimum(np.minimum(rng.exponential(1, n) / gone, home.date), HORIZON)
    kept = np.array([rng.random(n) < HOLDS[home.fault], np.zeros(n, bool)])  # row 0 repairs, row 1 replaces
    hidden = np.where(kept, home.hidden, home.hidden if model.persists else model.born(rng, n))
    memory = np.where(kept, model.mended(home.memory, home.fault), 0.0)
    base = np.where(kept, now_old / ageing(cell, home.age), now_new)
    age, cost = np.where(kept, home.age, 0.0), np.where(kept, 0.0, home.price)
    total, here = np.zeros((2, n)), np.arange(n)
    for at in np.arange(0, HORIZON, STEP):
        if at % 1 == 0:
            going = end > at
            total[:, here[~going]] = cost[:, ~going]
            here, home, end, now_new = (each[going] for each in (here, home, end, now_new))
            cost, age, hidden, memory, base = (each[:, going] for each in (cost, age, hidden, memory, base))
            cell, force = np.broadcast_to(home.cell, age.shape), np.log1p(home.rate)
            life = LIVES[cell, at_truth]
        part = np.clip((end - at) / STEP, 0, 1)  # of the quarter within the need
        chance, kinds, ends, luck, spread, wear = draws(rng, len(here))
        worth = np.exp(-force * (at + STEP / 2))
        cost += worth * base * ageing(cell, age) * STEP * part
        fails, kind = failing(model.hazards(cell, age, hidden, memory), chance / np.maximum(part, 1e-9), kinds)
        bill, promised = billed(home.level, cell, kind, age, life, luck, spread), age < WARRANTY[cell]
        again = fails & (promised | (bill < willing(home, age, life)))
        good = again & (promised | (ends < HOLDS[kind]))
        bought = fails & ~good
        cost += worth * (np.where(again & ~promised, bill, 0.0) + bought * home.price * np.exp(model.price_trend * at))
        memory = np.where(good, model.mended(memory, kind), model.later(cell, hidden, memory, wear))
        age, memory = np.where(bought, 0.0, [age + STEP, memory])
        base = np.where(bought, now_new, base)
        if not model.persists:
            hidden = np.where(bought, model.born(rng, len(here)), hidden)
    total[:, here] = cost
    return np.diff(total, axis=0)[0].reshape(-1, futures).mean(axis=1)


# ---- Policies: each gives the highest quote that it would accept ----------------------------------------------------

FAULTS: Final = {  # a fault of each kind, by the names that households choose from
    "refrigerator": ("defrost", "control_board", "compressor"),
    "clothes_washer": ("drain_pump", "motor", "bearings"),
    "dishwasher": ("water_inlet", "control_board", "circulation_pump"),
    "clothes_dryer_electric": ("drying_heat", "motor", "bearings"),
    "range_electric": ("element_surface", "oven_fan", "control_board"),
    "water_heater_gas": ("gas_burner", "thermostat"),
    "room_ac": ("compressor_start", "evaporator_fan", "compressor"),
    "microwave": ("turntable", "control_board", "magnetron"),
    "water_heater_electric": ("heating_element", "thermostat"),
    "boiler_gas": ("gas_burner", "pump_heating", "heat_exchanger_leak"),
}
BARE, HALF, BEST, REPAIR, REPLACE = "Mendpoint", "half price", "best rule", "always repair", "always replace"
INFORMED, BEST_INFORMED, TRUE = "Mendpoint, informed", "best rule, informed", "clairvoyant"


def limit_of(cell, age, fault, unit=None, home=None, **bought):
    """Mendpoint's highest quote worth paying; a quote does not move it. [money]"""
    from decide.answers.answer import answer

    known = {"class": FIGURES.kind[cell], "age": age, "fault": FAULTS[FIGURES.kind[cell]][fault], **(unit or {})}
    entries = {"appliance": known, "repair": {"quote": 1}, "household": {"place": FIGURES.place[cell], **(home or {})}}
    return float(answer(entries | ({"replace": [bought]} if bought else {})).weighing.repair_limit)


bare = functools.cache(limit_of)  # from class, age in whole years, fault and place alone, each asked once


def informed(job, old, new, price):
    """The limit with the household's own price, rate, use, tariff and stay typed in. [money]"""
    figures, grade = FIGURES.iloc[job.cell], float(job.price) / USUAL[job.cell]
    home = {"rate": float(job.rate), f"{figures.fuel}_price": float(price)}
    years = min(float(job.date), 1 / max(float(job.moves), 1e-9))
    if years < HORIZON:
        home |= {"study_period": years, "residual_share": 0}
    bought = {"price": figures.price * grade, "installation": figures.work * grade, "tax_rate": 0, "delivery": 0}
    bought |= {"haul_away": 0, "appliance": {figures.fuel: float(new)}}
    return limit_of(int(job.cell), float(job.age), int(job.fault), {figures.fuel: float(old)}, home, **bought)


def facts(jobs, at_truth, more):
    """What a learned rule sees of jobs: age, fault, quote; with `more`, what their households know too."""
    share, kind, usual = jobs.age / LIVES[jobs.cell, at_truth], np.eye(3)[jobs.fault], USUAL[jobs.cell]
    seen = [*kind.T, share, share**2, kind[:, 0] * share, kind[:, 2] * share, np.log(jobs.quote / usual)]
    if more:
        grade, rate, costs = jobs.price / usual, np.log(jobs.rate), energy(jobs)
        stay = np.maximum(1 / jobs.date, jobs.moves)
        seen += [grade, grade * share, rate, rate * share, stay, np.sqrt(stay), stay * share]
        seen += [(costs[3] - costs[4]) / usual, (costs[3] - costs[4]) / usual * rate]
    return np.stack(seen, axis=1)


def learned(train, limits, jobs, at_truth, more=False):
    """Expected true limit on the same facts, by least squares for each class and place. Regret is linear, so a rule
    that knew this expectation exactly would lose least of all rules on these facts. [money]"""
    found = np.empty(len(jobs))
    for cell in range(CELLS):
        x, y = facts(train[train.cell == cell], at_truth, more), limits[train.cell == cell]
        fit = np.linalg.solve(x.T @ x + 5e-5 * len(x) * np.eye(x.shape[1]), x.T @ y)
        found[jobs.cell == cell] = facts(jobs[jobs.cell == cell], at_truth, more) @ fit
    return found


def play(at_truth, a_cell, futures, seed, every=6, package=True):
    """One truth's jobs, a row each, with the highest quote by each policy; one in `every` is asked fully informed."""
    model, rng = fitted(at_truth, seed), np.random.default_rng([seed, at_truth, 4])
    jobs, train = draw_jobs(at_truth, a_cell, seed, 2), draw_jobs(at_truth, max(200, 3 * a_cell), seed, 3)
    limits = true_limits(model, at_truth, jobs, futures, rng)
    taught = true_limits(model, at_truth, train, max(futures // 5, 10), rng)
    table = pd.DataFrame({name: jobs[name] for name in jobs.dtype.names}).assign(truth=TRUTHS[at_truth].name)
    table[TRUE], table[HALF], table[REPAIR], table[REPLACE] = limits, USUAL[jobs.cell] / 2, np.inf, -np.inf
    table[BEST] = learned(train, taught, jobs, at_truth)
    table[BEST_INFORMED] = learned(train, taught, jobs, at_truth, more=True)
    if package:
        told = zip(jobs.cell.tolist(), jobs.age.round().astype(int).tolist(), jobs.fault.tolist(), strict=True)
        table[BARE], known = [bare(*each) for each in told], np.stack(energy(jobs)[:3], axis=1)
        table[INFORMED] = np.nan
        table.loc[::every, INFORMED] = [informed(jobs[at], *known[at]) for at in range(0, len(jobs), every)]
    return table


# ---- Report ---------------------------------------------------------------------------------------------------------


def regret(table, policy):
    """What a policy's verdicts cost above the better act. [money]"""
    over = table.quote - table[TRUE]
    return over.where(table.quote <= table[policy], -over).clip(lower=0)


def right(table, policy):
    """Share of its verdicts that name the better act."""
    return ((table.quote <= table[policy]) == (table.quote <= table[TRUE])).mean()


def summary(table):
    """One line of the report."""
    lost = {policy: regret(table, policy) for policy in (BARE, HALF, BEST, REPAIR, REPLACE)}
    line = {"jobs": len(table)} | {policy: f"{each.mean():.1f}" for policy, each in lost.items()}
    for policy in (HALF, BEST):
        more = lost[BARE] - lost[policy]
        line[f"over {policy}"] = f"{more.mean():.1f} +-{more.sem():5.1f}"
    gain = (lost[REPAIR] - lost[BEST]).mean()
    line["way"] = f"{(lost[REPAIR] - lost[BARE]).mean() / gain:.0%}" if gain > 1 else "-"
    return line | {f"right: {policy}": f"{right(table, policy):.0%}" for policy in (BARE, HALF, BEST)}


def report(table):
    """Regrets by group, the fully informed, and how verdicts hold by the distance of the quote from the limit."""
    kind, place = (FIGURES[name].to_numpy()[table.cell] for name in ("kind", "place"))
    bands = pd.cut(table.age, [0, 5, 10, 15, SERVED], right=False).astype(str)
    lines = {"all": summary(table), "all without boilers": summary(table[kind != "boiler_gas"])}
    for by in (table.truth, place, "age " + bands, kind + " " + place):
        lines |= {name: summary(these) for name, these in table.groupby(by, sort=False)}
    shares = {p: f"{(regret(table, p) / table.price).mean():.2%}" for p in (BARE, HALF, BEST, REPAIR, REPLACE)}
    some, told, held = table[table[INFORMED].notna()], {}, {}
    for policy in (BARE, HALF, BEST, INFORMED, BEST_INFORMED, TRUE):
        lost, more = regret(some, policy), regret(some, policy) - regret(some, BARE)
        told[policy] = {"jobs": len(some), "regret": lost.mean(), "right": right(some, policy)}
        told[policy] |= {"over bare": more.mean(), "+-": more.sem()}
    share = (table.quote / table[BARE]).where(table[BARE] > 0, np.inf)
    for name, these in table.groupby(pd.cut(share, [0, 0.25, 0.5, 0.8, 1, 1.25, 2, 4, np.inf]), observed=True):
        held[name] = {"jobs": len(these), "right": right(these, BARE), "regret": regret(these, BARE).mean()}
        held[name] |= {f"limit/price, {p}": (these[p] / these.price).mean() for p in (BARE, TRUE)}
    parts = [pd.DataFrame.from_dict(each, orient="index").round(2).to_string() for each in (lines, told, held)]
    heads = ("Mean regret a job", "Where asked fully informed too", f"By quote over {BARE}'s limit (inf: none above 0)")
    said = [f"{head}\n{part}\n" for head, part in zip(heads, parts, strict=True)]
    return "\n".join([*said, f"Mean regret over the price of the household's own new one: {shares}"])


def main():
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    for name, usual in (("jobs", 10_800), ("seed", 1), ("futures", 200)):
        asked.add_argument(f"--{name}", type=int, default=usual)
    given, begun = asked.parse_args(), time.perf_counter()
    a_cell = max(2, given.jobs // (len(TRUTHS) * CELLS))
    table = pd.concat([play(at, a_cell, given.futures, given.seed) for at in range(len(TRUTHS))], ignore_index=True)
    print(report(table), f"\n{bare.cache_info().misses} bare answers, one for each class, place, fault and year of age")
    print(vars(given), f"{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
