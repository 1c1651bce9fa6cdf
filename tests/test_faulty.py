"""One fault in an otherwise sound folder gives one finding in the right place, and nothing is lost."""



from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from brewery import FILES, TOML, assert_nothing_lost, findings, load, rows, write


@dataclass(frozen=True)
class Fault:
    """In `file` the text `old` becomes `new`; the finding stands in `row`, `field` of that file, or of file `at`.

    `also`: what else is found, beside rows that name a row set aside. `more`: other files as they must be for the fault.
    """

    file: str
    old: str
    new: str
    code: str
    row: int
    field: str | None
    severity: str = "error"
    at: str | None = None
    also: tuple[str, ...] = ()
    more: tuple[tuple[str, str], ...] = ()

    @property
    def called(self) -> str:
        return f"{self.code} {self.file.removesuffix('.csv')}.{self.field} {self.new[:30]!r}"


FAULTS = [
    # numbers
    Fault("shipments.csv", "12.5\n", "12.5.1\n", "not-a-number", 2, "freight"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,four,", "not-a-number", 2, "units"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,4.5,", "not-whole", 2, "units"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,-4,", "negative", 2, "units"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,,", "missing-value", 2, "units"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,40000000,", "too-large", 2, "units"),
    Fault("shipments.csv", "half_bbl,4,", "half_bbl,2026-01-04,", "not-a-number", 2, "units"),
    Fault("shipments.csv", "148.5", "NaN", "not-a-number", 2, "unit_price"),
    Fault("shipments.csv", "148.5", "1e3", "not-a-number", 2, "unit_price"),
    Fault("shipments.csv", "148.5", '"148,5"', "not-a-number", 2, "unit_price"),
    Fault("shipments.csv", '"1,150.25"', '"11,50.25"', "not-a-number", 3, "unit_price"),
    Fault("shipments.csv", "S1,1,", "S1,0,", "out-of-range", 2, "line"),
    Fault("uses.csv", "base malt,32,", "base malt,-32,", "negative", 2, "quantity"),
    Fault("receipts.csv", ",1280,", ",inf,", "not-a-number", 2, "cost"),
    Fault("packaging.csv", "half_bbl,50,1", "half_bbl,50,1.5", "not-whole", 2, "rejected"),
    Fault("packaging.csv", "half_bbl,50,1", "half_bbl,50,-1", "negative", 2, "rejected"),
    Fault("standards.csv", "*,kettle,5,", "*,kettle,105,", "out-of-range", 2, "allowed_loss_pct"),
    Fault("packages.csv", "bottled,12,floz,24", "bottled,12,floz,0", "out-of-range", 2, "containers"),
    Fault("packages.csv", "bottled,12,floz,24", "bottled,0,floz,24", "out-of-range", 2, "container_volume"),
    Fault("expenses.csv", ",9000", ",#DIV/0!", "cell-error", 2, "amount"),
    # dates and months
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "23/01/2026,main,Corner shop,Mill", "not-a-date", 2, "date"),
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "2026-02-30,main,Corner shop,Mill", "not-a-date", 2, "date"),
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "46045,main,Corner shop,Mill", "not-a-date", 2, "date"),
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "2025-12-31,main,Corner shop,Mill",
          "before-first-month", 2, "date"),
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "2206-01-23,main,Corner shop,Mill",
          "date-too-late", 2, "date"),
    Fault("labour.csv", "2026-01-05", "2027-01-05", "months-apart", 2, "date", "warning"),
    Fault("ledger.csv", "2026-01,", "2027-01,", "months-apart", 2, "month", "warning"),
    Fault("expenses.csv", "2026-01,", "2026-13,", "not-a-month", 2, "month"),
    Fault("expenses.csv", "2026-01,", "2025-12,", "before-first-month", 2, "month"),
    Fault("ledger.csv", "2026-01,", "January,", "not-a-month", 2, "month"),
    # closed lists
    Fault("shipments.csv", ",sale,148.5", ",sail,148.5", "not-a-choice", 2, "purpose"),
    Fault("returns.csv", "restocked", "restock", "not-a-choice", 2, "outcome"),
    Fault("labour.csv", "brewhouse", "kitchen", "not-a-choice", 2, "stage"),
    Fault("moves.csv", "sample", "tasting", "not-a-choice", 3, "reason"),
    Fault("moves.csv", "filter,yes", "filter,perhaps", "not-yes-or-no", 2, "lot_emptied"),
    Fault("accounts.csv", "retailer,US-ME", "retailer,Maine", "not-an-area", 2, "area"),
    Fault("accounts.csv", "retailer,US-ME", "retailer,", "area-missing", 2, "area", "warning"),
    # units
    Fault("uses.csv", "32,bag55lb", "32,sack", "unknown-unit", 2, "unit"),
    Fault("uses.csv", "32,bag55lb", "32,gal", "unit-family", 2, "unit"),
    Fault("uses.csv", "ale yeast,3,L", "ale yeast,3,lb", "unit-family", 3, "unit"),
    Fault("receipts.csv", "40,bag55lb", "40,each", "unit-family", 2, "unit"),
    Fault("moves.csv", "28.1,27.9,bbl", "28.1,27.9,kg", "unit-family", 2, "volume_unit"),
    Fault("byproducts.csv", "20000,lb", "20000,gal", "unit-family", 2, "unit"),
    Fault("counts.csv", "half_bbl,44,each", "half_bbl,44,bbl", "unit-family", 3, "unit"),
    Fault("counts.csv", "half_bbl,44,each", "half_bbl,44.5,each", "not-whole", 3, "quantity"),
    Fault("counts.csv", "base malt,,,,9100,lb", "base malt,,,,9100,L", "unit-family", 2, "unit"),
    Fault("opening_lots.csv", "28,bbl", "28,lb", "unit-family", 2, "volume_unit"),
    Fault("brews.csv", "31.2,210,", "31.2,250,", "out-of-range", 2, "kettle_temp"),
    Fault("brews.csv", "31.2,210,", "31.2,20,", "out-of-range", 2, "kettle_temp"),
    Fault("brews.csv", "31.2,210,", "31.2,98,", "temperature-unit", 2, "kettle_temp", "warning"),
    Fault("brews.csv", "kettle_temp,into_fermenter,original_gravity\nW1,2026-01-05,main,Mill Lager,L1,F1,31.2,210,",
          "strike_temp,into_fermenter,original_gravity\nW1,2026-01-05,main,Mill Lager,L1,F1,31.2,74,", "temperature-unit", 2,
          "strike_temp", "warning"),
    Fault("readings.csv", "L1,4.2", "L1,", "missing-value", 2, "volume"),
    Fault("readings.csv", "L1,4.2", "L1,104.2", "out-of-range", 2, "gravity"),
    Fault("readings.csv", "L1,4.2", "L1,-5.1", "out-of-range", 2, "gravity"),
    Fault("readings.csv", "gravity\n2026-01-08,main,L1,4.2", "gravity,gravity_unit\n2026-01-08,main,L1,4.2,sg",
          "out-of-range", 2, "gravity"),
    Fault("readings.csv", "gravity\n2026-01-08,main,L1,4.2", "gravity,gravity_unit\n2026-01-08,main,L1,1.206,sg",
          "out-of-range", 2, "gravity"),
    Fault("readings.csv", "L1,4.2", "L1,1048", "out-of-range", 2, "gravity"),
    Fault("brews.csv", "28.5,12.1", "28.5,45.1", "out-of-range", 2, "original_gravity"),
    Fault("brews.csv", "28.5,12.1", "28.5,-0.1", "negative", 2, "original_gravity"),
    # names
    Fault("shipments.csv", "Corner shop,Mill Lager,half_bbl,4", "Corner shop,Mil Lager,half_bbl,4", "unknown-beer", 2, "beer"),
    Fault("shipments.csv", "Corner shop,Mill Lager,half_bbl,4", "Corner shoq,Mill Lager,half_bbl,4",
          "unknown-account", 2, "account"),
    Fault("shipments.csv", "Mill Lager,half_bbl,4", "Mill Lager,half_barrel,4", "unknown-package", 2, "package"),
    Fault("shipments.csv", "Mill Lager,half_bbl,4", "Mill Lager,case_0x12,4", "unknown-package", 2, "package"),
    Fault("shipments.csv", "2026-01-23,main,Corner shop,Mill", "2026-01-23,mian,Corner shop,Mill", "unknown-site", 2, "site"),
    Fault("uses.csv", "2026-01-05,main,base malt", "2026-01-05,main,best malt", "unknown-material", 2, "material"),
    Fault("uses.csv", "bag55lb,W1", "bag55lb,W9", "unknown-brew", 2, "brew"),
    Fault("uses.csv", "20,oz,,L1,,", "20,oz,,L7,,", "unknown-lot", 4, "lot"),
    Fault("uses.csv", "20,oz,,L1,,", "20,oz,,,R7,", "unknown-run", 4, "run"),
    Fault("uses.csv", "20,oz,,L1,,,", "20,oz,,,,,soda", "unknown-pool", 4, "pool"),
    Fault("expenses.csv", "main,rent", "main,rant", "unknown-pool", 2, "pool"),
    Fault("brews.csv", "L2,F2,", "L2,F9,", "unknown-vessel", 3, "vessel"),
    Fault("moves.csv", "L2,,,0.2", "L8,,,0.2", "unknown-lot", 3, "from_lot"),
    Fault("packaging.csv", "main,L3,sixth_bbl", "main,L33,sixth_bbl", "unknown-lot", 3, "lot"),
    Fault("invoices.csv", "INV1,0117", "INV1,117", "unknown-receipt", 2, "receipt_document"),
    Fault("invoices.csv", "0117,base malt", "0117,hops one", "not-on-receipt", 2, "material"),
    Fault("returns.csv", "restocked,S1", "restocked,S77", "unknown-document", 2, "original_document", "warning"),
    Fault("standards.csv", "Mill Lager,fermenter", "Mill Larger,fermenter", "unknown-beer", 3, "beer"),
    # returns against their shipment
    Fault("returns.csv", "half_bbl,1,restocked", "half_bbl,5,restocked", "return-unlike-shipment", 2, "units", "warning"),
    Fault("returns.csv", "half_bbl,1,restocked,S1\n",
          "half_bbl,3,restocked,S1\nC2,2026-01-27,main,Corner shop,Mill Lager,half_bbl,2,restocked,s1\n",
          "return-unlike-shipment", 3, "units", "warning"),
    Fault("returns.csv", "Mill Lager,half_bbl,1", "Mill Lager,sixth_bbl,1", "return-unlike-shipment", 2, "package", "warning"),
    Fault("returns.csv", "Corner shop,Mill", "Sister brewery,Mill", "return-unlike-shipment", 2, "account", "warning"),
    Fault("returns.csv", "2026-01-26", "2026-01-22", "return-unlike-shipment", 2, "date", "warning"),
    # purposes
    Fault("shipments.csv", ",sale,148.5", ",export,148.5", "purpose-unlike-account", 2, "purpose", "warning"),
    Fault("shipments.csv", ",sale,148.5", ",own_location,148.5", "purpose-unlike-account", 2, "purpose", "warning"),
    # rows
    Fault("uses.csv", "20,oz,,L1,,", "20,oz,W2,L1,,", "exactly-one", 4, "lot"),
    Fault("uses.csv", "20,oz,,L1,,", "20,oz,,,,", "exactly-one", 4, "brew"),
    Fault("counts.csv", ",Mill Lager,half_bbl,44", ",,half_bbl,44", "missing-value", 3, "beer"),
    Fault("counts.csv", "base malt,,,,9100", "base malt,L2,,,9100", "exactly-one", 2, "lot"),
    Fault("beer_in.csv", "300,,,half_bbl,4", "300,,,half_bbl,", "missing-value", 3, "units"),
    Fault("beer_in.csv", "900,L50,10,,", "900,L50,10,half_bbl,3", "exactly-one", 2, "package"),
    Fault("moves.csv", "L1,L3,B1,28.1,27.9", "L1,L3,B1,28.1,29.9", "readings-disagree", 2, "volume_in", "warning"),
    Fault("moves.csv", "L2,,,0.2", "L2,L3,,0.2", "wrong-combination", 3, "to_lot"),
    Fault("moves.csv", "M2,2026-01-20,main,L2,,,0.2,,bbl,sample", "M2,2026-01-20,main,L2,,,0.2,,bbl,transfer",
          "missing-value", 3, "to_lot"),
    Fault("moves.csv", "M2,2026-01-20,main,L2,,,0.2,,bbl,sample", "M2,2026-01-20,main,L2,L2,,0.2,,bbl,blend",
          "wrong-combination", 3, "to_lot"),
    Fault("receipts.csv", "bag55lb,1280,", "bag55lb,,", "missing-value", 2, "cost"),
    Fault("packaging.csv", "R1,2026-01-21,main,L3,sixth_bbl", "R1,2026-01-22,main,L3,sixth_bbl", "run-differs", 3, "date"),
    Fault("packaging.csv", "R1,2026-01-21,main,L3,sixth_bbl", "R1,2026-01-21,hill,L3,sixth_bbl", "run-differs", 3, "site"),
    # a separator in a text without quotation marks
    Fault("shipments.csv", "half_bbl,2,in_bond,90,", "half_bbl,2,in_bond,90,,7", "extra-cell", 4, "column 12"),
    # headings
    Fault("beers.csv", "beer,style,tax_class", "beer,style,class", "unknown-column", 1, "class", "warning"),
    Fault("ledger.csv", "month,account,balance", "month,account,amount", "missing-column", 1, "balance"),
    Fault("labour.csv", "hours,cost,brew", "hours,cost,hours", "repeated-column", 1, "hours"),
    Fault("ledger.csv", "month,account,balance\n2026-01,", "month,,account,balance\n2026-01,see Bob,", "no-heading", 1,
          "column 2", "warning"),
    # rows and what stands beside them
    Fault("ledger.csv", "finished goods,", '"finished goods,', "unclosed-quote", 2, None, also=("missing-value",)),
    Fault("labour.csv", "cost,brew\n2026-01-05,main,brewhouse,8,212,W1", "cost,brew,run\n2026-01-05,main,brewhouse,8,212,W1,R1",
          "at-most-one", 2, "run"),
    Fault("receipts.csv", "0117\n", "0117\n2026-01-02,Main,Base malt,40.0,bag55lb,\"1,280\",45,0117\n", "twice", 3, "cost",
          "warning"),
    Fault("expenses.csv", "9000\n", "9000\n2026-01,main,rent,9000\n", "twice", 3, "amount", "warning"),
    Fault("payments.csv", "410.5\n", "410.5\n2026-01-15,US,main,2025-Q4,410.50\n", "twice", 3, "amount", "warning"),
    Fault("moves.csv", "M2,", "M1,", "duplicate", 3, "move", also=("duplicate",)),
    Fault("invoices.csv", "1290\n", "1290\n2026-01-21,INV1,0117,base malt,1290\n", "duplicate", 3,
          "document+receipt_document+material", also=("duplicate",)),
    Fault("brews.csv", "28.5,12.1", "28.5,1.048", "gravity-unit", 2, "original_gravity", "warning"),
    Fault("readings.csv", "L1,4.2", "L1,1.012", "gravity-unit", 2, "gravity", "warning"),
    Fault("brews.csv", "L2,F2,", "L2,H1,", "other-site", 3, "vessel",
          more=(("vessels.csv", FILES["vessels.csv"] + "H1,hill,fermenter,30\n"),)),
    Fault("expenses.csv", "main,rent", "hill,late", "pool-not-in-force", 2, "pool"),
    Fault("expenses.csv", "main,rent", "main,late", "pool-not-in-force", 2, "pool"),
    Fault("materials.csv", "ale yeast,yeast", "ale yeast,yest", "names-set-aside", 3, "material", "warning", at="uses.csv",
          also=("not-a-choice",)),
    # tanks, marks and levels
    Fault("vessel_scale.csv", "F2,main,100,30\n", "F2,main,100,30\nF2,main,120,29\n", "scale-falls", 4, "volume"),
    Fault("readings.csv", "gravity\n2026-01-08,main,L1,4.2", "volume,volume_unit\n2026-01-08,main,L1,5,mark", "no-scale", 2,
          "volume"),
    Fault("readings.csv", "gravity\n2026-01-08,main,L1,4.2", "volume,volume_unit\n2026-01-08,main,L2,105,mark",
          "outside-scale", 2, "volume"),
    Fault("readings.csv", "2026-01-08,main,L1", "2026-01-04,main,F1", "tank-empty", 2, "lot"),
    Fault("readings.csv", "2026-01-08,main,L1", "2026-01-08,main,F2", "tank-ambiguous", 2, "lot"),
    Fault("brews.csv", "12.1\n", "12.1\nW3,2026-01-05,main,Mill Lager,L1,F1,,,,12.1,20\n", "level-falls", 3,
          "fermenter_level_after", more=(("brews.csv", "with levels"),)),
    Fault("brews.csv", ",28.5,12.1\n", ",?,12.1\nW3,2026-01-05,main,Mill Lager,L1,F1,,,,12.1,30\n", "level-unknown", 3,
          "fermenter_level_after", also=("not-a-number",), more=(("brews.csv", "with levels"),)),
    Fault("set-aside.csv", "", "kind,from_file,from_sheet,from_row,date,site,lot,gravity\n"
          "readings,readings.csv,,2,2026-01-08,main,L1,4.3\n", "nothing-to-mend", 2, "from_row"),
    Fault("set-aside.csv", "", "kind,from_file,from_sheet,from_row,document,line,date,site,account,beer,package,units,purpose\n"
          "shipments,shipments.csv,,2,S1,1,2026-01-23,main,Corner shop,Mill Lager,half_bbl,5,sale\n", "nothing-to-mend", 2,
          "from_row"),
]  # fmt: skip


LATE = '''
[[pools]]
pool = "late"
stage = "cellar"
driver = "tank_days"
behaviour = "variable"
site = "hill"
from_month = "2026-02"
'''
WITH_LEVELS = FILES["brews.csv"].replace("original_gravity\n", "original_gravity,fermenter_level_after\n")


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.called)
def test_one_fault_gives_one_finding_in_its_place(fault: Fault, tmp_path: Path) -> None:
    more = {name: WITH_LEVELS if text == "with levels" else text for name, text in fault.more}
    text = more.get(fault.file, FILES.get(fault.file, ""))
    assert text.count(fault.old) >= 1, "the fault must change the file"
    con = load(write(tmp_path, more | {fault.file: text.replace(fault.old, fault.new, 1)}, TOML + LATE))
    found = findings(con)
    places = {(each.severity, each.code, each.file, each.row, each.field) for each in found}
    wanted = (fault.severity, fault.code, fault.at or fault.file, fault.row, fault.field)
    assert wanted in places
    # A heading that is wrong is a column too many and a column too few.
    beside = {each for each in places - {wanted} if each[1] not in ("names-set-aside", *fault.also)}
    assert beside <= {("warning", "unknown-column", fault.file, 1, "amount")}
    for each in found:
        assert each.message and each.expected
        # Rows handed in again stand in one file for all kinds, a sheet a kind.
        assert each.sheet == (fault.new.split("\n")[1].split(",")[0] if each.file == "set-aside.csv" else None)
    assert_nothing_lost(con)
    set_aside = set(rows(con, "select file, row from record.raw_rows where state = 'set aside'"))
    errors = {(each.file, each.row) for each in found if each.severity == "error"}
    if fault.code in ("missing-column", "repeated-column"):
        assert {file for file, _ in set_aside} == {fault.file}
    elif fault.code == "duplicate":
        assert set_aside == {(fault.file, fault.row)}
    else:
        assert set_aside == errors
        assert fault.severity == "warning" or (fault.file, fault.row) in set_aside


@pytest.mark.parametrize(("file", "old", "new", "said"), [
    ("brews.csv", "31.2,210,", "31.2,220,", '"220" is not between 32 and 215 F; mend the figure, or temp_unit'),
    ("standards.csv", "*,kettle,5,", "*,kettle,105,", '"105" is not below 100; mend the figure'),
    ("shipments.csv", "S1,1,", "S1,0,", '"0" is not at least 1; mend the figure'),
    ("shipments.csv", "2026-01-23,main,Corner shop,Mill", "1/23/2026,main,Corner shop,Mill",
     '"1/23/2026" is not a date; write year-month-day, as 2026-03-14'),
    ("readings.csv", "gravity\n2026-01-08,main,L1,4.2", "volume,volume_unit\n2026-01-08,main,L1,9.8,mark",
     '"9.8" is a mark, and tank `F1` of lot `L1` has no scale'),
    ("moves.csv", "28.1,27.9,bbl", "28.1,27.9,mark", '"27.9" is a mark, and tank `B1` has no scale'),
    ("brews.csv", "W1,2026-01-05,main,Mill Lager,L1,F1,31.2", "W1,2026-01-05,main,Mill Lager,L1,,31.2",
     '"28.5" is a mark, and no tank is named'),
    ("brews.csv", "W1", "W1", '"31.2" is a mark, and the site\'s kettle has no scale'),
])  # fmt: skip
def test_a_message_says_what_would_be_right_and_of_what(file: str, old: str, new: str, said: str, tmp_path: Path) -> None:
    text = FILES[file].replace(old, new, 1)
    if "is a mark" in said and file == "brews.csv":
        text = text.replace("original_gravity\n", "original_gravity,volume_unit\n").replace("12.1\n", "12.1,mark\n")
    assert any(said in str(each) for each in findings(load(write(tmp_path, {file: text}))))


def in_a_workbook(folder: Path, name: str, text: str, hidden: bool = False) -> Path:
    """The brewery with one kind of record in a sheet `KIND March` of log.xlsx instead of its csv file."""
    write(folder, {name: None}, TOML + LATE)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = f"{name.removesuffix('.csv')} March"
    for line in csv.reader(text.splitlines()):
        sheet.append([cell or None for cell in line])
    if hidden:
        book.create_sheet("notes")
        sheet.sheet_state = "hidden"
    book.save(folder / "inputs" / "log.xlsx")
    return folder


# One fault of each sort in a sheet of a workbook: file, sheet, row and field are the workbook's.
IN_SHEETS = list({fault.code: fault for fault in FAULTS if fault.file in FILES and not (fault.more or fault.also)
                  and fault.code not in ("extra-cell", "no-heading")}.values())[::2]  # fmt: skip


@pytest.mark.parametrize("fault", IN_SHEETS, ids=lambda fault: fault.called)
def test_a_fault_in_a_sheet_is_found_in_its_sheet(fault: Fault, tmp_path: Path) -> None:
    con = load(in_a_workbook(tmp_path, fault.file, FILES[fault.file].replace(fault.old, fault.new, 1)))
    kind = fault.file.removesuffix(".csv")
    wanted = (fault.severity, fault.code, "log.xlsx", f"{kind} March", fault.row, fault.field)
    places = {(each.severity, each.code, each.file, each.sheet, each.row, each.field) for each in findings(con)}
    renamed = ("warning", "unknown-column", "log.xlsx", f"{kind} March", 1, "amount")
    assert {place for place in places if place[1] != "names-set-aside"} - {renamed} == {wanted}
    assert_nothing_lost(con)


def test_a_sheet_that_is_hidden_and_one_that_holds_nothing(tmp_path: Path) -> None:
    hidden = load(in_a_workbook(tmp_path / "a", "ledger.csv", FILES["ledger.csv"], hidden=True))
    empty = load(in_a_workbook(tmp_path / "b", "ledger.csv", ""))
    for con, code in ((hidden, "hidden-sheet"), (empty, "empty-sheet")):
        (found,) = findings(con)
        assert (found.severity, found.code, found.file, found.sheet, found.row) == (
            "warning", code, "log.xlsx", "ledger March", None)  # fmt: skip


def test_at_least_sixty_faults_are_tried() -> None:
    assert len(FAULTS) >= 60
