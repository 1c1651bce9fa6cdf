"""Result tables to test the workbooks on, without the computation before them.

Two months of an invented brewery: the tables of `worked_months/expected`, and invented rows for what stands in no file
there (prices, duty, findings, controls, capacity).
"""

from __future__ import annotations

from pathlib import Path

import duckdb

from brewcost import steps

EXPECTED = Path(__file__).parent / "worked_months" / "expected"
AMOUNT = "decimal(18,6) default 0"


def _amounts(*names: str) -> str:
    return ", ".join(f"{name} {AMOUNT}" for name in names)


TABLES = {
    "books": "name text, currency text, first_month text, version text",
    "row_counts": "file text, sheet text, rows_read bigint, rows_accepted bigint, rows_set_aside bigint, "
    "rows_ignored bigint",
    "problems": 'severity text, code text, month text, file text, sheet text, "row" bigint, field text, value text, '
    "expected text, message text, action text",
    "controls": f"month text, control text, subject text, {_amounts('expected', 'actual', 'difference')}, "
    "holds boolean not null",
    "material_months": "month text, site text, material text, unit text default 'lb', "
    + _amounts(*(f"{flow}_{what}" for flow in ("opening", "correction", "received", "used", "counted", "closing")
                 for what in ("qty", "cost"))),
    "lot_months": "month text, site text, lot text, beer text, "
    + _amounts("opening_bbl", "correction_bbl", "in_bbl", "drawn_bbl", "loss_bbl", "closing_bbl", "opening_cost",
               "correction_cost", "added_cost", "drawn_cost", "abnormal_cost", "closing_cost"),
    "lots": "lot text, site text, beer text, style text, stage text, vessel text, opened_on date, emptied_on date",
    "run_costs": "month text, site text, run text, beer text, package text, style text, "
    + _amounts("filled", "good_bbl", "ingredients", "packaging", "labour", "overhead", "total_cost")
    + ", cost_per_package decimal(18,6), cost_per_bbl decimal(18,6)",
    "goods_months": "month text, site text, beer text, package text, "
    + _amounts(*(f"{flow}_{what}" for flow in ("opening", "correction", "packaged", "received", "restocked",
                                               "repacked", "shipped", "counted", "closing")
                 for what in ("units", "bbl", "cost"))),
    "stage_losses": "month text, site text, beer text, style text, stage text, brew text, lot text, move text, "
    "run text, package text, line bigint, volume_in_bbl decimal(18,6), volume_out_bbl decimal(18,6), "
    "loss_bbl decimal(18,6), allowed_bbl decimal(18,6), abnormal_bbl decimal(18,6), "
    "reading_error_bbl decimal(18,6), beyond_reading_error boolean, loss_cost decimal(18,6), "
    "abnormal_cost decimal(18,6)",
    "period_expenses": f"month text, site text, kind text, detail text, {_amounts('amount')}",
    "removals": "document text, line bigint, date date, month text, site text, account text, area text, beer text, style text, "
    "package text, form text, purpose text, units decimal(18,6), bbl decimal(18,6), excise_bbl decimal(18,5), "
    "taxable boolean, revenue decimal(18,6), cost decimal(18,6), duty decimal(18,6), freight decimal(18,6), "
    'file text, sheet text, "row" bigint',
    "removals_by_day": "area text default 'US', site text, date date, form text, "
    + _amounts("removed_bbl", "returned_bbl", "taxable_bbl"),
    "duty": "area text, site text, period text, band text, from_date date, to_date date, quantity decimal(18,6), "
    "unit text, rate decimal(18,6), amount decimal(18,6), currency text, due_date date, source text",
    "duty_months": f"area text, site text, month text, {_amounts('quantity', 'amount', 'paid', 'owed')}",
    "margins": "month text, beer text, style text, package text, account text, account_kind text, area text, "
    "units decimal(18,6), bbl decimal(18,6), revenue decimal(18,6), cost_of_goods_sold decimal(18,6), "
    "duty decimal(18,6), freight decimal(18,6), margin decimal(18,6)",
    "capacity": "month text, site text, pool text, driver text, "
    + _amounts("normal", "actual", "used_pct", "amount", "absorbed", "idle"),
    "area_notes": "area text, name text, authority text, note text, source text, checked date",
}

# Files of `expected` that hold a result table as it is; goods and lots lack columns, which stay 0 or are filled below.
FROM_FILES = ("material_months", "lot_months", "run_costs", "goods_months", "stage_losses", "period_expenses",
              "removals_by_day")  # fmt: skip

INVENTED = """
insert into result.books values ('Invented Brewery 7', 'USD', '2026-01', '0.1.0');
insert into result.row_counts values
    ('brews.csv', null, 60, 60, 0, 0), ('shipments-2026.csv', null, 412, 409, 1, 2),
    ('=cmd.xlsx', 'counts March', 14, 14, 0, 0);
insert into result.problems values
    ('error', 'not-a-number', '2026-02', 'shipments-2026.csv', null, 17, 'units', '=12+5', 'a whole number',
     '"=12+5" is not a number', 'write digits'),
    ('warning', 'readings-disagree', '2026-02', 'moves.csv', null, 33, 'volume_in', '29.9', 'below the volume out',
     'move M0033 gains 1.4 bbl, more than twice its reading error of 0.54 bbl', 'dip both tanks again'),
    ('warning', 'unknown-file', null, '@odd.csv', null, null, null, null, 'a kind of record', 'no kind of record',
     'rename it');
insert into result.controls
select month, control, subject, 10, 10, 0, true
from (values ('2026-01'), ('2026-02')) as months (month)
cross join (values ('K1', 'base malt qty'), ('K1', 'base malt cost'), ('K2', 'main'), ('K3', 'Plain Pale half_bbl'),
    ('K4', 'main'), ('K5', 'main'), ('K7', 'US'), ('K8', 'brews.csv')) as controls (control, subject);
insert into result.controls values ('2026-02', 'K1', 'dark malt qty', 120, 118.5, -1.5, false);
update result.goods_months set
    opening_bbl = opening_units / 6, packaged_bbl = packaged_units / 6, restocked_bbl = restocked_units / 6,
    shipped_bbl = shipped_units / 6, counted_bbl = counted_units / 6, closing_bbl = closing_units / 6;
update result.stage_losses set
    style = 'style of ' || beer, loss_cost = loss_bbl * 90,
    beyond_reading_error = loss_bbl - allowed_bbl > reading_error_bbl,
    line = case when run is not null then 1 end;
update result.run_costs set style = 'style of ' || beer;
-- A transfer without its second reading: in = out, the rest is not known (V4).
insert into result.stage_losses by name
select '2026-02' as month, 'main' as site, 'Plain Pale' as beer, 'transfer' as stage, 'M9999' as move,
    28.0 as volume_in_bbl, 28.0 as volume_out_bbl;
insert into result.stage_losses by name
select '2026-02' as month, 'main' as site, 'Mill Lager' as beer, 'transfer' as stage, 'M9998' as move,
    28.0 as volume_in_bbl, 30.0 as volume_out_bbl, -2.0 as loss_bbl, 0.28 as allowed_bbl, 0 as abnormal_bbl,
    0.538516 as reading_error_bbl, false as beyond_reading_error, -180 as loss_cost, 0 as abnormal_cost;
insert into result.lots
select
    lot, any_value(site), any_value(coalesce(beer, 'Plain Pale')), null,
    case when lot like '%9%' then 'bright_tank' else 'fermenter' end,
    case when lot like '%9%' then 'B' || (1 + hash(lot) % 3) else 'F' || (1 + hash(lot) % 6) end,
    date '2026-01-03', null
from result.lot_months
group by lot;
update result.lot_months set beer = (select beer from result.lots where lots.lot = lot_months.lot);
insert into result.margins
select
    month, beer, 'style of ' || beer, package, account,
    case when account like '%house' then 'own_location' else 'wholesaler' end, 'US-ME', units, units / 6,
    case when account = 'Overseas' and month = '2026-01' then null else cost_of_goods_sold * 1.9 end,
    cost_of_goods_sold, units * 0.58, 0,
    case when account = 'Overseas' and month = '2026-01' then null
        else cost_of_goods_sold * 0.9 - units * 0.58 end
from read_csv($cost_of_goods_sold, types = {'month': 'varchar'});
insert into result.capacity values
    ('2026-02', 'main', 'rent', 'tank_days', 320, 201, 62.8125, 9000, 5653.125, 3346.875),
    ('2026-02', 'main', 'power', 'brews', 24, 30, 125, 1430, 1430, 0);
insert into result.duty values
    ('US', 'main', '2026-Q1', 'first 60,000 bbl', '2026-01-01', '2026-03-31', 812.34, 'bbl', 3.5, 2843.19, 'USD',
     '2026-04-14', '26 U.S.C. 5051(a)(1)(C)');
insert into result.duty_months values ('US', 'main', '2026-01', 400.11, 1400.39, 0, 1400.39),
    ('US', 'main', '2026-02', 412.23, 1442.80, 0, 2843.19);
insert into result.removals
select
    'S' || lpad(row_number() over ()::text, 5, '0'), 1, date '2026-02-03', '2026-02', 'main', account, area, beer, style,
    package, 'keg', 'sale', units, bbl, bbl, true, revenue, cost_of_goods_sold, duty, freight, 'shipments-2026.csv',
    null, 1 + row_number() over ()
from result.margins where month = '2026-02';
update result.removals set account = '=HYPERLINK("http://x","Corner shop")' where document = 'S00003';
insert into result.area_notes values ('US', 'United States', 'Alcohol and Tobacco Tax and Trade Bureau',
    'Kegs and bottles rounded apart, day by day: the literal reading of 27 CFR 25.156(c) and 25.157.',
    '27 CFR part 25', '2026-01-15');
"""


def connect() -> duckdb.DuckDBPyConnection:
    """A database with the schemas `result` and `report` filled."""
    con = duckdb.connect()
    for step in steps.find(["10_reference"])[:2]:  # the schemas and the macros
        con.execute(step.text)
    for name, columns in TABLES.items():
        con.execute(f"create table result.{name} ({columns})")
    for name in FROM_FILES:
        con.execute(
            f"insert into result.{name} by name select * from read_csv($file, all_varchar = true, nullstr = '')",
            {"file": str(EXPECTED / f"{name}.csv")},
        )
    for statement in INVENTED.split(";\n"):
        if statement.strip():
            file = {"cost_of_goods_sold": str(EXPECTED / "cost_of_goods_sold.csv")}
            con.execute(statement, file if "$cost" in statement else None)
    steps.run(con, {}, ["80_report"])
    return con
