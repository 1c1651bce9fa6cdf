"""The blank log workbook and the new folder: what they hold, and that they load as they are.

What must be there comes from the dictionary of input (kinds.toml) and from the layout of the .xlsx format: ECMA-376
part 1, 18.3.1.32 (data validation), 18.5 (defined names). Every record below is invented.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import brewery
import openpyxl
import pytest
from openpyxl.worksheet.datavalidation import DataValidation

from brewcost import pipeline, settings, settings_model, start
from brewcost.books import Books, BooksError
from brewcost.form_words import GROUPS, LONGEST_WARNING
from brewcost.forms import known_names, write_log
from brewcost.kinds import Field, Kind, dictionary
from brewcost.problems import ERROR

KINDS = tuple(dictionary().kinds.values())

# Kinds the small brewery of brewery.py has no file of.
MORE = {
    "recipes.csv": "beer,material,quantity_per_bbl,unit,from_month\nPlain Pale,base malt,55,lb,2026-01\n",
    "package_materials.csv": "package,material,quantity,unit,beer\ncase_4x6x12,cans 12 oz,24,each,\n",
    "credits.csv": "document,date,account,beer,package,original_document,amount,reason\n"
    "N1,2026-01-27,Corner shop,Mill Lager,half_bbl,S1,25,late\n",
    "repacks.csv": "document,date,site,from_beer,from_package,from_units,to_beer,to_package,to_units\n"
    "K1,2026-01-28,main,Plain Pale,half_bbl,1,Plain Pale,sixth_bbl,3\n",
    "filings.csv": "area,site,period,filed_on,quantity,amount,serial\nUS,main,2026-Q1,2026-04-10,12.5,43.75,007\n",
    "opening_duty.csv": "area,site,period,removed_bbl,tax_accrued,tax_paid,tax_last_year\nUS,main,2026-Q1,0,0,0,1200\n",
}


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("blank") / "log.xlsx"
    write_log(path, {"sites": ["main", "hill"], "beers": ["Mill Lager", "=SUM(A1)"], "lots": ["0012"], "vessels": ["F1"]})
    return openpyxl.load_workbook(path)


def rule_of(ws: Any, letter: str) -> DataValidation | None:
    """The one validation that covers a column from row 2 down."""
    found = [rule for rule in ws.data_validations.dataValidation if f"{letter}2:{letter}1048576" in str(rule.sqref)]
    assert len(found) <= 1
    return found[0] if found else None


def columns(ws: Any, kind: Kind) -> Sequence[tuple[Any, Field]]:
    return [(cell, kind.field(cell.value)) for cell in ws[1]]


def listed(book: Any, name: str) -> list[str]:
    """The names a drop-down offers before any formula is worked out."""
    place = re.match(r"'_lists'!\$([A-Z]+)\$2:INDEX\(", book.defined_names[name].attr_text)
    assert place
    values = [cell.value for cell in book["_lists"][place[1]][1:]]
    return [value for value in values if value is not None and not (str(value).startswith("=IF"))]


def test_every_kind_has_its_sheet_and_every_field_its_heading(blank: Any) -> None:
    assert [name for group in GROUPS for name in group.kinds] == blank.sheetnames[1:-1]
    assert set(blank.sheetnames) == {kind.name for kind in KINDS} | {"notes", "_lists"}
    for kind in KINDS:
        assert [cell.value for cell in blank[kind.name][1]] == [field.name for field in kind.fields]


def test_a_heading_says_what_belongs_there_and_whether_it_must_be_filled_in(blank: Any) -> None:
    for kind in KINDS:
        for cell, field in columns(blank[kind.name], kind):
            assert field.meaning in cell.comment.text
            assert ("must be filled in" in cell.comment.text.split("\n")[0]) >= field.required
            # Seen without colour too: bold, and a star in what is shown.
            assert cell.font.b is field.required
            assert (cell.number_format == '@"*"') is field.required
            if field.unit:
                default = kind.field(field.unit).default
                assert field.unit in cell.comment.text and (default is None or f"Unit: {default}" in cell.comment.text)


def test_every_closed_list_is_a_drop_down(blank: Any) -> None:
    seen = 0
    for kind in KINDS:
        for cell, field in columns(blank[kind.name], kind):
            words = {"flag": ("yes", "no"), "choice": field.choices, "unit": dictionary().units_of(field)}
            if field.type in words:
                rule = rule_of(blank[kind.name], cell.column_letter)
                assert rule is not None and rule.type == "list"
                assert rule.formula1 == '"' + ",".join(words[field.type]) + '"'
                # ECMA-376 part 1, 18.3.1.32; 255 characters is the limit of a list in spreadsheet programs.
                assert len(rule.formula1) <= 257
                seen += 1
    assert seen >= 40


def test_names_of_other_sheets_are_a_drop_down(blank: Any) -> None:
    for kind in KINDS:
        for cell, field in columns(blank[kind.name], kind):
            if field.of:
                rule = rule_of(blank[kind.name], cell.column_letter)
                assert rule is not None and rule.type == "list", (kind.name, field.name)
                assert rule.formula1 in blank.defined_names
                assert rule.formula1.removeprefix("list_").removesuffix("_or_all") == field.of
    cells = [str(cell.value) for row in blank["_lists"].iter_rows(min_row=2) for cell in row]
    assert sum("beers!A5)" in cell for cell in cells) == 2  # in the list of beers, and in that of beers or *


def test_names_known_already_are_offered_as_text(blank: Any) -> None:
    assert listed(blank, "list_beers") == ["Mill Lager", "=SUM(A1)"]
    assert listed(blank, "list_beers_or_all") == ["*", "Mill Lager", "=SUM(A1)"]
    assert listed(blank, "list_sites") == ["main", "hill"]
    # A tank's name will do where a lot is asked for.
    assert listed(blank, "list_lots") == ["0012", "F1"] and listed(blank, "list_vessels") == ["F1"]
    assert "half_bbl" in listed(blank, "list_packages")
    cells = [cell for row in blank["_lists"].iter_rows() for cell in row if cell.value == "=SUM(A1)"]
    assert cells and all(cell.data_type == "s" for cell in cells)


def test_dates_and_numbers_are_checked_with_a_warning(blank: Any) -> None:
    for kind in KINDS:
        for cell, field in columns(blank[kind.name], kind):
            rule = rule_of(blank[kind.name], cell.column_letter)
            if field.type == "date" or field.is_number:
                assert rule is not None
                wanted = {"date": "date", "whole": "whole"}.get(field.type, "decimal")
                assert rule.type == wanted
                if field.is_number and not field.signed:
                    assert float(rule.formula1) >= 0
                if field.signed:
                    assert float(rule.formula1) < 0
            if rule is not None and field.type != "area":
                assert rule.errorStyle == "warning" and rule.showErrorMessage and rule.error
                assert len(rule.error) <= LONGEST_WARNING and len(rule.errorTitle) <= 32


def test_names_and_months_are_text_so_that_leading_zeros_stay(blank: Any) -> None:
    for kind in KINDS:
        for cell, field in columns(blank[kind.name], kind):
            column = blank[kind.name].column_dimensions[cell.column_letter]
            if field.type in ("text", "name", "month", "area"):
                assert column.number_format == "@"
            assert blank[kind.name].cell(3, cell.column).number_format == column.number_format


def test_a_sheet_prints_on_its_side_one_page_wide_with_ruled_lines(blank: Any) -> None:
    for kind in KINDS:
        ws = blank[kind.name]
        assert ws.page_setup.orientation == "landscape" and ws.sheet_properties.pageSetUpPr.fitToPage
        assert (ws.page_setup.fitToWidth, ws.page_setup.fitToHeight) == (1, 0)
        assert ws.print_title_rows == "$1:$1" and ws.freeze_panes == "B2"
        ruled = [row for row in range(3, ws.max_row + 1) if ws.cell(row, 1).border.bottom.style]
        assert len(ruled) >= 15 and not ws.merged_cells.ranges
        assert len(ws.oddFooter.left.text) + len(ws.oddHeader.left.text) <= 400
        assert len(ws.oddFooter.left.text) <= 250


@pytest.mark.parametrize("style", ["1,234.56", "1.234,56"])
def test_the_example_rows_are_passed_over(style: str, tmp_path: Path) -> None:
    toml = brewery.TOML.replace('currency = "USD"', f'currency = "USD"\nnumber_style = "{style}"')
    folder = brewery.write(tmp_path, dict.fromkeys(brewery.FILES), toml)
    write_log(folder / "inputs" / "log.xlsx", None)
    con = brewery.load(folder)
    states = dict(brewery.rows(con, "select kind, state from record.raw_rows where state <> 'blank'"))
    assert states == {kind.name: "example" for kind in KINDS}
    assert brewery.findings(con) == []
    assert brewery.rows(con, "select count(*) from record.beers") == [(0,)]


def test_every_example_row_is_itself_a_good_record_once_it_is_written_over(tmp_path: Path) -> None:
    folder = brewery.write(tmp_path, dict.fromkeys(brewery.FILES))
    path = folder / "inputs" / "log.xlsx"
    write_log(path, None)
    book = openpyxl.load_workbook(path)
    for kind in KINDS:
        first = kind.fields[0]
        typed = date.fromisoformat(first.example) if first.type == "date" else first.example
        book[kind.name].cell(2, 1).value = typed
    book.save(path)
    cellwise = {"not-a-number", "not-a-date", "not-a-month", "not-a-choice", "missing-value", "unknown-unit",
                "unit-family", "exactly-one", "not-yes-or-no", "not-an-area", "negative", "out-of-range"}  # fmt: skip
    wrong = [problem for problem in brewery.findings(brewery.load(folder)) if problem.code in cellwise]
    assert wrong == []


def fill(path: Path, files: Mapping[str, str]) -> None:
    """Type csv text into the log workbook below the example rows, dates and plain numbers as such."""
    book = openpyxl.load_workbook(path)
    for name, text in files.items():
        kind = dictionary().kinds[name.removesuffix(".csv")]
        ws = book[kind.name]
        places = {cell.value: cell.column for cell in ws[1]}
        for row, record in enumerate(csv.DictReader(io.StringIO(text)), start=3):
            for heading, value in record.items():
                if value:
                    field = kind.field(heading)
                    plain = field.is_number and re.fullmatch(r"-?\d+(\.\d+)?", value)
                    typed: Any = float(value) if plain else value
                    ws.cell(row, places[heading]).value = date.fromisoformat(value) if field.type == "date" else typed
    book.save(path)


def test_a_filled_log_gives_the_same_records_as_csv_files(tmp_path: Path) -> None:
    files = {**brewery.FILES, **MORE}
    assert {name.removesuffix(".csv") for name in files} == {kind.name for kind in KINDS}
    given = brewery.write(tmp_path / "csv", MORE)
    typed = brewery.write(tmp_path / "log", dict.fromkeys(files))
    write_log(typed / "inputs" / "log.xlsx", None)
    fill(typed / "inputs" / "log.xlsx", files)
    wanted, found = brewery.load(given), brewery.load(typed)
    assert [problem for problem in brewery.findings(found) if problem.severity == ERROR] == []
    for kind in KINDS:
        query = f"select * exclude (file, sheet, row) from record.{kind.name} order by all"
        assert brewery.rows(found, query) == brewery.rows(wanted, query) != [], kind.name
    brewery.assert_nothing_lost(found)
    assert ("0117",) in brewery.rows(found, "select document from record.receipts")


def test_what_the_books_know_is_offered_in_the_next_log(tmp_path: Path) -> None:
    folder = brewery.write(tmp_path, MORE)
    books = Books(folder)
    pipeline.build(books)
    con = books.reading()
    known = known_names(con)
    con.close()
    assert known["beers"] == ["Ginger Pop", "Mill Lager", "Plain Pale"]
    assert known["lots"] and "L1" not in known["lots"]  # L1 was emptied on 2026-01-19
    path = start.new_log(books)
    assert path == folder / "inputs" / "log.xlsx"
    assert start.new_log(books) == folder / "inputs" / "log-2.xlsx"
    book = openpyxl.load_workbook(path)
    for sort, name in {"accounts": "Corner shop", "vessels": "F2", "packages": "case_4x6x12", "pools": "rent",
                       "sites": "hill", "brews": "W2", "runs": "R1", "shipment_documents": "S2",
                       "receipt_documents": "0117", "materials": "ale yeast", "areas": "US"}.items():  # fmt: skip
        assert name in listed(book, f"list_{sort}"), sort


def test_a_new_folder_loads_and_computes_as_it_is(tmp_path: Path) -> None:
    folder = tmp_path / 'the "Old" Mill'
    written = start.new_folder(folder)
    assert [path.relative_to(folder).as_posix() for path in written] == ["brewery.toml", "inputs/log.xlsx"]
    chosen = settings.load(folder / "brewery.toml")
    assert chosen.name == 'the "Old" Mill' and chosen.first_month == f"{date.today():%Y-%m}"
    outcome = pipeline.build(Books(folder))
    assert [problem for problem in outcome.problems if problem.severity == ERROR] == []
    assert outcome.failed_controls == 0
    assert listed(openpyxl.load_workbook(written[1]), "list_sites") == ["main"]


def test_the_settings_file_shows_every_setting() -> None:
    """Switched off or on, every key settings.py takes stands there, and every choice of it in the comments."""
    text = start.new_settings("Mill", date(2026, 3, 5))
    source = Path(settings.__file__).read_text(encoding="utf-8")
    lists = re.findall(r"\.only\(\s*\(([^()]*)\)\s*\)", source)
    known = {name for keys in lists for name in re.findall(r'"(\w+)"', keys)}
    assert {"currency", "normal_driver", "over_2_million_bbl"} <= known
    for key in (*known, *settings_model.STAGES, *settings_model.TANKS):
        assert re.search(rf"^(# )?(\[+)?{key}\b", text, re.M), key
    drivers = {driver for each in settings_model.DRIVERS.values() for driver in each}
    for choice in (*settings_model.METHODS, *settings_model.POOL_STAGES, *drivers, *settings_model.ELEMENTS,
                   *settings_model.RETURN_PERIODS, *settings_model.PRODUCTION_POINTS,
                   *settings_model.NUMBER_STYLES):  # fmt: skip
        assert f'"{choice}"' in text, choice
    for key in settings_model.APPLIES_TO:
        assert key in text
    switched_on = re.sub(r'^# (?=\[\[?\w|\w+ = )', "", text, flags=re.M)
    assert settings.parse(tomllib.loads(switched_on, parse_float=Decimal)).sites[1].site


def test_an_existing_folder_is_left_as_it_is(tmp_path: Path) -> None:
    start.new_folder(tmp_path)
    before = (tmp_path / "brewery.toml").read_bytes()
    with pytest.raises(BooksError, match=r"brewery\.toml is there already"):
        start.new_folder(tmp_path)
    (tmp_path / "brewery.toml").unlink()
    with pytest.raises(BooksError, match=r"log\.xlsx is there already"):
        start.new_folder(tmp_path)
    assert before and not (tmp_path / "brewery.toml").exists()


def test_the_sample_is_copied_into_a_new_or_empty_folder_only(tmp_path: Path) -> None:
    start.copy_sample(tmp_path / "demo")
    assert settings.load(tmp_path / "demo" / "brewery.toml").name
    assert (tmp_path / "demo" / "README.md").is_file() and list((tmp_path / "demo" / "inputs").iterdir())
    with pytest.raises(BooksError, match="is not empty"):
        start.copy_sample(tmp_path / "demo")
