"""Chains of readings put right, against known truth: the size and the power of both tests, and general solvers.

Every count is held to its own sampling error (three standard deviations of a binomial count), every run is seeded.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize, special, stats

from brewcost import reconciliation
from brewcost.reconciliation import ALARM_RATE, Reconciled, reconcile

Array = NDArray[np.float64]

# Kettle, fermenter lot, move, bright tank lot, two runs: what is read, and after it the usual loss of each balance.
KETTLE, INTO, OUT, IN, DRAWN_1, PACKAGES_1, DRAWN_2, PACKAGES_2 = range(8)
BALANCES = np.array([
    [1, -1, 0, 0, 0, 0, 0, 0],
    [0, 1, -1, 0, 0, 0, 0, 0],
    [0, 0, 1, -1, 0, 0, 0, 0],
    [0, 0, 0, 1, -1, 0, -1, 0],
    [0, 0, 0, 0, 1, -1, 0, 0],
    [0, 0, 0, 0, 0, 0, 1, -1],
], dtype=float)  # fmt: skip
MATRIX = np.hstack([BALANCES, -np.eye(6)])
LOSSES = np.array([0.9, 0.8, 0.3, 0.4, 0.2, 0.2])
TOLERANCE = np.append([0.3, 0.2, 0.2, 0.15, 0.15, 0, 0.15, 0], np.full(6, 0.05))
TESTABLE = np.arange(14) < 8
LOT = np.array([1, 1, 1, 2, 2, 2, 2, 2, 0, 0, 0, 0, 0, 0])


def allowed_error(share: float, runs: int) -> float:
    return 3 * float(np.sqrt(share * (1 - share) / runs))


def read(chance: np.random.Generator, copies: int, faults: dict[int, float] | None = None) -> Array:
    """The readings of so many chains, their losses as usual, each reading off by its tolerance and by its fault."""
    true = LOSSES + chance.normal(0, 0.05, (copies, 6))
    kettle = 21.0
    into = kettle - true[:, 0]
    out = into - true[:, 1]
    bright = out - true[:, 2]
    first = 0.6 * (bright - true[:, 3])
    second = bright - true[:, 3] - first
    start = np.full(copies, kettle)
    volume = np.column_stack([start, into, out, bright, first, first - true[:, 4], second, second - true[:, 5]])
    volume = volume + chance.normal(0, 1, volume.shape) * TOLERANCE[:8]
    for reading, size in (faults or {}).items():
        volume[:, reading] += size
    return np.hstack([volume, np.broadcast_to(LOSSES, (copies, 6))])


def put_right(volume: Array, matrix: Array = MATRIX) -> Reconciled:
    """Reconcile so many chains at once; the outcome's arrays are as long as the chains times their readings."""
    copies, n = volume.shape
    balance, reading = np.nonzero(matrix)
    each = np.arange(copies)[:, None]
    return reconcile(
        (each * len(matrix) + balance).ravel(), (each * n + reading).ravel(), np.tile(matrix[balance, reading], copies),
        volume.ravel(), np.tile(TOLERANCE, copies), np.tile(TESTABLE, copies), (each * 3 + LOT).ravel(),
    )  # fmt: skip


def blamed(found: Reconciled, copies: int) -> NDArray[np.bool_]:
    return found.blamed.reshape(copies, -1) == 1


def test_a_reconciled_chain_closes_every_balance_and_leaves_counted_packages_alone() -> None:
    volume = read(np.random.default_rng(60), 50)
    found = put_right(volume)
    right = found.volume.reshape(50, -1)
    assert np.allclose(right @ MATRIX.T, 0, atol=1e-9)
    assert np.array_equal(right[:, [PACKAGES_1, PACKAGES_2]], volume[:, [PACKAGES_1, PACKAGES_2]])
    assert np.all(found.error.reshape(50, -1)[:, :PACKAGES_1] < TOLERANCE[:PACKAGES_1] + 1e-12)


def test_reconciled_readings_are_those_of_least_squares_by_a_general_solver() -> None:
    # Outside reference: scipy.optimize, minimising the weighted adjustments under the balances.
    [volume] = read(np.random.default_rng(57), 1)
    free = TOLERANCE > 0

    def whole(part: Array) -> Array:
        filled = volume.copy()
        filled[free] = part
        return filled

    best = optimize.minimize(
        lambda part: float(np.sum(((part - volume[free]) / TOLERANCE[free]) ** 2)), volume[free], method="SLSQP",
        constraints={"type": "eq", "fun": lambda part: MATRIX @ whole(part)}, options={"ftol": 1e-12, "maxiter": 500},
    )  # fmt: skip
    found = put_right(volume[None])
    assert np.allclose(found.volume[free], best.x, atol=1e-4)
    assert found.misfit[0] == pytest.approx(best.fun, rel=1e-5)  # the global test's chi-square is the least sum of squares


def test_the_global_test_alarms_as_often_as_it_says() -> None:
    runs = 4000
    found = put_right(read(np.random.default_rng(61), runs))
    p_value = special.chdtrc(found.balances, found.misfit)
    print()
    for rate in (0.01, 0.05, 0.5):
        share = float(np.mean(p_value < rate))
        print(f"global test at {rate:.2f}: {share:.4f} of {runs} chains without a mistake")
        assert abs(share - rate) <= allowed_error(rate, runs)


def test_one_lot_in_a_hundred_without_a_mistake_has_a_reading_blamed() -> None:
    runs = 4000
    alarms = int(blamed(put_right(read(np.random.default_rng(58), runs)), runs).any(axis=1).sum())
    print(f"\nchains of two lots blamed without a mistake: {alarms} of {runs}")
    most = 1 - (1 - ALARM_RATE) ** 2  # two lots a chain; Sidak is an upper bound, for the adjustments hang together
    assert 0.3 * most <= alarms / runs <= most + allowed_error(most, runs)


def test_the_power_of_both_tests_is_that_of_theory() -> None:
    """A reading off by one to eight tolerances; theory: normal for its adjustment, noncentral chi-square for the chain."""
    chance, runs = np.random.default_rng(62), 600
    variance = TOLERANCE**2
    inverse = np.linalg.inv((MATRIX * variance) @ MATRIX.T)
    spread = np.einsum("ij,jk,ki->i", MATRIX.T, inverse, MATRIX)
    print()
    for reading, name in ((INTO, "into the fermenter"), (OUT, "move, out"), (IN, "move, in")):
        for size in (1, 2, 4, 6, 8):
            fault = size * TOLERANCE[reading]
            found = put_right(read(chance, runs, {reading: fault}))
            shift, limit = fault * np.sqrt(spread[reading]), found.limit[0]
            single = float(stats.norm.sf(limit - shift) + stats.norm.cdf(-limit - shift))
            whole = float(stats.ncx2.sf(stats.chi2.isf(0.01, 6), 6, shift**2))
            named = blamed(found, runs)
            beyond = float(np.mean(named.any(axis=1)))
            right = float(np.mean(named[:, reading]))
            as_whole = float(np.mean(special.chdtrc(found.balances, found.misfit) < 0.01))
            print(f"{name:18s} off by {size} tolerances: blamed {right:.3f}, some reading {beyond:.3f}, theory {single:.3f};"
                  f" chain does not fit {as_whole:.3f}, theory {whole:.3f}")  # fmt: skip
            assert abs(as_whole - whole) <= allowed_error(whole, runs) + 1e-3
            # Some reading is beyond the limit at least as often as this one is.
            assert beyond >= single - allowed_error(single, runs) - 1e-3
            assert right <= beyond
            assert right >= 0.9 or size < 8, (name, size)


def test_a_wrong_reading_of_a_move_is_blamed_once_and_moves_nothing_else() -> None:
    chance = np.random.default_rng(63)
    volume = read(chance, 200)
    without = put_right(volume)
    volume[:, IN] += 2.0
    found = put_right(volume)
    named = blamed(found, 200)
    assert named.sum() <= 205  # once each, two false alarms in a hundred chains aside
    assert named[:, IN].sum() >= 198
    right = found.volume.reshape(200, -1)[:, IN]
    error = found.error.reshape(200, -1)[:, IN]
    told = named[:, IN] & (named.sum(axis=1) == 1)
    # What the others say does not depend on the reading that was taken out.
    assert np.abs(right[told] - without.volume.reshape(200, -1)[told, IN]).max() < 4 * error.max()
    misfit = special.chdtrc(found.balances - 1, found.misfit_after)
    assert np.mean(misfit[told] < 0.01) < 0.05


def test_two_mistakes_in_one_chain_are_both_found() -> None:
    runs = 200
    named = blamed(put_right(read(np.random.default_rng(64), runs, {KETTLE: 3.0, IN: -2.5})), runs)
    assert np.mean(named[:, KETTLE] & named[:, IN]) > 0.95


def test_a_reading_blamed_counts_as_if_it_had_not_been_read() -> None:
    # Outside reference: the same chain with the reading's tolerance made enormous, by a dense solve of its own.
    [volume] = read(np.random.default_rng(65), 1, {OUT: 3.0})
    found = put_right(volume[None])
    assert list(np.flatnonzero(found.blamed)) == [OUT]
    variance = np.where(np.arange(14) == OUT, 1e4, TOLERANCE**2)
    weight = np.linalg.inv((MATRIX * variance) @ MATRIX.T)
    pull = MATRIX.T @ weight @ (MATRIX @ volume)
    assert np.allclose(found.volume, volume - variance * pull, atol=1e-4)
    left = variance - variance**2 * np.einsum("ij,jk,ki->i", MATRIX.T, weight, MATRIX)
    assert np.allclose(found.error, np.sqrt(np.maximum(left, 0)), atol=1e-3)


def test_readings_that_no_balance_tells_apart_are_named_together() -> None:
    matrix = MATRIX.copy()
    matrix[5, [DRAWN_2, PACKAGES_2]], matrix[5, 13] = 0, 0
    matrix[3, KETTLE] = 0
    # Without its own run's balance the second draw stands in the lot's alone; a sample beside it would be as doubtful.
    matrix[3, PACKAGES_2] = -1
    matrix = matrix[:5]
    volume = read(np.random.default_rng(66), 1)
    volume[0, PACKAGES_2] = 0.0
    volume[0, DRAWN_2] += 4.0
    tolerance = TOLERANCE.copy()
    tolerance[PACKAGES_2] = 0.15
    balance, reading = np.nonzero(matrix)
    found = reconcile(balance, reading, matrix[balance, reading], volume[0], tolerance, TESTABLE, LOT)
    assert set(found.blamed[[DRAWN_2, PACKAGES_2]]) == {1, 2}


def test_a_long_chain_is_put_right_as_a_short_one_and_stays_small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty fillings of a tank that is never emptied: one chain, as in a solera; sparse and dense give the same."""
    chance, times = np.random.default_rng(67), 40
    n = 2 * times  # the dips before, and what was filled in
    # dip before + filling - usual loss = next dip; the last finds nothing
    matrix = np.hstack([np.eye(times) - np.eye(times, k=1), np.eye(times), -np.eye(times)])
    volume = chance.normal(20, 0.2, n + times)
    volume[n:] = 10.0
    volume[times : 2 * times] = 10.0
    volume[5] += 3.0
    tolerance = np.append(np.full(n, 0.2), np.full(times, 0.05))
    balance, reading = np.nonzero(matrix)
    testable, lot = np.arange(n + times) < n, np.zeros(n + times, np.int64)
    arguments = (balance, reading, matrix[balance, reading], volume, tolerance, testable, lot)
    short = reconcile(*arguments)
    monkeypatch.setattr(reconciliation, "LONG", 10)
    long = reconcile(*arguments)
    assert short.blamed[5] == 1
    for name in ("volume", "error", "z", "blamed", "misfit", "misfit_after"):
        assert np.allclose(getattr(short, name), getattr(long, name), atol=1e-9), name
