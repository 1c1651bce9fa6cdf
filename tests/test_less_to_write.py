"""What need not be written: numbers, lots in tanks, levels, marks; mended rows; accepted warnings. All data invented."""

from __future__ import annotations

import csv
import subprocess
import sys
from datetime import date
from decimal import Decimal
from pathlib import Path

import duckdb
import openpyxl
import pytest
from brewery import FILES, TOML, assert_nothing_lost, findings, load, rows, write
from click.testing import CliRunner

from brewcost import acceptances, pipeline, report, settings, trace
from brewcost.books import Books
from brewcost.cli import cli
from brewcost.kinds import dictionary
from brewcost.problems import Problem, listing, summary

LESS_NUMBERS = {
    "moves.csv": "date,site,from_lot,to_lot,to_vessel,volume_out,volume_in,reason,lot_emptied\n"
    "2026-01-19,main,F1,L3,B1,28.1,27.9,filter,yes\n2026-01-20,main,f2,,,0.2,,sample,\n",
    "packaging.csv": "date,site,lot,package,filled\n2026-01-21,main,B1,half_bbl,50\n2026-01-21,main,B1,sixth_bbl,1\n",
    "opening_lots.csv": "lot,site,beer,volume,cost_ingredients\nL900,main,Plain Pale,28,1600\n",
}


def said(con: object) -> set[tuple[str, str | None, int | None, str | None]]:
    return {(each.code, each.file, each.row, each.field) for each in findings(con)}  # type: ignore[arg-type]


def test_a_tank_and_a_day_give_the_lot_and_blank_numbers_their_place(tmp_path: Path) -> None:
    con = load(write(tmp_path, LESS_NUMBERS))
    assert said(con) == set()
    assert rows(con, "select move, from_lot from record.moves order by row") == [
        ("moves.csv row 2", "L1"), ("moves.csv row 3", "L2")]  # fmt: skip
    runs = [("packaging.csv row 2", 1, "L3"), ("packaging.csv row 2", 2, "L3")]
    assert rows(con, "select run, line, lot from record.packaging order by row") == runs
    later = load(write(tmp_path, LESS_NUMBERS | {"moves-2.csv": LESS_NUMBERS["moves.csv"].replace("L3", "L4").split("\n")[0]}))
    assert rows(later, "select move from record.moves order by row")[0] == ("moves.csv row 2",)
    assert_nothing_lost(con)


def test_an_empty_tank_and_a_tank_with_two_lots_are_errors(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"readings.csv": "date,site,lot,gravity\n2026-01-04,main,F1,4\n2026-01-20,main,F1,4\n"
                                "2026-01-19,main,F1,3\n2026-01-08,main,F2,4\n"}))  # fmt: skip
    assert said(con) == {("tank-empty", "readings.csv", 2, "lot"), ("tank-empty", "readings.csv", 3, "lot"),
                         ("tank-ambiguous", "readings.csv", 5, "lot")}  # fmt: skip
    assert rows(con, "select row, lot from record.readings") == [(4, "L1")]


def test_a_tank_emptied_by_name_takes_the_next_lot(tmp_path: Path) -> None:
    changed = LESS_NUMBERS | {
        "brews.csv": FILES["brews.csv"] + "W3,2026-01-22,main,Mill Lager,L9,F1,31,210,28,12\n",
        "readings.csv": "date,site,lot,gravity\n2026-01-25,main,F1,4\n2026-01-10,main,F1,4\n",
    }
    con = load(write(tmp_path, changed))
    assert said(con) == set()
    assert rows(con, "select lot from record.readings order by row") == [("L9",), ("L1",)]


def test_a_level_after_a_double_batch_is_less_the_earlier_brews(tmp_path: Path) -> None:
    brews = ("brew,date,site,beer,lot,vessel,into_fermenter,fermenter_level_after,volume_unit\n"
             "W1,2026-01-05,main,Mill Lager,L1,F1,14,,bbl\nW2,2026-01-06,main,Mill Lager,L1,F1,,28.5,bbl\n"
             "W3,2026-01-07,main,Mill Lager,L1,F1,,930,gal\nW4,2026-01-08,main,Mill Lager,L2,F2,,20,\n"
             "W5,2026-01-09,main,Mill Lager,L2,F2,,19,\nW6,2026-01-09,main,Mill Lager,L2,F2,3,19,\n")  # fmt: skip
    con = load(write(tmp_path, {"brews.csv": brews}))
    # 930 gal are 30 bbl: 31 gal a barrel, 27 CFR 25.11
    got = rows(con, "select brew, into_fermenter_bbl from record.brews order by brew")
    assert got == [("W1", Decimal(14)), ("W2", Decimal("14.5")), ("W3", Decimal("1.5")), ("W4", Decimal(20))]
    assert said(con) >= {("level-falls", "brews.csv", 6, "fermenter_level_after"),
                         ("exactly-one", "brews.csv", 7, "fermenter_level_after")}


def test_a_mark_is_read_off_the_scale_of_its_tank(tmp_path: Path) -> None:
    scale = "vessel,site,mark,volume,volume_unit\nF1,main,0,31,gal\nF1,main,100,11,bbl\nF1,main,200,31,bbl\n"
    readings = ("date,site,lot,volume,volume_unit\n2026-01-08,main,L1,50,mark\n2026-01-08,main,F1,150,mark\n"
                "2026-01-08,main,L1,100,mark\n2026-01-08,main,L1,201,mark\n2026-01-08,main,L2,50,mark\n")  # fmt: skip
    con = load(write(tmp_path, {"vessel_scale.csv": scale, "readings.csv": readings}))
    assert rows(con, "select volume_bbl from record.readings order by row") == [(Decimal(6),), (Decimal(21),), (Decimal(11),)]
    assert said(con) == {("outside-scale", "readings.csv", 5, "volume"), ("no-scale", "readings.csv", 6, "volume")}


def test_two_sites_may_each_have_a_tank_of_one_name(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"vessels.csv": FILES["vessels.csv"] + "F1,hill,fermenter,99\n"}))
    assert said(con) == set()
    assert rows(con, "select count(*) from record.vessels where vessel = 'F1'") == [(2,)]
    assert rows(con, "select count(*) from record.first_vessels where lot = 'L1'") == [(1,)]


def test_a_count_taken_before_the_day_whose_stock_it_is(tmp_path: Path) -> None:
    counts = "date,counted_on,site,material,quantity,unit\n2026-01-31,2026-01-30,main,base malt,9100,lb\n"
    con = load(write(tmp_path, {"counts.csv": counts}))
    assert said(con) == {("wrong-combination", "counts.csv", 2, "counted_on")}


def test_excel_s_line_about_the_separator_is_no_record(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"ledger.csv": "sep=;\nmonth;account;balance\n2026-01;finished goods;-12.5\n"}))
    assert said(con) == set()
    assert rows(con, "select balance from record.ledger") == [(Decimal("-12.5"),)]


def test_rows_set_aside_are_mended_and_loaded_again(tmp_path: Path) -> None:
    ships = FILES["shipments.csv"].replace("half_bbl,4,", "half_bbl,four,").replace("S2,,", "S1,1,")
    write(tmp_path, {"shipments.csv": ships, "readings.csv": "date,site,lot,gravity\nnever,main,L1,4.2\n"})
    aside = tmp_path / "inputs" / "set-aside.csv"
    out = tmp_path / "set-aside.csv"
    done = CliRunner().invoke(cli, ["check", "--folder", str(tmp_path), "--set-aside", str(out)])
    assert done.exit_code == 1, done.output
    with out.open(encoding="utf-8-sig", newline="") as lines:
        given = list(csv.DictReader(lines))
    assert [(row["kind"], row["from_row"]) for row in given] == [("readings", "2"), ("shipments", "2")]
    given[0]["date"], given[1]["units"] = "2026-01-08", "4"
    given[1]["document"] = "S9"
    with aside.open("w", encoding="utf-8", newline="") as to:
        writer = csv.DictWriter(to, list(given[0]))
        writer.writeheader()
        writer.writerows(given)
    con = load(tmp_path)
    # Given another number, the shipment is no longer the one that the return names.
    unlike = {("return-unlike-shipment", "returns.csv", 2, "account")}
    assert said(con) == unlike
    assert_nothing_lost(con)
    assert rows(con, "select units from record.shipments where document = 'S9'") == [(4,)]
    assert rows(con, "select count(*) from record.shipments") == [(3,)]
    assert rows(con, "select file, row from record.raw_rows where state = 'replaced' order by all") == [
        ("readings.csv", 2), ("shipments.csv", 2)]  # fmt: skip
    # Put right in its own file as well, the same way: one stands for the other. Another way: which of them is meant?
    (tmp_path / "inputs" / "readings.csv").write_text(FILES["readings.csv"], encoding="utf-8")
    assert said(load(tmp_path)) == unlike
    (tmp_path / "inputs" / "readings.csv").write_text(FILES["readings.csv"].replace("4.2", "4.3"), encoding="utf-8")
    assert said(load(tmp_path)) == unlike | {("nothing-to-mend", "set-aside.csv", 2, "from_row")}


def test_a_month_of_the_least_that_must_be_written(tmp_path: Path) -> None:
    """One site, no `site` column at all; no uses; hours without pay. Cost by hand, invented prices."""
    toml = TOML.replace('[[sites]]\nsite = "hill"\narea = "US-ME"\n', "") + (
        '\n[[pools]]\npool = "payroll"\nstage = "brewhouse"\ndriver = "labour_hours"\nelement = "labour"\n'
        'behaviour = "variable"\n')  # fmt: skip
    files = dict.fromkeys(FILES) | {name: FILES[name] for name in ("beers.csv", "materials.csv", "accounts.csv")} | {
        "vessels.csv": "vessel,kind,working_volume\nF1,fermenter,30\n",
        "receipts.csv": "date,material,quantity,unit,cost\n2026-01-02,base malt,4000,lb,2000\n"
        "2026-01-02,cans 12 oz,1000,each,100\n",
        "recipes.csv": "beer,material,quantity_per_bbl,unit\nMill Lager,base malt,60,lb\n",
        "package_materials.csv": "package,material,quantity,unit\ncase_24x12,cans 12 oz,24,each\n",
        "brews.csv": "brew,date,beer,lot,vessel,end_of_boil,into_fermenter\nW1,2026-01-05,Mill Lager,L1,F1,20,20\n"
        "W2,2026-01-12,Mill Lager,L2,F1,20,20\n",
        "packaging.csv": "date,lot,package,filled\n2026-01-10,F1,case_24x12,10\n",
        "moves.csv": "date,from_lot,volume_out,reason,lot_emptied\n2026-01-11,F1,17,destroyed,yes\n",
        "labour.csv": "date,stage,hours,brew\n2026-01-05,brewhouse,6,W1\n2026-01-12,brewhouse,2,W2\n",
        "expenses.csv": "month,pool,amount\n2026-01,payroll,400\n",
    }  # fmt: skip
    folder = write(tmp_path, files, toml)
    with duckdb.connect() as con:
        pipeline.compute(con, Books(folder), settings.load(folder / "brewery.toml"))
        assert {one.code for one in pipeline.outcome(con).problems if one.severity == "error"} == set()
        assert rows(con, "select distinct site from record.brews union select distinct site from record.labour") == [("main",)]
        marked = rows(con, "select brew, run, material, stock_qty, file from record.uses where from_recipe order by all")
        assert marked == [("W1", None, "base malt", Decimal(1200), "recipes.csv"),
                          ("W2", None, "base malt", Decimal(1200), "recipes.csv"),
                          (None, "packaging.csv row 2", "cans 12 oz", Decimal(240), "package_materials.csv")]  # fmt: skip
        # 1200 lb at 0.50, and 400 for 8 hours: 50 an hour, of which W1 has 6 and W2 has 2.
        told = [trace.explain(con, ("brew", brew)).lines() for brew in ("W1", "W2")]
        assert [lines[0] for lines in told] == ["brew W1: 900.00 USD", "brew W2: 700.00 USD"]
        assert "  use base malt by the recipe: 600.00 USD (66.7 %)  [recipes.csv, row 2]" in told[0]
        assert any(line.startswith("  pool payroll 2026-01: 300.00 USD") for line in told[0])
        run = trace.explain(con, ("run", "packaging.csv row 2")).lines()
        # 240 cans at 0.10
        assert any(line.startswith("  use cans 12 oz by the package materials: 24.00 USD") for line in run)


SCALE = "vessel,site,mark,volume\nF1,main,0,0\nF1,main,100,30\n"
LEVELS = ("brew,date,site,beer,lot,vessel,into_fermenter,fermenter_level_after\nW1,2026-01-05,main,Mill Lager,L1,F1,14,\n"
          "W2,2026-01-05,main,Mill Lager,L1,F1,,28.5\nW3,2026-01-06,main,Mill Lager,L2,F2,28.2,\n")  # fmt: skip
# The right files, and what is wrong with one of them: text replaced by text.
ROUND_TRIPS = {
    "a sheet of a workbook": ({"log.xlsx": FILES["moves.csv"], "moves.csv": None}, "log.xlsx", "28.1,27.9", "28.1.,27.9"),
    "a mark": ({"vessel_scale.csv": SCALE, "readings.csv": "date,site,lot,volume,volume_unit\n2026-01-08,main,L1,50,mark\n"
                "2026-01-09,main,F1,40,mark\n"}, "readings.csv", "50,mark", "5O,mark"),
    "a tank for a lot": (LESS_NUMBERS, "moves.csv", "2026-01-19,main,F1", "19.1.26,main,F1"),
    "a run without a number": (LESS_NUMBERS, "packaging.csv", "2026-01-21,main,B1,half_bbl", "2026-01-21,mian,B1,half_bbl"),
    "the brew before a level": ({"brews.csv": LEVELS}, "brews.csv", ",14,\n", ",fourteen,\n"),
    "a level": ({"brews.csv": LEVELS}, "brews.csv", ",,28.5", ",,28.5.1"),
    "a missing column": ({}, "shipments.csv", ",purpose,", ",why,"),
    "a repeated column": ({}, "labour.csv", "hours,cost,brew", "hours,cost,hours"),
    "the same document": ({}, "shipments.csv", "S2,,", "S1,1,"),
    "a stray separator": ({}, "shipments.csv", "in_bond,90,", "in_bond,90,,7"),
}  # fmt: skip


def write_mended(folder: Path, right: dict[str, str | None], name: str) -> None:
    """Every row set aside, as `check --set-aside` wrote it, with the cells it should have had, into inputs/set-aside.csv."""
    with (folder / "aside.csv").open(encoding="utf-8-sig", newline="") as lines:
        reader = csv.DictReader(lines)
        given, names = list(reader), list(reader.fieldnames or ())
    assert name in {row["from_file"] for row in given}
    for row in given:
        assert (row["from_sheet"] == "moves March") == (row["from_file"] == "log.xlsx")
        # Rows that were set aside for what was wrong elsewhere are handed in as they were.
        wanted = list(csv.DictReader((right[row["from_file"]] or "").splitlines()))[int(row["from_row"]) - 2]
        row |= {column: wanted.get(column) or "" for column in names[4:]}
    with (folder / "inputs" / "set-aside.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, [column for column in names if not column.startswith("hours_(") and column != "why"],
                                extrasaction="ignore")  # fmt: skip
        writer.writeheader()
        writer.writerows(given)


def write_with_workbook(folder: Path, files: dict[str, str | None]) -> Path:
    """The brewery's folder; `log.xlsx`, given as text, becomes a workbook with the sheet `moves March`."""
    write(folder, {name: text for name, text in files.items() if name != "log.xlsx"})
    if files.get("log.xlsx"):
        book = openpyxl.Workbook()
        book.active.title = "moves March"
        for line in csv.reader((files["log.xlsx"] or "").splitlines()):
            book.active.append([cell or None for cell in line])
        book.save(folder / "inputs" / "log.xlsx")
    return folder


@pytest.mark.parametrize("case", ROUND_TRIPS)
def test_rows_set_aside_written_out_mended_and_loaded_give_the_books_of_the_right_rows(case: str, tmp_path: Path) -> None:
    right, name, old, new = ROUND_TRIPS[case]
    right = FILES | right
    assert old in (right[name] or "")
    wanted = load(write_with_workbook(tmp_path / "right", right))
    folder = write_with_workbook(tmp_path / "wrong", right | {name: (right[name] or "").replace(old, new)})
    done = CliRunner().invoke(cli, ["check", "--folder", str(folder), "--set-aside", str(folder / "aside.csv")])
    assert done.exit_code == 1, done.output
    write_mended(folder, right, name)
    con = load(folder)
    assert findings(con) == findings(wanted) == []
    for kind in dictionary().kinds:
        query = f"select * exclude (file, sheet, row) from record.{kind} order by all"
        assert rows(con, query) == rows(wanted, query), kind
    assert_nothing_lost(con)


def accept(folder: Path, *words: object) -> tuple[int, str]:
    """What `brewcost accept` exits with and says."""
    done = CliRunner().invoke(cli, ["accept", *map(str, words), "--who", "Kim", "--folder", str(folder)])
    return done.exit_code, done.output


def shown_as_accepted(folder: Path, month: str, tmp_path: Path) -> list[tuple[object, ...]]:
    """Code, file and reason of the accepted warnings on the sheet `to put right` of a month."""
    with Books(folder).reading() as con:
        written = {one.name: one.path for one in report.write(con, month, tmp_path)}
    sheet = openpyxl.load_workbook(written["month-close.xlsx"])["to put right"]
    lines = [[cell.value for cell in row] for row in sheet.iter_rows()]
    at = next(line for line in lines if "code" in line)
    last = at.index("accepted: why, by whom, when")
    return [(line[at.index("code")], line[at.index("file")], line[last]) for line in lines
            if line is not at and len(line) > last and line[last] is not None]  # fmt: skip


def test_a_warning_is_accepted_with_its_reason_on_the_workbook_and_survives_a_rerun(tmp_path: Path) -> None:
    write(tmp_path, {"accounts.csv": FILES["accounts.csv"].replace("retailer,US-ME", "retailer,")})
    before = pipeline.build(Books(tmp_path))
    (warning,) = [one for one in before.problems if one.code == "area-missing"]
    code, said = accept(tmp_path, "area-missing", "accounts.csv", 2, "--why", "sells at the dock")
    assert code == 0 and said.startswith("accepted: accounts.csv row 2, area")
    for _ in range(2):
        again = pipeline.build(Books(tmp_path))
        assert warning not in again.problems and again.accepted == 1
        assert len(again.problems) == len(before.problems) - 1
        (tmp_path / "inputs" / "beers.csv").write_text(FILES["beers.csv"] + "New Ale,ale,beer\n", encoding="utf-8")
    reason = f"sells at the dock, Kim, {date.today()}"
    assert shown_as_accepted(tmp_path, "2026-01", tmp_path / "out") == [("area-missing", "accounts.csv", reason)]
    # Accepted already, in another row, in no such file: the one asked for is not there. No reason, no acceptance.
    for words in (("area-missing", "accounts.csv", 2), ("area-missing", "accounts.csv", 3), ("area-missing", "x.csv")):
        code, said = accept(tmp_path, *words, "--why", "x")
        assert code == 2 and f"there is no open finding area-missing, file {words[1]}" in said
    code, said = accept(tmp_path, "count-short", "counts.csv", 2, "--why", " ")
    assert code == 2 and "say why" in said


def test_what_is_accepted_survives_a_file_that_a_person_or_a_spreadsheet_saved(tmp_path: Path) -> None:
    write(tmp_path, {"accounts.csv": FILES["accounts.csv"].replace("retailer,US-ME", "retailer,")})
    kept = tmp_path / "accepted.csv"
    accept(tmp_path, "area-missing", "accounts.csv", 2, "--why", "=1+1")
    line = next(csv.DictReader(kept.read_text(encoding="utf-8-sig").splitlines()))
    assert line["why"] == "'=1+1"  # no formula for a spreadsheet
    # The columns turned round, one more of the reader's own, no end to the last line.
    turned = [*reversed(acceptances.COLUMNS), "seen by"]
    kept.write_text("\r\n".join([",".join(turned), ",".join(line.get(name, "Kim") for name in turned)]), encoding="utf-8")
    other = next(one for one in pipeline.build(Books(tmp_path)).problems if one.severity == "warning")
    words = ["--month", other.month] if other.month else []
    code, said = accept(tmp_path, other.code, *([other.file, other.row] if other.file else []), *words, "--why", "as agreed")
    assert code == 0, said
    assert pipeline.build(Books(tmp_path)).accepted == 2
    with Books(tmp_path).reading() as con:
        assert {why for (why,) in con.execute("select why from result.accepted").fetchall()} == {"=1+1", "as agreed"}


@pytest.mark.parametrize(
    ("content", "said"),
    [(None, "is a folder where a file belongs"), (b"\xff\xfe\x00", "is not text in UTF-8"),
     (",".join(acceptances.COLUMNS).encode() + b"\nx,,,,two,,,,,,\n", "cannot be read at line 2")],
)  # fmt: skip
def test_an_accepted_csv_that_cannot_be_used_is_no_fault(tmp_path: Path, content: bytes | None, said: str) -> None:
    write(tmp_path)
    kept = tmp_path / "accepted.csv"
    kept.mkdir() if content is None else kept.write_bytes(content)
    command = [sys.executable, "-m", "brewcost", "check"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1 and f"accepted.csv {said}" in done.stderr and done.stderr.count("\n") == 1


def test_an_error_cannot_be_accepted(tmp_path: Path) -> None:
    write(tmp_path, {"shipments.csv": FILES["shipments.csv"].replace("half_bbl,4,", "half_bbl,-4,")})
    code, said = accept(tmp_path, "negative", "shipments.csv", 2, "--why", "it is so")
    assert code == 2 and "an error cannot be accepted; put it right" in said
    assert not (tmp_path / "accepted.csv").exists()


def test_a_warning_without_a_file_is_accepted_in_one_month_only(tmp_path: Path) -> None:
    # Caustic where no beer is in a tank to share it over, in two months.
    expenses = "month,site,pool,amount\n2026-01,hill,caustic,5\n2026-02,hill,caustic,7\n"
    write(tmp_path, {"expenses.csv": expenses})
    code, said = accept(tmp_path, "pool-unshared", "--why", "never again")
    assert code == 2 and "2 findings fit; add" in said and "2026-02: " in said
    code, said = accept(tmp_path, "pool-unshared", "--month", "2026-02", "--value", "caustic", "--why", "bought ahead")
    assert code == 0, said
    left = [one.month for one in pipeline.build(Books(tmp_path)).problems if one.code == "pool-unshared"]
    assert left == ["2026-01"]
    reason = f"bought ahead, Kim, {date.today()}"
    assert shown_as_accepted(tmp_path, "2026-01", tmp_path / "out") == []
    assert shown_as_accepted(tmp_path, "2026-02", tmp_path / "out") == [("pool-unshared", None, reason)]
    # What is told of it has changed: it is open again.
    (tmp_path / "inputs" / "expenses.csv").write_text(expenses.replace("caustic,7", "caustic,70"), encoding="utf-8")
    left = [one.month for one in pipeline.build(Books(tmp_path)).problems if one.code == "pool-unshared"]
    assert left == ["2026-01", "2026-02"]


def test_an_accepted_csv_that_is_none_is_said(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "accepted.csv").write_text("code,row\nx,1\n", encoding="utf-8")
    with pytest.raises(acceptances.AcceptError, match="the first line must be code,month,file"):
        pipeline.build(Books(tmp_path))


def test_what_depends_on_a_root_is_told_with_it_and_others_are_only_alike(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"beers.csv": FILES["beers.csv"].replace("Mill Lager,lager,", "Mill Lager,,")}))
    found = findings(con)
    depend = sum(each.code == "names-set-aside" for each in found)
    lines = summary(found)
    assert len(lines) == 1 and lines[0].endswith(f"(missing-value) and {depend} findings that depend on it")
    same = [Problem("warning", "no-area-file", field="US-ME", value="US-ME", message="m") for _ in range(3)]
    assert summary(same) == ["warning: US-ME: m (no-area-file) and 2 more like it"]


def test_what_depends_on_a_row_counts_for_the_file_of_that_row_and_no_line_is_lost() -> None:
    root = Problem("error", "negative", None, "z.csv", None, 2, "units", "-1", "0", "m")
    folded = [Problem("error", "control-failed", field="K1", message=f"{n}", depends_on="z.csv row 2") for n in range(3)]
    others = [Problem("error", "negative", None, "a.csv", None, row, "units", str(row), "0", "m") for row in range(3)]
    assert summary([*others, *folded, root])[0].startswith("error: z.csv row 2, units")
    assert summary([*others, *folded, root])[0].endswith("and 3 findings that depend on it")
    # Where there is no room for every line, other values of one column are alike too; and nothing is forgotten: of 7
    # findings the first line tells 4.
    assert summary([*others, *folded, root], 2)[1].endswith("and 2 more like it")
    assert summary([*others, *folded, root], 1)[1:] == ["... and 3 more findings"]
    assert len(listing([*others, *folded, root])) == 7
    # What depends on a row that depends on a root goes with the root; a root that is not there leaves it on its own.
    middle = Problem("error", "material-short", None, "u.csv", None, 5, "quantity", "1", "0", "m", None, "z.csv row 2")
    last = Problem("error", "control-failed", field="K1", message="K1", depends_on="u.csv row 5")
    assert len(summary([root, middle, last])) == 1
    assert len(summary([middle, last])) == 2


# A root in the records, and what it brings about in volumes and cost: code, file, row.
ROOTS = [
    ("opening_materials.csv", "9000", "-9000", ("opening_materials.csv", 2),
     {("material-short", "uses.csv", 2), ("control-failed", None, None)}),
    ("packaging.csv", "half_bbl,50,1", "half_bbl,50.5,1", ("packaging.csv", 2),
     {("goods-short", "shipments.csv", 2), ("goods-short", "shipments.csv", 4), ("control-failed", None, None)}),
    ("brews.csv", "28.5,12.1", "?,12.1", ("brews.csv", 2),
     {("names-set-aside", "moves.csv", 2), ("overdrawn", "moves.csv", 2), ("unshared", "labour.csv", 2),
      ("names-set-aside", "labour.csv", 2), ("unshared", "uses.csv", 4), ("names-set-aside", "uses.csv", 4)}),
    ("prices.csv", "2025-12-01", "always", ("prices.csv", 2), {("missing-price", "shipments.csv", 2)}),
    ("moves.csv", "filter,yes\n", "filter,perhaps\n", ("moves.csv", 2), {("vessel-shared", "brews.csv", 4)}),
    ("expenses.csv", "main,payroll,100", "main,payroll,?", ("expenses.csv", 3), {("labour-unpriced", "labour.csv", 2)}),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "root", "wanted"), ROOTS, ids=[root[0] for root in ROOTS])
def test_what_follows_in_volumes_and_cost_is_told_with_the_row_set_aside(
    file: str, old: str, new: str, root: tuple[str, int], wanted: set[tuple[str, str | None, int | None]], tmp_path: Path
) -> None:
    sound = FILES | {
        "brews.csv": FILES["brews.csv"] + "W3,2026-01-22,main,Plain Pale,L9,F1,31,210,28,12\n",
        "uses.csv": FILES["uses.csv"].replace("base malt,32,", "base malt,132,"),
        "counts.csv": FILES["counts.csv"].replace(",9100,", ",3940,"),
        "shipments.csv": FILES["shipments.csv"].replace(",sale,148.5,", ",sale,,"),
        "expenses.csv": FILES["expenses.csv"] + "2026-01,main,payroll,100\n",
        "labour.csv": "date,site,stage,hours,cost,brew\n2026-01-05,main,brewhouse,8,,W1\n",
    }
    toml = TOML + '\n[[pools]]\npool = "payroll"\nstage = "brewhouse"\ndriver = "labour_hours"\nbehaviour = "variable"\n'
    assert old in sound[file]
    before = pipeline.build(Books(write(tmp_path, sound, toml)))
    outcome = pipeline.build(Books(write(tmp_path, sound | {file: sound[file].replace(old, new, 1)}, toml)))
    place = f"{root[0]} row {root[1]}"
    told = {(one.code, one.file, one.row) for one in outcome.problems if one.depends_on == place}
    assert told >= wanted
    # What was wrong before follows from something else.
    assert not told & {(one.code, one.file, one.row) for one in before.problems if one.file}
    shown = [line for line in summary(outcome.problems) if line.startswith(f"error: {place},")]
    depend = sum(one.depends_on == place for one in outcome.problems)
    assert len(shown) == 1 and f" and {depend} finding" in shown[0]
    if "control-failed" in {code for code, *_ in wanted}:
        controls = [one.depends_on for one in outcome.problems if one.field in ("K1", "K3")]
        assert set(controls) <= {place, "uses.csv row 4"}
