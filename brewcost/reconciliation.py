"""Least-squares reconciliation of chains of readings, and the readings that most likely are wrong; on plain arrays.

A chain is all readings that hang together by balances: lots joined by moves, brews into one lot. Its readings are moved as
little as they can be, each weighed by its tolerance, so that every balance closes: with readings y, covariance V and balances
A y = 0, the reconciled ones are y - V A' (A V A')^-1 A y (Romagnoli & Sanchez, Data Processing and Reconciliation for
Chemical Process Operations, 2000, ch. 5). Whether a chain fits as a whole is the global test: (A y)' (A V A')^-1 (A y) is
chi-square with as many degrees of freedom as balances (Reilly & Carpani 1963; Ripps 1965). Which reading is wrong is the
measurement test: each adjustment against its standard deviation, the largest beyond the Sidak limit (Mah & Tamhane, AIChE J.
28, 1982, 828-830; Narasimhan & Jordache, Data Reconciliation and Gross Error Detection, 2000, ch. 3 and 7). A reading that is
blamed is taken out as if it had not been read, and the rest is tested again (serial elimination: Ripps, Chem. Eng. Progr.
Symp. Ser. 61(55), 1965, 8-13; Crowe, AIChE J. 34, 1988, 541-550), so one mistake is blamed once and no other reading is moved
by it. It informs the brewer and touches neither cost nor duty.

Chains of as many balances are solved together, a stack of matrices at a time. One longer than LONG is factored as a sparse
matrix, and of its inverse only the places are worked out that the tests need, so that time and memory grow with its length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ALARM_RATE = 0.01  # of a lot without any mistake
LONG = 120  # balances of a chain, beyond which its matrix is not held whole
STACK = 1_000_000  # numbers in a stack of matrices
MOST_BLAMED = 200  # of one chain; when there are more, the global test says that it still does not fit
ALIKE = 1e-6  # two |z| that differ by less stem from readings that no balance tells apart
WHOLE = 1e-9  # the part of a reading's variance that the balances must tell for it to be tested
Array = NDArray[np.float64]
Places = NDArray[np.int64]
Flags = NDArray[np.bool_]
Solve = Callable[[Array], Array]


@dataclass(frozen=True)
class Reconciled:
    """Chains put right; n readings, c chains.

    Attributes:
        chain: the chain of each reading, 0 to c - 1; length n.
        volume: reconciled readings, barrels; of one that is blamed, what the others say; length n.
        error: their standard deviations, barrels; length n.
        z: each adjustment over its own standard deviation, at the step at which it was blamed; 0: cannot be tested; length n.
        limit: what the largest |z| of the chain stays below in all but ALARM_RATE of lots without a mistake; length c.
        blamed: 1 for a reading that most likely is wrong, 2 for one that no balance tells apart from it, else 0; length n.
        balances: of each chain, its degrees of freedom; length c.
        misfit: chi-square of the global test; length c.
        misfit_after: the same without the readings that are blamed, each of which takes a degree of freedom; length c.
    """

    chain: Places
    volume: Array
    error: Array
    z: Array
    limit: Array
    blamed: Places
    balances: Places
    misfit: Array
    misfit_after: Array


def reconcile(
    balance: Places, reading: Places, sign: Array, volume: Array, tolerance: Array, testable: Flags, lot: Places
) -> Reconciled:
    """Reconcile all chains.

    Args:
        balance, reading, sign: the entries of the balances: which balance (0 to k - 1), which reading, +1 or -1.
        volume: the readings, barrels; length n.
        tolerance: standard deviation of each, barrels, 0 where it is exact; balances of exact ones only are not allowed;
            length n.
        testable: whether it is a reading that somebody could have got wrong (a usual loss is not); length n.
        lot: the lot of each reading, 0 or more; the limit keeps to one false blame in so many lots; length n.
    """
    n, balances = len(volume), int(balance.max(initial=-1)) + 1
    chain_of, chain_at = _chains(balance, reading, n, balances)
    chains = int(max(chain_of.max(initial=-1), chain_at.max(initial=-1))) + 1
    length = np.bincount(chain_at, minlength=chains)
    # Chains of one length stand side by side, each with its balances and its readings in one piece.
    rank = np.empty(chains, np.int64)
    rank[np.argsort(length, kind="stable")] = np.arange(chains)
    readings_in_order, balances_in_order = np.argsort(rank[chain_of], kind="stable"), np.argsort(rank[chain_at], kind="stable")
    reading, balance = _places(readings_in_order)[reading], _places(balances_in_order)[balance]
    by_balance = np.lexsort((reading, balance))
    given = _Given(
        balance[by_balance], reading[by_balance], sign[by_balance].astype(np.float64),
        volume[readings_in_order], tolerance[readings_in_order] ** 2, testable[readings_in_order], lot[readings_in_order],
    )  # fmt: skip
    length = np.sort(length)
    first_balance = np.append(0, np.cumsum(length))
    first_reading = np.append(0, np.cumsum(np.bincount(rank[chain_of], minlength=chains)))
    parts = [
        _solved(given, first_balance[begin : end + 1], first_reading[begin : end + 1])
        for begin, end in _stacks(length) or [(0, 0)]
    ]
    back = _places(readings_in_order)
    moved, error, z, blamed = (np.concatenate([part[i] for part in parts])[back] for i in range(4))
    limit, misfit, after = (np.concatenate([part[i] for part in parts]) for i in range(4, 7))
    return Reconciled(rank[chain_of], volume - moved, error, z, limit, blamed.astype(np.int64), length, misfit, after)


@dataclass(frozen=True)
class _Given:
    """All entries by balance, and all readings, in the order of their chains."""

    balance: Places
    reading: Places
    sign: Array
    volume: Array
    variance: Array
    testable: Flags
    lot: Places


def _solved(given: _Given, first_balance: Places, first_reading: Places) -> tuple[Array, ...]:
    """Chains of one length: how far each reading moves, its error, z and blame; each chain's limit and misfits.

    Args:
        first_balance, first_reading: of each chain, and behind the last.
    """
    chains, k = len(first_balance) - 1, int(np.diff(first_balance).max(initial=0))
    here = slice(*np.searchsorted(given.balance, first_balance[[0, -1]]))
    readings = slice(first_reading[0], first_reading[-1])
    balance, reading, sign = given.balance[here] - first_balance[0], given.reading[here] - readings.start, given.sign[here]
    variance, volume, n = given.variance[readings], given.volume[readings], readings.stop - readings.start
    if k == 0:
        zero, none = np.zeros(n), np.zeros(0, np.int64)
        limit = _limits(none, none, none.astype(bool), chains)
        return zero, np.sqrt(variance), zero, zero, limit, np.zeros(chains), np.zeros(chains)
    one, other = _pairs(reading)
    both = sign[one] * sign[other]
    weight, solvers = _inverse(chains, k, balance[one], balance[other], both * variance[reading[one]])
    gap = _sums(balance, sign * volume[reading], chains * k).reshape(chains, k)
    push = np.stack([solve(gap[chain]) for chain, solve in enumerate(solvers)])
    pull = _sums(reading, sign * push.ravel()[balance], n)  # V^-1 (y - reconciled)
    spread = _sums(reading[one], both * weight, n)  # its variance
    misfit = np.einsum("ij,ij->i", gap, push)

    begin = first_reading - first_reading[0]
    chain = np.repeat(np.arange(chains), np.diff(begin))
    tested = given.testable[readings] & (variance * spread > WHOLE)
    z, limit = _z(pull, spread, tested), _limits(chain, given.lot[readings], tested, chains)
    moved, error2, blamed, after = variance * pull, variance - variance**2 * spread, np.zeros(n), misfit.copy()
    for number in np.unique(chain[np.abs(z) > limit[chain]]):
        own = slice(begin[number], begin[number + 1])
        entries = slice(*np.searchsorted(balance, (number * k, (number + 1) * k)))
        after[number] -= _eliminate(
            _Chain(reading[entries] - own.start, balance[entries] - number * k, sign[entries], solvers[number], k),
            pull[own], spread[own], variance[own], tested[own], limit[number],
            moved[own], error2[own], z[own], blamed[own],
        )  # fmt: skip
    return moved, np.sqrt(np.maximum(error2, 0)), z, blamed, limit, misfit, after


@dataclass(frozen=True)
class _Chain:
    """One chain's entries, by places of its own readings and k balances, and (A V A')^-1 times a vector of balances."""

    reading: Places
    balance: Places
    sign: Array
    solve: Solve
    k: int

    def together(self, place: int, n: int) -> Array:
        """How the pull of one reading varies together with that of each: A' (A V A')^-1 a."""
        own = self.reading == place
        column = _sums(self.balance[own], self.sign[own], self.k)
        return _sums(self.reading, self.sign * self.solve(column)[self.balance], n)


def _eliminate(
    chain: _Chain, pull: Array, spread: Array, variance: Array, tested: Flags, limit: float,
    moved: Array, error2: Array, z: Array, blamed: Array,
) -> float:  # fmt: skip
    """Take out the most doubtful reading of a chain, test the rest again, and so on; by how much the misfit is less.

    Writes to `moved`, `error2`, `z` and `blamed` what stands when all that are blamed are as good as not read.
    """
    less, left, left_spread = 0.0, pull.copy(), spread.copy()
    out: list[int] = []
    together = np.zeros((0, 0))
    taken: list[tuple[Array, float]] = []
    while True:
        now = _z(left, left_spread, tested & (variance * left_spread > WHOLE))
        z[blamed == 0] = now[blamed == 0]
        largest = np.abs(now).max()
        if largest <= limit or len(out) == MOST_BLAMED:
            break
        alike = np.flatnonzero(np.abs(now) >= largest - ALIKE)
        place = int(alike[0])
        blamed[alike], blamed[place] = 2, 1
        column = chain.together(place, len(pull))
        together = np.block([[together, column[out, None]], [column[None, out], column[place]]])
        out.append(place)
        for earlier, own in taken:
            column -= earlier * (earlier[place] / own)
        taken.append((column, float(column[place])))
        less += now[place] ** 2
        left -= column * (left[place] / column[place])
        left_spread -= column**2 / column[place]
    # What is wrong in those taken out, and how surely the others say so.
    certain = np.linalg.inv(together)
    moved[:], error2[:] = variance * left, variance - variance**2 * left_spread
    moved[out] = certain @ pull[out]
    error2[out] = np.diag(certain) - variance[out]
    return less


def _z(pull: Array, spread: Array, tested: Flags) -> Array:
    return np.where(tested, pull / np.sqrt(np.where(tested, spread, 1.0)), 0.0)


def _limits(chain: Places, lot: Places, tested: Flags, chains: int) -> Array:
    """Sidak's limit of each chain for its number of readings, ALARM_RATE for each of its lots."""
    from scipy import special

    readings = np.bincount(chain[tested], minlength=chains)
    wide = int(lot.max(initial=0)) + 1
    lots = np.bincount(np.unique(chain[tested] * wide + lot[tested]) // wide, minlength=chains)
    share = np.maximum(lots, 1) / np.maximum(readings, 1)
    return np.asarray(-special.ndtri(-np.expm1(np.log1p(-ALARM_RATE) * share) / 2), dtype=np.float64)


def _chains(balance: Places, reading: Places, readings: int, balances: int) -> tuple[Places, Places]:
    """The chain of each reading and of each balance: what hangs together."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    size = readings + balances
    _, label = connected_components(coo_array((np.ones(len(balance)), (reading, readings + balance)), (size, size)), False)
    return label[:readings].astype(np.int64), label[readings:].astype(np.int64)


def _sums(place: Places, value: Array, length: int) -> Array:
    """The sum of the values at each place."""
    return np.bincount(place, value, length).astype(np.float64, copy=False)


def _places(order: Places) -> Places:
    """Where each thing stands in an order."""
    places = np.empty(len(order), np.int64)
    places[order] = np.arange(len(order))
    return places


def _stacks(length: Places) -> list[tuple[int, int]]:
    """First chain and the one behind the last of each stack: chains of one length, as many as fit."""
    stacks, begin = [], 0
    while begin < len(length):
        k = int(length[begin])
        most = 1 if k > LONG else STACK // max(k, 1) ** 2
        end = min(int(np.searchsorted(length, k, "right")), begin + most)
        stacks.append((begin, end))
        begin = end
    return stacks


def _pairs(reading: Places) -> tuple[Places, Places]:
    """All ordered pairs of entries of one reading, each with itself too."""
    order = np.argsort(reading, kind="stable")
    first = np.searchsorted(reading[order], reading[order])
    count = np.bincount(reading)[reading[order]]
    one = np.repeat(order, count)
    step = np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count)
    return one, order[np.repeat(first, count) + step]


def _inverse(chains: int, k: int, row: Places, column: Places, value: Array) -> tuple[Array, list[Solve]]:
    """Of each chain's A V A', given entry by entry: the inverse's figures at the same entries, and how to multiply by it."""
    if k <= LONG:
        at = row * k + column % k  # rows run on from chain to chain
        inverse = np.linalg.inv(_sums(at, value, chains * k * k).reshape(chains, k, k))
        return inverse.ravel()[at], [part.__matmul__ for part in inverse]
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import splu

    factors = splu(csc_array((value, (row, column)), (k, k)), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                   options={"SymmetricMode": True})  # fmt: skip
    place = factors.perm_c.astype(np.int64)
    low, high = np.minimum(place[row], place[column]), np.maximum(place[row], place[column])
    lower = factors.L
    lower.sort_indices()
    key = np.repeat(np.arange(k), np.diff(lower.indptr)) * k + lower.indices
    inverse = _told(lower.indptr, lower.indices, lower.data, factors.U.diagonal())
    return inverse[np.searchsorted(key, low * k + high)], [factors.solve]


def _told(begin: Places, row: Places, lower: Array, pivot: Array) -> Array:
    """The inverse of L D L' at the places of L, column by column from the last (Takahashi, Fagan & Chen 1973).

    Of a column's rows the first is its parent, whose own rows hold the others: what is needed of the inverse stands there.
    """
    found = np.empty(len(lower))
    whole: dict[int, Array] = {}  # by column: the inverse among its rows, until the last column that needs it
    first = [int(row[begin[j] + 1]) if begin[j] + 1 < begin[j + 1] else -1 for j in range(len(pivot))]
    children = np.bincount(np.array(first) + 1, minlength=len(pivot) + 1)[1:]
    for j in range(len(pivot) - 1, -1, -1):
        rows, factor, parent = row[begin[j] + 1 : begin[j + 1]], lower[begin[j] + 1 : begin[j + 1]], first[j]
        if parent < 0:
            front = np.array([[1 / pivot[j]]])
        else:
            at = np.searchsorted(row[begin[parent] : begin[parent + 1]], rows)
            among = whole[parent][np.ix_(at, at)]
            beside = -among @ factor
            front = np.empty((len(rows) + 1, len(rows) + 1))
            front[0, 0], front[0, 1:], front[1:, 0], front[1:, 1:] = 1 / pivot[j] - factor @ beside, beside, beside, among
            children[parent] -= 1
            if not children[parent]:
                del whole[parent]
        found[begin[j] : begin[j + 1]] = front[:, 0]
        if children[j]:
            whole[j] = front
    return found
