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
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

ALARM_RATE = 0.05
INTERVAL = 0.95
FEWEST_JOBS = 3  # of a level, before it is judged
FINEST = 0.1  # no reading is better than a tenth of its tolerance, however well a few happen to agree
HALVINGS = 24  # of sixteen standard deviations: an end of an interval to a millionth of one
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Factor:
    """What jobs are compared by.

    Attributes:
        name: such as `from tank`.
        levels: each job's level, None where it has none; length n.
        size: how much of the effect a job bears: 1 or 0 a job (barrels), or its volume (share of volume); length n.
        group: the level's group; only levels of one group are compared with one another. Empty: all are.
        centred: its effects add up to nothing, so that the general level is the other factors'. Without it a general loss
            by volume and one by the job would be told apart by chance differences in volume.
    """

    name: str
    levels: Sequence[str | None]
    size: Array
    group: dict[str, str] = field(default_factory=dict)
    centred: bool = True


@dataclass
class Effect:
    """One level of one factor: what it loses a job (or of its volume) more than the others, and whether that is chance."""

    factor: str
    level: str
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

    columns: list[tuple[int, str]]  # factor number, level
    jobs: list[int]  # that bear each column's effect
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
    columns: list[tuple[int, str]] = []
    jobs: list[int] = []
    parts: list[Array] = []
    for number, factor in enumerate(factors):
        levels = sorted({name for name in factor.levels if name is not None})
        here = (np.array([name or "" for name in factor.levels])[:, None] == np.array(levels or [" "])) * factor.size[:, None]
        columns += [(number, level) for level in levels]
        jobs += [int(count) for count in np.count_nonzero(here, axis=0)]
        parts.append(here - here.mean(axis=1, keepdims=True) if factor.centred and levels else here)
    if not columns:
        return None
    weighted = np.column_stack(parts) / error[:, None]
    squares = weighted.T @ weighted
    inverse: Array = np.asarray(np.linalg.pinv(squares, rcond=1e-10, hermitian=True), dtype=np.float64)
    estimable = inverse @ squares  # the projection onto what the jobs can tell; its trace is the rank
    freedom = len(excess) - round(float(np.trace(estimable)))
    if freedom < 3:
        return None
    target = excess / error
    beta = inverse @ (weighted.T @ target)
    scale = max(float(np.sum((target - weighted @ beta) ** 2)) / freedom, FINEST**2)
    return Fit(columns, jobs, beta, scale * inverse, estimable, freedom)


def effects(factors: Sequence[Factor], excess: Array, error: Array, intervals: bool = True) -> list[Effect]:
    """Every level that can be compared, tested (not yet judged) and, with `intervals`, shrunken; else as `fit`."""
    found = fit(factors, excess, error)
    if found is None:
        return []
    made: list[Effect] = []
    for number, factor in enumerate(factors):
        for group in sorted({factor.group.get(level, "") for n, level in found.columns if n == number}):
            places = [
                i for i, (n, level) in enumerate(found.columns)
                if n == number and factor.group.get(level, "") == group and found.jobs[i] >= FEWEST_JOBS
            ]  # fmt: skip
            places = _comparable(found, places)
            if len(places) < 2:
                continue
            shrunken = [(0.0, 0.0, 0.0)] * len(places)
            if intervals:
                shrunken = shrink(found.beta[places], found.covariance[np.ix_(places, places)], found.freedom)
            for place, (middle, low, high) in zip(places, shrunken, strict=True):
                level = found.columns[place][1]
                raw, standard_error, p_value = _against(found, place, [other for other in places if other != place])
                made.append(Effect(factor.name, level, found.jobs[place], raw, standard_error, found.freedom,
                                   p_value, middle, low, high))  # fmt: skip
    return made


def judge(family: Sequence[Effect], rate: float = ALARM_RATE) -> None:
    """Mark those of a family that differ beyond chance, by Holm's steps; the chance of any false mark is at most `rate`."""
    for step, effect in enumerate(sorted(family, key=lambda effect: effect.p_value)):
        if effect.p_value > rate / (len(family) - step):
            return
        effect.found = True


def shrink(beta: Array, covariance: Array, freedom: int) -> list[tuple[float, float, float]]:
    """Levels of a factor drawn to their mean: posterior mean and central interval of each, against the mean of all.

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
    # The spread tau between levels on a grid, flat prior; 4 times the largest difference is beyond what the data allow.
    tau2 = np.linspace(1e-6, 4 * max(float(np.max(np.abs(seen))), float(np.sqrt(spread.max()))), 120)[:, None] ** 2
    log_weight = -0.5 * np.sum(np.log(tau2 + spread) + seen**2 / (tau2 + spread), axis=1)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    means = (tau2 / (tau2 + spread) * seen) @ back.T
    deviations = np.sqrt((tau2 * spread / (tau2 + spread)) @ (back**2).T)
    # The scale is estimated: wider as Student's t is wider than the normal.
    deviations *= special.stdtrit(freedom, 0.5 + INTERVAL / 2) / special.ndtri(0.5 + INTERVAL / 2)
    middle = weight @ means
    ends = []
    for share in (0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2):
        low, high = (means - 8 * deviations).min(axis=0), (means + 8 * deviations).max(axis=0)
        for _ in range(HALVINGS):
            half = (low + high) / 2
            below = weight @ special.ndtr((half - means) / np.maximum(deviations, 1e-12)) < share
            low, high = np.where(below, half, low), np.where(below, high, half)
        ends.append((low + high) / 2)
    return [(float(middle[i]), float(ends[0][i]), float(ends[1][i])) for i in range(k)]


def _comparable(found: Fit, places: list[int]) -> list[int]:
    """The largest set of levels whose differences the jobs can tell: tanks never linked by any job cannot be compared."""
    best: list[int] = []
    for first in places:
        linked = [other for other in places if other == first or _told(found, _difference(found, other, [first]))]
        if len(linked) > len(best):
            best = linked
    return best


def _difference(found: Fit, place: int, others: Sequence[int]) -> Array:
    contrast: Array = np.zeros(len(found.beta))
    contrast[place] = 1.0
    contrast[list(others)] = -1 / len(others)
    return contrast


def _told(found: Fit, contrast: Array) -> bool:
    return bool(np.abs(contrast @ found.estimable - contrast).max() < 1e-6)


def _against(found: Fit, place: int, others: Sequence[int]) -> tuple[float, float, float]:
    from scipy import special

    contrast = _difference(found, place, others)
    difference = float(contrast @ found.beta)
    error = max(float(contrast @ found.covariance @ contrast), 0.0) ** 0.5
    return difference, error, float(2 * special.stdtr(found.freedom, -abs(difference) / max(error, 1e-12)))


def _orthonormal_contrasts(k: int) -> Array:
    """k - 1 rows, orthonormal and each orthogonal to the mean."""
    basis: Any = np.linalg.svd(np.eye(k) - 1 / k)[0]
    return np.asarray(basis.T[: k - 1], dtype=np.float64)
