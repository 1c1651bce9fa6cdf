"""A small invented brewery as text, and helpers to load it with one thing changed."""



from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import duckdb

from brewcost import problems, records, settings, settings_frames, steps

TOML = """
name = "Invented Brewery 1"
currency = "USD"
first_month = "2026-01"

[[sites]]
site = "main"
area = "US-ME"

[[sites]]
site = "hill"
area = "US-ME"

[[pools]]
pool = "rent"
stage = "cellar"
driver = "tank_days"
behaviour = "fixed"
normal_driver = 300

[[pools]]
pool = "caustic"
stage = "cellar"
driver = "tank_days"
behaviour = "variable"
"""

FILES: dict[str, str] = {
    "beers.csv": "beer,style,tax_class\nMill Lager,lager,beer\nPlain Pale,pale ale,beer\nGinger Pop,soft drink,soft_drink\n",
    "materials.csv": "material,kind,stock_unit,extract_pct\nbase malt,malt,lb,80\nhops one,hops,oz,\n"
    "ale yeast,yeast,L,\ncans 12 oz,packaging,each,\n",
    "packages.csv": "package,form,container_volume,volume_unit,containers\ncase_4x6x12,bottled,12,floz,24\n",
    "vessels.csv": "vessel,site,kind,working_volume\nF1,main,fermenter,30\nF2,main,fermenter,30\nB1,main,bright_tank,30\n",
    "vessel_scale.csv": "vessel,site,mark,volume\nF2,main,0,0\nF2,main,100,30\n",
    "accounts.csv": "account,kind,area\nCorner shop,retailer,US-ME\nSister brewery,own_brewery,US-VT\n",
    "prices.csv": "from_date,beer,package,unit_price\n2025-12-01,Mill Lager,half_bbl,140\n",
    "standards.csv": "beer,stage,allowed_loss_pct,from_month\n*,kettle,5,\nMill Lager,fermenter,4.5,2026-01\n",
    "opening_materials.csv": "site,material,quantity,unit,cost\nmain,base malt,9000,lb,5000\n",
    "opening_lots.csv": "lot,site,beer,vessel,volume,volume_unit,cost_ingredients\nL900,main,Plain Pale,F2,28,bbl,1600\n",
    "opening_goods.csv": "site,beer,package,units,cost\nmain,Plain Pale,half_bbl,40,2480\n",
    "receipts.csv": "date,site,material,quantity,unit,cost,freight,document\n"
    "2026-01-02,main,base malt,40,bag55lb,1280,45,0117\n2026-01-02,main,ale yeast,20,L,0,,Y1\n",
    "brews.csv": "brew,date,site,beer,lot,vessel,end_of_boil,kettle_temp,into_fermenter,original_gravity\n"
    "W1,2026-01-05,main,Mill Lager,L1,F1,31.2,210,28.5,12.1\nW2,2026-01-06,main,Mill Lager,L2,F2,31.0,210,28.2,12.0\n",
    "uses.csv": "date,site,material,quantity,unit,brew,lot,run,account,pool\n"
    "2026-01-05,main,base malt,32,bag55lb,W1,,,,\n2026-01-05,main,ale yeast,3,L,W1,,,,\n"
    "2026-01-07,main,hops one,20,oz,,L1,,,\n",
    "moves.csv": "move,date,site,from_lot,to_lot,to_vessel,volume_out,volume_in,volume_unit,reason,lot_emptied\n"
    "M1,2026-01-19,main,L1,L3,B1,28.1,27.9,bbl,filter,yes\nM2,2026-01-20,main,L2,,,0.2,,bbl,sample,\n",
    "readings.csv": "date,site,lot,gravity\n2026-01-08,main,L1,4.2\n",
    "packaging.csv": "run,date,site,lot,package,filled,rejected,volume_drawn\n"
    "R1,2026-01-21,main,L3,half_bbl,50,1,27.5\nR1,2026-01-21,main,L3,sixth_bbl,1,,\n",
    "shipments.csv": "document,line,date,site,account,beer,package,units,purpose,unit_price,freight\n"
    "S1,1,2026-01-23,main,Corner shop,Mill Lager,half_bbl,4,sale,148.5,12.5\n"
    "S1,2,2026-01-23,main,Corner shop,Plain Pale,half_bbl,2,sale,\"1,150.25\",\n"
    "S2,,2026-01-24,main,Sister brewery,Mill Lager,half_bbl,2,in_bond,90,\n",
    "returns.csv": "document,date,site,account,beer,package,units,outcome,original_document\n"
    "C1,2026-01-26,main,Corner shop,Mill Lager,half_bbl,1,restocked,S1\n",
    "counts.csv": "date,site,material,lot,beer,package,quantity,unit\n2026-01-31,main,base malt,,,,9100,lb\n"
    "2026-01-31,main,,,Mill Lager,half_bbl,44,each\n2026-01-31,main,,L2,,,28,\n",
    "labour.csv": "date,site,stage,hours,cost,brew\n2026-01-05,main,brewhouse,8,212,W1\n",
    "expenses.csv": "month,site,pool,amount\n2026-01,main,rent,9000\n",
    "beer_in.csv": "date,site,account,beer,cost,lot,volume,package,units\n"
    "2026-01-12,main,Sister brewery,Plain Pale,900,L50,10,,\n2026-01-12,main,Sister brewery,Plain Pale,300,,,half_bbl,4\n",
    "byproducts.csv": "date,site,kind,quantity,unit,income\n2026-01-31,main,spent_grain,20000,lb,-40\n",
    "empties.csv": "date,site,account,package,units\n2026-01-28,main,Corner shop,half_bbl,3\n",
    "invoices.csv": "date,document,receipt_document,material,cost\n2026-01-20,INV1,0117,base malt,1290\n",
    "payments.csv": "date,area,site,period,amount\n2026-01-15,US,main,2025-Q4,410.5\n",
    "ledger.csv": "month,account,balance\n2026-01,finished goods,-12.5\n",
}  # fmt: skip


def write(folder: Path, changed: Mapping[str, str | bytes | None] = {}, toml: str = TOML) -> Path:
    """The brewery's folder with some files changed, added, or (None) left out."""
    inputs = folder / "inputs"
    inputs.mkdir(parents=True, exist_ok=True)
    (folder / "brewery.toml").write_text(toml, encoding="utf-8")
    for name, content in {**FILES, **changed}.items():
        if content is not None:
            data = content if isinstance(content, bytes) else content.encode("utf-8")
            (inputs / name).write_bytes(data)
    return folder


def load(folder: Path) -> duckdb.DuckDBPyConnection:
    """The records of a folder in a database in memory: reference.* and record.*."""
    given = settings.load(folder / "brewery.toml")
    con = duckdb.connect()
    settings_frames.register(con, given)
    records.register(con, folder, given)
    steps.run(con, {}, ["10_reference", "20_records"])
    return con


def findings(con: duckdb.DuckDBPyConnection) -> list[problems.Problem]:
    """What record.problems holds, by place."""
    columns = ", ".join(problems.COLUMNS)
    return problems.by_place(problems.from_rows(con.execute(f"select {columns} from record.problems").fetchall()))


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def assert_nothing_lost(con: duckdb.DuckDBPyConnection) -> None:
    """K8, and that what counts as accepted is what stands in the tables."""
    unequal = rows(con, "from record.row_counts where rows_read <> rows_accepted + rows_set_aside + rows_ignored")
    assert unequal == []
    accepted = dict(rows(con, "select kind, sum(rows_accepted) from record.row_counts group by kind"))
    for kind, count in accepted.items():
        where = {"packages": "where not ready_made", "uses": "where not from_recipe"}.get(kind, "")
        assert rows(con, f"select count(*) from record.{kind} {where}") == [(count,)], kind
