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


@dataclass
class Effect:
    """One level of one factor: what it loses a job (or of its volume) more than the others, and whether that is chance."""

    factor: str
    level: int
    jobs: int
    raw: float  # against the mean of the others
    error: float  # standard error of raw
    freedom: int
    p_value: float
    shrunken: float
    low: float
    high: float
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


def fit(factors: Sequence[Factor], excess: Array, error: Array) -> Fit | None:
    """Weighted least squares of the jobs' excess losses.

    Args:
        factors: as above, each of n jobs.
        excess: loss beyond the allowance, barrels; length n.
        error: reading error of each, barrels, above 0; length n.

    Returns:
        None where fewer than three degrees of freedom are left, for then the scatter is not known.
    """
    seen = [np.unique(factor.levels[factor.levels >= 0]) for factor in factors]
    count = sum(len(levels) for levels in seen)
    if not count:
        return None
    whole, begin = np.zeros((len(excess), count)), 0
    jobs: Places = np.zeros(count, np.int64)
    for factor, levels in zip(factors, seen, strict=True):
        part = whole[:, begin : begin + len(levels)]
        has = np.flatnonzero(factor.levels >= 0)
        part[has, np.searchsorted(levels, factor.levels[has])] = factor.size[has]
        jobs[begin : begin + len(levels)] = np.count_nonzero(part, axis=0)
        if factor.centred and len(levels):
            part -= part.mean(axis=1, keepdims=True)
        begin += len(levels)
    weighted = whole / error[:, None]
    squares = weighted.T @ weighted
    inverse: Array = np.asarray(np.linalg.pinv(squares, rcond=1e-10, hermitian=True), dtype=np.float64)
    estimable = inverse @ squares  # the projection onto what the jobs can tell; its trace is the rank
    freedom = len(excess) - round(float(np.trace(estimable)))
    if freedom < 3:
        return None
    target = excess / error
    beta = inverse @ (weighted.T @ target)
    scale = max(float(np.sum((target - weighted @ beta) ** 2)) / freedom, FINEST**2)
    number = np.repeat(np.arange(len(factors)), [len(levels) for levels in seen])
    return Fit(number, np.concatenate(seen), jobs, beta, scale * inverse, estimable, freedom)


def effects(factors: Sequence[Factor], excess: Array, error: Array, intervals: bool = True) -> list[Effect]:
    """Every level that can be compared, tested (not yet judged) and, with `intervals`, shrunken; else as `fit`."""
    found = fit(factors, excess, error)
    if found is None:
        return []
    made: list[Effect] = []
    for number, factor in enumerate(factors):
        judged = np.flatnonzero((found.factor == number) & (found.jobs >= FEWEST_JOBS))
        group = np.zeros(len(judged)) if factor.group is None else factor.group[found.level[judged]]
        for one in np.unique(group):
            places = _comparable(found, judged[group == one])
            if len(places) < 2:
                continue
            shrunken = np.zeros((3, len(places)))
            if intervals:
                shrunken = shrink(found.beta[places], found.covariance[np.ix_(places, places)], found.freedom)
            table = [found.level[places], found.jobs[places], *_against(found, places), *shrunken]
            for level, jobs, raw, wide, p_value, middle, low, high in zip(*(column.tolist() for column in table), strict=True):
                made.append(Effect(factor.name, level, jobs, raw, wide, found.freedom, p_value, middle, low, high))
    return made


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


def shrink(beta: Array, covariance: Array, freedom: int) -> Array:
    """Levels of a factor drawn to their mean: posterior mean and central interval of each, against the mean of all; three rows.

    Args:
        beta: estimates of the k levels, their common level arbitrary.
        covariance: k by k.
        freedom: degrees of freedom of the scale in it.
    """
    from scipy import special

    k = len(beta)
    contrasts = _orthonormal_contrasts(k)
    spread, turn = np.linalg.eigh(contrasts @ covariance @ contrasts.T)
    spread = np.maximum(spread, 1e-12)
    seen = turn.T @ (contrasts @ beta)
    back = contrasts.T @ turn
    # The spread tau between levels, flat prior: a grid as fine as the finest level is known, up to 4 times the largest
    # difference, which is beyond what the data allow. By equal ratios, so each point stands for as much of tau as it is large.
    widest = 4 * max(float(np.max(np.abs(seen))), float(np.sqrt(spread.max())))
    tau2 = np.geomspace(0.01 * float(np.sqrt(spread.min())), widest, GRID)[:, None] ** 2
    log_weight = 0.5 * np.log(tau2[:, 0]) - 0.5 * np.sum(np.log(tau2 + spread) + seen**2 / (tau2 + spread), axis=1)
    weight = np.exp(log_weight - log_weight.max())
    weight[[0, -1]] /= 2
    tau2, weight = tau2[weight > CLOSE], weight[weight > CLOSE]
    weight /= weight.sum()
    means = (tau2 / (tau2 + spread) * seen) @ back.T
    deviations = np.sqrt((tau2 * spread / (tau2 + spread)) @ (back**2).T)
    # The scale is estimated: wider as Student's t is wider than the normal.
    deviations *= special.stdtrit(freedom, 0.5 + INTERVAL / 2) / special.ndtri(0.5 + INTERVAL / 2)
    ends = [_end(weight, means, deviations, share) for share in (0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2)]
    return np.stack([weight @ means, *ends])


def _end(weight: Array, means: Array, deviations: Array, share: float) -> Array:
    """Where a share of each level's mixture of normals lies below: Newton's steps, halved where they leave the bracket."""
    from scipy import special

    low, high = (means - 8 * deviations).min(axis=0), (means + 8 * deviations).max(axis=0)
    middle = weight @ means
    end = middle + special.ndtri(share) * np.sqrt(weight @ (deviations**2 + (means - middle) ** 2))
    for _ in range(STEPS):
        away = (end - means) / deviations
        over = weight @ special.ndtr(away) - share
        if np.abs(over).max() < CLOSE:
            break
        low, high = np.where(over < 0, end, low), np.where(over < 0, high, end)
        slope = weight @ (np.exp(-0.5 * away**2) / deviations) / np.sqrt(2 * np.pi)
        step = end - over / np.maximum(slope, 1e-300)
        end = np.where((step >= low) & (step <= high), step, (low + high) / 2)
    return np.asarray(end, dtype=np.float64)


def _comparable(found: Fit, places: Places) -> Places:
    """The largest set of levels whose differences the jobs can tell: tanks never linked by any job cannot be compared."""
    if not len(places):
        return places
    beyond = found.estimable[places] - np.eye(len(found.beta))[places]
    told = np.abs(beyond[:, None] - beyond[None]).max(axis=2) < 1e-6
    most: Places = places[told[told.sum(axis=1).argmax()]]
    return most


def _against(found: Fit, places: Places) -> tuple[Array, Array, Array]:
    """Each level against the mean of the others: difference, standard error, p value."""
    from scipy import special

    k = len(places)
    contrasts = (np.eye(k) * k - 1) / (k - 1)
    difference = contrasts @ found.beta[places]
    covariance = found.covariance[np.ix_(places, places)]
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", contrasts, covariance, contrasts), 0.0))
    return difference, error, 2 * special.stdtr(found.freedom, -np.abs(difference) / np.maximum(error, 1e-12))


def _orthonormal_contrasts(k: int) -> Array:
    """k - 1 rows, orthonormal and each orthogonal to the mean."""
    basis: Any = np.linalg.svd(np.eye(k) - 1 / k)[0]
    return np.asarray(basis.T[: k - 1], dtype=np.float64)
