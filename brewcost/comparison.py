"""Which tank, beer or package loses more than the others beyond chance: the statistics, on plain arrays.

One additive model a stage. What a job lost beyond its allowance is the sum of an effect of each tank it touches (barrels a
job) and of its beer (a share of its volume), so that tanks that were always filled from one another are told apart as far as
the records can tell. Least squares weighted by the reading error of each job, its scale taken from the jobs' own scatter:
each level against the mean of the others is then Student's t (Draper & Smith, Applied Regression Analysis, 3rd ed. 1998,
ch. 9 and 23). All levels of all stages are one family, tested step by step from the most marked one, Holm (Scand. J.
Statist. 6, 1979, 65-70): the chance of any false alarm is at most ALARM_RATE. The shown effects are shrunken to one another
by the normal hierarchical model with a flat prior on their spread (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, 5.4
and 5.5), with the central 95 % of the posterior.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

ALARM_RATE = 0.05
INTERVAL = 0.95
FEWEST_JOBS = 3  # of a level, before it is judged
FINEST = 0.1  # no reading is better than a tenth of its tolerance, however well a few happen to agree
GRID = 120  # values of the spread between levels
STEPS = 60  # at most, to an end of an interval
CLOSE = 1e-12  # of a share of the posterior: the end is found
Array = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True)
class Factor:
    """What jobs are compared by.

    Attributes:
        name: such as `from tank`.
        levels: each job's level, 0 or more, -1 where it has none; length n.
        size: how much of the effect a job bears: 1 or 0 a job (barrels), or its volume (share of volume); length n.
        group: each level's group; only levels of one group are compared with one another. None: all are.
        centred: its effects add up to nothing, so that the general level is the other factors'. Without it a general loss
            by volume and one by the job would be told apart by chance differences in volume.
    """

    name: str
    levels: Places
    size: Array
    group: Places | None = None
    centred: bool = True


@dataclass(frozen=True)
class Jobs:
    """The jobs of a stage, n of them.

    Attributes:
        factors: what they are compared by.
        excess: loss beyond the allowance, barrels; length n.
        error: reading error of each, barrels, above 0; length n.
    """

    factors: Sequence[Factor]
    excess: Array
    error: Array


@dataclass
class Effect:
    """One level of one factor: what it loses a job (or of its volume) more than the others, and whether that is chance."""

    factor: str
    level: int
    jobs: int
    freedom: int
    raw: float = 0.0  # against the mean of the others
    error: float = 0.0  # standard error of raw
    p_value: float = 1.0
    shrunken: float = 0.0
    low: float = 0.0
    high: float = 0.0
    found: bool = False


@dataclass
class Fit:
    """A fitted stage: coefficients, their covariance, and which combinations the jobs can tell."""

    factor: Places  # the number of each column's factor
    level: Places  # and its level
    jobs: Places  # that bear its effect
    beta: Array
    covariance: Array
    estimable: Array
    freedom: int


def fit(jobs: Jobs) -> Fit | None:
    """Weighted least squares of the jobs' excess losses; None where fewer than three degrees of freedom are left, for then the
    scatter is not known."""
    counts = [np.bincount(factor.levels[factor.levels >= 0]) for factor in jobs.factors]
    seen = [np.flatnonzero(count) for count in counts]
    width, n = sum(len(levels) for levels in seen), len(jobs.excess)
    if not width:
        return None
    whole, begin = np.zeros((n, width)), 0
    borne: Places = np.zeros(width, np.int64)
    for factor, levels in zip(jobs.factors, seen, strict=True):
        part = whole[:, begin : begin + len(levels)]
        has = np.flatnonzero(factor.levels >= 0)
        part[has, np.searchsorted(levels, factor.levels[has])] = factor.size[has]
        borne[begin : begin + len(levels)] = np.count_nonzero(part, axis=0)
        if factor.centred and len(levels):
            part -= part.mean(axis=1, keepdims=True)
        begin += len(levels)
    weighted = whole / jobs.error[:, None]
    values, vectors = np.linalg.eigh(weighted.T @ weighted)
    told = values > 1e-10 * values.max()  # the others are nought: what the jobs cannot tell
    values, vectors = values[told], vectors[:, told]
    freedom = n - len(values)
    if freedom < 3:
        return None
    inverse: Array = (vectors / values) @ vectors.T
    target = jobs.excess / jobs.error
    beta = inverse @ (weighted.T @ target)
    scale = max(float(np.sum((target - weighted @ beta) ** 2)) / freedom, FINEST**2)
    number = np.repeat(np.arange(len(seen)), [len(levels) for levels in seen])
    return Fit(number, np.concatenate(seen), borne, beta, scale * inverse, vectors @ vectors.T, freedom)


@dataclass(frozen=True)
class _Group:
    """The levels of one factor of a fitted stage whose differences the jobs can tell, k of them."""

    beta: Array
    covariance: Array
    freedom: int
    effects: list[Effect]


def effects(stages: Sequence[Jobs], intervals: bool = True) -> list[list[Effect]]:
    """Of each stage, every level that can be compared: tested (not yet judged) and, with `intervals`, shrunken.

    Groups of as many levels are worked out together: many small ones take little longer than one.
    """
    groups = [_groups(jobs) for jobs in stages]
    by_size: dict[int, list[_Group]] = {}
    for group in chain.from_iterable(groups):
        by_size.setdefault(len(group.effects), []).append(group)
    for alike in by_size.values():
        _work_out(alike, intervals)
    return [[effect for group in of_stage for effect in group.effects] for of_stage in groups]


def _groups(jobs: Jobs) -> list[_Group]:
    found = fit(jobs)
    if found is None:
        return []
    made = []
    for number, factor in enumerate(jobs.factors):
        judged = np.flatnonzero((found.factor == number) & (found.jobs >= FEWEST_JOBS))
        group = np.zeros(len(judged)) if factor.group is None else factor.group[found.level[judged]]
        for one in np.unique(group):
            places = _comparable(found, judged[group == one])
            if len(places) < 2:
                continue
            levels = zip(found.level[places].tolist(), found.jobs[places].tolist(), strict=True)
            made.append(_Group(
                found.beta[places], found.covariance[np.ix_(places, places)], found.freedom,
                [Effect(factor.name, level, jobs, found.freedom) for level, jobs in levels],
            ))  # fmt: skip
    return made


def _work_out(groups: Sequence[_Group], intervals: bool) -> None:
    """Test, and with `intervals` shrink, the levels of groups of one size."""
    beta = np.stack([group.beta for group in groups])
    covariance = np.stack([group.covariance for group in groups])
    freedom = np.array([group.freedom for group in groups])
    table = [*_against(beta, covariance, freedom), *(shrink(beta, covariance, freedom) if intervals else ())]
    for group, *columns in zip(groups, *(column.tolist() for column in table), strict=True):
        for effect, raw, error, p_value, *shrunken in zip(group.effects, *columns, strict=True):
            effect.raw, effect.error, effect.p_value = raw, error, p_value
            if shrunken:
                effect.shrunken, effect.low, effect.high = shrunken


def against_allowance(volume: Array, excess: Array) -> tuple[float, float, float, float] | None:
    """A stage's loss beyond its allowance, as a share of its volume: estimate, standard error, p value, half its interval.

    The ratio of two totals, its error from the jobs' own scatter around it (Cochran, Sampling Techniques, 3rd ed. 1977, 2.11),
    Student's t for few jobs. None for fewer than FEWEST_JOBS.
    """
    from scipy import special

    jobs, whole = len(volume), float(volume.sum())
    if jobs < FEWEST_JOBS:
        return None
    share = float(excess.sum()) / whole
    error = float(np.sqrt(jobs / (jobs - 1) * np.sum((excess - share * volume) ** 2))) / whole
    p_value = float(2 * special.stdtr(jobs - 1, -abs(share) / max(error, 1e-12)))
    return share, error, p_value, error * float(special.stdtrit(jobs - 1, 0.5 + INTERVAL / 2))


def judge(family: Sequence[Effect], rate: float = ALARM_RATE) -> None:
    """Mark those of a family that differ beyond chance, by Holm's steps; the chance of any false mark is at most `rate`."""
    for step, effect in enumerate(sorted(family, key=lambda effect: effect.p_value)):
        if effect.p_value > rate / (len(family) - step):
            return
        effect.found = True


def shrink(beta: Array, covariance: Array, freedom: Places) -> tuple[Array, Array, Array]:
    """Levels of a factor drawn to their mean: posterior mean and ends of the central interval of each, against the mean of all.

    Args:
        beta: of g groups, the estimates of their k levels, the common level of each arbitrary; g by k.
        covariance: g by k by k.
        freedom: degrees of freedom of the scale in it; length g.

    Returns:
        each g by k.
    """
    from scipy import special

    contrasts = _orthonormal_contrasts(beta.shape[1])
    spread, turn = np.linalg.eigh(contrasts @ covariance @ contrasts.T)
    spread = np.maximum(spread, 1e-12)
    seen = (beta[:, None] @ contrasts.T @ turn)[:, 0]
    back = contrasts.T @ turn
    # The spread tau between levels, flat prior: a grid as fine as the finest level is known, up to 4 times the largest
    # difference, which is beyond what the data allow. By equal ratios, so each point stands for as much of tau as it is large.
    widest = 4 * np.maximum(np.abs(seen).max(axis=1), np.sqrt(spread.max(axis=1)))
    tau2 = np.geomspace(0.01 * np.sqrt(spread.min(axis=1)), widest, GRID, axis=1)[:, :, None] ** 2
    whole, part = tau2 + spread[:, None], tau2 * spread[:, None]
    log_weight = 0.5 * np.log(tau2[:, :, 0]) - 0.5 * np.sum(np.log(whole) + seen[:, None] ** 2 / whole, axis=2)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight[:, [0, -1]] /= 2
    weight[weight < CLOSE] = 0
    weight /= weight.sum(axis=1, keepdims=True)
    means = (tau2 / whole * seen[:, None]) @ back.transpose(0, 2, 1)
    deviations = np.sqrt((part / whole) @ (back**2).transpose(0, 2, 1))
    # The scale is estimated: wider as Student's t is wider than the normal.
    tail = 0.5 + INTERVAL / 2
    deviations *= (special.stdtrit(freedom, tail) / special.ndtri(tail))[:, None, None]
    low, high = (_end(weight, means, deviations, share) for share in (1 - tail, tail))
    return _mixed(weight, means), low, high


def _mixed(weight: Array, values: Array) -> Array:
    """The mean of each level over the points of the grid: g by points and g by points by k to g by k."""
    return np.asarray((weight[:, None] @ values)[:, 0], dtype=np.float64)


def _end(weight: Array, means: Array, deviations: Array, share: float) -> Array:
    """Where a share of each level's mixture of normals lies below: Newton's steps, halved where they leave the bracket."""
    from scipy import special

    low, high = (means - 8 * deviations).min(axis=1), (means + 8 * deviations).max(axis=1)
    middle = _mixed(weight, means)
    end: Array = middle + special.ndtri(share) * np.sqrt(_mixed(weight, deviations**2 + (means - middle[:, None]) ** 2))
    left = np.arange(len(end))  # the groups whose ends are not found
    for _ in range(STEPS):
        away = (end[left, None] - means) / deviations
        over = _mixed(weight, special.ndtr(away)) - share
        slope = _mixed(weight, np.exp(-0.5 * away**2) / deviations) / np.sqrt(2 * np.pi)
        now, below, above = end[left], np.where(over < 0, end[left], low[left]), np.where(over < 0, high[left], end[left])
        step = now - over / np.maximum(slope, 1e-300)
        low[left], high[left] = below, above
        inside = (step >= below) & (step <= above)
        end[left] = np.where(inside, step, (below + above) / 2)
        # Newton's error goes down by its square, so his step from so near is the last that counts.
        on = (np.abs(over) > np.where(inside, np.sqrt(CLOSE), CLOSE)).any(axis=1)
        left, weight, means, deviations = left[on], weight[on], means[on], deviations[on]
        if not len(left):
            break
    return end


def _comparable(found: Fit, places: Places) -> Places:
    """The largest set of levels whose differences the jobs can tell: tanks never linked by any job cannot be compared."""
    if not len(places):
        return places
    beyond = found.estimable[places] - np.eye(len(found.beta))[places]
    told = np.abs(beyond[:, None] - beyond[None]).max(axis=2) < 1e-6
    most: Places = places[told[told.sum(axis=1).argmax()]]
    return most


def _against(beta: Array, covariance: Array, freedom: Places) -> tuple[Array, Array, Array]:
    """Each level against the mean of the others: difference, standard error, p value; shapes as in `shrink`."""
    from scipy import special

    k = beta.shape[1]
    contrasts = (np.eye(k) * k - 1) / (k - 1)
    difference = (beta[:, None] @ contrasts.T)[:, 0]
    error = np.sqrt(np.maximum(np.sum((contrasts @ covariance) * contrasts, axis=2), 0.0))
    return difference, error, 2 * special.stdtr(freedom[:, None], -np.abs(difference) / np.maximum(error, 1e-12))


@cache
def _orthonormal_contrasts(k: int) -> Array:
    """k - 1 rows, orthonormal and each orthogonal to the mean."""
    basis: Any = np.linalg.svd(np.eye(k) - 1 / k)[0]
    return np.asarray(basis.T[: k - 1], dtype=np.float64)
