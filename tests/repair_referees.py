"""Two referees that share nothing with the recursion: an explicit Markov decision problem, and plain simulation."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from quantecon.markov import DiscreteDP
from scipy.sparse import csr_matrix


@dataclass(frozen=True)
class Household:
    """A Weibull unit with its costs; a failure is seen at the end of a step in which it happens."""

    price: float = 700.0
    rho: float = 0.03
    shape: float = 2.5
    scale: float = 12.0
    running: float = 55.0
    growth: float = 1.5
    penalty: float = 60.0

    def hazard(self, age: np.ndarray) -> np.ndarray:
        return (np.asarray(age) / self.scale) ** self.shape


def explicit_problem(
    home: Household, quotes: np.ndarray, step: float, last: float, after_repair: Callable[[int], dict[int, float]]
) -> DiscreteDP:
    """States: working at the start of step 0..n (replaced at n at the latest), then failed at 1..n with each quote.

    Whoever repairs or replaces goes on in the same instant, so an action is the working state to go on from.
    """
    steps, kinds = round(last / step), quotes.size
    fails = -np.expm1(-np.diff(home.hazard(step * np.arange(steps + 1))))
    working = np.zeros((steps, steps + 1 + steps * kinds))
    for k in range(steps):
        working[k, k + 1] = 1 - fails[k]
        working[k, steps + 1 + k * kinds : steps + 1 + (k + 1) * kinds] = fails[k] / kinds
    running = step * (home.running + home.growth * step * (np.arange(steps) + 0.5))
    states, actions, costs, goes_on = [], [], [], []

    def may(state: int, action: int, cost: float, mix: dict[int, float]) -> None:
        states.append(state)
        actions.append(action)
        costs.append(cost + sum(weight * running[k] for k, weight in mix.items()))
        goes_on.append(mix)

    for k in range(steps + 1):
        if k < steps:
            may(k, 0, 0.0, {k: 1.0})
        may(k, 1, home.price, {0: 1.0})
    for k in range(1, steps + 1):
        mended = after_repair(k)
        for j, quote in enumerate(quotes):
            state = steps + 1 + (k - 1) * kinds + j
            if max(mended) < steps:
                may(state, 0, home.penalty + quote, mended)
            may(state, 1, home.penalty + home.price, {0: 1.0})
    rows = [row for row, mix in enumerate(goes_on) for _ in mix]
    columns = [k for mix in goes_on for k in mix]
    weights = [weight for mix in goes_on for weight in mix.values()]
    chosen = csr_matrix((weights, (rows, columns)), shape=(len(goes_on), steps))
    moves = chosen @ csr_matrix(working)
    return DiscreteDP(-np.array(costs), moves, np.exp(-home.rho * step), np.array(states), np.array(actions))


def cost_and_limits(
    problem: DiscreteDP, home: Household, steps: int, after_repair: Callable[[int], dict[int, float]]
) -> tuple[float, np.ndarray]:
    """Present cost of being about to buy, and the repair limit at the end of each step, by quantecon."""
    value = -problem.solve(method="policy_iteration").v[: steps + 1]
    about_to_buy = home.price + value[0]
    worth = np.append(about_to_buy - value[:steps], 0.0)
    return about_to_buy, np.array([sum(w * worth[i] for i, w in after_repair(k).items()) for k in range(steps + 1)])


def expected_counts(
    shape: float, times: np.ndarray, virtual_age: Callable[[np.ndarray, np.ndarray], np.ndarray], paths: int, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """Mean number of failures by each time and its standard error; scale 1.

    `virtual_age` gives the age after a repair from the virtual age at the failure and the calendar age.
    """
    draw = np.random.default_rng(seed)
    counts, clock, age = np.zeros((times.size, paths)), np.zeros(paths), np.zeros(paths)
    alive = np.arange(paths)
    while alive.size:
        failure = (age**shape + draw.exponential(size=alive.size)) ** (1 / shape)
        clock = clock + failure - age
        counts[:, alive] += clock <= times[:, np.newaxis]
        on = clock <= times[-1]
        alive, clock, age = alive[on], clock[on], virtual_age(failure, clock)[on]
    return counts.mean(axis=1), counts.std(axis=1) / np.sqrt(paths)


def simulated_cost(
    home: Household, mean_quote: float, age_kept: float, limit: Callable[[np.ndarray], np.ndarray], planned: float,
    cycles: int, seed: int,
) -> tuple[float, float]:  # fmt: skip
    """Present cost of being about to buy, and its standard error, when a policy is lived through."""
    draw = np.random.default_rng(seed)
    spent, ends = np.zeros(cycles), np.zeros(cycles)
    alive, clock, age = np.arange(cycles), np.zeros(cycles), np.zeros(cycles)
    while alive.size:
        failure = home.scale * (home.hazard(age) + draw.exponential(size=alive.size)) ** (1 / home.shape)
        until = np.minimum(failure, planned)
        served, now = until - age, np.exp(-home.rho * clock)
        level = -np.expm1(-home.rho * served) / home.rho
        rising = (level - served * np.exp(-home.rho * served)) / home.rho
        spent[alive] += now * ((home.running + home.growth * age) * level + home.growth * rising)
        clock = clock + served
        failed, quote = failure < planned, draw.exponential(mean_quote, size=alive.size)
        mended = failed & (quote <= limit(until))
        spent[alive] += np.exp(-home.rho * clock) * (failed * home.penalty + mended * quote)
        ends[alive[~mended]] = np.exp(-home.rho * clock[~mended])
        alive, clock, age = alive[mended], clock[mended], age_kept * until[mended]
    cost = (home.price + spent.mean()) / (1 - ends.mean())
    return cost, float(np.std(spent + cost * ends) / np.sqrt(cycles) / (1 - ends.mean()))
