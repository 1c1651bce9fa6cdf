"""Least-squares reconciliation of one lot's chain, and the one reading that most likely is wrong; on plain arrays.

The readings are moved as little as they can be, each weighed by its tolerance, so that every balance closes: with readings
y, covariance V and balances A y = 0, the reconciled ones are y - V A' (A V A')^-1 A y. A gross error is looked for by the
measurement test: each adjustment against its standard deviation, the largest beyond the Sidak limit for the number of
readings (Mah & Tamhane, AIChE J. 28, 1982, 828-830; Narasimhan & Jordache, Data Reconciliation and Gross Error Detection,
2000, ch. 3 and 7). It informs the brewer and touches neither cost nor duty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ALARM_RATE = 0.01  # of a lot without any mistake
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Reconciled:
    """A chain put right.

    Attributes:
        volume: reconciled readings, barrels; length n.
        error: their standard deviations, barrels; length n.
        z: each adjustment over its own standard deviation; 0 where a reading cannot be tested; length n.
        limit: what the largest |z| stays below in all but ALARM_RATE of lots without a mistake.
        suspect: the place of the reading that most likely is wrong; None where none is beyond the limit.
    """

    volume: Array
    error: Array
    z: Array
    limit: float
    suspect: int | None


def reconcile(balances: Array, volume: Array, tolerance: Array, testable: Sequence[bool]) -> Reconciled:
    """Reconcile one chain.

    Args:
        balances: k balances by n readings, entries +1, -1 or 0.
        volume: the readings, barrels; length n.
        tolerance: standard deviation of each, barrels, 0 where it is exact; length n.
        testable: whether it is a reading that somebody could have got wrong (a usual loss is not); length n.
    """
    from scipy import special

    variance = tolerance**2
    spread = (balances * variance) @ balances.T
    weight = np.linalg.pinv(spread, rcond=1e-10, hermitian=True)
    gap = balances @ volume
    pull = balances.T @ weight @ gap  # V^-1 (y - reconciled)
    pull_variance = np.einsum("ij,jk,ki->i", balances.T, weight, balances)
    tested = np.array(testable) & (tolerance > 0) & (pull_variance > 1e-9)
    z = np.where(tested, pull / np.sqrt(np.where(tested, pull_variance, 1.0)), 0.0)
    count = max(int(tested.sum()), 1)
    limit = float(-special.ndtri((1 - (1 - ALARM_RATE) ** (1 / count)) / 2))
    largest = int(np.argmax(np.abs(z)))
    error = np.sqrt(np.maximum(variance - variance**2 * pull_variance, 0))
    return Reconciled(volume - variance * pull, error, z, limit, largest if abs(z[largest]) > limit else None)
