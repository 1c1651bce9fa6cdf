"""What-if: the same computation on changed books. Every brewery here is invented."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import duckdb
import pytest
from click.testing import CliRunner
from generated_brewery import Brewery
from small_books import ACCOUNTS, BEERS, MALT, VESSELS, compute, failed_controls, one, rows, write_books

from brewcost import settings, what_if
from brewcost.books import Books
from brewcost.cli import cli
from brewcost.places import sample_dir

MONTH = "2026-03"
POOLS = """
[[pools]]
pool = "rent"
stage = "cellar"
driver = "tank_days"
behaviour = "fixed"
normal_driver = 60

[[pools]]
pool = "office"
stage = "period"
driver = "none"
behaviour = "fixed"

[[pools]]
pool = "steam"
stage = "brewhouse"
driver = "brews"
behaviour = "variable"
"""


@pytest.fixture(scope="module")
def sample() -> Iterator[duckdb.DuckDBPyConnection]:
    with compute(sample_dir()) as con:
        yield con


def changed(folder: Path, base: duckdb.DuckDBPyConnection, values: dict[str, Any]) -> duckdb.DuckDBPyConnection:
    """The books of a folder with changes, computed."""
    con = duckdb.connect()
    what_if.compute(con, Books(folder), settings.load(folder / "brewery.toml"), what_if.parse(values), base)
    assert not failed_controls(con)
    return con


def tables(con: duckdb.DuckDBPyConnection) -> dict[str, list[Any]]:
    named = con.execute("select schema_name || '.' || table_name from duckdb_tables() where schema_name in "
                        "('record', 'volume', 'cost', 'excise', 'result', 'report') order by all").fetchall()  # fmt: skip
    return {name: con.execute(f"from {name} order by all").fetchall() for (name,) in named}


def margin(con: duckdb.DuckDBPyConnection, what: str = "margin") -> Decimal:
    return Decimal(one(con, f"select sum({what}) from result.margins where month = '{MONTH}'"))


@pytest.mark.parametrize("seed", [3, 41, 90_001])
def test_no_change_gives_identical_tables(seed: int, tmp_path: Path) -> None:
    brewery = Brewery(Random(seed))
    write_books(tmp_path, brewery.records, **brewery.options)
    base = compute(tmp_path)
    found, wanted = tables(changed(tmp_path, base, {})), tables(base)
    assert len(wanted) > 90
    assert found == wanted


def test_malt_at_ten_per_cent_more_costs_ten_per_cent_more_in_every_barrel(
    sample: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    folder = write_books(tmp_path, small(1), more=POOLS)
    base = compute(folder)
    dearer = changed(folder, base, {"materials": {"Malt": "+10%"}})
    (now,), (then,) = (rows(each, "from result.run_costs") for each in (base, dearer))
    assert then["ingredients"] - now["ingredients"] == Decimal("54")  # 900 of 5,000 lb that cost 3,000
    assert (then["labour"], then["overhead"]) == (now["labour"], now["overhead"])
    # By kind: every malt, and nothing but malt. What it costs to carry it here does not change.
    con = changed(sample_dir(), sample, {"materials": {"malt": "+10%"}})
    costs = "select sum(amount) from result.run_cost_parts where kind {} 'malt'"
    assert abs(one(con, costs.format("<>")) - one(sample, costs.format("<>"))) < Decimal("0.01")
    more = one(con, costs.format("=")) / one(sample, costs.format("="))
    assert 1.09 < more < 1.10
    half = changed(sample_dir(), sample, {"materials": {"Pilsner Malt": "-50%"}})
    assert one(half, costs.format("=")) < one(sample, costs.format("="))


def test_a_price_changes_revenue_by_as_much_on_every_keg_sold(sample: duckdb.DuckDBPyConnection) -> None:
    con = changed(sample_dir(), sample, {"prices": {"half_bbl": "+5"}})
    kegs = one(sample, f"select sum(units) from cost.shipment_costs where month = '{MONTH}' and package = 'half_bbl' "
                       "and of_goods_sold and kind = 'shipment'")  # fmt: skip
    assert kegs > 100
    assert margin(con) - margin(sample) == 5 * kegs
    dearer = changed(sample_dir(), sample, {"prices": {"Orrel Lager/half_bbl": "+10%"}})
    sold = one(sample, f"select sum(revenue) from cost.prices join cost.shipment_costs using (kind, document, line) where "
                       f"month = '{MONTH}' and package = 'half_bbl' and beer = 'Orrel Lager' and of_goods_sold")  # fmt: skip
    assert abs(margin(dearer) - margin(sample) - sold / 10) < Decimal("0.001")


def test_the_rate_of_an_area_changes_its_duty_and_no_other(sample: duckdb.DuckDBPyConnection) -> None:
    """All of it lies in the first band, 3.50 a barrel (26 U.S.C. 5051(a)(1)(C)); at 7.00 the duty is twice as much."""
    con = changed(sample_dir(), sample, {"rates": {"us/first": 7}})
    duty = "select coalesce(sum(amount), 0) from excise.duty where area {} 'US'"
    # Each return is rounded to the cent.
    assert abs(one(con, duty.format("=")) - 2 * one(sample, duty.format("="))) < Decimal("0.05")
    assert one(sample, duty.format("=")) > 1000
    assert one(con, duty.format("<>")) == one(sample, duty.format("<>")) > 0


@pytest.mark.parametrize(("stage", "pct"), [("packaging", "1.5"), ("fermenter", "2"), ("kettle", "3"), ("transfer", "4"),
                                            ("bright_tank", "0")])  # fmt: skip
def test_a_stage_loses_what_is_asked_and_what_is_packaged_stays(
    sample: duckdb.DuckDBPyConnection, stage: str, pct: str
) -> None:
    con = changed(sample_dir(), sample, {"losses": {stage: pct}})
    lost = "select 100 * sum(loss_bbl) / sum(volume_in_bbl) from volume.stage_losses where loss_bbl is not null and stage = $1"
    assert abs(one(con, lost, [stage]) - float(pct)) < 0.02
    others = "select stage, 100 * sum(loss_bbl) / sum(volume_in_bbl) from volume.stage_losses where loss_bbl is not null " \
             "and stage <> $1 group by stage"  # fmt: skip
    before, after = (dict(each.execute(others, [stage]).fetchall()) for each in (sample, con))
    assert all(abs(after[other] - before[other]) < 0.05 for other in before)
    for each in ("select sum(filled) from result.run_costs", "select sum(units) from result.margins"):
        assert one(con, each) == one(sample, each)
    # Less malt for the same beer where less is lost, more where more is; and as much found at each count as before.
    used = "select sum(used_qty) from result.material_months where material = 'pale malt'"
    less = Decimal(pct) / 100 < Decimal(str(one(sample, lost, [stage]))) / 100
    assert (one(con, used) < one(sample, used)) == less
    found = "select sum(abs(counted_qty)) from result.material_months"
    assert abs(one(con, found) - one(sample, found)) < Decimal("0.001")


def small(times: int) -> dict[str, Any]:
    """A month of so many like brews, each packaged and sold."""
    first = date(2026, 1, 2)
    records: dict[str, Any] = {
        "beers": BEERS, "accounts": ACCOUNTS, "materials": MALT, "vessels": [
            vessel | {"vessel": f"{vessel['vessel']}{number}"} for vessel in VESSELS for number in range(times)
        ],
        "opening_materials": [{"site": "main", "material": "malt", "quantity": 5000 * times, "unit": "lb",
                               "cost": 3000 * times}],
        "expenses": [{"month": "2026-01", "site": "main", "pool": pool, "amount": amount}
                     for pool, amount in (("rent", 1200), ("office", 500), ("steam", 80 * times))],
    }  # fmt: skip
    for kind in ("brews", "uses", "packaging", "shipments", "labour"):
        records[kind] = []
    for number in range(times):
        records["brews"].append({"brew": f"W{number}", "date": first, "site": "main", "beer": "Test Ale",
                                 "lot": f"L{number}", "vessel": f"F1{number}", "into_fermenter": 20, "volume_unit": "bbl"})
        records["uses"].append({"date": first, "site": "main", "material": "malt", "quantity": 900, "unit": "lb",
                                "brew": f"W{number}"})
        records["labour"].append({"date": first, "site": "main", "stage": "brewhouse", "hours": 8, "cost": 200,
                                  "brew": f"W{number}"})
        records["packaging"].append({"run": f"R{number}", "date": first + timedelta(14), "site": "main",
                                     "lot": f"L{number}", "package": "half_bbl", "filled": 38, "lot_emptied": "yes"})
        records["shipments"].append({"document": f"S{number}", "date": first + timedelta(20), "site": "main",
                                     "account": "Test house", "beer": "Test Ale", "package": "half_bbl", "units": 30,
                                     "purpose": "own_location", "unit_price": 90})  # fmt: skip
    return records


@pytest.mark.parametrize("times", [2, 5])
def test_more_volume_is_what_the_books_would_be_with_so_many_of_the_same_brews(times: int, tmp_path: Path) -> None:
    """The second way: the brews written down so many times, fixed costs once. With five the rent is absorbed whole."""
    folders = [write_books(tmp_path / str(each), small(each), more=POOLS) for each in (1, times)]
    wanted = what_if.figures(compute(folders[1]), "2026-01", Decimal(1))
    _, lines, _ = what_if.compare(Books(folders[0]), None, what_if.parse({"volume": f"+{100 * (times - 1)}%"}))
    assert len(lines) == len(wanted) > 12
    for line in lines:
        value = wanted[line.subject, line.figure, line.unit]
        assert line.then is not None and value is not None
        assert abs(line.then - value) < Decimal("0.001") * times, line
    idle = next(line for line in lines if line.figure.endswith("idle capacity"))
    assert idle.now is not None and idle.then is not None
    assert (idle.now > 0) and (idle.then == 0) == (times == 5)


def test_more_volume_shares_one_cap_of_remission(tmp_path: Path) -> None:
    """Australia: of twice the removals the same amount is remitted in all, so half of it in each."""
    folder = write_books(tmp_path, small(1))
    text = (folder / "brewery.toml").read_text(encoding="utf-8")
    text = re.sub(r'^area = "US.*"$', 'area = "AU"', text, flags=re.MULTILINE).replace('currency = "USD"', 'currency = "AUD"')
    text += '[[filers]]\narea = "AU"\nremission = true\nremission_cap = 1500\n'
    (folder / "brewery.toml").write_text(text, encoding="utf-8")
    base = compute(folder)
    twice = changed(folder, base, {"volume": "+100%"})
    taken = "select sum(remitted) from excise.remissions"
    whole = "select sum(duty) from excise.remissions"
    assert one(base, whole) == one(twice, whole) > 1500  # figures of a barrel's worth: what-if counts them twice
    assert (one(base, taken), one(twice, taken)) == (1500, 750)


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"materials": {"malted milk": "+10%"}}, "'malted milk' is no material of these books; there are "),
        ({"prices": {"firkin": "+5"}}, "'firkin' is no beer or package of these books"),
        ({"rates": {"US-XX": 7}}, "'US-XX' is no area with rates of these books"),
        ({"rates": {"us/nonsense": 7}}, "'us/nonsense' is no band of US; there are "),
    ],
)
def test_a_name_the_books_do_not_have_is_said(
    sample: duckdb.DuckDBPyConnection, values: dict[str, Any], says: str
) -> None:
    with pytest.raises(what_if.WhatIfError, match=re.escape(says)):
        changed(sample_dir(), sample, values)


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"volume": "20"}, "'20' is not a per cent; write it as +10% or -10%"),
        ({"volume": "-100%"}, "a per cent has a sign and is from -99% to +1000%"),
        ({"volume": "-99.9999999999%"}, "a per cent has a sign and is from -99% to +1000%"),
        ({"materials": {"malt": "+99999999999999%"}}, "a per cent has a sign and is from -99% to +1000%"),
        ({"prices": {"half_bbl": "99999999999999"}}, "'99999999999999' is not a change; an amount is at most 10000000"),
        ({"rates": {"US": "1e30"}}, "US: '1e30' is not a number from 0 to 10000000"),
        ({"losses": {"packaging": "99.9999999"}}, "packaging: '99.9999999' is not a number from 0 to 99"),
        ({"prices": {"half_bbl": "cheap"}}, "'cheap' is not a change; write +10%, -5 or a new figure such as 150"),
        ({"losses": {"racking": 1}}, "'racking' is not a stage; the stages are kettle, fermenter"),
        ({"losses": {"kettle": "most"}}, "kettle: 'most' is not a number from 0 to 99"),
        ({"weather": {"rain": 1}}, "weather is not a change"),
        ({"prices": "+5"}, "prices is not a change"),
    ],
)
def test_a_change_that_cannot_be_read_is_said(values: dict[str, Any], says: str) -> None:
    with pytest.raises(what_if.WhatIfError, match=re.escape(says)):
        what_if.parse(values)


def test_the_command_shows_both_sides_and_leaves_the_books_alone(tmp_path: Path) -> None:
    folder = write_books(tmp_path, small(1), more=POOLS)
    (folder / "changes.toml").write_text('volume = "+20%"\n[prices]\nhalf_bbl = "+5"\n', encoding="utf-8")
    runner = CliRunner()
    made = runner.invoke(cli, ["what-if", "2026-01", "--folder", str(folder), "--price", "Test Ale", "-5%",
                               "--malt", "+10%", "--changes", str(folder / "changes.toml")])  # fmt: skip
    assert made.exit_code == 0, made.output
    assert re.search(r"all beers +barrels out +15\.00 +18\.00 +3\.00 +bbl", made.output)
    assert not (folder / "brewcost.duckdb").exists()
    wrong = runner.invoke(cli, ["what-if", "--folder", str(folder), "--loss", "racking", "3"])
    assert wrong.exit_code == 2 and "is not a stage" in wrong.output
    wrong = runner.invoke(cli, ["what-if", "2031-01", "--folder", str(folder)])
    assert wrong.exit_code == 2 and "2031-01 is not a month of these books" in wrong.output
