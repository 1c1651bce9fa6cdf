"""Text rows to records: units, names, documents, recipes; and that nothing is ever lost or changed by its neighbour."""

from __future__ import annotations

import csv
import io
import json
import tempfile
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import duckdb
import pytest
from brewery import FILES, TOML, assert_nothing_lost, findings, load, rows, write
from hypothesis import example, given
from hypothesis import settings as tries
from hypothesis import strategies as st

from brewcost import problems, steps
from brewcost.kinds import dictionary

WORKED = Path(__file__).parent / "worked_months"
ONLY = dict.fromkeys(FILES)


def test_the_sound_folder_has_no_finding_and_every_row_is_accepted(tmp_path: Path) -> None:
    con = load(write(tmp_path))
    assert findings(con) == []
    assert rows(con, "select sum(rows_read - rows_accepted) from record.row_counts") == [(0,)]
    assert_nothing_lost(con)


def test_the_worked_months_load_without_a_finding() -> None:
    con = load(WORKED)
    assert [str(each) for each in findings(con) if each.severity == "error"] == []
    assert_nothing_lost(con)
    assert rows(con, "from record.months order by month")[0][0] == "2026-01"
    assert rows(con, "select month from record.months") == [("2026-01",), ("2026-02",)]


def test_loading_twice_gives_the_same_tables(tmp_path: Path) -> None:
    first, second = load(write(tmp_path)), load(write(tmp_path))
    for kind in dictionary().kinds:
        query = f"select * from record.{kind} order by all"
        assert rows(first, query) == rows(second, query)


def test_a_removed_file_takes_its_rows_away_and_empty_kinds_stand_as_empty_tables(tmp_path: Path) -> None:
    con = load(write(tmp_path, dict(ONLY)))
    (tmp_path / "inputs" / "x").mkdir(parents=True)
    assert findings(con) == []
    for kind in dictionary().kinds:
        assert rows(con, f"select count(*) from record.{kind}") == [(0,)]
    assert rows(con, "select month from record.months") == [("2026-01",)]


# ---------------------------------------------------------------------------------------------------------------- units


def test_the_units_of_the_dictionary_are_those_of_the_computation() -> None:
    con = duckdb.connect()
    con.execute("create schema reference")
    steps_needed = [step for step in steps.find(["10_reference"]) if step.table == "reference.units"]
    assert len(steps_needed) == 1
    con.execute(steps_needed[0].text)
    known = {(family, unit) for family, units in dictionary().units.items() for unit in units}
    assert set(rows(con, "select family, unit from reference.units")) == known


# Litres of a US gallon and of an imperial gallon, kilograms of a pound: exact, NIST Handbook 44 Appendix C; 31 gallons a
# barrel: 27 CFR 25.11; 128 fluid ounces a gallon: NIST Handbook 44 Appendix C.
GALLON_L, IMPERIAL_L, POUND_KG = Fraction("3.785411784"), Fraction("4.54609"), Fraction("0.45359237")
BARREL_L = 31 * GALLON_L
IN_BARRELS = {
    "bbl": Fraction(1), "gal": Fraction(1, 31), "L": 1 / BARREL_L, "hL": 100 / BARREL_L, "mL": 1 / BARREL_L / 1000,
    "floz": Fraction(1, 31 * 128), "imp_gal": IMPERIAL_L / BARREL_L,
}  # fmt: skip
IN_POUNDS = {
    "lb": Fraction(1), "oz": Fraction(1, 16), "kg": 1 / POUND_KG, "g": 1 / POUND_KG / 1000, "t": 1000 / POUND_KG,
    "bag55lb": Fraction(55), "bag50lb": Fraction(50), "bag25kg": 25 / POUND_KG,
}  # fmt: skip


def rounded(value: Fraction) -> Decimal:
    return Decimal(int(value * 10**6 + Fraction(1, 2))).scaleb(-6)


def test_quantities_are_turned_into_the_stock_unit_exactly(tmp_path: Path) -> None:
    materials, uses, wanted = ["material,kind,stock_unit"], ["date,site,material,quantity,unit,pool"], {}
    quantities = ["1", "0.000001", "3090", "673.5", "999999999.999999", "12.345678"]
    for family in (IN_BARRELS, IN_POUNDS):
        for stock, stock_size in family.items():
            materials.append(f"in {stock},yeast,{stock}")
            for unit, size in family.items():
                for quantity in quantities:
                    result = rounded(Fraction(quantity) * size / stock_size)
                    if result < 10**12:  # what DECIMAL(18,6) holds
                        uses.append(f"2026-01-05,main,in {stock},{quantity},{unit},caustic")
                        wanted[len(uses)] = result
    con = load(write(tmp_path, {**ONLY, "materials.csv": "\n".join(materials), "uses.csv": "\n".join(uses)}))
    assert dict(rows(con, "select row, stock_qty from record.uses")) == wanted


def test_pounds_of_a_stock_unit(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"materials.csv": FILES["materials.csv"] + "sacks,malt,bag25kg,\n"}))
    found = dict(rows(con, "select material, lb_per_stock_unit from record.materials"))
    assert found["hops one"] == Decimal("0.0625")
    assert found["sacks"] == Decimal("55.1155655462")  # 25 / 0.45359237, exact definition of the pound
    assert found["ale yeast"] is None


def test_hectolitres_in_barrels_and_fahrenheit_in_celsius(tmp_path: Path) -> None:
    lots = "lot,site,beer,volume,volume_unit,cost_ingredients\nL900,main,Plain Pale,26,HL,5\n"
    con = load(write(tmp_path, {"opening_lots.csv": lots}))
    # 1 hL = 0.85216791 bbl: from 27 CFR 25.156(a) and NIST Handbook 44
    assert rows(con, "select volume_bbl from record.opening_lots") == [(Decimal("22.156366"),)]
    # 210 F is 98.89 C: the definition of the scales
    assert rows(con, "select kettle_temp_c from record.brews where brew = 'W1'") == [(Decimal("98.888889"),)]


def test_specific_gravity_in_degrees_plato(tmp_path: Path) -> None:
    brews = FILES["brews.csv"].replace("original_gravity\n", "original_gravity,gravity_unit\n")
    brews = brews.replace("12.1\n", "1.04837,SG\n").replace("12.0\n", "12.0,Plato\n")
    con = load(write(tmp_path, {"brews.csv": brews}))
    found = dict(rows(con, "select brew, original_plato from record.brews"))
    # 12.0 degrees Plato is SG 1.04837: hobbybrauer-kompendium.de, Sudhausausbeute; 0.0001 SG is about 0.025 degrees
    assert abs(found["W1"] - 12) < Decimal("0.025")
    assert found["W2"] == 12


def test_gravities_have_one_range_in_both_units_and_a_dry_beer_is_lighter_than_water(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"readings.csv": "date,site,lot,gravity,gravity_unit\n2026-01-08,main,L1,-0.4,\n"
                                "2026-01-08,main,L1,45,plato\n2026-01-08,main,L1,0.98,sg\n"
                                "2026-01-08,main,L1,1.205,sg\n"}))  # fmt: skip
    assert findings(con) == []
    plato = [float(value) for (value,) in rows(con, "select plato from record.readings order by row")]
    assert plato[:2] == [-0.4, 45]
    # The limits in specific gravity are those in degrees Plato, to within half a degree.
    assert abs(plato[2] - -5) < 0.5 and abs(plato[3] - 45) < 0.5


def test_barrels_of_ready_made_packages(tmp_path: Path) -> None:
    # 27 CFR 25.156(a) for kegs (1/2 ... 50 L), 25.158 for cases; 20 L and 24 x 330 mL by arithmetic (31 gal a barrel)
    printed = {
        "half_bbl": "0.50000", "third_bbl": "0.33333", "quarter_bbl": "0.25000", "sixth_bbl": "0.16667",
        "eighth_bbl": "0.12500", "keg_5gal": "0.16129", "keg_30L": "0.25565", "keg_50L": "0.42608",
        "keg_20L": "0.17043", "case_24x12": "0.07258", "case_24x16": "0.09677", "case_12x22": "0.06653",
        "case_24x500mL": "0.10226", "case_12x750mL": "0.07670", "case_24x330mL": "0.06749",
    }  # fmt: skip
    lines = [f"S{place},,2026-01-23,main,Corner shop,Mill Lager,{name.upper()},1,sale,1," for place, name in enumerate(printed)]
    text = FILES["shipments.csv"].splitlines()[0] + "\n" + "\n".join(lines) + "\n"
    con = load(write(tmp_path, {"shipments.csv": text, "returns.csv": None}))
    assert findings(con) == []
    found = rows(con, "select package, bbl_numerator, bbl_denominator, ready_made, form from record.packages")
    exact = {name: Fraction(top) / Fraction(bottom) for name, top, bottom, ready, form in found}
    for name, bbl in printed.items():
        value = Decimal(exact[name].numerator) / Decimal(exact[name].denominator)
        assert value.quantize(Decimal("0.00001"), ROUND_HALF_UP) == Decimal(bbl), name
    assert exact["third_bbl"] == Fraction(1, 3) and exact["half_bbl"] == Fraction(1, 2)
    assert {name: form for name, _, _, ready, form in found if ready and form == "keg"}.keys() == {
        name for name in printed if not name.startswith("case")
    }
    # a package of its own: 24 x 12 fluid ounces is case_24x12 under another name
    assert exact["case_4x6x12"] == exact["case_24x12"]


# ---------------------------------------------------------------------------------------------------------------- names


def test_names_are_spelt_as_their_own_record_spells_them(tmp_path: Path) -> None:
    text = FILES["shipments.csv"].replace("Corner shop,Mill Lager,half_bbl,4", " CORNER SHOP ,mill lager,HALF_BBL,4")
    con = load(write(tmp_path, {"shipments.csv": text, "uses.csv": FILES["uses.csv"].replace("W1", "w1")}))
    assert findings(con) == []
    assert rows(con, "select account, beer, package from record.shipments where row = 2") == [
        ("Corner shop", "Mill Lager", "half_bbl")
    ]
    assert rows(con, "select distinct brew from record.uses where brew is not null") == [("W1",)]


def test_a_near_miss_is_suggested_in_the_words_of_the_message(tmp_path: Path) -> None:
    text = FILES["shipments.csv"].replace("Corner shop,Mill Lager,half_bbl,4", "Corner shop,Mil Lager,half_bbl,4")
    (found,) = findings(load(write(tmp_path, {"shipments.csv": text})))
    assert str(found) == "shipments.csv row 2, beer: no beer `Mil Lager`; did you mean `Mill Lager`? (unknown-beer)"


def test_a_number_is_reported_in_the_words_of_the_design(tmp_path: Path) -> None:
    name = "shipments-2026-03.csv"
    lines = FILES["shipments.csv"].splitlines()[0] + "\n" * 16
    lines += "S9,,2026-03-02,main,Corner shop,Mill Lager,half_bbl,12.5.1,sale,1,\n"
    (found,) = findings(load(write(tmp_path, {name: lines})))
    assert str(found) == (
        f'{name} row 17, units: "12.5.1" is not a number; write digits with one decimal point (not-a-number)'
    )
    assert found.month == "2026-03"


def test_names_of_other_numbers_are_not_suggested(tmp_path: Path) -> None:
    (found,) = findings(load(write(tmp_path, {"uses.csv": FILES["uses.csv"].replace("20,oz,,L1,", "20,oz,,L77,")})))
    assert "did you mean" not in str(found)


def test_a_row_that_names_a_row_set_aside_goes_on_with_a_warning(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"brews.csv": FILES["brews.csv"].replace("31.2,210,28.5", "31.2,210,x")}))
    found = {(each.severity, each.code, each.file, each.row, each.field) for each in findings(con)}
    assert ("error", "not-a-number", "brews.csv", 2, "into_fermenter") in found
    rest = found - {("error", "not-a-number", "brews.csv", 2, "into_fermenter")}
    assert {(severity, code) for severity, code, *_ in rest} == {("warning", "names-set-aside")}
    assert ("warning", "names-set-aside", "moves.csv", 2, "from_lot") in rest
    assert ("warning", "names-set-aside", "uses.csv", 2, "brew") in rest
    assert rows(con, "select from_lot from record.moves where move = 'M1'") == [("L1",)]
    assert rows(con, "from record.set_aside_lots") == [("L1", "main", "Mill Lager", "F1")]
    assert_nothing_lost(con)


def test_a_material_set_aside_still_lends_its_unit(tmp_path: Path) -> None:
    materials = FILES["materials.csv"].replace("base malt,malt,lb", "base malt,grain,lb")
    con = load(write(tmp_path, {"materials.csv": materials}))
    assert rows(con, "select stock_qty from record.uses where row = 2") == [(Decimal(32 * 55),)]
    assert {each.code for each in findings(con)} == {"not-a-choice", "names-set-aside"}


def test_a_single_site_may_be_left_out(tmp_path: Path) -> None:
    toml = TOML.replace('[[sites]]\nsite = "hill"\narea = "US-ME"\n', "")
    labour = "date,stage,hours\n2026-01-05,brewhouse,8\n"
    con = load(write(tmp_path / "one", {"labour.csv": labour}, toml))
    assert findings(con) == []
    assert rows(con, "select site from record.labour") == [("main",)]
    found = findings(load(write(tmp_path / "two", {"labour.csv": labour})))
    assert [(each.code, each.row, each.field) for each in found] == [("missing-column", 1, "site")]


# ------------------------------------------------------------------------------------------------------------ documents


DOUBLES = [
    ("brews.csv", "W2,2026-01-06", "W1,2026-01-06", "brew", 2, 3),
    ("moves.csv", "M2,", "M1,", "move", 2, 3),
    ("shipments.csv", "S1,2,", "S1,1,", "document+line", 2, 3),
    ("shipments.csv", "S2,,", "s1,,", "document+line", 2, 4),
    ("beers.csv", "Plain Pale,pale ale,beer\n", "Plain Pale,pale ale,beer\nPLAIN PALE,ipa,beer\n", "beer", 3, 4),
]


@pytest.mark.parametrize(("file", "old", "new", "field", "first", "second"), DOUBLES)
def test_the_same_document_twice_is_an_error_on_each_and_the_first_counts(
    file: str, old: str, new: str, field: str, first: int, second: int, tmp_path: Path
) -> None:
    con = load(write(tmp_path, {file: FILES[file].replace(old, new, 1)}))
    found = [each for each in findings(con) if each.code == "duplicate"]
    assert [(each.severity, each.file, each.row, each.field) for each in found] == [
        ("error", file, first, field),
        ("error", file, second, field),
    ]
    assert f"{file} row {second}" in found[0].message and f"{file} row {first}" in found[1].message
    assert rows(con, "select row from record.raw_rows where state = 'set aside'") == [(second,)]
    assert_nothing_lost(con)


def test_a_run_in_two_files_is_a_duplicate_and_its_lines_in_one_file_are_not(tmp_path: Path) -> None:
    assert findings(load(write(tmp_path / "one"))) == []
    con = load(write(tmp_path / "two", {"packaging-again.csv": FILES["packaging.csv"]}))
    found = {(each.code, each.file, each.row, each.field) for each in findings(con)}
    files = ("packaging.csv", "packaging-again.csv")
    assert found == {("duplicate", name, row, "run+line") for name in files for row in (2, 3)}
    # by file name `packaging-again.csv` comes first
    assert rows(con, "select distinct file from record.packaging") == [("packaging-again.csv",)]
    assert rows(con, "select line from record.packaging order by line") == [(1,), (2,)]


def test_the_first_that_is_otherwise_in_order_counts(tmp_path: Path) -> None:
    text = FILES["shipments.csv"].replace("S1,2,", "S1,1,").replace("half_bbl,4,", "half_bbl,four,")
    con = load(write(tmp_path, {"shipments.csv": text}))
    assert rows(con, "select row from record.shipments where document = 'S1'") == [(3,)]


# -------------------------------------------------------------------------------------------------------------- recipes


RECIPES = (
    "beer,material,quantity_per_bbl,unit,from_month\nMill Lager,base malt,25,kg,\nMill Lager,base malt,60,lb,2026-01\n"
    "Mill Lager,base malt,70,lb,2026-02\nMill Lager,ale yeast,100,mL,\nPlain Pale,base malt,90,lb,\n"
)


def test_a_brew_without_uses_takes_the_recipe_of_its_month_and_one_with_uses_does_not(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"recipes.csv": RECIPES}))
    query = "select brew, material, stock_qty from record.uses where from_recipe order by material"
    # 28.2 bbl into the fermenter: 60 lb and 0.1 L a barrel
    assert rows(con, query) == [("W2", "ale yeast", Decimal("2.82")), ("W2", "base malt", Decimal(1692))]
    assert rows(con, "select count(*) from record.uses where not from_recipe") == [(3,)]


def test_a_run_without_uses_takes_the_materials_of_its_packages(tmp_path: Path) -> None:
    given_materials = (
        "package,material,quantity,unit,beer\nhalf_bbl,cans 12 oz,2,each,\nhalf_bbl,cans 12 oz,3,each,Mill Lager\n"
        "half_bbl,hops one,1,lb,Plain Pale\nsixth_bbl,cans 12 oz,10,each,\n"
    )
    con = load(write(tmp_path, {"package_materials.csv": given_materials}))
    query = "select run, material, stock_qty from record.uses where from_recipe order by stock_qty"
    # run R1 draws Mill Lager from L3, itself from L1: (50 + 1) half barrels at 3, 1 sixth at 10
    assert rows(con, query) == [("R1", "cans 12 oz", Decimal(10)), ("R1", "cans 12 oz", Decimal(153))]


# ------------------------------------------------------------------------------------------------------- findings shown


def test_what_is_shown_first_is_the_worst_file_and_at_most_a_screen(tmp_path: Path) -> None:
    text = FILES["uses.csv"].replace("base malt", "best malt").replace("hops one", "hops two")
    extra = "".join(f"2026-01-05,main,best malt,{row},lb,W1,,,,\n" for row in range(30))
    ledger = FILES["ledger.csv"].replace("balance\n", "balance,x\n")
    con = load(write(tmp_path, {"uses.csv": text + extra, "ledger.csv": ledger}))
    shown = problems.summary(findings(con))
    assert "uses.csv row 2, material: no material `best malt`" in shown[0]
    assert "and 30 more like it" in shown[0]
    assert shown[-1].startswith("warning: ledger.csv row 1, x")
    many = [problems.Problem("error", "negative", file=f"{number}.csv", message=str(number)) for number in range(100)]
    assert len(problems.summary(many, 20)) == 21 and problems.summary(many, 20)[-1] == "... and 80 more findings"


def test_every_code_that_is_raised_is_listed() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in Path(problems.__file__).parent.glob("*.py"))
    for code in problems.CODES:
        used = source.count(f'"{code}"') >= 2 or code == "readings-disagree"
        assert used, code


# ------------------------------------------------------------------------------------------------------------- property

# Every cell of every file; and of files in which less is written: tanks for lots, levels, marks, no numbers.
LESS = {
    "less brews.csv": "brew,date,site,beer,lot,vessel,into_fermenter,fermenter_level_after,volume_unit\n"
    "W1,2026-01-05,main,Mill Lager,L1,F1,14,,bbl\nW2,2026-01-05,main,Mill Lager,L1,F1,,28.5,\n"
    "W3,2026-01-06,main,Mill Lager,L2,F2,90,,mark\n",
    "less moves.csv": "date,site,from_lot,to_lot,to_vessel,volume_out,volume_in,reason,lot_emptied\n"
    "2026-01-19,main,F1,L3,B1,28.1,27.9,filter,yes\n2026-01-20,main,f2,,,0.2,,sample,\n",
    "less packaging.csv": "date,site,lot,package,filled\n2026-01-21,main,B1,half_bbl,50\n2026-01-21,main,B1,sixth_bbl,1\n",
    "less readings.csv": "date,site,lot,volume,volume_unit\n2026-01-08,main,L2,50,mark\n2026-01-20,main,F2,40,mark\n",
}
TARGETS = [
    (file, row, place)
    for file, text in (FILES | LESS).items()
    for row in range(1, len(text.splitlines()))
    for place in range(len(text.splitlines()[0].split(",")))
]  # fmt: skip
ODD = [
    "=1+1", "-0", "+5", "1e400", "9" * 40, "0." + "3" * 50, "NaN", "-inf", "1.", ".5", "٣", "2026-02-29", "0000-00-00",
    "9999-12-31", "yes", "*", "example", "total", '"', "'", "\\", ";", "a,b", "x\ny", "\r", "\x00", "\u200b", "\ufeff",
    " ", "null", "F1", "L1", "W2", "$name", "{}", "{:d}", "%s", "case_999x99999mL", "hL", "999999.999999", "999999999",
]  # fmt: skip


# Figures that another row may change: by its unit, its place in a run, the lot in its tank, or what was brewed before.
FOLLOWS = ("row", "line", "stock_qty", "stock_qty_per_bbl", "lb_per_stock_unit", "excise_bbl")
MAY_FOLLOW = ("duplicate", "run-differs", "unit-family", "not-whole", "other-site", "scale-falls", "no-scale", "outside-scale",
              "level-falls", "level-unknown", "tank-empty", "tank-ambiguous", "wrong-combination")  # fmt: skip


def figures(con: duckdb.DuckDBPyConnection) -> dict[tuple[str, str, int], tuple[object, ...]]:
    """Days and figures of every record that was written, by kind, file and row."""
    found: dict[tuple[str, str, int], tuple[object, ...]] = {}
    columns = rows(con, "select table_name, string_agg(column_name, ', ' order by column_index) from duckdb_columns() where "
                   "schema_name = 'record' and (data_type like 'DECIMAL%' or data_type in ('BIGINT', 'DATE')) and "
                   f"column_name not in {FOLLOWS} group by table_name")  # fmt: skip
    for kind, names in columns:
        if kind in dictionary().kinds:
            where = {"packages": "where not ready_made", "uses": "where not from_recipe"}.get(kind, "")
            for file, row, *cells in rows(con, f"select file, row, {names} from record.{kind} {where}"):
                found[kind, file, row] = tuple(cells)
    return found


@cache
def undisturbed(less: bool) -> dict[tuple[str, str, int], tuple[object, ...]]:
    with tempfile.TemporaryDirectory() as folder:
        return figures(load(write(Path(folder), written(less))))


def written(less: bool) -> dict[str, str]:
    return {name.removeprefix("less "): text for name, text in LESS.items()} if less else {}


@tries(max_examples=80, deadline=None)
@given(st.sampled_from(TARGETS), st.one_of(st.sampled_from(ODD), st.text(max_size=30)))
@example(("shipments.csv", 1, 7), "999999")
@example(("packages.csv", 1, 4), "9999")
@example(("brews.csv", 1, 1), "2055-12-31")
@example(("less brews.csv", 1, 0), "=1+1")
def test_any_text_in_any_cell_is_accepted_or_listed_and_changes_no_other_row(
    target: tuple[str, int, int], text: str
) -> None:
    file, row, place = target
    less = file in LESS
    lines = list(csv.reader(io.StringIO((FILES | LESS)[file])))
    file = file.removeprefix("less ")
    text = text.encode("utf-8", "ignore").decode("utf-8").replace("\x00", "")
    as_read = text.replace("\r\n", "\n").replace("\r", " ").strip()
    lines[row][place] = text
    changed = io.StringIO(newline="")
    csv.writer(changed, lineterminator="\n").writerows(lines)
    with tempfile.TemporaryDirectory() as folder:
        con = load(write(Path(folder), written(less) | {file: changed.getvalue()}))
    assert_nothing_lost(con)
    kind = file.removesuffix(".csv")
    for place_of, cells in figures(con).items():
        # What is read off a scale or a level follows the row that says so.
        if place_of != (kind, file, row + 1) and not (less or kind == "vessel_scale"):
            assert cells == undisturbed(less)[place_of]
    query = f"select state, cells from record.raw_rows where file = '{file}' and row = {row + 1}"
    (state, text_kept), *more = rows(con, query)
    assert more == []
    found = findings(con)
    here = [each for each in found if each.file == file and each.row == row + 1]
    if state == "set aside":
        assert any(each.severity == "error" for each in here)
        assert as_read == "" or as_read in {cell.strip() for cell in json.loads(text_kept).values()}
    else:
        assert not any(each.severity == "error" and each.code != "duplicate" for each in here)
        assert state in ("accepted", "example", "totals", "blank")
    # Another row is set aside only where this cell was the name it calls, or the number it now bears twice.
    for each in found:
        if each.severity == "error" and each not in here:
            assert each.code.startswith("unknown-") or each.code in MAY_FOLLOW, str(each)
