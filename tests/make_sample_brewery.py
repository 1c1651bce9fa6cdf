"""Writes the sample brewery: three months of an invented brewery's paper, the same every time.

The brewery is worked day by day, so that its records can be true: nothing is drawn from an empty tank, used before it
was bought or shipped before it was packaged. `sample_brewery_facts` says what brewery it is, `sample_brewery_cellar`
works the plant; here are the warehouse, the month ends and the writing.

    python tests/make_sample_brewery.py [FOLDER]       (default: sample_inputs beside this folder)
"""

from __future__ import annotations

import csv
import io
import re
import sys
import zipfile
from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import sample_brewery_facts as facts
from sample_brewery_cellar import Cellar, Lot, Row, plain
from sample_brewery_facts import BEER, MATERIALS, PACKAGE_MATERIALS, VESSELS

COLUMNS = {  # kind: columns; a name in capitals marks a kind with one file a month
    "opening_materials": "site,material,quantity,unit,cost",
    "opening_lots": "lot,site,beer,vessel,volume,volume_unit,cost_ingredients,cost_labour,cost_overhead",
    "opening_goods": "site,beer,package,units,cost",
    "receipts": "date,site,material,quantity,unit,cost,freight,supplier,document,supplier_lot",
    "USES": "date,site,material,quantity,unit,brew,lot,run,pool,supplier_lot,generation",
    "BREWS": "brew,date,site,beer,lot,vessel,strike_volume,strike_unit,strike_temp,kettle_full,end_of_boil,kettle_temp,"
             "into_fermenter,volume_unit,temp_unit,kettle_gravity,original_gravity,gravity_unit",
    "MOVES": "move,date,site,from_lot,to_lot,to_vessel,beer,volume_out,volume_in,volume_unit,reason,account,unit_price,"
             "lot_emptied",
    "READINGS": "date,site,lot,volume,volume_unit,gravity,gravity_unit",
    "PACKAGING": "run,line,date,site,lot,package,filled,rejected,average_fill,fill_unit,volume_drawn,volume_unit,"
                 "lot_emptied",
    "SHIPMENTS": "document,line,date,site,account,beer,package,units,purpose,unit_price,freight",
    "returns": "document,line,date,site,account,beer,package,units,outcome,original_document,volume_returned,"
               "volume_unit,credit",
    "COUNTS": "date,counted_on,site,material,lot,beer,package,quantity,unit,explanation",
    "LABOUR": "date,site,stage,hours,cost,brew,lot,run",
    "expenses": "month,site,pool,amount",
    "byproducts": "date,site,kind,quantity,unit,income",
    "empties": "date,site,account,package,units,outcome",
    "filings": "area,site,period,filed_on,quantity,amount",
    "payments": "date,area,site,period,amount,interest",
    "prices": "from_date,beer,package,unit_price,retail_price,account_kind",
    # the sheets of reference.xlsx
    "beers": "beer,style,tax_class,abv_pct,original_plato",
    "materials": "material,kind,stock_unit,extract_pct,standard_price",
    "vessels": "vessel,site,kind,working_volume,volume_unit,reading_tolerance",
    "accounts": "account,kind,ownership,area",
    "recipes": "beer,material,quantity_per_bbl,unit",
    "package_materials": "package,material,quantity,unit",
    "standards": "beer,stage,allowed_loss_pct,loss_bbl_per_lb_hops",
}
SHEETS = ("beers", "materials", "vessels", "accounts", "recipes", "package_materials", "standards")

MONTH_ENDS = (date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31))
LATE_COUNT = date(2026, 3, 5)  # one cold room was counted five days late
MATERIALS_OFF = {  # in stock units: spilt, a torn bag, a bag of caps that was behind the line, slurry poured away
    (0, "pale malt"): -21, (0, "keg cap"): -12, (1, "pale malt"): -55, (1, "wheat malt"): -8, (2, "pale malt"): -17,
    (2, "crystal malt"): -5, (2, "keg cap"): 50, (2, "ale yeast"): -12,
}
GOODS_OFF = {  # what the count of goods found
    (0, "Wexel IPA", "sixth_bbl"): -2, (1, "Tavvel Amber", "case_24x16"): -3, (1, "Quillmouth Pale", "half_bbl"): 1,
    (2, "Orrel Lager", "case_24x16"): -4,
}
EXPLAINED = {  # why a count was short; March's is still to be explained
    (0, "Wexel IPA", "sixth_bbl"): "two sixths burst in the frost of 29 January, seen by the truck driver",
    (1, "Tavvel Amber", "case_24x16"): "three cases crushed under a pallet, written into the warehouse log",
}
HOLIDAYS = {date(2026, 1, 1), date(2026, 1, 19), date(2026, 2, 16)}


def alcohol_pct(original: float, final: float) -> float:
    """Percent alcohol by volume from degrees Plato: Balling's formulas; 0.794 the relative density of alcohol."""
    real_extract = 0.1808 * original + 0.8192 * final
    by_weight = (original - real_extract) / (2.0665 - 0.010665 * original)
    return by_weight * (1 + final / 258.6) / 0.794


class Brewery(Cellar):
    """The whole brewery: the plant, its warehouse and its office."""

    def __init__(self) -> None:
        super().__init__()
        self.shipped: list[Row] = []
        self.kegs_out: list[tuple[date, str, str, int]] = []
        self.late_counts: list[tuple[tuple[str, str], int]] = []

    # --- the warehouse

    def deliver(self, account: str, purpose: str, wanted: dict[tuple[str, str], int], price: str = "",
                freight: str = "") -> None:
        """One delivery note with what there is of what is wanted."""
        lines = [(goods, min(units, self.goods.get(goods, 0))) for goods, units in wanted.items()]
        lines = [(goods, units) for goods, units in lines if units > 0]
        if not lines:
            return
        document = self.number("DN", 4)
        for line, ((beer, package), units) in enumerate(lines, 1):
            unit_price: object = price
            if price == "agreed":  # written on the note: the list's, now and then with something off
                kind = facts.ACCOUNTS[account][0]
                unit_price = plain(self.list_price(beer, package, kind) * self.chance.choice((1, 1, 1, 0.97)), 2)
            row = self.write("SHIPMENTS", document=document, line=line, account=account, beer=beer, package=package,
                             units=units, purpose=purpose, unit_price=unit_price, freight=freight if line == 1 else "")
            self.shipped.append(row)
            self.goods[beer, package] -= units
            assert self.goods[beer, package] >= 0
            if not package.startswith("case") and purpose in ("sale", "own_location", "tavern"):
                self.kegs_out.append((self.today, account, package, units))

    def list_price(self, beer: str, package: str, kind: str) -> float:
        since, factor, kinds = facts.PRICE_RISE
        rise = factor if self.today >= since and kind in kinds else 1.0
        return round(facts.PRICES[kind][package] * BEER[beer].price * rise * 2) / 2

    def wants(self, beers: list[str], most: dict[str, int]) -> dict[tuple[str, str], int]:
        pairs = [(b, p) for b in beers for p in BEER[b].shares if p in most]
        asked = {pair: self.chance.randint(0, most[pair[1]]) for pair in pairs}
        return {pair: units for pair, units in asked.items() if units}

    def ship(self) -> None:
        names, weekday = list(BEER), self.today.weekday()
        if self.today in (date(2026, 1, 22), date(2026, 2, 19), date(2026, 3, 19)):
            self.deliver(facts.SISTER, "in_bond", {("Brindlow Stout", "half_bbl"): 6}, "agreed", "48.00")
            self.deliver(facts.ABROAD, "export", {("Orrel Lager", "keg_50L"): 12}, "agreed", "140.00")
        if weekday in (1, 4):  # Tuesday and Friday: the houses
            for house in facts.HOUSES:
                self.deliver(house, "own_location", self.wants(names, {"half_bbl": 2, "sixth_bbl": 2, "case_24x16": 2}))
        if weekday == 4:
            self.deliver(facts.TAPROOM, "tavern", self.wants(names[:5], {"half_bbl": 1, "sixth_bbl": 1}))
        if weekday == 3:  # Thursday: a bar draws beer, two shops sell cans and small kegs
            for retailer in facts.RETAILERS:
                bar = retailer == facts.RETAILERS[-1]
                most = {"half_bbl": 2, "sixth_bbl": 2} if bar else {"sixth_bbl": 2, "case_24x16": 8}
                self.deliver(retailer, "sale", self.wants(names, most), "", "18.50")
        if weekday == 2:  # Wednesday: the wholesaler takes most of what stands there
            keep = {"half_bbl": 14, "sixth_bbl": 18, "keg_50L": 14, "case_24x16": 40}
            spare = {pair: int((units - keep[pair[1]]) * 0.7) for pair, units in sorted(self.goods.items())}
            self.deliver(facts.WHOLESALER, "sale", {k: v for k, v in spare.items() if v > 0}, "agreed", "65.00")
        if self.today == date(2026, 2, 11):  # fell off the fork-lift
            self.deliver(facts.YARD, "destroyed", {("Tavvel Amber", "half_bbl"): 1}, "0")
        if self.today == date(2026, 3, 10):
            self.deliver(facts.LABORATORY, "laboratory", {("Wexel IPA", "case_24x16"): 1}, "0")
        if self.today in (date(2026, 1, 30), date(2026, 2, 27), date(2026, 3, 31)):
            self.deliver(facts.STAFF, "given_away", {("Quillmouth Pale", "case_24x16"): 4}, "0")

    def take_back(self) -> None:
        """Three returns: a wrong delivery put back in stock, a part-full keg and two faulty ones poured away."""
        returns = {
            date(2026, 1, 28): ("retailer", "sixth_bbl", 1, "restocked", ""),
            date(2026, 2, 18): ("own_location", "half_bbl", 1, "destroyed", "6.4"),
            date(2026, 3, 18): ("wholesaler", "sixth_bbl", 2, "destroyed", ""),
        }
        if self.today not in returns:
            return
        kind, package, units, outcome, gallons = returns[self.today]
        sold = next(
            row for row in reversed(self.shipped)
            if facts.ACCOUNTS[str(row["account"])][0] == kind and row["package"] == package
            and row["units"] > units and row["date"] < self.today and BEER[row["beer"]].tax_class == "beer"
        )
        price = Decimal(str(sold["unit_price"] or self.list_price(str(sold["beer"]), package, kind)))
        credit = plain(price * units * (Decimal(gallons) / Decimal("15.5") if gallons else 1), 2)
        self.write("returns", document=self.number("CR"), line=1, account=sold["account"], beer=sold["beer"],
                   package=package, units=units, outcome=outcome, original_document=sold["document"],
                   volume_returned=gallons, volume_unit="gal" if gallons else "", credit=credit)
        if outcome == "restocked":
            self.goods[str(sold["beer"]), package] += units

    def fetch_empties(self) -> None:
        """Mondays: kegs delivered three weeks ago come back, a few never do."""
        back: dict[tuple[str, str], int] = defaultdict(int)
        old = [entry for entry in self.kegs_out if (self.today - entry[0]).days >= 21]
        self.kegs_out = [entry for entry in self.kegs_out if entry not in old]
        for _, account, package, units in old:
            back[account, package] += units
        for (account, package), units in sorted(back.items()):
            lost = int(units >= 8 and self.chance.random() < 0.15)
            self.write("empties", account=account, package=package, units=units - lost, outcome="back")
            if lost:
                self.write("empties", account=account, package=package, units=lost, outcome="lost")

    # --- month end

    def count(self) -> None:
        which = MONTH_ENDS.index(self.today)
        for name, material in MATERIALS.items():
            # Spices and extracts are never counted; hops, yeast, gas and what comes in kilograms at the quarter's end.
            monthly = material.kind in ("malt", "adjunct", "packaging") and material.order_unit != "bag25kg"
            if material.kind == "flavouring" or (which != 2 and not monthly):
                continue
            off = MATERIALS_OFF.get((which, name))
            # Where the shelf agrees, the store-keeper writes down the book's own figure.
            found = self.stock[name].normalize() if off is None else plain(self.stock[name] + off, 0)
            self.write("COUNTS", material=name, quantity=found, unit=material.unit)
            self.stock[name] = found
        for lot in self.lots.values():
            if lot.emptied is None:
                over = facts.DIPSTICK_BBL if lot.vessel == facts.HIGH_DIPSTICK else 0.0
                self.write("COUNTS", lot=lot.lot, quantity=self.dip(lot.true_bbl, lot.vessel, over), unit="bbl")
        for pair, units in sorted(self.goods.items()):
            found_units = max(units + GOODS_OFF.get((which, *pair), 0), 0)
            if which == 1 and (which, *pair) not in GOODS_OFF:
                self.late_counts.append((pair, found_units))  # written on the day the late count is known
            else:
                self.count_goods(pair, found_units, self.today, explanation=EXPLAINED.get((which, *pair), ""))
            self.goods[pair] = found_units

    def count_goods(self, pair: tuple[str, str], units: int, day: date, counted_on: date | None = None,
                    explanation: str = "") -> None:
        self.write("COUNTS", date=day, counted_on=counted_on or "", beer=pair[0], package=pair[1], quantity=units,
                   unit="each", explanation=explanation)

    def count_late(self) -> None:
        """February's kegs and cases; three that stood behind others were counted on a later day, as they stood then."""
        february = MONTH_ENDS[1]
        moved = [row for kind in ("SHIPMENTS", "PACKAGING") for row in self.rows[kind] if row["date"] == self.today]
        touched = {(str(r.get("beer") or self.lots[str(r["lot"])].beer), str(r["package"])) for r in moved}
        quiet = [p for p, units in self.late_counts if p not in touched and self.goods[p] != units][:3]
        assert quiet, "no kind of goods moved after February and stood still on the day of the late count"
        for pair, units in self.late_counts:
            if pair in quiet:
                self.count_goods(pair, self.goods[pair], february, self.today)
            else:
                self.count_goods(pair, units, february)

    def weekly(self) -> None:
        """Monday: last week's spent grain, the cellar's and warehouse's hours, gas and caustic."""
        if self.grist_lb:
            income = self.chance.choice(("24.00", "30.00", "18.00", "-35.00"))  # at times the haulage costs more
            self.write("byproducts", kind="spent_grain", quantity=plain(self.grist_lb * self.vary((1.15, 0.05)), -1),
                       unit="lb", income=income)
            self.grist_lb = 0.0
        for stage, hours, rate in (("cellar", 30, 26), ("warehouse", 22, 21)):
            worked = plain(self.vary((hours, 3)), 1)
            self.write("LABOUR", stage=stage, hours=worked, cost=plain(worked * rate, 2))
        self.use("carbon dioxide", plain(self.vary((88, 12)), 0), pool="carbon dioxide")
        self.use("caustic", plain(self.vary((11, 2)), 1), pool="cleaning")

    # --- the three months

    def open_books(self) -> None:
        for name, material in MATERIALS.items():
            self.stock[name] = Decimal(material.opening)
            cost = plain(material.opening * material.price * 0.99, 2)
            self.write("opening_materials", material=name, quantity=material.opening, unit=material.unit, cost=cost)
        for lot, bbl in ((Lot(*opening[:4]), opening[4]) for opening in facts.OPENING_LOTS):
            self.lots[lot.lot] = lot
            volume = self.dip(bbl, lot.vessel)
            self.fill(lot, volume, bbl)
            self.write("opening_lots", lot=lot.lot, beer=lot.beer, vessel=lot.vessel, volume=volume, volume_unit="bbl",
                       cost_ingredients=plain(bbl * 54, 2), cost_labour=plain(bbl * 13, 2),
                       cost_overhead=plain(bbl * 25, 2))
        for beer in facts.BEERS:
            for package in beer.shares:
                units = facts.OPENING_UNITS[package] + self.chance.randint(0, 4)
                self.goods[beer.beer, package] = units
                each = facts.OPENING_COST[package] * (0.5 if beer.tax_class == "soft_drink" else 1)
                self.write("opening_goods", beer=beer.beer, package=package, units=units, cost=plain(units * each, 2))

    def work(self) -> None:
        self.open_books()
        while self.today <= facts.LAST_DAY:
            if self.today.weekday() < 5 and self.today not in HOLIDAYS:
                if self.today.weekday() == 0:
                    self.buy()
                    self.weekly()
                    self.fetch_empties()
                self.take_back()
                self.package()
                self.move_ready()
                self.brew()
                self.ship()
                self.tend()
            if self.today in MONTH_ENDS:
                self.count()
            if self.today == LATE_COUNT:
                self.count_late()
            self.today += timedelta(days=1)
        assert not self.plan, f"not brewed: {self.plan}"
        self.reference()

    def reference(self) -> None:
        for pool, amounts in facts.EXPENSES.items():
            for month, amount in enumerate(amounts, 1):
                self.write("expenses", month=f"2026-{month:02}", pool=pool, amount=amount)
        self.rows["expenses"].sort(key=lambda row: str(row["month"]))
        for beer in facts.BEERS:
            self.write("beers", beer=beer.beer, style=beer.style, tax_class=beer.tax_class,
                       abv_pct=plain(beer.abv_pct, 1), original_plato=plain(beer.original_plato, 1))
            for material, per_bbl in beer.recipe.items():
                self.write("recipes", beer=beer.beer, material=material, quantity_per_bbl=plain(per_bbl, 3),
                           unit=MATERIALS[material].unit)
            assert not beer.recipe or abs(alcohol_pct(beer.original_plato, beer.final_plato) - beer.abv_pct) < 0.15
        for name, m in MATERIALS.items():
            self.write("materials", material=name, kind=m.kind, stock_unit=m.unit, extract_pct=m.extract_pct,
                       standard_price=plain(m.price, 3))
        for vessel, (kind, volume, tolerance) in VESSELS.items():
            self.write("vessels", vessel=vessel, kind=kind, working_volume=volume, volume_unit="bbl",
                       reading_tolerance=tolerance)
        for account, (kind, ownership, area) in facts.ACCOUNTS.items():
            self.write("accounts", account=account, kind=kind, ownership=ownership, area=area)
        for package, needs in PACKAGE_MATERIALS.items():
            for material, each in needs.items():
                self.write("package_materials", package=package, material=material, quantity=each, unit="each")
        for name, stage, pct, per_lb in facts.STANDARDS:
            self.write("standards", beer=name, stage=stage, allowed_loss_pct=pct, loss_bbl_per_lb_hops=per_lb)
        for area, period, filed_on, quantity, amount in facts.FILINGS:
            self.write("filings", area=area, period=period, filed_on=filed_on, quantity=quantity, amount=amount)
            self.write("payments", date=filed_on, area=area, period=period, amount=amount, interest="")
        for start in (facts.FIRST_DAY, facts.PRICE_RISE[0]):
            self.today = start
            for kind in ("own_location", "wholesaler", "retailer", "public"):
                if start == facts.FIRST_DAY or kind in facts.PRICE_RISE[2]:
                    for beer in facts.BEERS:
                        for package in beer.shares:
                            price = plain(self.list_price(beer.beer, package, kind), 2)
                            glass = facts.CAN if package.startswith("case") else facts.GLASS
                            retail = plain(round(glass * beer.price * 4) / 4, 2) if kind == "own_location" else ""
                            self.write("prices", from_date=start, beer=beer.beer, package=package, unit_price=price,
                                       retail_price=retail, account_kind=kind)


def tables(brewery: Brewery) -> dict[str, list[list[str]]]:
    """Every csv file's cells by its name, headings first."""
    files: dict[str, list[list[str]]] = {}
    for kind, columns in COLUMNS.items():
        names = columns.split(",")
        for row in brewery.rows[kind]:
            unknown = set(row) - set(names) - {"site"}
            assert not unknown, f"{kind}: {unknown}"
            name = f"{kind.lower()}-{row['date']:%Y-%m}" if kind.isupper() else kind
            files.setdefault(name, [names]).append([text(row.get(column, "")) for column in names])
    return files


def text(value: object) -> str:
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def write_workbook(path: Path, sheets: dict[str, list[list[str]]]) -> None:
    """The reference records: names as text, figures as numbers."""
    from openpyxl import Workbook

    workbook = Workbook()
    workbook.remove(workbook.active)
    note = workbook.create_sheet("notes")
    note.append([f"Reference records of {facts.NAME}: every name and figure is invented."])
    for name, cells in sheets.items():
        sheet = workbook.create_sheet(name)
        sheet.append(cells[0])
        for row in cells[1:]:
            sheet.append([number_or_text(cell) for cell in row])
        sheet.freeze_panes = "A2"
    packed = io.BytesIO()
    workbook.save(packed)
    # Written again without the hour it was made, so that the same brewery gives the same file.
    with zipfile.ZipFile(packed) as source, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = re.sub(rb"(?<=>)[0-9-]{10}T[0-9:]{8}Z", b"2026-01-01T00:00:00Z", source.read(name))
            target.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)


def number_or_text(cell: str) -> str | float | int | None:
    try:
        return int(cell) if cell.isdigit() else float(cell)
    except ValueError:
        return cell or None


def main(folder: Path | None = None) -> Path:
    """Writes the sample brewery into `folder` (made if it is not there) and returns it."""
    folder = folder or Path(__file__).parents[1] / "sample_inputs"
    inputs = folder / "inputs"
    inputs.mkdir(parents=True, exist_ok=True)
    brewery = Brewery()
    brewery.work()
    check(brewery)
    files = tables(brewery)
    write_workbook(inputs / "reference.xlsx", {name: files.pop(name) for name in SHEETS})
    for name, cells in files.items():
        with (inputs / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(cells)
    for name, content in (("brewery.toml", facts.BREWERY_TOML), ("README.md", facts.README)):
        (folder / name).write_text(content, encoding="utf-8", newline="\n")
    return folder


def check(brewery: Brewery) -> None:
    """What must be true of the paper as a whole, whatever the days did."""
    rows = brewery.rows
    for kind, keys in (("BREWS", ("brew",)), ("MOVES", ("move",)), ("PACKAGING", ("run", "line")),
                       ("SHIPMENTS", ("document", "line")), ("returns", ("document", "line"))):
        found = [tuple(row[key] for key in keys) for row in rows[kind]]
        assert len(found) == len(set(found)), f"{kind}: a document stands twice"
    for row in rows["SHIPMENTS"]:
        kind = facts.ACCOUNTS[str(row["account"])][0]
        assert row["unit_price"] != "" or kind in ("own_location", "retailer", "public"), f"no price: {row}"
    for vessel in VESSELS:
        fillings = sorted((lot for lot in brewery.lots.values() if lot.vessel == vessel), key=lambda lot: lot.opened)
        for earlier, later in pairwise(fillings):
            assert earlier.emptied is not None and earlier.emptied < later.opened, f"{vessel} holds two lots"
    for lot in brewery.lots.values():
        gain = float(lot.drawn_bbl - lot.in_bbl)
        assert gain < lot.error, f"{lot.lot} gave {gain} bbl more than it held"
    assert not brewery.mistakes_due["volume_in"] and not brewery.mistakes_due["empty"] and brewery.dumped
    assert len(brewery.served) == 3 and len(rows["returns"]) == 3


if __name__ == "__main__":
    print(main(Path(sys.argv[1]) if len(sys.argv) > 1 else None))
