"""Books of any size for measuring: SITES breweries over YEARS, about 20,000 rows for a 10,000-barrel brewery and year.

    python benchmarks/make_books.py FOLDER SITES YEARS

Everything is invented. Each site brews seven times a week, splits and blends lots, fills three packages and ships all it
fills; nothing is ever short, so the whole job runs as it would on clean books.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

FIRST_YEAR = 2023
BEERS = [(f"Invented beer {n}", style) for n, style in enumerate(("ale", "lager", "stout", "wheat", "ale", "lager"), 1)]
MATERIALS = [
    ("malt", "malt", "lb", 1900, 0.62), ("dark malt", "malt", "lb", 120, 0.9), ("sugar", "sugar", "lb", 40, 0.7),
    ("bittering hops", "hops", "oz", 60, 0.9), ("aroma hops", "hops", "oz", 90, 1.3), ("yeast", "yeast", "L", 6, 4.0),
]  # fmt: skip
PACKAGES = [("half_bbl", 0.5), ("sixth_bbl", 1 / 6), ("case_24x12", 288 / 3968)]
SETTINGS = """
name = "Invented breweries"
currency = "USD"
first_month = "{year}-01"

{sites}
[[pools]]
pool = "rent"
stage = "cellar"
driver = "tank_days"
behaviour = "fixed"
normal_driver = 900

[[pools]]
pool = "steam"
stage = "brewhouse"
driver = "bbl_brewed"
behaviour = "variable"

[[pools]]
pool = "line"
stage = "packaging"
driver = "packages_filled"
behaviour = "fixed"
normal_driver = 9000

[[filers]]
area = "US"
return_period = "quarterly"
"""


class Writer:
    """One csv file a kind; a row holds every field of its kind."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.folder, self.stack = folder, stack
        self.writers: dict[str, Any] = {}
        self.rows = 0

    def __call__(self, kind: str, /, **fields: object) -> None:
        if kind not in self.writers:
            file = self.stack.enter_context((self.folder / f"{kind}.csv").open("w", encoding="utf-8", newline=""))
            self.writers[kind] = csv.writer(file)
            self.writers[kind].writerow(fields)
        self.writers[kind].writerow(fields.values())
        self.rows += 1


def make(folder: Path, sites: int, years: int) -> int:
    """Write the books; returns the number of rows."""
    inputs = folder / "inputs"
    inputs.mkdir(parents=True, exist_ok=True)
    names = [f"site {n:02d}" for n in range(1, sites + 1)]
    blocks = "\n".join(f'[[sites]]\nsite = "{name}"\narea = "US-ME"\n' for name in names)
    (folder / "brewery.toml").write_text(SETTINGS.format(year=FIRST_YEAR, sites=blocks), encoding="utf-8")
    with ExitStack() as stack:
        write = Writer(inputs, stack)
        for beer, style in BEERS:
            write("beers", beer=beer, style=style, abv_pct=5)
        for material, kind, unit, *_ in MATERIALS:
            write("materials", material=material, kind=kind, stock_unit=unit, extract_pct=78 if kind != "hops" else "")
        write("materials", material="cap", kind="packaging", stock_unit="each", extract_pct="")
        for n in range(1, 13):
            area, kind = ("US-ME", "own_location") if n < 5 else ("US-NH", "retailer")
            write("accounts", account=f"Account {n}", kind=kind, area=area)
        for n, name in enumerate(names):
            site(write, name, f"{n:02d}", years)
        return write.rows


def site(write: Writer, name: str, tag: str, years: int) -> None:
    random = Random(tag)
    for n in range(1, 15):
        write("vessels", vessel=f"F{n} {tag}", site=name, kind="fermenter", working_volume=35, reading_tolerance=0.3)
    for n in range(1, 13):
        write("vessels", vessel=f"B{n} {tag}", site=name, kind="bright_tank", working_volume=35, reading_tolerance=0.2)
    day, last = date(FIRST_YEAR, 1, 1), date(FIRST_YEAR + years - 1, 12, 31)
    number = 0
    for when in days(day, last):
        if when.day == 1:
            month_start(write, name, tag, when)
        if when + timedelta(days=30) > last:
            continue
        number += 1
        one_brew(write, random, name, tag, when, number)


def days(first: date, last: date) -> Iterator[date]:
    while first <= last:
        yield first
        first += timedelta(days=1)


def month_start(write: Writer, name: str, tag: str, when: date) -> None:
    for material, _, unit, each, price in MATERIALS:
        for part in range(4):
            quantity = each * 10
            write("receipts", date=when, site=name, material=material, quantity=quantity, unit=unit,
                  cost=round(quantity * price * (1 + part / 50), 2), document=f"P{tag}{when:%y%m}{part}")  # fmt: skip
    write("receipts", date=when, site=name, material="cap", quantity=60000, unit="each", cost=600,
          document=f"P{tag}{when:%y%m}9")  # fmt: skip
    for pool, amount in (("rent", 9000), ("steam", 2500), ("line", 3000)):
        write("expenses", month=f"{when:%Y-%m}", site=name, pool=pool, amount=amount)


def one_brew(write: Writer, random: Random, name: str, tag: str, when: date, number: int) -> None:
    """A brew from kettle to the last keg shipped, over the next weeks."""
    key = f"{tag}{number:06d}"
    beer = BEERS[number % len(BEERS)][0]
    volume = round(random.uniform(27, 30), 1)
    write("brews", brew=f"W{key}", date=when, site=name, beer=beer, lot=f"L{key}", vessel=f"F{number % 14 + 1} {tag}",
          end_of_boil=round(volume * 1.09, 1), kettle_temp=208, into_fermenter=volume, original_gravity=12)  # fmt: skip
    for material, _, unit, each, _ in MATERIALS:
        write("uses", date=when, site=name, material=material, quantity=each, unit=unit, brew=f"W{key}", lot="", run="")
    write("labour", date=when, site=name, stage="brewhouse", hours=8, cost=220, brew=f"W{key}", run="")
    for after, plato in ((1, 11), (3, 6), (6, 3)):
        write("readings", date=when + timedelta(days=after), site=name, lot=f"L{key}", gravity=plato)
    rack = when + timedelta(days=9)
    write("uses", date=rack, site=name, material="aroma hops", quantity=20, unit="oz", brew="", lot=f"L{key}", run="")
    halves = 2 if number % 3 == 0 else 1
    out = round((volume - 0.9) / halves, 2)
    for half in range(halves):
        lot = f"B{key}{half}"
        tank = number // 3 % 4 + 9 if half else number % 8 + 1
        into = round(out - random.uniform(0.05, 0.3), 2)
        write("moves", move=f"M{key}{half}", date=rack, site=name, from_lot=f"L{key}", to_lot=lot,
              to_vessel=f"B{tank} {tag}", volume_out=out, volume_in=into, reason="filter",
              lot_emptied="yes" if half == halves - 1 else "")  # fmt: skip
        package(write, random, name, tag, beer, lot, into, rack + timedelta(days=2 + half))


def package(write: Writer, random: Random, name: str, tag: str, beer: str, lot: str, volume: float, when: date) -> None:
    for line, (kind, size) in enumerate(PACKAGES, start=1):
        drawn = round(volume / 3 - 0.05, 2)
        filled = int(drawn * 0.985 / size)
        write("packaging", run=f"R{lot}", line=line, date=when, site=name, lot=lot, package=kind, filled=filled, rejected=1,
              volume_drawn=drawn, lot_emptied="yes" if line == 3 else "")  # fmt: skip
        left, number = filled, 0
        while left:
            number += 1
            units = min(left, max(filled // 8, 1))
            left -= units
            account = random.randint(1, 12)
            write("shipments", document=f"S{lot}{line}", line=number, date=when + timedelta(days=1 + number), site=name,
                  account=f"Account {account}", beer=beer, package=kind, units=units,
                  purpose="own_location" if account < 5 else "sale", unit_price=round(size * 300, 2), freight=0)  # fmt: skip
    write("uses", date=when, site=name, material="cap", quantity=40, unit="each", brew="", lot="", run=f"R{lot}")
    write("labour", date=when, site=name, stage="packaging", hours=6, cost=150, brew="", run=f"R{lot}")


if __name__ == "__main__":
    print(f"{make(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])):,} rows")
