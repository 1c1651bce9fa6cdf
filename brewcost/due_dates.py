"""Return periods and their due dates: facts of the calendar, with the holidays that move them.

No duty is computed here. Which rule an area follows stands in its file under areas/.
"""

from __future__ import annotations

from collections.abc import Iterator
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


# The calendars an area file may name, as the library `holidays` knows them: country, part of it, kinds of day.
CALENDARS: dict[str, tuple[str, str | None, tuple[str, ...]]] = {
    # 5 U.S.C. 6103 and the District of Columbia (26 U.S.C. 7503, D.C. Code 28-2701).
    "us_federal_and_dc": ("US", "DC", ("public",)),
    "us_federal": ("US", None, ("public",)),
    "england_and_wales": ("GB", "ENG", ("public",)),
    "canada_federal": ("CA", None, ("government", "public")),
}
HOLIDAYS = ("none", *CALENDARS)


@lru_cache
def holidays_of(calendar: str, decade: int) -> frozenset[date]:
    """The days of ten years (202 is 2020 to 2029) that a calendar keeps, also those kept for a day of the year before or
    after."""
    if calendar == "none":
        return frozenset()
    from holidays import country_holidays

    country, part, kinds = CALENDARS[calendar]
    found = country_holidays(country, subdiv=part, years=range(decade * 10 - 1, decade * 10 + 11), categories=kinds)
    return frozenset(day for day in found if day.year // 10 == decade)


def is_working_day(day: date, holidays: str) -> bool:
    """Neither a weekend nor a holiday of the named calendar."""
    return day.weekday() < 5 and day not in holidays_of(holidays, day.year // 10)


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
