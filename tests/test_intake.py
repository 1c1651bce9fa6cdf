"""What real files bring: encodings, separators, quotation marks, workbooks that are none, numbers and dates as cells."""

from __future__ import annotations

import datetime as dt
import io
import os
import re
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from brewery import FILES, TOML, assert_nothing_lost, findings, load, rows, write

from brewcost import workbook_rows
from brewcost.books import Books

BEERS = FILES["beers.csv"]


def beers(folder: Path, content: str | bytes, name: str = "beers.csv", toml: str = TOML) -> list[tuple[str, str]]:
    """The beers of a folder in which that file holds them; nothing else may be wrong with it."""
    con = load(write(folder, {"beers.csv": None, name: content}, toml))
    assert [str(each) for each in findings(con)] == []
    assert_nothing_lost(con)
    return rows(con, "select beer, style from record.beers order by row")


EXPECTED = [("Mill Lager", "lager"), ("Plain Pale", "pale ale"), ("Ginger Pop", "soft drink")]


@pytest.mark.parametrize(
    "content",
    [
        BEERS,
        b"\xef\xbb\xbf" + BEERS.encode(),
        BEERS.encode("utf-16"),
        BEERS.replace(",", ";"),
        BEERS.replace(",", "\t"),
        BEERS.replace("\n", "\r\n"),
        BEERS.replace("\n", "\r"),
        BEERS.removesuffix("\n"),
        BEERS.replace("beer,style,tax_class", " Beer ,STYLE,Tax Class"),
        BEERS.replace("beer,style,tax_class", "beer*,style*,tax class"),
        BEERS.replace("\n", ",,,\n"),
        BEERS.replace("Mill Lager", "  Mill Lager "),
        BEERS.replace("Mill Lager", '"Mill Lager"'),
        "style,beer\nlager,Mill Lager\npale ale,Plain Pale\nsoft drink,Ginger Pop\n",
    ],
    ids=["plain", "utf-8 mark", "utf-16", "semicolon", "tab", "crlf", "cr", "no last newline", "upper case", "stars",
         "trailing columns", "blanks around", "quoted", "order"],
)  # fmt: skip
def test_the_same_records_however_they_are_written(content: str | bytes, tmp_path: Path) -> None:
    assert beers(tmp_path, content) == EXPECTED


@pytest.mark.parametrize("name", ["beers-2026.csv", "Beers March.csv", "beers.old.csv", "old/beers.csv", "beers.tsv"])
def test_a_file_name_begins_with_its_kind(name: str, tmp_path: Path) -> None:
    (tmp_path / "inputs" / "old").mkdir(parents=True)
    assert beers(tmp_path, BEERS.replace(",", "\t") if name.endswith("tsv") else BEERS, name) == EXPECTED


def test_what_looks_alike_is_alike(tmp_path: Path) -> None:
    text = BEERS.replace("Mill Lager", "M\u00fchle\u00a0Lager").replace("\n", ",\u200b\n")
    con = load(write(tmp_path, {"beers.csv": text, "prices.csv": FILES["prices.csv"].replace("Mill Lager", "Mu\u0308hle Lager"),
                                "standards.csv": FILES["standards.csv"].replace("Mill", "\ufeffM\u00fchle")}))  # fmt: skip
    assert [each for each in findings(con) if each.file in ("beers.csv", "prices.csv", "standards.csv")] == []
    assert rows(con, "select beer from record.prices") == [("M\u00fchle Lager",)]


def test_windows_1252_is_read_where_utf8_does_not_fit(tmp_path: Path) -> None:
    found = beers(tmp_path, BEERS.replace("lager,beer", "märzen – fest,beer").encode("cp1252"))
    assert found[0] == ("Mill Lager", "märzen – fest")


def test_a_quoted_newline_is_part_of_its_record_and_records_are_counted(tmp_path: Path) -> None:
    text = FILES["shipments.csv"].replace("S1,1,", '"S1",1,').replace("Corner shop,Mill", '"Corner\nshop",Mill', 1)
    con = load(write(tmp_path, {"shipments.csv": text.replace(",4,sale", ",four,sale").replace(",2,in_bond", ",x,in_bond")}))
    assert {(each.code, each.row, each.field) for each in findings(con)} == {
        ("unknown-account", 2, "account"),
        ("not-a-number", 2, "units"),
        ("not-a-number", 4, "units"),
    }


def test_quotation_marks_inside_a_text_without_quotation_stay(tmp_path: Path) -> None:
    assert beers(tmp_path, BEERS.replace("pale ale", '12" ale'))[1] == ("Plain Pale", '12" ale')


def test_an_unclosed_quotation_mark_is_one_finding_and_takes_only_its_own_row(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"ledger.csv": 'month,account,balance\n2026-01,sales,5\n2026-01,"cellar,6\n2026-01,x,7\n'}))
    found = [each for each in findings(con) if each.code == "unclosed-quote"]
    assert [(each.file, each.row) for each in found] == [("ledger.csv", 3)]
    assert rows(con, "select account, balance from record.ledger") == [("sales", Decimal(5))]
    assert "2026-01,x,7" in rows(con, "select cells from record.raw_rows where file = 'ledger.csv' and row = 3")[0][0]
    assert_nothing_lost(con)


def test_rows_between_two_stray_quotation_marks_are_named(tmp_path: Path) -> None:
    lines = [f"2026-01,account {number},{number}\n" for number in range(2, 8)]
    lines[1] = lines[1].replace("account", '"account')
    lines[4] = lines[4].replace("account 6", 'account 6"')
    con = load(write(tmp_path, {"ledger.csv": "month,account,balance\n" + "".join(lines)}))
    (found,) = findings(con)
    assert (found.severity, found.code, found.file, found.row, found.field) == (
        "error", "rows-in-a-cell", "ledger.csv", 3, "column 2")  # fmt: skip
    assert "rows 3 to 6" in found.message
    assert rows(con, "select account from record.ledger") == [("account 2",), ("account 7",)]
    assert_nothing_lost(con)


def test_blank_example_and_totals_rows_are_ignored_and_counted(tmp_path: Path) -> None:
    text = "beer,style\nexample: Mill Lager,lager\n\nMill Lager,lager\n,,\nPlain Pale,pale ale\nTotal,2\nTotals:,\n"
    con = load(write(tmp_path, {"beers.csv": text + "Ginger Pop,soda\n"}))
    assert findings(con) == []
    assert rows(con, "select * exclude (sheet, kind) from record.row_counts where file = 'beers.csv'") == [
        ("beers.csv", 8, 3, 0, 5)
    ]
    assert rows(con, "select row, state from record.raw_rows where file = 'beers.csv' order by row") == [
        (2, "example"), (3, "blank"), (4, "accepted"), (5, "blank"), (6, "accepted"), (7, "totals"), (8, "totals"),
        (9, "accepted"),
    ]  # fmt: skip


def test_a_name_that_begins_like_an_example_or_a_total_is_a_record(tmp_path: Path) -> None:
    accounts = "account,kind,area\nExample Ferry house,retailer,US-ME\nTotal,retailer,US-ME\n"
    con = load(write(tmp_path, {"accounts.csv": FILES["accounts.csv"] + accounts.partition("\n")[2]}))
    assert findings(con) == []
    assert ("Example Ferry house",) in rows(con, "select account from record.accounts")
    assert ("Total",) in rows(con, "select account from record.accounts")


def test_an_example_row_that_was_written_over_is_set_aside_and_named(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"ledger.csv": "month,account,balance\nexample: 2026-03,sales,5\n2026-01,sales,6\n"}))
    assert [(each.severity, each.code, each.file, each.row, each.field) for each in findings(con)] == [
        ("error", "example-written-over", "ledger.csv", 2, "month"), ("error", "not-a-month", "ledger.csv", 2, "month"),
    ]  # fmt: skip
    assert rows(con, "select balance from record.ledger") == [(Decimal(6),)]
    assert_nothing_lost(con)


def test_a_row_of_totals_with_a_text_beside_it_is_no_row_of_totals(tmp_path: Path) -> None:
    text = "month,account,balance\n2026-01,sales,1250\nTotal,,\"1,250\"\nTotal,sales,1250\n"
    con = load(write(tmp_path, {"ledger.csv": text}))
    assert [(each.code, each.row, each.field) for each in findings(con)] == [("not-a-month", 4, "month")]
    assert_nothing_lost(con)


def test_decimal_commas_where_the_settings_say_so(tmp_path: Path) -> None:
    toml = TOML.replace('currency = "USD"', 'currency = "USD"\nnumber_style = "1.234,56"')
    changed = dict.fromkeys(FILES)
    ledger = "month;account;balance\n2026-01;a;1.250,50\n2026-01;b;-12,5\n2026-01;c;1.250\n2026-01;d;12.5\n"
    con = load(write(tmp_path, {**changed, "ledger.csv": ledger}, toml))
    assert rows(con, "select account, balance from record.ledger order by account") == [
        ("a", Decimal("1250.5")), ("b", Decimal("-12.5")), ("c", Decimal(1250)),
    ]  # fmt: skip
    assert [(each.code, each.row, each.field) for each in findings(con)] == [("not-a-number", 5, "balance")]


# ------------------------------------------------------------------------------------------------------------ workbooks


def workbook(folder: Path, fill: Callable[[openpyxl.Workbook], None], name: str = "log.xlsx", toml: str = TOML) -> Path:
    """The folder with an added workbook."""
    write(folder, toml=toml)
    book = openpyxl.Workbook()
    book.remove(book.active)
    fill(book)
    book.save(folder / "inputs" / name)
    return folder


def sheet(book: openpyxl.Workbook, name: str, *lines: list[object]) -> None:
    page = book.create_sheet(name)
    for line in lines:
        page.append(line)


HEADINGS: list[object] = ["document", "date", "site", "account", "beer", "package", "units", "purpose", "unit_price"]


def shipment(document: object, date: object, units: object = 2, price: object = 10) -> list[object]:
    return [document, date, "main", "Corner shop", "Mill Lager", "half_bbl", units, "sale", price]


@pytest.mark.parametrize("style", ["1,234.56", "1.234,56"])
def test_cells_of_a_workbook_are_read_as_they_are_meant(style: str, tmp_path: Path) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(
            book, "shipments March", HEADINGS,
            shipment("00017", dt.date(2026, 3, 14), 2, 0.1 + 0.2),
            shipment(18, dt.datetime(2026, 3, 15), 3.0, 1234.5),
            shipment("19", "2026-03-16", "4", 1 / 3),
        )  # fmt: skip
        sheet(book, "expenses", ["month", "site", "pool", "amount"], [dt.date(2026, 3, 1), "main", "rent", 1.234])
        sheet(book, "notes", ["anything"], ["at all"])
        sheet(book, "_lists", ["a"], ["b"])
        book.create_sheet("Sheet4")

    toml = TOML.replace('currency = "USD"', f'currency = "USD"\nnumber_style = "{style}"')
    con = load(workbook(tmp_path, fill, toml=toml))
    found = [each for each in findings(con) if each.file == "log.xlsx"]
    assert found == []
    query = "select document, date, units, unit_price from record.shipments where sheet = 'shipments March' order by row"
    assert rows(con, query) == [
        ("00017", dt.date(2026, 3, 14), 2, Decimal("0.3")),
        ("18", dt.date(2026, 3, 15), 3, Decimal("1234.5")),
        ("19", dt.date(2026, 3, 16), 4, Decimal("0.333333")),
    ]
    assert rows(con, "select month, amount from record.expenses where sheet = 'expenses'") == [
        ("2026-03", Decimal("1.234"))
    ]
    assert_nothing_lost(con)


def test_a_date_where_a_number_belongs_is_an_error_and_so_is_a_number_for_a_date(tmp_path: Path) -> None:
    con = load(workbook(tmp_path, lambda book: sheet(
        book, "shipments", HEADINGS, shipment("A", dt.date(2026, 3, 14), dt.date(2026, 3, 4)), shipment("B", 46095),
    )))  # fmt: skip
    assert [(each.code, each.file, each.sheet, each.row, each.field) for each in findings(con)] == [
        ("not-a-number", "log.xlsx", "shipments", 2, "units"),
        ("not-a-date", "log.xlsx", "shipments", 3, "date"),
    ]


def test_an_error_cell_and_a_formula_without_its_result_are_no_blanks(tmp_path: Path) -> None:
    # unit_price may be blank, so a blank would be taken in silence
    def errors(book: openpyxl.Workbook) -> None:
        sheet(book, "shipments", HEADINGS, shipment("A", "2026-03-14", 2, "#REF!"), shipment("B", "2026-03-14"))

    con = load(workbook(tmp_path / "one", errors))
    assert [(each.code, each.row, each.field, each.value) for each in findings(con)] == [
        ("cell-error", 2, "unit_price", "#REF!")
    ]

    def formula(book: openpyxl.Workbook) -> None:
        sheet(book, "shipments", HEADINGS, shipment("A", "2026-03-14", 2, "=1+1"), shipment("B", "2026-03-14"))

    con = load(workbook(tmp_path / "two", formula))
    assert [(each.code, each.row, each.field) for each in findings(con)] == [("cell-error", 2, "unit_price")]


def altered(folder: Path, pattern: bytes, new: bytes) -> Path:
    """The folder with log.xlsx's first sheet altered as another program would have written it."""
    path = folder / "inputs" / "log.xlsx"
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    page = "xl/worksheets/sheet1.xml"
    parts[page], count = re.subn(pattern, new, parts[page])
    assert count == 1
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return folder


def test_a_formula_of_which_the_result_is_an_empty_text_is_a_blank(tmp_path: Path) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(book, "shipments", HEADINGS, shipment("A", "2026-03-14", 2, '=IF(1=1,"",3)'), shipment("B", "2026-03-14", "=1+1"))

    con = load(altered(workbook(tmp_path, fill), rb'<c r="I2"><f>(.*?)</f><v ?/?>(</v>)?</c>',
                       rb'<c r="I2" t="str"><f>\1</f><v></v></c>'))  # fmt: skip
    assert [(each.code, each.row, each.field) for each in findings(con)] == [("cell-error", 3, "units")]
    assert rows(con, "select document, unit_price from record.shipments where file = 'log.xlsx'") == [("A", None)]


def test_an_error_value_that_is_newer_is_one_cell_in_error(tmp_path: Path) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(book, "shipments", HEADINGS, shipment("A", "2026-03-14", 2, 7), shipment("B", "2026-03-14"))

    con = load(altered(workbook(tmp_path, fill), rb'<c r="I2"[^>]*><v>7</v>', rb'<c r="I2" t="e"><v>#SPILL!</v>'))
    assert [(each.code, each.row, each.field, each.value) for each in findings(con)] == [
        ("cell-error", 2, "unit_price", "#SPILL!")
    ]
    assert rows(con, "select document from record.shipments where file = 'log.xlsx'") == [("B",)]


@pytest.mark.parametrize("style", ["1,234.56", "1.234,56"])
def test_a_percentage_is_read_as_it_is_shown(style: str, tmp_path: Path) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(book, "standards", ["stage", "allowed_loss_pct", "hourly_rate"], ["transfer", 0.045], ["bright_tank", 2],
              ["packaging", "1%"], ["fermenter", 1, 0.5])  # fmt: skip
        book["standards"]["B2"].number_format, book["standards"]["C5"].number_format = "0.0%", '0" a %" %'
        book["standards"]["B3"].number_format = '0.0" %"'

    toml = TOML.replace('currency = "USD"', f'currency = "USD"\nnumber_style = "{style}"')
    con = load(workbook(tmp_path, fill, toml=toml))
    assert rows(con, "select stage, allowed_loss_pct from record.standards where file = 'log.xlsx' order by row") == [
        ("transfer", Decimal("4.5")), ("bright_tank", Decimal(2)), ("packaging", Decimal(1)),
    ]  # fmt: skip
    found = [each for each in findings(con) if each.file == "log.xlsx"]
    assert [(each.code, each.row, each.field, each.value) for each in found] == [("not-a-number", 5, "hourly_rate", "50%")]
    assert "percentage" in found[0].message


def test_only_a_sheet_with_a_formula_without_result_is_read_cell_by_cell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(book, "ledger 1", ["month", "account", "balance"], ["2026-01", "a", 5])
        sheet(book, "ledger & 2", ["month", "account", "balance"], ["2026-01", "b", "=1+1"])
        sheet(book, "_lists", ["=1+1"])

    slow, cell_by_cell = [], workbook_rows._typed_cells

    def noting(path: Path, name: str, point: str) -> object:
        slow.append(name)
        return cell_by_cell(path, name, point)

    monkeypatch.setattr(workbook_rows, "_typed_cells", noting)
    con = load(workbook(tmp_path, fill))
    assert slow == ["ledger & 2"]
    assert [(each.code, each.sheet) for each in findings(con)] == [("cell-error", "ledger & 2")]


def test_a_formula_with_its_result_is_read(tmp_path: Path) -> None:
    folder = workbook(tmp_path, lambda book: sheet(book, "ledger", ["month", "account", "balance"],
                                                   ["2026-01", "sales", "=2+3"]))  # fmt: skip
    con = load(altered(folder, rb"<f>2\+3</f><v ?/?>(</v>)?", rb"<f>2+3</f><v>5</v>"))
    assert findings(con) == []
    assert rows(con, "select balance from record.ledger where file = 'log.xlsx'") == [(Decimal(5),)]


def test_rows_are_counted_from_the_first_row_of_the_sheet_and_remarks_beside_are_named(tmp_path: Path) -> None:
    def fill(book: openpyxl.Workbook) -> None:
        sheet(book, "ledger", ["month", "account", "balance"], ["2026-01", "sales", 5], [None],
              ["2026-01", "stock", "x", None, "asked Bob"])  # fmt: skip
        book.create_sheet("notes")
        book["ledger"].sheet_state = "hidden"

    con = load(workbook(tmp_path, fill))
    assert [(each.severity, each.code, each.sheet, each.row, each.field) for each in findings(con)] == [
        ("warning", "hidden-sheet", "ledger", None, None),
        ("warning", "no-heading", "ledger", 1, "column 5"),
        ("error", "not-a-number", "ledger", 4, "balance"),
    ]


def _zip(parts: dict[str, bytes]) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return data.getvalue()


def _book() -> bytes:
    data = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.title = "ledger"
    book.active.append(["month", "account", "balance"])
    book.save(data)
    return data.getvalue()


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1"><v>1'
    b'</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
)
ODD_FILES = [
    ("ledger.csv", b"", "empty-file", "error"),
    ("ledger.csv", b"\xef\xbb\xbf \n", "empty-file", "error"),
    ("ledger.csv", b"PK\x03\x04 a workbook under another name", "not-text", "error"),
    ("ledger.csv", b"m\x00o\x00n\x00t\x00h\x00", "not-text", "error"),
    ("log.xlsx", b"", "empty-file", "error"),
    ("log.xlsx", _book()[: len(_book()) // 2], "damaged-file", "error"),
    ("log.xlsx", b"<html><table><tr><td>month</td></tr></table></html>", "not-a-workbook", "error"),
    ("log.xlsx", b"month,account,balance\n", "not-a-workbook", "error"),
    ("log.xlsx", OLE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le") + b"\0" * 600, "password-protected", "error"),
    ("log.xlsx", OLE + b"\0" * 600 + "Workbook".encode("utf-16-le"), "old-format", "error"),
    ("log.xlsx", _zip({"word/document.xml": b"<a/>"}), "not-a-workbook", "error"),
    ("log.xlsx", _zip({"xl/worksheets/sheet1.xml": b" " * 200 * 1024 * 1024}), "too-large-file", "error"),
    ("log.xlsx", _zip({"xl/worksheets/sheet1.xml": FAR}), "too-large-file", "error"),
    ("log.xlsx", _zip({"xl/worksheets/sheet1.xml": b"<worksheet/>"}), "damaged-file", "error"),
    ("ledger.xls", b"anything", "old-format", "error"),
    ("ledger.ods", b"anything", "old-format", "error"),
    ("ledger.numbers", b"anything", "old-format", "error"),
    ("shipment-march.csv", b"document\nS1\n", "no-kind", "error"),
    ("shipments_march.csv", b"document\nS1\n", "no-kind", "error"),
    ("photo.jpg", b"anything", "not-read", "warning"),
    ("readme.txt", b"anything", "not-read", "warning"),
]


@pytest.mark.parametrize(("name", "content", "code", "severity"), ODD_FILES)
def test_a_file_that_cannot_be_read_is_one_finding(
    name: str, content: bytes, code: str, severity: str, tmp_path: Path
) -> None:
    con = load(write(tmp_path, {name: content}))
    assert [(each.severity, each.code, each.file, each.sheet, each.row, each.field) for each in findings(con)] == [
        (severity, code, name, None, None, None)
    ]
    assert rows(con, "select count(*) from record.beers") == [(3,)]  # the other files go on


def test_a_sheet_that_fits_no_kind_is_named_with_the_nearest_kind(tmp_path: Path) -> None:
    con = load(workbook(tmp_path, lambda book: sheet(book, "shipment log", ["document"], ["S1"])))
    (found,) = findings(con)
    assert (found.severity, found.code, found.file, found.sheet) == ("error", "no-kind", "log.xlsx", "shipment log")
    assert "shipments" in (found.action or "")


def test_a_folder_a_link_leads_to_is_read_once_and_what_cannot_be_read_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(tmp_path / "books", {"beers.csv": None})
    inputs, away = folder / "inputs", tmp_path / "away"
    for path in (away, inputs / "locked", inputs / "2026"):
        path.mkdir()
    (away / "beers.csv").write_text(BEERS, encoding="utf-8")
    (inputs / "2026" / "ledger-2.csv").write_text("month,account,balance\n2026-01,sales,5\n", encoding="utf-8")
    for name, target in (("a", "2026"), ("linked", away), ("loop", "."), ("gone.csv", "nowhere.csv"), ("knot", "knot")):
        (inputs / name).symlink_to(target)
    os.mkfifo(inputs / "receipts-2.csv")
    scandir = os.scandir

    def refusing(path: Path) -> object:
        if Path(path).name == "locked":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refusing)
    con = load(folder)
    assert [(each.severity, each.code, each.file) for each in findings(con)] == [
        ("error", "not-reached", name) for name in ("a", "gone.csv", "knot", "locked", "loop", "receipts-2.csv")
    ]
    assert {file for (file,) in rows(con, "select file from record.beers")} == {"linked/beers.csv"}
    assert rows(con, "select count(*) from record.ledger") == [(2,)]


def test_a_copied_file_counts_once(tmp_path: Path) -> None:
    headings = "month,site,pool,amount\n"
    con = load(write(tmp_path, {
        "expenses - Copy.csv": FILES["expenses.csv"], "old.csv": FILES["expenses.csv"],
        "labour-1.csv": headings, "labour-2.csv": headings, "ledger - Copy.csv": FILES["ledger.csv"],
    }))  # fmt: skip
    found = [each for each in findings(con) if not (each.file or "").startswith("labour")]
    assert [(each.severity, each.code, each.file, each.value) for each in found] == [
        ("error", "same-file", "expenses - Copy.csv", "expenses.csv"),
        ("error", "same-file", "ledger - Copy.csv", "ledger.csv"),
        ("error", "no-kind", "old.csv", "old"),
    ]  # fmt: skip
    assert rows(con, "select file, amount from record.expenses") == [("expenses.csv", Decimal(9000))]
    assert rows(con, "select rows_read, rows_ignored from record.row_counts where file = 'expenses - Copy.csv'") == [(1, 1)]
    assert_nothing_lost(con)


def test_a_file_name_that_is_no_text_is_written_out(tmp_path: Path) -> None:
    folder = write(tmp_path)
    for name in (b"notes-\xe4.txt", b"ledger-\xe4.csv"):
        Path(os.fsdecode(os.fsencode(folder / "inputs") + b"/" + name)).write_bytes(b"month,account,balance\n2026-01,x,5\n")
    con = load(folder)
    assert [(each.code, each.file) for each in findings(con)] == [("not-read", r"notes-\xe4.txt")]
    assert rows(con, "select balance from record.ledger where account = 'x'") == [(Decimal(5),)]
    assert len(Books(folder).fingerprint()) == 64


def test_lock_files_of_spreadsheet_programs_are_passed_over(tmp_path: Path) -> None:
    con = load(write(tmp_path, {"~$log.xlsx": b"x", ".DS_Store": b"x"}))
    assert findings(con) == []


def test_a_file_that_never_comes_to_rest_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from brewcost import intake

    path = write(tmp_path) / "inputs" / "ledger.csv"
    told = intake._text_file

    def written_meanwhile(path: Path, name: str) -> intake.Intake:
        os.utime(path, ns=(0, path.stat().st_mtime_ns + 1_000_000_000))
        return told(path, name)

    monkeypatch.setattr(intake, "_text_file", written_meanwhile)
    found = intake.read(path.parent).problems
    assert {(each.code, each.severity) for each in found} == {("file-changing", "error")}
