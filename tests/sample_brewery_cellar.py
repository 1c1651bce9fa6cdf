"""The sample brewery's brewhouse, cellar and packaging hall: what truly happens there, and what its people write down.

Nothing is drawn from an empty tank or used before it was bought. Dipsticks are off by their tolerance, one reads high,
one tank leaks, one beer loses more than it should to its hops, and some readings are missing.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import sample_brewery_facts as facts
from sample_brewery_facts import BEER, MATERIALS, PACKAGE_BBL, PACKAGE_MATERIALS, SITE, VESSELS

Row = dict[str, Any]
MICRO = Decimal("0.000001")
LB_PER_KG = 1 / Decimal("0.45359237")
STOCK_UNITS = {  # what one of a written unit is in the stock unit
    "bag55lb": Decimal(55), "bag50lb": Decimal(50), "bag25kg": 25 * LB_PER_KG, "kg": LB_PER_KG, "lb": Decimal(1),
}
UNDATED = {  # kinds without a date of their own
    "opening_materials", "opening_lots", "opening_goods", "expenses", "filings", "prices", "beers", "materials", "vessels",
    "accounts", "recipes", "package_materials", "standards",
}

# Picked among eighty as one by which chance alone makes no tank and no beer stand out: only what is wrong does.
SEED = 20260163

# The mistakes of real paper: by the number of the job, or on the day.
NO_END_OF_BOIL, RECIPE_ONLY, NO_STRIKE = (9, 41), (14, 35, 55), (23, 48)  # brews
NO_VOLUME_IN = (7, 31, 52)  # moves, or the next one that hides nothing of the leak or the dipstick
COUNTED_DRAWS = 9  # every ninth packaging line was not dipped


@dataclass
class Lot:
    """A filling of a tank: what is truly in it, and what the paper says went in and out."""

    lot: str
    beer: str
    vessel: str
    opened: date
    true_bbl: float = 0.0
    in_bbl: Decimal = Decimal(0)
    drawn_bbl: Decimal = Decimal(0)
    readings: int = 0
    hops_lb: float = 0.0
    emptied: date | None = None
    jobs_done: int = 0
    whole_bbl: float = 0.0  # a bright tank's at its first run
    gravity: float = 99.0

    @property
    def tolerance(self) -> float:
        return float(VESSELS[self.vessel][2])

    @property
    def error(self) -> float:
        """Twice the reading error of all that went in and out."""
        return 2 * math.sqrt(max(self.readings, 1)) * self.tolerance


def plain(value: float | Decimal, places: int) -> Decimal:
    """A figure as written down, with so many decimals."""
    return Decimal(str(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def first_monday(day: date) -> date:
    """Of that day's month."""
    return day.replace(day=7) - timedelta(days=day.replace(day=7).weekday())


def water_density(celsius: float) -> float:
    """kg/m3, by Kell (1975)."""
    terms = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
    return sum(term * celsius**power for power, term in enumerate(terms)) / (1 + 16.879850e-3 * celsius)


class Cellar:
    """The plant at work. `rows` is its paper, by kind; the rest is what is truly there, or stands in its books."""

    def __init__(self) -> None:
        self.chance = random.Random(SEED)
        self.mashes = random.Random(SEED)  # of its own: what the mash does moves nothing else
        self.rows: dict[str, list[Row]] = defaultdict(list)
        self.today = facts.FIRST_DAY
        self.stock: dict[str, Decimal] = {}
        self.codes: dict[str, str] = {}
        self.goods: dict[tuple[str, str], int] = {}
        self.lots: dict[str, Lot] = {}
        self.free_from: dict[str, date] = {v: facts.FIRST_DAY - timedelta(days=9) for v in VESSELS}
        self.plan = [(day, beer, brews) for day, beer, brews in facts.BREWING_PLAN]
        self.numbers: dict[str, int] = defaultdict(int)
        self.grist_lb = 0.0
        self.mistakes_due = {"volume_in": list(NO_VOLUME_IN), "empty": [6, 24]}
        self.served: set[str] = set()
        self.fed_by_leaking: dict[str, int] = defaultdict(int)
        self.dumped = False

    # --- the paper

    def write(self, kind: str, /, **fields: Any) -> Row:
        row: Row = {"site": SITE, **fields}
        if kind not in UNDATED:
            row.setdefault("date", self.today)
        self.rows[kind].append(row)
        return row

    def number(self, prefix: str, width: int = 3) -> str:
        self.numbers[prefix] += 1
        return f"{prefix}-{self.numbers[prefix]:0{width}}"

    def vary(self, share: tuple[float, float]) -> float:
        """A share as it came out this time."""
        middle, deviation = share
        return min(max(self.chance.gauss(middle, deviation), middle - 2 * deviation), middle + 2 * deviation)

    def dip(self, true_bbl: float, vessel: str, over: float = 0.0) -> Decimal:
        """A reading in that vessel, off by chance (one tolerance is one standard deviation) and by `over`."""
        return plain(true_bbl + over + self.vary((0.0, float(VESSELS[vessel][2]))), 1)

    # --- stock of materials, to the millionth of a stock unit, as the books keep it

    def use(self, material: str, quantity: Decimal, **where: str) -> None:
        kind, unit = MATERIALS[material].kind, MATERIALS[material].unit
        self.write("USES", material=material, quantity=quantity, unit=unit, **where,
                   supplier_lot=self.codes.get(material, "") if kind == "hops" else "",
                   generation=self.generation(material) if kind == "yeast" else "")
        self.take(material, quantity)

    def take(self, material: str, quantity: Decimal) -> None:
        self.stock[material] -= quantity
        assert self.stock[material] >= 0, f"{self.today}: {material} is short by {-self.stock[material]}"

    def buy(self) -> None:
        """Monday's deliveries of whatever has run low; yeast is cropped in the house, and bought fresh each month."""
        for name, material in MATERIALS.items():
            fresh = material.kind == "yeast" and self.today.day <= 7
            if self.stock[name] >= material.least and not fresh:
                continue
            if material.kind == "yeast" and not fresh:
                quantity, unit, cost, freight = Decimal(material.least), "L", Decimal(0), ""
                supplier, document = "own crop", self.number("CROP")
            else:
                quantity, unit = Decimal(material.order), material.order_unit
                dearer = 1.04 if self.today.month > 1 and material.kind == "malt" else 1.0
                price = material.price * dearer * self.chance.uniform(0.97, 1.04)
                cost = plain(price * float(self.in_stock_units(name, quantity, unit)), 2)
                freight = str(self.chance.randint(14, 24) * 10) if material.kind == "malt" else ""
                supplier, document = material.supplier, self.number("PO")
            lot_code = f"{name[:2].upper()}{self.today:%y%m%d}" if material.kind in ("malt", "hops") else ""
            self.write("receipts", material=name, quantity=quantity, unit=unit, cost=cost, freight=freight,
                       supplier=supplier, document=document, supplier_lot=lot_code)
            self.codes[name] = lot_code
            self.stock[name] += self.in_stock_units(name, quantity, unit)

    @staticmethod
    def in_stock_units(material: str, quantity: Decimal, unit: str) -> Decimal:
        stock_unit = MATERIALS[material].unit
        if unit == stock_unit:
            return quantity
        in_pounds = quantity * STOCK_UNITS[unit]
        return (in_pounds * (16 if stock_unit == "oz" else 1)).quantize(MICRO, ROUND_HALF_UP)

    # --- tanks

    def lot_in(self, vessel: str) -> Lot | None:
        return next((lot for lot in self.lots.values() if lot.vessel == vessel and lot.emptied is None), None)

    def free_tanks(self, names: list[str]) -> list[str]:
        """Tanks empty since yesterday at the latest, the longest empty first."""
        empty = [v for v in names if self.lot_in(v) is None and self.free_from[v] <= self.today]
        return sorted(empty, key=lambda v: (self.free_from[v], int(v[2:])))

    def empty(self, lot: Lot) -> None:
        lot.emptied, lot.true_bbl = self.today, 0.0
        self.free_from[lot.vessel] = self.today + timedelta(days=1)

    def drawn(self, lot: Lot, volume: Decimal, true_bbl: float) -> None:
        """Keeps a lot's balance, and that its paper never takes out more than its readings allow."""
        lot.drawn_bbl += volume
        lot.readings += 1
        lot.true_bbl -= true_bbl
        assert lot.emptied is None and lot.opened <= self.today and lot.true_bbl > -1e-9
        assert float(lot.drawn_bbl - lot.in_bbl) < lot.error, f"{lot.lot} gives more than it holds"

    def fill(self, lot: Lot, volume: Decimal, true_bbl: float) -> None:
        lot.in_bbl += volume
        lot.true_bbl += true_bbl
        lot.readings += 1
        assert lot.in_bbl <= Decimal(VESSELS[lot.vessel][1]), f"{lot.vessel} is overfull"

    # --- the brewhouse

    def brew(self) -> None:
        due = [job for job in self.plan if job[0] <= self.today][:2]
        for job in due:
            _, name, brews = job
            beer = BEER[name]
            tanks = self.free_tanks([f"FV{n}" for n in (range(8, 11) if brews == 2 else range(1, 8))])
            if not tanks:
                continue
            # The tank beside the brewhouse is taken whenever it is free, but for the slow lagers and the sodas.
            quick = beer.style not in ("lager", "soft drink")
            near = [v for v in tanks if v == facts.LEAKING_TANK]
            tank = near[0] if near and quick else next((v for v in tanks if v not in near), tanks[0])
            self.plan.remove(job)
            lot = Lot(self.number("LT"), name, tank, self.today)
            self.lots[lot.lot] = lot
            for _ in range(brews):
                self.boil(beer, lot)

    def boil(self, beer: facts.Beer, lot: Lot) -> None:
        brew = self.number("BR")
        soda = beer.tax_class == "soft_drink"
        knockout = self.vary((facts.SOFT_DRINK_KNOCKOUT_BBL if soda else facts.KNOCKOUT_BBL, 0.25))
        cold = knockout / (1 - self.vary(facts.KETTLE_LOSS))
        fahrenheit = self.chance.choice((207, 208, 209, 210))
        hot = cold / (water_density((fahrenheit - 32) / 1.8) / water_density(20))
        end_of_boil: Decimal | str = self.dip(hot, "Kettle")
        kettle_full = self.dip(hot / (1 - self.vary((0.07, 0.006))), "Kettle")
        into = self.dip(knockout, lot.vessel)
        gravity = self.vary((beer.original_plato, 0.12))
        assert kettle_full <= Decimal(VESSELS["Kettle"][1])
        number = self.numbers["BR"]
        missing = number in NO_END_OF_BOIL
        self.write(
            "BREWS", brew=brew, beer=beer.beer, lot=lot.lot, vessel=lot.vessel, kettle_full=kettle_full,
            end_of_boil="" if missing else end_of_boil, kettle_temp="" if missing else fahrenheit, into_fermenter=into,
            volume_unit="bbl", temp_unit="F", kettle_gravity=plain(self.vary((gravity, 0.06)), 1),
            original_gravity=plain(gravity, 1), gravity_unit="plato",
            **self.strike(beer, number))
        self.fill(lot, into, knockout)
        for material, per_bbl in beer.recipe.items():
            kind = MATERIALS[material].kind
            if number in RECIPE_ONLY:  # the brewhouse sheet was lost: the books take the recipe
                quantity = (plain(per_bbl, 3) * into).quantize(MICRO, ROUND_HALF_UP)
                self.take(material, quantity)
            else:  # the extract follows the brew; hops and yeast are weighed for a usual one
                barrels = knockout if soda or kind in ("malt", "adjunct") else facts.KNOCKOUT_BBL
                weighed = per_bbl * barrels * self.vary((1.0, 0.012))
                quantity = plain(weighed, 0 if weighed > 100 else 1)
                self.use(material, quantity, brew=brew)
            self.grist_lb += float(quantity) if kind in ("malt", "adjunct") else 0.0
        hours = Decimal("6.5") if number % 2 and lot.readings > 1 else Decimal("8.5") if not soda else Decimal(5)
        self.write("LABOUR", stage="brewhouse", hours=hours, cost=plain(hours * Decimal("27.5"), 2), brew=brew)

    def strike(self, beer: facts.Beer, number: int) -> Row:
        """The strike water of a brew, read hot; not where the sheet was lost or nobody wrote it down."""
        mashed = sum(per_bbl for material, per_bbl in beer.recipe.items() if MATERIALS[material].kind in ("malt", "adjunct"))
        middle, deviation = facts.STRIKE_L_PER_KG
        litres = float(mashed) * facts.KNOCKOUT_BBL / float(LB_PER_KG) * self.mashes.gauss(middle, deviation)
        fahrenheit = self.mashes.choice(facts.STRIKE_F)
        if not mashed or number in (*RECIPE_ONLY, *NO_STRIKE):
            return {}
        hot = litres * water_density(20) / water_density((fahrenheit - 32) / 1.8)
        return {"strike_volume": plain(hot / 3.785411784, 0), "strike_unit": "gal", "strike_temp": fahrenheit}

    def generation(self, yeast: str) -> int:
        """How often the yeast was cropped: fresh on the first Monday of a month, then every week, lager yeast every other."""
        monday = max(day for day in map(first_monday, (self.today, self.today.replace(day=1) - timedelta(days=1)))
                     if day <= self.today)  # fmt: skip
        return (self.today - monday).days // (14 if yeast.startswith("lager") else 7)

    # --- the cellar

    def tend(self) -> None:
        """Dry hops and gravity readings."""
        for lot in list(self.lots.values()):
            beer, days = BEER[lot.beer], (self.today - lot.opened).days
            if lot.emptied or not lot.vessel.startswith("FV") or beer.tax_class == "soft_drink":
                continue
            # a weekend pushes it to Monday
            if beer.dry_hops and not lot.hops_lb and days >= 5 and lot.lot not in ("LT-904",):
                pounds = plain(beer.dry_hops * lot.true_bbl, 0)
                lot.hops_lb = float(pounds)
                self.use("dry-hop pellets", pounds, lot=lot.lot)
                self.write("LABOUR", stage="cellar", hours=Decimal("1.5"), cost=Decimal("41.25"), lot=lot.lot)
            slow = 4.0 if beer.style == "lager" else 2.4
            left = math.exp(-((days / slow) ** 1.5))
            true = beer.final_plato + (beer.original_plato - beer.final_plato) * left
            lot.gravity = min(lot.gravity, max(self.vary((true, 0.06)), beer.final_plato - 0.1))
            if days and (days % 2 == 0 or days >= beer.days - 1):
                volume: object = self.dip(lot.true_bbl, lot.vessel) if days % 6 == 0 else ""
                self.write("READINGS", lot=lot.lot, volume=volume, volume_unit="bbl" if volume else "",
                           gravity=plain(lot.gravity, 1), gravity_unit="plato")

    def move_ready(self) -> None:
        for lot in list(self.lots.values()):
            if lot.emptied or not lot.vessel.startswith("FV"):
                continue
            if (self.today - lot.opened).days < BEER[lot.beer].days:
                continue
            halves = 2 if lot.whole_bbl == 0 and VESSELS[lot.vessel][1] == "44" else 1
            bright = self.free_tanks([f"BT{n}" for n in range(1, 6)])
            if lot.vessel == facts.LEAKING_TANK:
                # Its hose does not reach that one; and it feeds the others in turn.
                bright = [v for v in bright if v != facts.HIGH_DIPSTICK]
                bright.sort(key=lambda v: self.fed_by_leaking[v])
            if len(bright) < halves:
                continue
            lost = self.vary(facts.FERMENTER_LOSS) if BEER[lot.beer].tax_class == "beer" else 0.01
            per_lb = facts.HOP_LOSS_GAL_PER_LB if lot.beer == facts.HOP_HUNGRY_BEER else facts.USUAL_HOP_LOSS_GAL_PER_LB
            lot.true_bbl = lot.true_bbl * (1 - lost) - lot.hops_lb * per_lb / 31
            lot.whole_bbl = lot.true_bbl
            for half, tank in enumerate(bright[:halves]):
                variant = facts.VARIANT_OF.get(lot.beer, "") if half else ""
                self.move_to_bright(lot, tank, lot.whole_bbl / halves, half == halves - 1, variant)

    def move_to_bright(self, lot: Lot, tank: str, portion: float, last: bool, variant: str) -> None:
        move = self.number("MV")
        arriving = portion * (1 - self.vary(facts.TRANSFER_LOSS))
        if lot.vessel == facts.LEAKING_TANK:
            arriving -= facts.LEAK_BBL
            self.fed_by_leaking[tank] += 1
        over = facts.DIPSTICK_BBL if tank == facts.HIGH_DIPSTICK else 0.0
        out = self.dip(portion, lot.vessel)
        reading_error = math.hypot(lot.tolerance, float(VESSELS[tank][2]))
        volume_in = self.dip(arriving, tank, over)
        while float(volume_in - out) > 1.6 * reading_error:  # more came in than went out: anyone dips again
            volume_in, out = self.dip(arriving, tank, over), self.dip(portion, lot.vessel)
        due = self.mistakes_due["volume_in"]
        forgotten = bool(due) and self.numbers["MV"] >= due[0] and lot.vessel != facts.LEAKING_TANK and not over
        if forgotten:
            due.pop(0)
        stays = self.mistakes_due["empty"]
        yeast_later = last and bool(stays) and self.numbers["MV"] >= stays[0]  # tank dumped as a job of its own
        into = Lot(self.number("LT"), variant or lot.beer, tank, self.today)
        self.lots[into.lot] = into
        self.write("MOVES", move=move, from_lot=lot.lot, to_lot=into.lot, to_vessel=tank, beer=variant, volume_out=out,
                   volume_in="" if forgotten else volume_in, volume_unit="bbl", reason="transfer",
                   lot_emptied="yes" if last and not yeast_later else "")
        self.drawn(lot, out, portion if not last else lot.true_bbl)
        self.fill(into, out if forgotten else volume_in, arriving)
        for material, per_bbl in BEER[into.beer].added:
            self.use(material, plain(per_bbl * arriving, 1), lot=into.lot)
        if yeast_later:
            stays.pop(0)
            self.write("MOVES", move=self.number("MV"), from_lot=lot.lot, volume_out=Decimal("0.6"), volume_unit="bbl",
                       reason="empty")
        if last:
            self.empty(lot)

    def leave_cellar(self, lot: Lot, volume: float, reason: str, **fields: Any) -> None:
        """A draw from a bright tank that is not packaged, truly as large as it reads."""
        quantity = plain(volume, 2)
        self.write("MOVES", move=self.number("MV"), from_lot=lot.lot, volume_out=quantity, volume_unit="bbl",
                   reason=reason, **fields)
        self.drawn(lot, quantity, volume)

    # --- packaging

    def package(self) -> None:
        """At most two runs a day: kegs first, the cans of the same tank on the next working day."""
        bright = [lot for lot in self.lots.values() if lot.vessel.startswith("BT") and lot.emptied is None]
        ready = sorted((lot for lot in bright if lot.opened < self.today), key=lambda lot: (lot.opened, lot.lot))
        for lot in ready[:2]:
            if not lot.jobs_done:
                self.before_packaging(lot)
            kegs = [p for p in BEER[lot.beer].shares if not p.startswith("case")]
            cases = [p for p in BEER[lot.beer].shares if p.startswith("case")]
            self.run(lot, cases if lot.jobs_done else kegs, last=bool(lot.jobs_done) or not cases)
            lot.jobs_done += 1

    def before_packaging(self, lot: Lot) -> None:
        month = f"{self.today:%Y-%m}"
        if month not in self.served and lot.beer == "Quillmouth Pale" and self.today.day > 7:
            self.served.add(month)
            self.leave_cellar(lot, 6.0, "serving_tank", account=facts.HOUSES[0],
                              unit_price=facts.SERVING_TANK_PRICE_PER_BBL)
        if not self.dumped and lot.beer == "Tavvel Amber" and self.today >= date(2026, 2, 9):
            self.dumped = True
            self.leave_cellar(lot, 3.5, "destroyed")
        if self.chance.random() < 0.15:
            self.leave_cellar(lot, 0.15, "sample")
        lot.true_bbl *= 1 - self.vary(facts.BRIGHT_TANK_LOSS)  # the tank's bottom, let off first
        lot.whole_bbl = lot.true_bbl

    def run(self, lot: Lot, packages: list[str], last: bool) -> None:
        run = self.number("RN")
        shares, filled_of = BEER[lot.beer].shares, {}
        left = lot.true_bbl
        for line, package in enumerate(packages, 1):
            ends = last and line == len(packages)
            kept = 1 - self.vary(facts.CANNING_LOSS if package.startswith("case") else facts.KEGGING_LOSS)
            wanted = left if ends else lot.whole_bbl * shares[package]
            filled = int(wanted * kept / PACKAGE_BBL[package])
            true_draw = left if ends else min(filled * PACKAGE_BBL[package] / kept, left)
            rejected = self.chance.randint(0, 2) if package.startswith("case") else 0
            rejected += int(self.numbers["RN"] % 14 == 5 and line == 1)  # a low-filled keg now and then
            filled -= rejected
            self.numbers["line"] += 1
            high = facts.DIPSTICK_BBL if lot.vessel == facts.HIGH_DIPSTICK else 0.0
            counted = self.numbers["line"] % COUNTED_DRAWS == 0 and not high
            read = self.dip(true_draw, lot.vessel, high if ends else 0.0)
            size = Decimal(str(PACKAGE_BBL[package])).quantize(MICRO, ROUND_HALF_UP)
            volume = size * (filled + rejected) if counted else read
            for _ in range(20):
                if not counted and float(lot.drawn_bbl + volume - lot.in_bbl) > 0.8 * lot.error:
                    volume = self.dip(true_draw, lot.vessel)  # more than the tank held: dipped again
            self.write(
                "PACKAGING", run=run, line=line, lot=lot.lot, package=package, filled=filled, rejected=rejected or "",
                average_fill=plain(self.vary((16.08, 0.04)), 2) if package.startswith("case") else "",
                fill_unit="floz" if package.startswith("case") else "", volume_drawn="" if counted else volume,
                volume_unit="" if counted else "bbl", lot_emptied="yes" if ends else "")
            self.drawn(lot, volume, lot.true_bbl if ends else true_draw)
            left -= true_draw
            filled_of[package] = filled
            self.goods[lot.beer, package] = self.goods.get((lot.beer, package), 0) + filled
            if rejected:
                filled_of["spoilt"] = rejected
            if ends:
                self.empty(lot)
        self.charge_run(run, filled_of)

    def charge_run(self, run: str, filled_of: dict[str, int]) -> None:
        spoilt = filled_of.pop("spoilt", 0)
        needs: dict[str, Decimal] = defaultdict(Decimal)
        for package, filled in filled_of.items():
            for material, each in PACKAGE_MATERIALS[package].items():
                needs[material] += each * filled
        # Every fourth sheet leaves the materials out, and the books take them from the package; not where some spoilt.
        for material, quantity in needs.items():
            if spoilt or self.numbers["RN"] % 4:
                spare = (self.chance.randint(0, 9) if quantity > 1000 else 0) + spoilt * (quantity > 60)
                self.use(material, quantity + spare, run=run)
            else:
                self.take(material, quantity)
        hours = plain(sum(2.5 + n / (28 if "case" in p else 22) for p, n in filled_of.items()), 1)
        self.write("LABOUR", stage="packaging", hours=hours, cost=plain(hours * Decimal(24), 2), run=run)
