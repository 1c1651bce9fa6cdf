"""The facts of the invented sample brewery: its beers, tanks, materials, customers and prices.

All of it is invented: the town, the brewery, its beers, its houses, its customers and suppliers. None is meant to be a
real one. The state is real, because an area is a place where duty is owed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

NAME = "Quillmouth Brewing (invented)"
SITE = "Quillmouth"
AREA = "US-ME"
FIRST_DAY = date(2026, 1, 1)
LAST_DAY = date(2026, 3, 31)

# What is wrong in this brewery, for its brewer to find.
LEAKING_TANK, LEAK_BBL = "FV4", 0.8  # its outlet drips while beer is moved to a bright tank: barrels lost each time
HIGH_DIPSTICK, DIPSTICK_BBL = "BT3", 0.5  # reads this much more than the tank holds, whatever it holds
HOP_HUNGRY_BEER, HOP_LOSS_GAL_PER_LB = "Wexel IPA", 1.6  # pellets hold this much beer; the other dry-hopped beer: 1.0
USUAL_HOP_LOSS_GAL_PER_LB = 1.0

# What the rest of the plant loses, as a share, and how much it varies from one job to the next.
STRIKE_L_PER_KG, STRIKE_F = (2.8, 0.08), (162, 166, 168)  # the mash: strike water, and how hot it was read
KETTLE_LOSS = (0.045, 0.006)  # trub and hops, after shrinkage
FERMENTER_LOSS = (0.043, 0.004)  # yeast
TRANSFER_LOSS = (0.015, 0.002)
BRIGHT_TANK_LOSS = (0.005, 0.001)
KEGGING_LOSS = (0.015, 0.003)
CANNING_LOSS = (0.026, 0.005)

KNOCKOUT_BBL = 20.2
SOFT_DRINK_KNOCKOUT_BBL = 12.0


@dataclass(frozen=True)
class Beer:
    """A beer: strength in degrees Plato, days in the fermenter, materials in stock units per barrel brewed."""

    beer: str
    style: str
    original_plato: float
    final_plato: float
    abv_pct: float
    days: int
    shares: dict[str, float]  # of a lot, by package, the smallest package last
    price: float  # against the price list's ordinary beer
    recipe: dict[str, float] = field(default_factory=dict)
    dry_hops: float = 0.0  # lb per barrel in the fermenter, on the fifth day
    tax_class: str = "beer"
    from_beer: str = ""  # a variant: the beer it is split from
    added: tuple[tuple[str, float], ...] = ()  # to a variant's own tank: material, stock units per barrel


KEGS_AND_CASES = {"half_bbl": 0.50, "sixth_bbl": 0.20, "case_24x16": 0.30}
BEERS = [
    Beer("Quillmouth Pale", "pale ale", 12.4, 2.6, 5.2, 8, KEGS_AND_CASES, 1.00,
         {"pale malt": 46, "munich malt": 2.5, "crystal malt": 2.5, "bittering hops": 0.3, "aroma hops": 0.6,
          "ale yeast": 0.9, "kettle finings": 0.5}, dry_hops=0.4),
    Beer("Wexel IPA", "india pale ale", 15.6, 3.2, 6.7, 9, {"half_bbl": 0.35, "sixth_bbl": 0.25, "case_24x16": 0.40},
         1.12, {"pale malt": 60, "wheat malt": 3, "crystal malt": 2, "bittering hops": 0.5, "aroma hops": 1.0,
                "ale yeast": 1.1, "kettle finings": 0.5}, dry_hops=1.5),
    Beer("Brindlow Stout", "stout", 14.2, 3.9, 5.6, 8, {"half_bbl": 0.65, "sixth_bbl": 0.35}, 1.04,
         {"pale malt": 47, "crystal malt": 3, "roasted barley": 5.5, "flaked oats": 4.5, "bittering hops": 0.45,
          "ale yeast": 0.9}),
    Beer("Brindlow Stout gas-poured", "stout", 14.2, 3.9, 5.6, 8, {"half_bbl": 0.60, "sixth_bbl": 0.40}, 1.10,
         from_beer="Brindlow Stout", added=(("nitrogen", 0.3),)),
    Beer("Orrel Lager", "lager", 11.8, 2.3, 5.0, 14, {"half_bbl": 0.35, "keg_50L": 0.20, "case_24x16": 0.45}, 1.00,
         {"pilsner malt": 46, "munich malt": 2.5, "bittering hops": 0.35, "aroma hops": 0.3, "lager yeast": 1.4,
          "kettle finings": 0.5}),
    Beer("Hessin Wheat", "wheat beer", 11.6, 2.6, 4.7, 7, {"half_bbl": 0.55, "sixth_bbl": 0.45}, 1.00,
         {"pilsner malt": 23, "wheat malt": 24.5, "bittering hops": 0.25, "ale yeast": 0.8}),
    Beer("Hessin Wheat spiced", "wheat beer", 11.6, 2.6, 4.7, 7, {"half_bbl": 0.40, "sixth_bbl": 0.60}, 1.08,
         from_beer="Hessin Wheat", added=(("orange peel", 0.35), ("coriander seed", 0.2))),
    Beer("Tavvel Amber", "amber ale", 12.8, 3.3, 5.1, 8, KEGS_AND_CASES, 1.02,
         {"pale malt": 40, "munich malt": 8, "crystal malt": 5, "bittering hops": 0.4, "aroma hops": 0.3,
          "ale yeast": 0.9, "kettle finings": 0.5}),
    Beer("Pindle Root Soda", "soft drink", 10.2, 10.2, 0.0, 2, {"sixth_bbl": 0.40, "case_24x16": 0.60}, 0.60,
         {"cane sugar": 29.6, "root extract": 0.5}, tax_class="soft_drink"),
    Beer("Pindle Ginger Soda", "soft drink", 9.8, 9.8, 0.0, 2, {"sixth_bbl": 1.0}, 0.60,
         {"cane sugar": 28.4, "ginger extract": 0.5}, tax_class="soft_drink"),
]
BEER = {beer.beer: beer for beer in BEERS}
VARIANT_OF = {beer.from_beer: beer.beer for beer in BEERS if beer.from_beer}  # the second half of a double batch

# vessel: kind, working volume and reading tolerance in barrels
VESSELS = (
    {"Kettle": ("kettle", "28", "0.3")}
    | {f"FV{n}": ("fermenter", "22", "0.2") for n in range(1, 8)}
    | {f"FV{n}": ("fermenter", "44", "0.35") for n in range(8, 11)}  # two brews each
    | {f"BT{n}": ("bright_tank", "22", "0.15") for n in range(1, 6)}
)


@dataclass(frozen=True)
class Material:
    """A material as the store keeps it: bought on a Monday when there is less than `least` of it."""

    kind: str
    unit: str
    price: float  # dollars a stock unit
    supplier: str
    order: int
    order_unit: str
    least: int
    opening: int
    extract_pct: str = ""


MATERIALS = {
    "pale malt": Material("malt", "lb", 0.58, "Invented Maltings", 160, "bag55lb", 6000, 9000, "79.0"),
    "pilsner malt": Material("malt", "lb", 0.62, "Invented Maltings", 80, "bag55lb", 3500, 4000, "79.5"),
    "wheat malt": Material("malt", "lb", 0.66, "Invented Maltings", 40, "bag55lb", 1700, 1800, "80.0"),
    "munich malt": Material("malt", "lb", 0.72, "Invented Maltings", 20, "bag55lb", 800, 900, "77.5"),
    "crystal malt": Material("malt", "lb", 0.84, "Invented Maltings", 16, "bag25kg", 500, 700, "74.0"),
    "roasted barley": Material("malt", "lb", 0.81, "Invented Maltings", 12, "bag50lb", 330, 400, "70.0"),
    "flaked oats": Material("adjunct", "lb", 0.76, "Invented Maltings", 10, "bag50lb", 280, 320, "70.0"),
    "cane sugar": Material("sugar", "lb", 0.55, "Invented Grocers", 20, "bag50lb", 450, 700, "100"),
    "bittering hops": Material("hops", "lb", 11.5, "Invented Hop Store", 88, "lb", 60, 80),
    "aroma hops": Material("hops", "lb", 13.8, "Invented Hop Store", 176, "lb", 110, 140),
    "dry-hop pellets": Material("hops", "lb", 15.5, "Invented Hop Store", 220, "lb", 150, 200),
    "ale yeast": Material("yeast", "L", 6.0, "Invented Culture Bank", 40, "L", 125, 140),
    "lager yeast": Material("yeast", "L", 7.0, "Invented Culture Bank", 30, "L", 100, 110),
    "orange peel": Material("flavouring", "lb", 9.5, "Invented Grocers", 5, "kg", 9, 12),
    "coriander seed": Material("flavouring", "lb", 7.0, "Invented Grocers", 3, "kg", 5, 7),
    "root extract": Material("flavouring", "L", 24.0, "Invented Grocers", 20, "L", 8, 14),
    "ginger extract": Material("flavouring", "L", 22.0, "Invented Grocers", 20, "L", 8, 14),
    "kettle finings": Material("process_aid", "oz", 0.6, "Invented Brew Supply", 10, "lb", 80, 120),
    "can 16 oz": Material("packaging", "each", 0.19, "Invented Can Works", 15552, "each", 13000, 16000),
    "can end": Material("packaging", "each", 0.045, "Invented Can Works", 20000, "each", 13000, 17000),
    "tray of 24": Material("packaging", "each", 0.62, "Invented Can Works", 1000, "each", 600, 800),
    "keg cap": Material("packaging", "each", 0.11, "Invented Brew Supply", 1000, "each", 400, 900),
    "carbon dioxide": Material("gas", "lb", 0.32, "Invented Gases", 450, "lb", 200, 320),
    "nitrogen": Material("gas", "lb", 0.9, "Invented Gases", 40, "lb", 10, 30),
    "caustic": Material("cleaning", "gal", 9.0, "Invented Brew Supply", 55, "gal", 25, 45),
}
PACKAGE_MATERIALS = {
    "half_bbl": {"keg cap": 1}, "sixth_bbl": {"keg cap": 1}, "keg_50L": {"keg cap": 1},
    "case_24x16": {"can 16 oz": 24, "can end": 24, "tray of 24": 1},
}
PACKAGE_BBL = {"half_bbl": 1 / 2, "sixth_bbl": 1 / 6, "keg_50L": 50 / 117.347765304, "case_24x16": 3 / 31}

HOUSES = ["Quay Street house", "Tannery house", "Upper Mill house", "Ferry Landing house"]
RETAILERS = ["Pennick corner shop", "Vane Hill grocer", "The Crooked Oar"]
WHOLESALER, ABROAD, SISTER = "Orrin & Dask, wholesale", "Hallam imports", "Sister brewery at Penhollow"
TAPROOM, STAFF, YARD, LABORATORY = "Taproom at the brewery", "Staff", "Brewery yard", "Invented Assay Laboratory"
# account: kind, ownership, area of delivery
ACCOUNTS = (
    dict.fromkeys(HOUSES, ("own_location", "", "US-ME"))
    | {WHOLESALER: ("wholesaler", "", "US-NH")}
    | dict.fromkeys(RETAILERS, ("retailer", "", "US-ME"))
    | {ABROAD: ("abroad", "", "CA"), SISTER: ("own_brewery", "group", "US-VT"), TAPROOM: ("public", "", "")}
    | {STAFF: ("other", "", "US-ME"), YARD: ("other", "", "US-ME"), LABORATORY: ("other", "", "US-ME")}
)
PRICES: dict[str, dict[str, float]] = {  # dollars a package of the ordinary beer
    "own_location": {"half_bbl": 112, "sixth_bbl": 41, "keg_50L": 96, "case_24x16": 27},
    "wholesaler": {"half_bbl": 156, "sixth_bbl": 57, "keg_50L": 134, "case_24x16": 32.5},
    "retailer": {"half_bbl": 170, "sixth_bbl": 63, "keg_50L": 146, "case_24x16": 36},
    "public": {"half_bbl": 235, "sixth_bbl": 86, "keg_50L": 200, "case_24x16": 48},
    "own_brewery": {"half_bbl": 120, "sixth_bbl": 44, "keg_50L": 102, "case_24x16": 29},
    "abroad": {"half_bbl": 165, "sixth_bbl": 60, "keg_50L": 141, "case_24x16": 35},
}
GLASS, CAN = 6.5, 4.25  # what the own houses take for a pint or a can of the ordinary beer, without sales tax
PRICE_RISE: tuple[date, float, tuple[str, ...]] = (date(2026, 3, 1), 1.03, ("wholesaler", "retailer"))
SERVING_TANK_PRICE_PER_BBL = "224"

# The brewing plan: week by week the double batch of Monday, then the single ones of Tuesday to Friday.
PALE, IPA, STOUT, LAGER, WHEAT, AMBER = (
    "Quillmouth Pale", "Wexel IPA", "Brindlow Stout", "Orrel Lager", "Hessin Wheat", "Tavvel Amber",
)
ROOT, GINGER = "Pindle Root Soda", "Pindle Ginger Soda"
_WEEKS = [
    (PALE, [IPA, AMBER, WHEAT, ROOT]), (STOUT, [PALE, LAGER, ""]),
    (LAGER, [IPA, AMBER, PALE, GINGER]), (WHEAT, [LAGER, STOUT, ""]),
    (IPA, [PALE, AMBER, LAGER, ROOT]), ("", [IPA, PALE, STOUT]),
    (PALE, [LAGER, AMBER, IPA, GINGER]), (STOUT, [PALE, IPA, LAGER]),
    (LAGER, [AMBER, PALE, IPA, ROOT]), (WHEAT, [PALE, LAGER, AMBER]),
    (IPA, [WHEAT, STOUT, LAGER, GINGER]), ("", [IPA, AMBER, PALE]),
]
BREWING_PLAN: list[tuple[date, str, int]] = [(date(2026, 1, 2), IPA, 1)]  # day, beer, brews
for _week, (_double, _singles) in enumerate(_WEEKS):
    _monday = date(2026, 1, 5) + timedelta(weeks=_week)
    BREWING_PLAN += [(_monday, _double, 2)] if _double else []
    BREWING_PLAN += [(_monday + timedelta(days=n), beer, 1) for n, beer in enumerate(_singles, 1) if beer]
BREWING_PLAN += [(date(2026, 3, 30), PALE, 1)]

# The brewery's own standards: beer, stage, allowed loss %, and barrels for each pound of dry hops: a gallon.
STANDARDS = [
    ("*", "kettle", "5.0", ""), ("*", "fermenter", "4.5", "0.0323"), ("*", "packaging", "2.5", ""),
]

# Opening balances: lot, beer, vessel, filled on, true barrels; then goods: units and dollars each
OPENING_LOTS = [
    ("LT-901", WHEAT, "BT1", date(2025, 12, 30), 19.0), ("LT-902", LAGER, "FV9", date(2025, 12, 21), 40.1),
    ("LT-903", AMBER, "FV1", date(2025, 12, 27), 20.3), ("LT-904", PALE, "FV2", date(2025, 12, 29), 20.0),
]
OPENING_UNITS = {"half_bbl": 12, "sixth_bbl": 20, "keg_50L": 8, "case_24x16": 60}
OPENING_COST = {"half_bbl": 66, "sixth_bbl": 23, "keg_50L": 55, "case_24x16": 17}

# Pools: the dollars of each of the three months
EXPENSES = {
    "brewhouse lease": (7400, 7400, 7400), "cellar rent": (9200, 9200, 9200), "can line lease": (2600, 2600, 2600),
    "boiler gas": (2310, 2185, 1990), "water and effluent": (905, 870, 912), "grain handling": (345, 330, 352),
    "cooling power": (1120, 1085, 1240), "cleaning": (240, 255, 238), "carbon dioxide": (85, 85, 85),
    "keg washing": (655, 640, 668), "insurance": (1450, 1450, 1450),
}

BREWERY_TOML = f'''\
# An invented brewery in an invented town. Every name and figure in this folder is made up.
name = "{NAME}"
currency = "USD"
first_month = "2026-01"

[costing]
materials = "fifo"
goods = "fifo"

[[sites]]
site = "{SITE}"
area = "{AREA}"

[allowed_loss_pct]
kettle = 5.0
fermenter = 4.5
transfer = 1.5
bright_tank = 0.5
packaging = 2.0

[reading_tolerance_bbl]
kettle = 0.3
fermenter = 0.2
bright_tank = 0.15

[margins]
pour_loss_pct = 5.0
glass = "us_pint"

[kegs]
overdue_days = 60
deposit = 30
deposits = {{ half_bbl = 50 }}

# Fixed pools: the plant could make a bit under twice what it makes.
[[pools]]
pool = "brewhouse lease"
stage = "brewhouse"
driver = "brews"
behaviour = "fixed"
normal_driver = 37          # one and a half brews a day, 25 days
budget = 7300

[[pools]]
pool = "cellar rent"
stage = "cellar"
driver = "tank_days"
behaviour = "fixed"
normal_driver = 465         # fifteen tanks, 31 days

[[pools]]
pool = "can line lease"
stage = "packaging"
driver = "packages_filled"
applies_to = {{ form = "bottled" }}
behaviour = "fixed"
normal_driver = 1900        # cases

[[pools]]
pool = "boiler gas"
stage = "brewhouse"
driver = "bbl_brewed"
behaviour = "variable"
standard_rate = 5.5         # a barrel brewed

[[pools]]
pool = "water and effluent"
stage = "brewhouse"
driver = "bbl_brewed"
behaviour = "variable"

[[pools]]
pool = "grain handling"
stage = "brewhouse"
driver = "grist_weight"
behaviour = "variable"

[[pools]]
pool = "cooling power"
stage = "cellar"
driver = "tank_bbl_days"
behaviour = "variable"

[[pools]]
pool = "cleaning"
stage = "cellar"
driver = "tank_days"
behaviour = "variable"

[[pools]]
pool = "carbon dioxide"
stage = "packaging"
driver = "bbl_packaged"
behaviour = "variable"

[[pools]]
pool = "keg washing"
stage = "packaging"
driver = "bbl_packaged"
applies_to = {{ form = "keg" }}
behaviour = "variable"

[[pools]]
pool = "insurance"
stage = "period"
driver = "none"
behaviour = "fixed"

[[filers]]
area = "US"
return_period = "quarterly"
reduced_rate_quota_bbl = 60000
'''

README = f"""\
# The sample brewery

Everything here is **invented**: {NAME}, its town, its beers, its tanks, its houses, customers and
suppliers, and every figure. None is meant to be a real brewery, beer or business; a likeness is chance. Only the state
is a real one, because duty is owed in real places.

It is a brewery of about twenty brews a month, January to March 2026, with ten fermenters (three take two brews), five
bright tanks, eight beers of six styles, two soft drinks, three sizes of keg, one canned case, and four houses of its
own. The paper has the mistakes real paper has, and three things are wrong in the cellar for the brewer to find.

`inputs/` holds the records: `reference.xlsx` the reference records, the rest as csv files. `brewery.toml` holds the
settings. All of it is written by `tests/make_sample_brewery.py`; do not edit it by hand.
"""

# Returns of the states as they were filed and paid: area, period, day, gallons, tax. In Maine's of February twenty gallons
# were forgotten: they are an adjustment on the return of March.
FILINGS = (
    ("US-ME", "2026-01", date(2026, 2, 13), "6507.83", "2277.74"),
    ("US-NH", "2026-01", date(2026, 2, 10), "3160.75", "948.23"),
    ("US-ME", "2026-02", date(2026, 3, 13), "5499.27", "1924.74"),
    ("US-NH", "2026-02", date(2026, 3, 10), "3689.92", "1106.98"),
)
