"""Units, temperature, gravity, extract and alcohol against published figures; each row of measures.csv carries its source.

Water density is also held against IAPWS-95 by the `iapws` package. Rows of the file that no rule computes (spent grain,
other formulas shown for comparison) are not read here.
"""

from __future__ import annotations

import csv
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from iapws import IAPWS95
from small_books import REFERENCE, books, codes, one, rows

from brewcost import steps

MEASURES = Path(__file__).parent / "check_values" / "measures.csv"


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    for step in steps.find(["10_reference"]):
        if step.path.name.startswith("0"):
            for statement in con.extract_statements(step.text):
                con.execute(statement)
    return con


def published(pattern: str) -> list[Any]:
    """The rows whose quantity and inputs match, as (the two groups found, expected, tolerance)."""
    rows = []
    with MEASURES.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found = re.fullmatch(pattern, f"{row['quantity']} | {row['inputs']}")
            if found:
                tolerance = max(float(row["tolerance"]), 1e-9)
                rows.append(pytest.param(*found.groups(), float(row["expected"]), tolerance, id=found[0][:60]))
    assert rows, pattern
    return rows


@pytest.mark.parametrize(("macro", "digits"), [("rounded6(q)", ""), ("rounded2(q)", ", 2")])
def test_rounding_in_64_bits_is_rounding_in_128(con: duckdb.DuckDBPyConnection, macro: str, digits: str) -> None:
    """Quotients of every size, to and fro over the limit of 64 bits, and halves at the last digit."""
    wide = "round(q::decimal(28,10), 2)" if digits else "q::decimal(28,10)"
    found = con.execute(f"""
        select count(*), count(*) filter (where {macro} is distinct from ({wide})::decimal(18,6)), max(abs(q)),
            count(*) filter (where abs(q) between 89999000 and 90001000)
        from (
            select sin(i) * 10 ** (i % 18 - 6) as q from range(200000) as numbers(i)
            union all select (case i % 2 when 0 then 1 else -1 end) * (i + 0.5) / 10 ** (i % 10) from range(50000) as numbers(i)
            union all select (case i % 2 when 0 then 1 else -1 end) * (89999999.99 + i / 300000) from range(10000) as numbers(i)
            union all select null
        )
    """).fetchall()
    [(count, different, largest, near)] = found
    assert (count, different) == (260001, 0)
    assert largest > 9e10 and near > 10000


def test_halves_go_away_from_nought(con: duckdb.DuckDBPyConnection) -> None:
    half = "select rounded6(1.0000005::double), rounded6(-1.0000005::double), rounded2(2.675::double), rounded2(-0.005::double)"
    expected = [Decimal(text) for text in ("1.000001", "-1.000001", "2.68", "-0.01")]
    assert [*con.execute(half).fetchall()[0]] == expected


@pytest.mark.parametrize(("degrees", "expected", "tolerance"), published(r"Water density \| (\d+) degC, 1 atm.*"))
def test_water_density(con: duckdb.DuckDBPyConnection, degrees: str, expected: float, tolerance: float) -> None:
    assert one(con, "select water_density(?)", [float(degrees)]) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("degrees", range(1, 100, 3))
def test_water_density_and_shrinkage_against_iapws_95(con: duckdb.DuckDBPyConnection, degrees: int) -> None:
    # IAPWS-95 (Wagner and Pruss 2002) by the `iapws` package, at one atmosphere; Kell agrees to 2 parts in 100,000.
    water = IAPWS95(T=degrees + 273.15, P=0.101325).rho
    cold = IAPWS95(T=293.15, P=0.101325).rho
    assert one(con, "select water_density(?)", [degrees]) == pytest.approx(water, rel=2e-5)
    assert float(one(con, "select at_20c(100, ?)", [degrees])) == pytest.approx(100 * water / cold, rel=4e-5)


@pytest.mark.parametrize(
    ("degrees", "expected", "tolerance"), published(r"Water volume factor to 20 degC \| V20/V at (\d+) degC")
)
def test_volume_at_20_degrees(con: duckdb.DuckDBPyConnection, degrees: str, expected: float, tolerance: float) -> None:
    assert float(one(con, "select at_20c(1, ?)", [int(degrees)])) == pytest.approx(expected, abs=tolerance)


def test_hot_strike_water_and_the_trade_factor(con: duckdb.DuckDBPyConnection) -> None:
    # IAPWS-95: 600 gal read at 75 degC are 586.0 gal. MBAA, Ask the Brewmaster; Kunze 1962 p. 263: 0.96 at the boil.
    assert float(one(con, "select at_20c(600, 75)")) == pytest.approx(586.0, abs=0.1)
    assert float(one(con, "select at_20c(25, 100)")) == pytest.approx(24.0, abs=0.005)


@pytest.mark.parametrize(
    ("plato", "expected", "tolerance"), published(r"(?:SG 20/20 from Plato|Published spot value) \| ([\d.]+) degP")
)
def test_gravity_of_plato(con: duckdb.DuckDBPyConnection, plato: str, expected: float, tolerance: float) -> None:
    assert one(con, "select sg_of_plato(?)", [float(plato)]) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("sg", "expected", "tolerance"), published(r"Plato from SG 20/20 \| SG ([\d.]+)"))
def test_plato_of_gravity(con: duckdb.DuckDBPyConnection, sg: str, expected: float, tolerance: float) -> None:
    assert one(con, "select plato_of_sg(?)", [float(sg)]) == pytest.approx(expected, abs=tolerance)


def test_plato_and_gravity_undo_each_other(con: duckdb.DuckDBPyConnection) -> None:
    assert one(con, "select max(abs(plato_of_sg(sg_of_plato(p)) - p)) from (select range / 10 as p from range(1, 350))") < 1e-6
    assert one(con, "select plato_of_sg(0.9999)") == 0  # the cubic is 0.00002 off at water: never below zero


@pytest.mark.parametrize(("plato", "expected", "tolerance"), published(r"Extract per US bbl, true mass \| ([\d.]+) degP"))
def test_extract_in_a_barrel(con: duckdb.DuckDBPyConnection, plato: str, expected: float, tolerance: float) -> None:
    assert one(con, "select extract_lb(1, ?)", [float(plato)]) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(
    ("macro", "original", "apparent", "expected", "tolerance"),
    [
        pytest.param(macro, *param.values, id=f"{macro} {param.id}")
        for quantity, macro in (
            (r"(?:Real extract|Published example: real extract)", "real_extract"),
            (r"(?:Alcohol by weight|Published example: alcohol by weight)", "alcohol_by_weight"),
            (r"Measured mean alcohol, real brews", "alcohol_by_weight"),
            (r"Alcohol by volume", "alcohol_by_volume"),
        )
        for param in published(quantity + r" \| (?:.*: )?OE ([\d.]+), AE ([\d.]+).*")
    ],
)
def test_extract_and_alcohol(
    con: duckdb.DuckDBPyConnection, macro: str, original: str, apparent: str, expected: float, tolerance: float
) -> None:
    found = one(con, f"select {macro}(?, ?)", [float(original), float(apparent)])
    assert found == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(
    ("unit", "base", "expected"),
    [
        # NIST SP 811 and Handbook 44 Appendix C: exact definitions.
        ("bbl", 1, Decimal(1)), ("gal", 31, Decimal(1)), ("floz", 3968, Decimal(1)),
        ("L", "117.347765304", Decimal(1)), ("hL", "1.17347765304", Decimal(1)), ("mL", "117347.765304", Decimal(1)),
        ("kg", "0.45359237", Decimal(1)), ("g", "453.59237", Decimal(1)), ("t", "0.00045359237", Decimal(1)),
        ("oz", 16, Decimal(1)), ("bag55lb", 1, Decimal(55)), ("bag50lb", 1, Decimal(50)),
        # UK Weights and Measures Act 1985: imperial gallon 4.54609 L; 36 of them 163.65924 L, 1.394652 US barrels.
        ("imp_gal", 36, Decimal("1.394652")),
        ("bag25kg", 1, Decimal("55.115566")),
    ],
)  # fmt: skip
def test_units_are_exact(con: duckdb.DuckDBPyConnection, unit: str, base: object, expected: Decimal) -> None:
    numerator, denominator = con.execute(
        "select numerator, denominator from reference.units where unit = ?", [unit]
    ).fetchall()[0]
    assert (Decimal(str(base)) * numerator / denominator).quantize(Decimal("0.000001")) == expected


def test_units_through_the_records() -> None:
    # 31 gal and 1.17347765304 hL are each one barrel, exactly.
    con = books(
        REFERENCE
        | {
            "brews": [
                {"brew": brew, "date": "2026-01-02", "site": "main", "beer": "Test Ale", "lot": brew, "vessel": "F1",
                 "end_of_boil": end, "into_fermenter": into, "volume_unit": unit}
                for brew, end, into, unit in (("A", "2790", "725.4", "gal"), ("B", "105.6129887736", "27.459377", "hL"))
            ]
        }
    )  # fmt: skip
    found = con.execute("select volume_in_bbl, volume_out_bbl from volume.brews order by brew").fetchall()
    assert found == [(90, Decimal("23.4")), (90, Decimal("23.4"))]


def mashed(**strike: object) -> dict[str, Any]:
    """A brew of 2,000 lb of malt and 100 lb of sugar, which is not mashed."""
    grist = [("malt", 2000), ("syrup", 100)]
    con = books(
        REFERENCE
        | {
            "materials": [*REFERENCE["materials"], {"material": "syrup", "kind": "sugar", "stock_unit": "lb"}],
            "opening_materials": [
                {"site": "main", "material": name, "quantity": pounds, "unit": "lb", "cost": 100} for name, pounds in grist
            ],
            "uses": [
                {"date": "2026-01-02", "site": "main", "material": name, "quantity": pounds, "unit": "lb", "brew": "A"}
                for name, pounds in grist
            ],
            "brews": [{"brew": "A", "date": "2026-01-02", "site": "main", "beer": "Test Ale", "lot": "A", "vessel": "F1",
                       "into_fermenter": 40} | strike],
        }
    )  # fmt: skip
    [row] = rows(con, "from result.brewhouse")
    return row | {"codes": codes(con, "warning")}


def test_strike_water_to_grist() -> None:
    [(quarts, _)] = [param.values for param in published(r"Mash water quarts per lb \| 600 gal / 2000 lb")]
    [(litres, within)] = [param.values for param in published(r"Mash liquor:grist \| 600 gal / 2000 lb")]
    found = mashed(strike_volume=600, strike_unit="gal")
    assert float(found["liquor_qt_per_lb"]) == pytest.approx(quarts, abs=1e-5)
    assert float(found["liquor_l_per_kg"]) == pytest.approx(litres, abs=within)
    assert found["mashed_lb"] == 2000 and "liquor-to-grist" not in found["codes"]


def test_hot_strike_water_counts_as_cold() -> None:
    [(gallons, within)] = [param.values for param in published(r"Hot strike water booked at 20 degC \| 600 gal read at 75 .*")]
    found = mashed(strike_volume=600, strike_unit="gal", strike_temp=75, temp_unit="C")
    assert float(found["strike_bbl"]) * 31 == pytest.approx(gallons, abs=within)


@pytest.mark.parametrize(("gallons", "told"), [(470, True), (490, False), (950, False), (970, True)])
def test_strike_water_that_no_mash_takes_is_told(gallons: int, told: bool) -> None:
    # 2 to 4 L a kg (loss_norms.csv: mash, liquor:grist; common practice): 479 to 959 gal for 2,000 lb.
    assert ("liquor-to-grist" in mashed(strike_volume=gallons, strike_unit="gal")["codes"]) == told


def test_a_gallon_held_by_each_pound_of_hops() -> None:
    [(litres, within)] = [param.values for param in published(r"Dry-hop absorption, rule 1 gal per lb \| 1 US gal/lb")]
    con = books(
        REFERENCE
        | {
            "materials": [{"material": "pellets", "kind": "hops", "stock_unit": "kg"}],
            "standards": [{"beer": "*", "stage": "fermenter", "allowed_loss_pct": 0, "loss_bbl_per_lb_hops": "0.032258"}],
            "brews": [{"brew": "A", "date": "2026-01-02", "site": "main", "beer": "Test Ale", "lot": "A", "vessel": "F1",
                       "into_fermenter": 31}],
            "uses": [{"date": "2026-01-05", "site": "main", "material": "pellets", "quantity": 31, "unit": "lb", "lot": "A"}],
            "moves": [{"date": "2026-01-09", "site": "main", "from_lot": "A", "to_lot": "B", "to_vessel": "B1",
                       "volume_out": 30, "volume_in": 30, "reason": "transfer", "lot_emptied": "yes"}],
        }
    )  # fmt: skip
    [found] = rows(con, "from report.hop_losses")
    assert float(found["hop_loss_l_per_kg"]) == pytest.approx(litres, abs=within)
    assert float(found["allowed_gal_per_lb"]) == pytest.approx(1, abs=1e-4)
