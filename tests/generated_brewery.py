"""Generated books for property tests: an invented brewery of two sites, played day by day with every kind of movement.

Stock is never short unless `short` is asked for; everything else that paper can hold may happen: splits, blends, double
batches, variants, hops after half was drawn, samples, dumps, serving tanks, beer received, runs with nothing good, readings
that are missing, more drawn than there was, returns, counts in the middle of a month, months in which nothing happens.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from random import Random
from typing import Any

Row = dict[str, Any]
BEERS = [("Test Ale", "ale", "beer"), ("Test Stout", "stout", "beer"), ("Test Pop", "soft drink", "soft_drink")]
PACKAGES = {"half_bbl": 0.5, "keg_50L": 0.42608, "sixth_bbl": 1 / 6, "case_24x12": 288 / 3968}
MATERIALS = [
    ("malt", "malt", "lb"), ("wheat", "adjunct", "kg"), ("sugar", "sugar", "lb"), ("hops", "hops", "oz"),
    ("spice", "flavouring", "g"), ("syrup", "flavouring", "L"), ("cap", "packaging", "each"), ("gas", "gas", "kg"),
]  # fmt: skip
SITES = ("north", "south")
TANKS = [("F1", "fermenter"), ("F2", "fermenter"), ("F3", "fermenter"), ("B1", "bright_tank"), ("B2", "bright_tank")]
PURPOSES = ["sale"] * 6 + ["own_location", "in_bond", "export", "tavern", "given_away", "research", "laboratory",
                           "destroyed", "premises", "unfit"]  # fmt: skip
POOLS = """
[[sites]]
site = "south"
area = "US-NH"

[[pools]]
pool = "rent"
stage = "cellar"
driver = "{cellar}"
behaviour = "fixed"
normal_driver = 90

[[pools]]
pool = "steam"
stage = "brewhouse"
driver = "{brewhouse}"
behaviour = "variable"

[[pools]]
pool = "lease"
stage = "packaging"
driver = "packages_filled"
behaviour = "fixed"
normal_driver = 400
applies_to = {{ form = "bottled" }}

[[pools]]
pool = "payroll"
stage = "packaging"
driver = "labour_hours"
element = "labour"
behaviour = "variable"

[[pools]]
pool = "office"
stage = "period"
driver = "none"
behaviour = "fixed"
"""


class Brewery:
    """One set of generated books: `records` and the options of small_books.write_books."""

    def __init__(self, random: Random, *, short: bool = False) -> None:
        self.random = random
        self.short = short
        self.metric = random.random() < 0.5
        self.day = date(2026, 1, 1)
        self.records: dict[str, list[Row]] = defaultdict(list)
        self.lots: dict[str, Row] = {}  # open lots by name
        self.stock: dict[tuple[str, str, str], int] = defaultdict(int)
        self.number = 0
        self.options: dict[str, Any] = {
            "first_month": "2026-01",
            "materials": random.choice(("fifo", "average")),
            "goods": random.choice(("fifo", "average")),
            "more": POOLS.format(
                cellar=random.choice(("tank_days", "tank_bbl_days")),
                brewhouse=random.choice(("brews", "bbl_brewed", "grist_weight")),
            ),
        }
        self._reference()
        self._opening()
        for _ in range(random.randint(5, 14)):
            # Now and then weeks go by, so that whole months stay empty.
            self.day += timedelta(days=random.choice((1, 1, 2, 3, 5, 8, 40)))
            for site in SITES:
                self._a_day(site)
        self._month_ends()

    # -- what stands in the books before the first day

    def _reference(self) -> None:
        add = self.records
        add["beers"] = [{"beer": beer, "style": style, "tax_class": tax, "abv_pct": 5} for beer, style, tax in BEERS]
        add["accounts"] = [
            {"account": "House", "kind": "own_location", "area": "US-ME"},
            {"account": "Trade", "kind": "wholesaler", "area": "US-NH"},
        ]
        add["materials"] = [{"material": name, "kind": kind, "stock_unit": unit} for name, kind, unit in MATERIALS]
        add["vessels"] = [
            {"vessel": f"{vessel} {site}", "site": self._site(site), "kind": kind, "working_volume": 60}
            for site in SITES for vessel, kind in TANKS
        ]  # fmt: skip

    def _opening(self) -> None:
        for site in SITES:
            for name, _, unit in MATERIALS:
                self.records["opening_materials"].append(
                    {"site": self._site(site), "material": name, "quantity": 9_000_000 if not self.short else 300,
                     "unit": unit, "cost": self._money(900)}
                )  # fmt: skip
            if self.random.random() < 0.6:
                lot = self._name("L")
                vessel = f"{self.random.choice(('B1', 'F2'))} {site}"
                beer, volume = self._beer(), self._volume(10, 30)
                self.records["opening_lots"].append(
                    {"lot": lot, "site": self._site(site), "beer": beer, "vessel": vessel} | self._measure(volume=volume)
                    | {"cost_ingredients": self._money(800), "cost_labour": self._money(90)}
                )  # fmt: skip
                self.lots[lot] = {"site": site, "hold": volume, "since": self.day}
            key = (site, self._beer(), self.random.choice(list(PACKAGES)))
            self.stock[key] += 25
            self.records["opening_goods"].append(
                {"site": self._site(site), "beer": key[1], "package": key[2], "units": 25, "cost": self._money(600)}
            )

    # -- one day at one site, in the order in which the books take it

    def _a_day(self, site: str) -> None:
        here = lambda: [name for name, lot in self.lots.items() if lot["site"] == site]  # noqa: E731
        for _ in range(self.random.choice((0, 1, 1, 2))):
            self._brew(site)
        if self.random.random() < 0.15:
            self._receive_beer(site)
        for lot in here():
            if self.random.random() < 0.5:
                self._draw(site, lot)
        self._materials(site)
        self._ship(site)

    def _brew(self, site: str) -> None:
        brew = self._name("W")
        young = [lot for lot, found in self.lots.items() if found["site"] == site and found["since"] == self.day]
        lot = self.random.choice(young) if young and self.random.random() < 0.5 else self._name("L")
        into = 0 if self.random.random() < 0.03 else self._volume(12, 30)
        row = {"brew": brew, "date": self.day, "site": self._site(site), "beer": self._beer(), "lot": lot,
               "vessel": f"{self.random.choice(('F1', 'F2', 'F3'))} {site}"}  # fmt: skip
        figures = {"into_fermenter": into}
        if self.random.random() < 0.8:
            figures["end_of_boil"] = max(round(into * self.random.uniform(0.97, 1.2), 2), 1)
            if self.random.random() < 0.5:
                row |= {"kettle_temp": 96 if self.metric else 205}
        self.records["brews"].append(row | self._measure(**figures) | {"temp_unit": "C" if self.metric else "F"})
        found = self.lots.setdefault(lot, {"site": site, "hold": 0.0, "since": self.day})
        found["hold"] += into
        for name, unit in (("malt", "lb"), ("wheat", "kg"), ("sugar", "lb"), ("hops", "oz")):
            if self.random.random() < 0.7:
                self._use(site, name, self.random.randint(1, 90), unit, brew=brew)
        if self.random.random() < 0.5:
            self._labour(site, "brewhouse", brew=brew)

    def _receive_beer(self, site: str) -> None:
        row = {"date": self.day, "site": self._site(site), "account": "Trade", "beer": self._beer(),
               "cost": self._money(700), "document": self._name("B")}  # fmt: skip
        if self.random.random() < 0.5:
            lot, volume = self._name("L"), self._volume(5, 20)
            self.records["beer_in"].append(row | {"lot": lot} | self._measure(volume=volume))
            self.lots[lot] = {"site": site, "hold": volume, "since": self.day}
        else:
            package, units = self.random.choice(list(PACKAGES)), self.random.randint(1, 20)
            self.records["beer_in"].append(row | {"package": package, "units": units})
            self.stock[(site, row["beer"], package)] += units

    def _draw(self, site: str, lot: str) -> None:
        found = self.lots[lot]
        if self.random.random() < 0.3:
            self._use(site, self.random.choice(("hops", "spice")), 3, "oz", lot=lot)
        if self.random.random() < 0.15:
            self._use(site, "syrup", 4, "L", lot=lot, adds_volume=2, volume_unit="L")
        if self.random.random() < 0.2:
            self._labour(site, "cellar", lot=lot)
        last = self.random.random() < 0.45
        # Sometimes more comes out than went in: a dipstick, or a count of packages that was too high.
        part = self.random.uniform(0.85, 1.1) if last else self.random.uniform(0.05, 0.6)
        volume = max(round(found["hold"] * part, 2), 0.1)
        what = self.random.random()
        if what < 0.35:
            self._move(site, lot, volume, last)
        elif what < 0.5:
            self._leave(site, lot, volume, last)
        else:
            self._package(site, lot, volume, last)
        found["hold"] = max(found["hold"] - volume, 0.5)
        if last:
            del self.lots[lot]

    def _move(self, site: str, lot: str, volume: float, last: bool) -> None:
        """On into another lot: a new one, a split into two, or a blend into one that is there."""
        others = [name for name, found in self.lots.items()
                  if found["site"] == site and name != lot and name.startswith("L") and name > lot]  # fmt: skip
        parts = self.random.choice((1, 1, 2))
        for part in range(parts):
            into = self.random.choice(others) if others and self.random.random() < 0.3 else self._name("L")
            out = round(volume / parts, 3)
            row = {"move": self._name("M"), "date": self.day, "site": self._site(site), "from_lot": lot,
                   "to_lot": into, "to_vessel": f"{self.random.choice(('B1', 'B2', 'F3'))} {site}",
                   "reason": self.random.choice(("transfer", "filter", "blend"))}  # fmt: skip
            figures = {"volume_out": out}
            if self.random.random() < 0.75:
                figures["volume_in"] = round(out * self.random.uniform(0.9, 1.01), 3)
            if self.random.random() < 0.2:
                row["beer"] = "Test Stout"
            if last and part == parts - 1:
                row["lot_emptied"] = "yes"
            self.records["moves"].append(row | self._measure(**figures))
            target = self.lots.setdefault(into, {"site": site, "hold": 0.0, "since": self.day})
            target["hold"] += figures.get("volume_in", out)

    def _leave(self, site: str, lot: str, volume: float, last: bool) -> None:
        reason = self.random.choice(("sample", "destroyed", "serving_tank"))
        row = {"move": self._name("M"), "date": self.day, "site": self._site(site), "from_lot": lot, "reason": reason}
        if reason == "serving_tank":
            row |= {"account": "House", "unit_price": self._money(200)}
        self.records["moves"].append(row | self._measure(volume_out=volume))
        if last:
            self.records["moves"].append(
                {"move": self._name("M"), "date": self.day, "site": self._site(site), "from_lot": lot,
                 "reason": "empty", "volume_out": 0, "volume_unit": "bbl"}
            )  # fmt: skip

    def _package(self, site: str, lot: str, volume: float, last: bool) -> None:
        run = self._name("R")
        lines = self.random.choice((1, 1, 2))
        for line in range(lines):
            package = self.random.choice(list(PACKAGES))
            beer = self._beer()
            whole = int(volume / lines / PACKAGES[package])
            filled = 0 if self.random.random() < 0.08 else max(whole - self.random.randint(0, 2), 0)
            row = {"run": run, "date": self.day, "site": self._site(site), "lot": lot, "beer": beer,
                   "package": package, "filled": filled, "rejected": self.random.choice((0, 0, 1, 3))}  # fmt: skip
            if line == 0 and self.random.random() < 0.7:
                row |= self._measure(volume_drawn=round(volume / lines, 2))
            if last and line == lines - 1:
                row["lot_emptied"] = "yes"
            self.records["packaging"].append(row)
            self.stock[(site, beer, package)] += filled
        if self.random.random() < 0.8:
            self._use(site, "cap", self.random.randint(1, 60), "each", run=run)
        if self.random.random() < 0.6:
            self._labour(site, "packaging", run=run)

    def _materials(self, site: str) -> None:
        name, _, unit = self.random.choice(MATERIALS)
        if self.random.random() < 0.4:
            self.records["receipts"].append(
                {"date": self.day, "site": self._site(site), "material": name, "quantity": self.random.randint(1, 500),
                 "unit": unit, "cost": self._money(400), "freight": self._money(20), "document": self._name("P")}
            )  # fmt: skip
        if self.random.random() < 0.2:
            self._use(site, "gas", 2, "kg", **self.random.choice(({"pool": "rent"}, {"account": "Trade", "income": 5})))
        if self.random.random() < 0.15 and not self.short:
            row = {"date": self.day, "site": self._site(site), "material": name, "unit": unit,
                   "quantity": self.random.choice((8_999_000, 9_001_000))}  # fmt: skip
            if self.random.random() < 0.4:
                row["counted_on"] = self.day + timedelta(days=2)
            if not any(found.get("material") == name and found["date"] == self.day and found["site"] == row["site"]
                       for found in self.records["counts"]):  # fmt: skip
                self.records["counts"].append(row)
        if self.random.random() < 0.2:
            self.records["byproducts"].append(
                {"date": self.day, "site": self._site(site), "kind": "spent_grain", "quantity": 500, "unit": "kg",
                 "income": self.random.choice((40, -25, 12.34))}
            )  # fmt: skip
        if self.random.random() < 0.3:
            self._labour(site, self.random.choice(("brewhouse", "cellar", "packaging", "warehouse")))

    def _ship(self, site: str) -> None:
        held = [key for key, units in self.stock.items() if key[0] == site and units > 0]
        if not held:
            return
        if len(held) > 1 and self.random.random() < 0.15:
            key = self.random.choice(held)
            units = self.random.randint(1, self.stock[key])
            into = self.random.choice([package for package in PACKAGES if package != key[2]])
            if self._may_repack(key, into):
                self.records["repacks"].append(
                    {"document": self._name("K"), "date": self.day, "site": self._site(site), "from_beer": key[1],
                     "from_package": key[2], "from_units": units, "to_beer": key[1], "to_package": into,
                     "to_units": 2 * units}
                )  # fmt: skip
                self.stock[key] -= units
                self.stock[(site, key[1], into)] += 2 * units
        for _ in range(self.random.choice((0, 1, 2, 3))):
            key = self.random.choice(held)
            units = self.random.randint(1, max(self.stock[key], 1))
            if self.short and self.random.random() < 0.3:
                units += 7
            elif self.stock[key] < units:
                continue
            document = self._name("S")
            self.records["shipments"].append(
                {"document": document, "date": self.day, "site": self._site(site),
                 "account": self.random.choice(("House", "Trade")), "beer": key[1], "package": key[2], "units": units,
                 "purpose": self.random.choice(PURPOSES), "unit_price": self._money(150),
                 "freight": self.random.choice((0, 0, 12.5))}
            )  # fmt: skip
            self.stock[key] = max(self.stock[key] - units, 0)
            if self.random.random() < 0.2:
                self._return(site, key, document)
        if self.random.random() < 0.3 and not self.short:
            key = self.random.choice(held)
            counted = max(self.stock[key] + self.random.choice((-2, -1, 0, 1)), 0)
            self.stock[key] = counted
            self.records["counts"].append(
                {"date": self.day, "site": self._site(site), "beer": key[1], "package": key[2], "quantity": counted,
                 "unit": "each"}
            )  # fmt: skip

    def _return(self, site: str, key: tuple[str, str, str], document: str) -> None:
        outcome = self.random.choice(("restocked", "destroyed"))
        self.records["returns"].append(
            {"document": self._name("C"), "date": self.day, "site": self._site(site), "account": "Trade",
             "beer": key[1], "package": key[2], "units": 1, "outcome": outcome, "original_document": document,
             "credit": self._money(60)}
        )  # fmt: skip
        # The books take the day's returns before its shipments, so the stock was never lower for it.
        if outcome == "restocked":
            self.stock[key] += 1

    def _month_ends(self) -> None:
        month = date(2026, 1, 1)
        while month <= self.day:
            for site in SITES:
                for pool in ("rent", "steam", "lease", "payroll", "office"):
                    if self.random.random() < 0.8:
                        self.records["expenses"].append(
                            {"month": f"{month:%Y-%m}", "site": self._site(site), "pool": pool,
                             "amount": self.random.choice((1000, 333.33, -50, 0.01))}
                        )  # fmt: skip
            month = (month + timedelta(days=32)).replace(day=1)

    # -- small words

    def _may_repack(self, key: tuple[str, str, str], into: str) -> bool:
        """By monthly average a ring of repacks within one month has no value; the generator makes none."""
        return not any(row["to_package"] == key[2] or row["from_package"] == into for row in self.records["repacks"])

    def _use(self, site: str, material: str, quantity: float, unit: str, **names: Any) -> None:
        self.records["uses"].append(
            {"date": self.day, "site": self._site(site), "material": material, "quantity": quantity, "unit": unit} | names
        )

    def _labour(self, site: str, stage: str, **names: Any) -> None:
        cost = {} if self.random.random() < 0.2 else {"cost": self._money(120)}
        self.records["labour"].append(
            {"date": self.day, "site": self._site(site), "stage": stage, "hours": self.random.randint(1, 9)} | cost | names
        )

    def _measure(self, **figures: float) -> Row:
        """Volumes in barrels, or the same in hectolitres."""
        if not self.metric:
            return figures | {"volume_unit": "bbl"}
        return {name: round(figure * 1.17347765, 4) for name, figure in figures.items()} | {"volume_unit": "hL"}

    def _volume(self, low: float, high: float) -> float:
        return round(self.random.uniform(low, high), 2)

    def _money(self, about: float) -> float:
        return round(self.random.uniform(0.2, 1.8) * about, 2)

    def _beer(self) -> str:
        return self.random.choice(BEERS)[0]

    def _site(self, site: str) -> str:
        return "main" if site == "north" else site

    def _name(self, letter: str) -> str:
        self.number += 1
        return f"{letter}{self.number:05d}"
