"""Return periods and their due dates: facts of the calendar, with the holidays that move them.

No duty is computed here. Which rule an area follows stands in its file under areas/.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

LENGTHS = ("annual", "semiannual", "quarterly", "monthly", "semimonthly", "semimonthly by EFT")
ROLLS = ("back", "forward", "none")


@dataclass(frozen=True)
class DueRule:
    """When the return of a period is due; exactly one of the first four says how it is counted.

    days_after: so many days after the last day of the period.  day: this day of the month that follows.
    last_day: the last day of the month that follows.  working_day: the n-th working day of that month.
    roll: what happens on a weekend or holiday: the working day before (`back`), after (`forward`), or nothing.
    """

    days_after: int | None = None
    day: int | None = None
    last_day: bool = False
    working_day: int | None = None
    roll: str = "none"
    holidays: str = "none"
    september: bool = False


@dataclass(frozen=True)
class Period:
    """One return period: its name (`2026`, `2026-Q1`, `2026-03`, `2026-03-a`), its days, when return and money are due.

    A due date of None is one the sources of the area do not give.
    """

    length: str
    period: str
    from_date: date
    to_date: date
    due_date: date | None
    pay_date: date | None


def _nth_weekday(year: int, month: int, weekday: int, nth: int) -> date:
    first = date(year, month, 1)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (nth - 1))


def _last_weekday(year: int, month: int, weekday: int) -> date:
    last = month_end(year, month)
    return last - timedelta(days=(last.weekday() - weekday) % 7)


def _observed(day: date) -> date:
    """A federal holiday on a Saturday is kept on the Friday, on a Sunday on the Monday (5 U.S.C. 6103(b); E.O. 11582)."""
    return day + timedelta(days={5: -1, 6: 1}.get(day.weekday(), 0))


@lru_cache(maxsize=256)
def us_federal_and_dc(year: int) -> frozenset[date]:
    """Legal public holidays of 5 U.S.C. 6103 and of the District of Columbia (26 U.S.C. 7503, D.C. Code 28-2701).

    Those of the next New Year's Day that fall on 31 December are in the year of that day.
    """
    days = [_observed(date(y, 1, 1)) for y in (year, year + 1)]
    days += [_observed(date(year, month, day)) for month, day in ((7, 4), (11, 11), (12, 25))]
    days += [
        _nth_weekday(year, 2, 0, 3),
        _last_weekday(year, 5, 0),
        _nth_weekday(year, 9, 0, 1),
        _nth_weekday(year, 10, 0, 2),
        _nth_weekday(year, 11, 3, 4),
    ]
    if year >= 1986:
        days.append(_nth_weekday(year, 1, 0, 3))
    if year >= 2021:
        days.append(_observed(date(year, 6, 19)))
    if year >= 2005:
        days.append(_observed(date(year, 4, 16)))
    if (year - 1937) % 4 == 0 and year >= 1937:
        inauguration = date(year, 1, 20)
        days.append(inauguration + timedelta(days=1) if inauguration.weekday() == 6 else inauguration)
    return frozenset(day for day in days if day.year == year)


HOLIDAYS: dict[str, Callable[[int], frozenset[date]]] = {
    "none": lambda _year: frozenset(),
    "us_federal_and_dc": us_federal_and_dc,
}


def is_working_day(day: date, holidays: str) -> bool:
    """Neither a weekend nor a holiday of the named calendar."""
    return day.weekday() < 5 and day not in HOLIDAYS[holidays](day.year)


def rolled(day: date, roll: str, holidays: str) -> date:
    """The day itself, or the nearest working day before (`back`) or after (`forward`) it."""
    step = {"back": -1, "forward": 1, "none": 0}[roll]
    while step and not is_working_day(day, holidays):
        day += timedelta(days=step)
    return day


def month_end(year: int, month: int) -> date:
    """The last day of a month; months past 12 run on into the next year."""
    year, month = year + (month - 1) // 12, (month - 1) % 12 + 1
    return date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)


def due_date(last_day: date, rule: DueRule) -> date:
    """The day the return of a period ending on `last_day` is due."""
    first_after = last_day + timedelta(days=1)
    if rule.days_after is not None:
        day = last_day + timedelta(days=rule.days_after)
    elif rule.day is not None:
        day = first_after.replace(day=rule.day)
    elif rule.working_day is not None:
        day = first_after - timedelta(days=1)
        left = rule.working_day
        while left:
            day += timedelta(days=1)
            left -= is_working_day(day, rule.holidays)
    else:
        day = month_end(first_after.year, first_after.month)
    return rolled(day, rule.roll, rule.holidays)


def periods(
    length: str, due: DueRule | None, pay: DueRule | None, first_year: int, last_year: int
) -> Iterator[Period]:
    """Every period of one length in these years; `pay` is None where the money is due with the return."""
    september = due is not None and due.september
    for name, first, last in _spans(length, september, first_year, last_year):
        due_date_ = _due_of(name, first, last, length, due)
        yield Period(length, name, first, last, due_date_, _due_of(name, first, last, length, pay) or due_date_)


def _due_of(name: str, first: date, last: date, length: str, rule: DueRule | None) -> date | None:
    if rule is None:
        return None
    if rule.september and first.month == 9 and name.endswith("-b"):
        # 26 U.S.C. 5061(d)(5), (d)(6): a Saturday or holiday moves the day back, a Sunday forward.
        day = date(first.year, 9, 29 if length == "semimonthly by EFT" else 28)
        return rolled(day, "forward" if day.weekday() == 6 else "back", rule.holidays)
    return due_date(last, rule)


def _spans(length: str, september: bool, first_year: int, last_year: int) -> Iterator[tuple[str, date, date]]:
    for year in range(first_year, last_year + 1):
        if length == "annual":
            yield str(year), date(year, 1, 1), date(year, 12, 31)
        elif length in ("semiannual", "quarterly"):
            size = 6 if length == "semiannual" else 3
            letter = "H" if length == "semiannual" else "Q"
            for number in range(12 // size):
                yield (
                    f"{year}-{letter}{number + 1}",
                    date(year, number * size + 1, 1),
                    month_end(year, (number + 1) * size),
                )
        else:
            for month in range(1, 13):
                yield from _in_month(length, september, year, month)


def _in_month(length: str, september: bool, year: int, month: int) -> Iterator[tuple[str, date, date]]:
    name, first, last = f"{year}-{month:02}", date(year, month, 1), month_end(year, month)
    if length == "monthly":
        yield name, first, last
        return
    yield f"{name}-a", first, date(year, month, 15)
    if month != 9 or not september:
        yield f"{name}-b", date(year, month, 16), last
        return
    # 26 U.S.C. 5061(d)(5): the second half of September is paid in two parts, the first within the month.
    until = 26 if length == "semimonthly by EFT" else 25
    yield f"{name}-b", date(year, 9, 16), date(year, 9, until)
    yield f"{name}-c", date(year, 9, until + 1), last
