"""The owner's figures: the bridge, contribution and break-even, the glass, kegs out. Every brewery here is invented."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import duckdb
import pytest
from generated_brewery import Brewery
from hypothesis import HealthCheck, given
from hypothesis import settings as limits
from hypothesis import strategies as st
from small_books import REFERENCE, books, failed_controls, money, one, rows

from brewcost import settings, steps
from brewcost.settings_model import SettingsError

# A soft drink bears no duty, so that a figure has one cause at a time.
POP = [{"beer": "Test Pop", "style": "soft drink", "tax_class": "soft_drink"}]
BARREL = [{"package": "one_bbl", "form": "keg", "container_volume": "31", "volume_unit": "gal"}]
TRADE = [
    {"account": "Test trade", "kind": "retailer", "area": "US-ME"},
    {"account": "Test house", "kind": "own_location", "area": "US-ME"},
]
STEPS = ("volume", "mix", "price", "ingredients", "packaging", "yield", "conversion", "other_stock", "duty", "freight")
PLAIN = REFERENCE | {"beers": POP, "packages": BARREL, "accounts": TRADE}


def sale(document: str, date: str, units: int, price: object = "", **more: Any) -> dict[str, Any]:
    return {"document": document, "date": date, "site": "main", "account": "Test trade", "beer": "Test Pop",
            "package": "one_bbl", "units": units, "purpose": "sale", "unit_price": price} | more  # fmt: skip


def bought(date: str, units: int, cost: object, **more: Any) -> dict[str, Any]:
    return {"date": date, "site": "main", "account": "Test trade", "beer": "Test Pop", "package": "one_bbl",
            "units": units, "cost": cost} | more  # fmt: skip


# ---------------------------------------------------------------------------------------------- generated books


@limits(max_examples=8, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow], database=None)
@given(seed=st.integers(0, 10_000_000))
def test_margins_their_parts_and_the_bridge_add_up_to_the_last_digit(seed: int) -> None:
    brewery = Brewery(Random(seed))
    con = books(brewery.records, **brewery.options)
    assert not failed_controls(con)
    steps_sum = " + ".join(STEPS)
    assert one(con, f"select count(*) from result.margin_bridge where before + {steps_sum} <> margin") == 0
    # Each month's bridge begins at the margin the month before ended with, and ends at the month's own.
    months = {row["month"]: row["margin"] for row in rows(
        con, "select months.month, coalesce(sum(margin), 0) as margin from record.months left join result.margins "
        "using (month) group by months.month order by months.month")}  # fmt: skip
    before = dict(zip(list(months)[1:], months.values(), strict=False))
    for row in rows(con, "select month, sum(before) as before, sum(margin) as margin from result.margin_bridge group by month"):
        assert row["before"] == before[row["month"]]
        assert row["margin"] == months[row["month"]]
    assert one(con, "select coalesce(sum(margin + fixed_cost - contribution), 0) from report.contributions") == 0
    assert one(con, "select coalesce(sum(fixed_cost), 0) from report.contributions") == one(
        con, "select coalesce(sum(fixed_cost), 0) from result.margin_parts"
    )
    # What a run's cost is made of adds up by element too.
    assert not rows(con, """
        select month, beer, package, element, sum(amount) from (
            unpivot (select month, beer, package, ingredients, packaging, labour, overhead from result.run_costs)
            on ingredients, packaging, labour, overhead into name element value amount
            union all by name
            select month, beer, package, element, -amount as amount from result.run_cost_parts
        ) group by all having sum(amount) <> 0""")  # fmt: skip


def failed_owner_controls(con: duckdb.DuckDBPyConnection) -> set[str]:
    """What K12 says when it is worked out again over tables as they stand now."""
    (step,) = [step for step in steps.find(["70_control"]) if step.table == "control.k_owner"]
    con.execute("drop table control.k_owner")
    con.execute(step.text)
    return {row["subject"] for row in rows(con, "from control.k_owner where expected <> actual")}


@pytest.mark.parametrize(("tampered", "subjects"), [
    ("result.margins set cost_of_goods_sold = cost_of_goods_sold + 0.000001",
     {"cost of goods sold as the stock gave it", "cost of goods sold by element", "cost of goods sold, variable and fixed"}),
    ("result.margins set duty = duty + 0.01", {"duty as the removals bear it"}),
    ("result.margins set freight = freight + 0.01", {"freight as the documents say"}),
    ("result.margins set revenue = revenue + 0.01", {"revenue as the documents say"}),
    ("result.margins set margin = margin + 0.000001 where month = '2026-02'", {"margin at the end of the bridge"}),
    ("result.margins set margin = margin + 0.000001 where month = '2026-01'", {"margin at the start of the bridge"}),
    ("result.margin_bridge set price = price + 0.000001", {"margin at the end of the bridge"}),
    ("result.kegs_out set closing_units = closing_units + 1", {"kegs out"}),
    ("result.profit_months set corrections = 1", {"left, and what stands beside it, in the profit accounts"}),
])  # fmt: skip
def test_the_control_of_the_owners_figures_fails_where_they_differ_from_the_controllers(
    tampered: str, subjects: set[str]
) -> None:
    con = books(PLAIN | {
        "beer_in": [bought("2026-01-02", 10, 200)],
        "shipments": [sale("S1", "2026-01-03", 4, 100), sale("S2", "2026-02-03", 4, 100)],
    })  # fmt: skip
    assert not failed_controls(con)
    con.execute(f"update {tampered}")
    assert subjects <= failed_owner_controls(con)


def test_beer_filled_into_a_serving_tank_bears_its_duty_in_the_margin_and_among_the_removals() -> None:
    """10 bbl at 3.50 a barrel (26 U.S.C. 5051(a)(2)(A)) and 310 gallons at 35 cents (28-A M.R.S. 1652(1)); price 200."""
    con = books(REFERENCE | {
        "accounts": TRADE,
        "opening_lots": [{"lot": "L1", "site": "main", "beer": "Test Ale", "vessel": "B1", "volume": 10, "volume_unit": "bbl",
                          "cost_ingredients": 600}],
        "moves": [{"move": "M1", "date": "2026-01-05", "site": "main", "from_lot": "L1", "volume_out": 10, "volume_unit": "bbl",
                   "reason": "serving_tank", "account": "Test house", "unit_price": 200}],
    })  # fmt: skip
    assert not failed_controls(con)
    figures = "revenue, {} as cost, duty, bbl from result.{} where package is not distinct from {}"
    duty = money("35.00") + money("108.50")
    filled = {"revenue": 2000, "cost": 600, "duty": duty, "bbl": 10}
    assert rows(con, "select " + figures.format("cost_of_goods_sold", "margins", "'bulk'")) == [filled]
    assert rows(con, "select " + figures.format("cost", "removals", "null")) == [filled]
    (house,) = rows(con, "from report.own_houses")
    assert house["brewery_margin"] == 2000 - 600 - duty
    # Duty that finds no line of the costs is missing from the margins, and the control says so.
    con.execute("update cost.shipment_costs set line = 0")
    con.execute("update result.margins set duty = 0")
    assert "duty as the removals bear it" in failed_owner_controls(con)


# ---------------------------------------------------------------------------------------------- the bridge by hand


def test_the_bridge_of_a_brewed_beer_shows_price_of_malt_yield_and_volume_each_in_its_place() -> None:
    """January: 100 bbl in the kettle, 90 packaged and sold at 50; malt 1,000, labour 450. February: 96 packaged and sold at
    52; malt dearer by a tenth, labour 480. Worked by hand in fractions from the method the workbook states."""
    records: Mapping[str, Any] = PLAIN | {
        "standards": [{"beer": "*", "stage": "fermenter", "allowed_loss_pct": 20}],
        "receipts": [
            {"date": "2026-01-01", "site": "main", "material": "malt", "quantity": 1000, "unit": "lb", "cost": 1000},
            {"date": "2026-02-01", "site": "main", "material": "malt", "quantity": 1000, "unit": "lb", "cost": 1100},
        ],
        "brews": [
            {"brew": f"W{month}", "date": f"2026-0{month}-02", "site": "main", "beer": "Test Pop", "lot": f"L{month}",
             "vessel": "F1", "into_fermenter": 100, "volume_unit": "bbl"} for month in (1, 2)
        ],
        "uses": [
            {"date": f"2026-0{month}-02", "site": "main", "material": "malt", "quantity": 1000, "unit": "lb",
             "brew": f"W{month}"} for month in (1, 2)
        ],
        "labour": [
            {"date": f"2026-0{month}-02", "site": "main", "stage": "brewhouse", "hours": 8, "cost": cost,
             "brew": f"W{month}"} for month, cost in ((1, 450), (2, 480))
        ],
        "packaging": [
            {"run": f"R{month}", "date": f"2026-0{month}-20", "site": "main", "lot": f"L{month}", "package": "one_bbl",
             "filled": filled, "lot_emptied": "yes"} for month, filled in ((1, 90), (2, 96))
        ],
        "shipments": [sale("S1", "2026-01-25", 90, 50), sale("S2", "2026-02-25", 96, 52)],
    }  # fmt: skip
    con = books(records)
    assert not failed_controls(con)
    (found,) = rows(con, "from result.margin_bridge")
    margin = Fraction(90 * 50 - 1000 - 450)
    worked = {
        "volume": margin * 6 / 90,
        "mix": Fraction(0),
        "price": Fraction(96 * (52 - 50)),
        "ingredients": Fraction(1000 - 1100),  # as many kettle barrels as before
        "packaging": Fraction(0),
        "yield": Fraction(1000) * 96 / 90 - 1000,
        "conversion": Fraction(450) * 96 / 90 - 480,
        "other_stock": Fraction(0), "duty": Fraction(0), "freight": Fraction(0),
    }  # fmt: skip
    assert found["before"] == margin and found["margin"] == 96 * 52 - 1100 - 480
    for step, value in worked.items():
        assert abs(Fraction(found[step]) - value) < Fraction(1, 100_000), step
    assert found["before"] + sum(found[step] for step in STEPS) == found["margin"]


def test_a_new_customer_stands_in_the_mix_and_a_credit_in_the_price() -> None:
    con = books(PLAIN | {
        "beer_in": [bought("2026-01-02", 100, 2000)],
        "shipments": [
            sale("S1", "2026-01-03", 10, 100), sale("S2", "2026-02-03", 10, 100),
            sale("S3", "2026-02-04", 5, 90, account="Test house", purpose="own_location"),
        ],
        "credits": [{"document": "C1", "date": "2026-02-10", "account": "Test trade", "amount": 30}],
    })  # fmt: skip
    (total,) = rows(con, "select sum(before) as before, sum(volume) as volume, sum(mix) as mix, sum(price) as price, "
                         "sum(other_stock) as cost, sum(margin) as margin from result.margin_bridge")  # fmt: skip
    # 10 barrels at 80 each before; 5 more at 80, but the new ones leave only 70.
    assert total == {"before": 800, "volume": 400, "mix": -50, "price": -30, "cost": 0, "margin": 1120}


# ---------------------------------------------------------------------------------------------- contribution, break-even


def hicks(units: int) -> duckdb.DuckDBPyConnection:
    """Hicks Manufacturing, the Blue Jay model: sold at 100, variable cost 20 each, fixed costs of 18,000 a month."""
    return books(
        PLAIN | {
            "beer_in": [bought("2026-01-02", 500, 10_000)],
            "expenses": [{"month": "2026-01", "site": "main", "pool": "rent", "amount": 18_000}],
            "shipments": [sale("S1", "2026-01-03", units, 100)],
        },
        more='\n[[pools]]\npool = "rent"\nstage = "period"\ndriver = "none"\nbehaviour = "fixed"\n',
    )  # fmt: skip


@pytest.mark.parametrize("units", [225, 300])
def test_break_even_and_contribution_are_those_of_the_textbook(units: int) -> None:
    """OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, chapter 3 (3.1 and 3.2): contribution margin of
    80 a unit, ratio 80 %, break-even 225 units, and no income at 225. The figures are from memory, not compared again."""
    con = hicks(units)
    found = {row["figure"]: row["value"] for row in rows(con, "from report.break_even")}
    assert found["contribution per barrel"] == 80
    assert found["contribution, share of revenue"] == 80
    assert found["break-even barrels of the month"] == 225
    assert found["margin of safety"] == units - 225
    assert found["left after all of them, as on sheet summary"] == (units - 225) * 80
    assert one(con, "select left_over from report.margin_months") == (units - 225) * 80


def test_a_month_without_sales_costs_the_year_its_expenses() -> None:
    """100 left in January, 60 spent in February, nothing sold; a price missing in March blanks the year, no month before it."""
    more = '\n[[pools]]\npool = "rent"\nstage = "period"\ndriver = "none"\nbehaviour = "fixed"\n'
    shipments = [sale("S1", "2026-01-03", 10, 20), sale("S2", "2026-03-03", 1)]
    con = books(PLAIN | {
        "beer_in": [bought("2026-01-02", 20, 200)], "shipments": shipments,
        "expenses": [{"month": "2026-02", "site": "main", "pool": "rent", "amount": 60}],
    }, more=more)  # fmt: skip
    query = "select month, value, year_to_date from report.margin_figures where figure = ? order by month"
    left = [tuple(row.values()) for row in rows(con, query, ["left after all of them"])]
    assert left == [("2026-01", 100, 100), ("2026-02", -60, 40), ("2026-03", None, None)]
    sold = [tuple(row.values())[1:] for row in rows(con, query, ["barrels out"])]
    assert sold == [(10, 10), (0, 10), (1, 11)]


def test_fixed_cost_in_the_goods_sold_lies_between_contribution_and_margin() -> None:
    """A fixed pool of 900 at a normal 30 tank-days, 10 used: 300 in the beer, 600 idle. Half of the beer is sold."""
    con = books(
        PLAIN | {
            "receipts": [{"date": "2026-01-01", "site": "main", "material": "malt", "quantity": 500, "unit": "lb",
                          "cost": 400}],
            "brews": [{"brew": "W1", "date": "2026-01-02", "site": "main", "beer": "Test Pop", "lot": "L1", "vessel": "F1",
                       "into_fermenter": 20, "volume_unit": "bbl"}],
            "uses": [{"date": "2026-01-02", "site": "main", "material": "malt", "quantity": 500, "unit": "lb",
                      "brew": "W1"}],
            "packaging": [{"run": "R1", "date": "2026-01-11", "site": "main", "lot": "L1", "package": "one_bbl",
                           "filled": 20, "lot_emptied": "yes"}],
            "expenses": [{"month": "2026-01", "site": "main", "pool": "rent", "amount": 900}],
            "shipments": [sale("S1", "2026-01-20", 10, 60)],
        },
        more='\n[[pools]]\npool = "rent"\nstage = "cellar"\ndriver = "tank_days"\nbehaviour = "fixed"\nnormal_driver = 30\n',
    )  # fmt: skip
    assert not failed_controls(con)
    (sold,) = rows(con, "from report.contributions")
    assert (sold["variable_cost"], sold["fixed_cost"]) == (200, 150)
    assert (sold["contribution"], sold["margin"]) == (400, 250)
    found = {row["figure"]: row["value"] for row in rows(con, "from report.break_even")}
    assert found["to cover in all"] == 900
    assert found["break-even barrels of the month"] == Decimal("22.5")
    assert found["fixed cost put into stock, less that taken out of it"] == 150
    assert found["left after all of them, as on sheet summary"] == 400 - 900 + 150


# ---------------------------------------------------------------------------------------------- to the accounts


def test_what_is_left_leads_to_the_profit_in_the_accounts_line_by_line() -> None:
    """Own house and shop pay 100 a keg that cost 50. The house counts its stock; a keg is given away with 4 of freight, one is
    lost to the shop with its deposit of 30, and the authority asks 7 of interest. Duty of a half barrel: 1.75 (26 U.S.C.
    5051(a)(2)(A)) and 15.5 gallons at 0.35 (28-A M.R.S. 1652(1)), 5.43 to the cent."""
    keg = {"site": "main", "beer": "Test Ale", "package": "half_bbl"}
    line = keg | {"date": "2026-01-03", "units": 1, "purpose": "sale", "unit_price": 100, "freight": 0}
    con = books(
        REFERENCE
        | {
            "accounts": TRADE,
            "opening_goods": [keg | {"units": 10, "cost": 500}],
            "shipments": [
                line | {"document": "S1", "account": "Test trade"},
                line | {"document": "S2", "account": "Test house", "purpose": "own_location", "units": 2},
                line | {"document": "S3", "account": "Test trade", "purpose": "given_away", "unit_price": 0, "freight": 4},
            ],
            "empties": [{"date": "2026-01-20", "site": "main", "account": "Test trade", "package": "half_bbl", "units": 1,
                         "outcome": "lost"}],
            "counts": [{"date": "2026-01-31", "account": "Test house", "beer": "Test Ale", "package": "half_bbl", "quantity": 1,
                        "unit": "each"}],
            "payments": [{"date": "2026-01-31", "area": "US", "site": "main", "period": "2026", "amount": 1, "interest": 7}],
        },
        own_houses="counted", more="\n[kegs]\ndeposit = 30\n",
    )  # fmt: skip
    assert not failed_controls(con)
    found = {row["figure"]: row["value"] for row in rows(con, "from report.margin_figures where place > 10")}
    given = money("1.75") + money("5.43")
    margin = 300 - 150 - one(con, "select sum(duty) from result.margins")
    assert found == {
        "left after all of them": margin - 50,
        "to the accounts: own houses, no sale there": 50 - 200,
        "to the accounts: duty and freight of beer not sold": -given - 4,
        "to the accounts: deposits kept, interest on duty": 30 - 7,
        "left, as in the profit accounts": margin - 50 - 150 - given - 4 + 23,
    }
    posted = "select sum(credit - debit) from result.journal where account between '4000' and '5999'"
    assert one(con, posted) == found["left, as in the profit accounts"]


# ---------------------------------------------------------------------------------------------- the glass


def test_a_keg_goes_as_far_as_the_glass_less_what_is_poured_away() -> None:
    """A half barrel is 15.5 US gallons, 124 US pints (NIST Handbook 44, appendix C); 5 % of them are poured away."""
    con = books(PLAIN | {
        "beer_in": [bought("2026-01-02", 10, 500, package="half_bbl"), bought("2026-01-02", 4, 80, package="case_24x16")],
        "prices": [
            {"from_date": "2026-01-01", "beer": "Test Pop", "package": "half_bbl", "unit_price": 80, "retail_price": 6},
            {"from_date": "2026-01-01", "beer": "Test Pop", "package": "case_24x16", "unit_price": 30,
             "retail_price": 4, "account": "Test house"},
        ],
        "shipments": [
            sale("S1", "2026-01-03", 2, package="half_bbl", account="Test house", purpose="own_location"),
            sale("S2", "2026-01-03", 1, package="case_24x16", account="Test house", purpose="own_location"),
            sale("S3", "2026-01-04", 1, package="half_bbl"),
        ],
    })  # fmt: skip
    (house,) = rows(con, "from report.own_houses")
    pints = money("248") * money("0.95")
    assert house["glasses"] == pints + 24
    assert house["takings"] == pints * 6 + 24 * 4
    assert house["brewery_margin"] == 2 * (80 - 50) + (30 - 20)
    assert house["glass_margin"] == pints * 6 + 24 * 4 - 2 * 50 - 20
    (keg,) = rows(con, "from report.margins_by_glass where form = 'keg'")
    assert keg["drink"] == "soft drink"
    assert abs(keg["margin_per_pint"] - money("30") / (124 * money("0.95"))) < money("0.000001")
    # A half-litre is 0.5 / 0.473176473 of a US pint.
    assert abs(keg["margin_per_half_litre"] / keg["margin_per_pint"] - money("1.056688")) < money("0.00001")
    (can,) = rows(con, "from report.margins_by_glass where form <> 'keg'")
    assert abs(can["margin_per_pint"] - money("10") / 24) < money("0.00001")


# ---------------------------------------------------------------------------------------------- kegs


def test_kegs_out_roll_forward_and_the_oldest_come_back_first() -> None:
    con = books(
        PLAIN | {
            "beer_in": [bought("2026-01-02", 30, 500, package="half_bbl")],
            "shipments": [
                sale("S1", "2026-01-05", 10, 80, package="half_bbl"), sale("S2", "2026-02-10", 5, 80, package="half_bbl"),
                sale("S3", "2026-02-11", 1, package="half_bbl", purpose="destroyed"),
            ],
            "empties": [
                {"date": "2026-01-20", "site": "main", "account": "Test trade", "package": "half_bbl", "units": 4},
                {"date": "2026-03-02", "site": "main", "account": "Test trade", "package": "half_bbl", "units": 2},
                {"date": "2026-03-03", "site": "main", "account": "Test trade", "package": "half_bbl", "units": 1,
                 "outcome": "lost"},
                {"date": "2026-03-03", "site": "main", "account": "Test house", "package": "half_bbl", "units": 2},
            ],
        },
        more="\n[kegs]\ndeposit = 30\ndeposits = { half_bbl = 50 }\n",
    )  # fmt: skip
    trade = {row["month"]: row for row in rows(con, "from result.kegs_out where account = 'Test trade'")}
    assert [trade[month]["closing_units"] for month in sorted(trade)] == [6, 11, 8]
    march = trade["2026-03"]
    assert (march["came_back_units"], march["lost_units"], march["overdue_units"]) == (2, 1, 3)
    # Three of 5 January (85 days) and five of 10 February (49 days).
    assert march["days_out"] == Decimal(3 * 85 + 5 * 49) / 8
    assert march["value"] == 8 * 50
    # What came back and had never gone out was out when the books began.
    house = {row["month"]: row for row in rows(con, "from result.kegs_out where account = 'Test house'")}
    assert house["2026-03"]["opening_units"] == 2 and house["2026-03"]["closing_units"] == 0
    (size,) = rows(con, "from report.keg_sizes where month = '2026-03'")
    # 13 out on the 1st (11 and 2), 11 on the 2nd (2 came back), 8 from the 3rd on (one lost, two more back).
    out = money("13") + money("11") + money("8") * 29
    assert abs(size["cycle_days"] - out / 5) < money("0.0001")


# ---------------------------------------------------------------------------------------------- what to brew


def test_one_more_brew_is_worth_its_contribution_and_takes_its_tank_days() -> None:
    """20 bbl into the fermenter give 18; 10 days in the tank; each barrel is sold 40 above its malt of 10."""
    con = books(PLAIN | {
        "standards": [{"beer": "*", "stage": "fermenter", "allowed_loss_pct": 20}],
        "receipts": [{"date": "2026-01-01", "site": "main", "material": "malt", "quantity": 500, "unit": "lb",
                      "cost": 180}],
        "brews": [{"brew": "W1", "date": "2026-01-02", "site": "main", "beer": "Test Pop", "lot": "L1", "vessel": "F1",
                   "into_fermenter": 20, "volume_unit": "bbl"}],
        "uses": [{"date": "2026-01-02", "site": "main", "material": "malt", "quantity": 500, "unit": "lb", "brew": "W1"}],
        "packaging": [{"run": "R1", "date": "2026-01-11", "site": "main", "lot": "L1", "package": "one_bbl",
                       "filled": 18, "lot_emptied": "yes"}],
        "shipments": [sale("S1", "2026-01-20", 12, 50)],
    })  # fmt: skip
    (brew,) = rows(con, "from report.next_brews")
    assert (brew["brew_bbl"], brew["good_bbl"], brew["contribution_per_bbl"]) == (20, 18, 40)
    assert (brew["contribution"], brew["tank_days"], brew["contribution_per_tank_day"]) == (720, 10, 72)
    assert brew["weeks"] == (money("6") * 31 / (12 * 7)).quantize(money("0.000001"))
    room = {row["kind"]: row for row in rows(con, "from report.tank_room")}
    assert (room["fermenter"]["tank_days"], room["fermenter"]["used_days"], room["fermenter"]["free_at_end"]) == (31, 10, 1)


# ---------------------------------------------------------------------------------------------- settings


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ({"margins": {"pour_loss_pct": 100}}, "[margins] pour_loss_pct is 100; expected a per cent below 100"),
        ({"margins": {"glass": "mug"}}, "[margins] glass is 'mug'; expected one of us_pint, half_litre"),
        ({"kegs": {"overdue_days": Decimal("1.5")}}, "overdue_days is Decimal('1.5'); expected a whole number of days"),
        ({"kegs": {"deposits": {"half_bbl": -1}}}, "[kegs] deposits half_bbl is -1; expected a number from 0 to below"),
        ({"kegs": {"turns": 1}}, "[kegs] turns is not a setting; the settings here are overdue_days, deposit, deposits"),
    ],
)
def test_a_setting_that_cannot_be_says_so(text: dict[str, Any], says: str) -> None:
    base = {"name": "Test", "first_month": "2026-01", "sites": [{"site": "main", "area": "US-ME"}]}
    with pytest.raises(SettingsError) as error:
        settings.parse(base | text)
    assert says in str(error.value)
    assert settings.parse(base).pour_loss_pct == 5  # what is said of a well-kept draught system: 95 % poured


def test_the_bars_of_the_bridge_stand_on_each_other_above_and_below_zero() -> None:
    for price in (120, 95, 60):  # a month that still earns, one that crosses zero on the way, one that loses
        con = books(PLAIN | {
            "beer_in": [bought("2026-01-02", 20, 2000), bought("2026-02-02", 30, 3300)],
            "shipments": [sale("S1", "2026-01-10", 10, 110), sale("S2", "2026-02-10", 30, price, freight=25)],
        })  # fmt: skip
        bars = rows(con, "from report.bridge_effects where month = '2026-02' order by place")
        sums = rows(con, "select month, sum(margin) as margin from result.margins group by month")
        margins = {row["month"]: row["margin"] for row in sums}
        assert (bars[0]["step"], bars[-1]["step"]) == ("margin of last month", "margin of this month")
        assert (bars[0]["amount"], bars[-1]["amount"]) == (margins["2026-01"], margins["2026-02"])
        assert [abs(bar["amount"]) for bar in bars[1:-1]] == sorted((abs(bar["amount"]) for bar in bars[1:-1]), reverse=True)
        reached = Decimal(0)
        for bar in bars[:-1]:
            start, reached = reached, reached + bar["amount"]
            drawn = bar["whole"] + bar["rise"] + bar["fall"]
            assert {bar["floor"] + bar["below_zero"], bar["floor"] + drawn} == {start, reached}, (price, bar)
            assert not bar["below_zero"] or (bar["floor"] == 0 and drawn > 0)
        assert reached == margins["2026-02"]
