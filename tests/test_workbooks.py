"""The workbooks of the invented sample brewery, opened again: every cell is what its table says."""

from __future__ import annotations

import os
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pytest
from openpyxl.utils import range_boundaries
from openpyxl.worksheet.worksheet import Worksheet
from small_books import compute, rows

from brewcost import report, steps
from brewcost.area_model import DEFERENCE
from brewcost.beside import second_process
from brewcost.places import reports_dir, sample_dir
from brewcost.sheets import Column, Sheet, Table, Workbook
from brewcost.write_workbook import write

MONTH = "2026-03"
NAMES = ("excise", "losses", "margins", "month-close")
HOSTILE = ('=HYPERLINK("http://invented.example","pay")', "+1+1", "-2", "@sum(a1)", "=1+1", "bell\a")


@dataclass(frozen=True)
class Made:
    """A set of books and the workbooks made of it, as openpyxl reads them back."""

    con: duckdb.DuckDBPyConnection
    folder: Path
    books: dict[str, Any]

    def sheets(self) -> Iterator[Worksheet]:
        for book in self.books.values():
            yield from book.worksheets


def make(con: duckdb.DuckDBPyConnection, out: Path, month: str = MONTH) -> Made:
    written = report.write(con, month, out)
    assert [one.name for one in written] == [f"{name}.xlsx" for name in NAMES]
    folder = out / month
    return Made(con, folder, {name: openpyxl.load_workbook(folder / f"{name}.xlsx") for name in NAMES})


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(compute(sample_dir()), tmp_path_factory.mktemp("sample"))


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The sample brewery with failed controls, errors, a missing price, and names that look like formulas."""
    con = compute(sample_dir())
    for number, text in enumerate(HOSTILE):
        con.execute("insert into result.controls values ('2026-03', 'K1', $1, 120, 118.5, -1.5, false)", [text])
        con.execute("insert into result.problems values ('error', 'not-a-number', '2026-03', 'invented.csv', null, $1, "
                    "'units', $2, $2, $2, null)", [number, text])  # fmt: skip
    con.execute("insert into result.problems values ('warning', 'no-area-file', null, null, null, null, 'area', 'US-XX', "
                "'a file areas/US-XX.toml', 'no area file for US-XX', null)")  # fmt: skip
    con.execute("delete from control.findings")
    con.execute("insert into control.findings by name from result.problems")
    con.execute("update result.margins set beer = '=' || beer, revenue = null, margin = null where style = 'stout'")
    con.execute("drop schema report cascade")
    con.execute("create schema report")
    steps.run(con, {}, ["80_report"])
    return make(con, tmp_path_factory.mktemp("spoilt"))


@pytest.fixture(params=["sample", "spoilt"])
def made(request: pytest.FixtureRequest) -> Made:
    found: Made = request.getfixturevalue(request.param)
    return found


def plain(value: Any) -> Any:
    """A value as a workbook can hold it: 15 digits, days, yes and no, nothing unprintable."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, (int, float, Decimal)):
        return float(f"{value:.15g}")
    if isinstance(value, str):
        return value.replace("\a", "\N{REPLACEMENT CHARACTER}") or None
    return value


def cells_of(ws: Worksheet, ref: str) -> list[list[Any]]:
    first_column, first_row, last_column, last_row = range_boundaries(ref)
    return [
        [plain(ws.cell(row, column).value) for column in range(first_column, last_column + 1)]
        for row in range(first_row, last_row + 1)
    ]


def text_of(ws: Worksheet) -> str:
    return "\n".join(str(cell.value) for row in ws.iter_rows() for cell in row if isinstance(cell.value, str))


def definitions(name: str) -> Iterator[tuple[str, dict[str, Any], str]]:
    """Every table a definition names: its sheet, what is said of it, and the name of the native table."""
    for sheet in tomllib.loads((reports_dir() / f"{name}.toml").read_text(encoding="utf-8"))["sheets"]:
        stem = f"{name}_{sheet['name']}".replace("-", "_").replace(" ", "_")
        for index, table in enumerate(sheet["tables"]):
            yield sheet["name"], table, stem if index == 0 else f"{stem}_{index + 1}"


def expected_rows(con: duckdb.DuckDBPyConnection, table: dict[str, Any], month: str = MONTH) -> list[dict[str, Any]]:
    which = {"this": "where month = $1", "so far": "where month <= $1", "all": ""}[table.get("months", "this")]
    return rows(con, f"from {table['table']} {which}", [month] if which else [])


@pytest.mark.parametrize("name", NAMES)
def test_every_cell_of_every_table_is_what_the_result_table_says(made: Made, name: str) -> None:
    compared = 0
    for sheet, table, native in definitions(name):
        ws = made.books[name][sheet]
        expected = expected_rows(made.con, table)
        if "per" in table:  # one below the other, a table for each value; those of one definition have its headings
            drawn = [cells_of(ws, one.ref) for one in ws.tables.values()]
            told = [column["heading"].replace("{currency}", "USD") for column in table["columns"]]
            drawn = [cells for cells in drawn if cells[0] == told]
            if not drawn:
                assert not expected and (table.get("skip_if_empty") or table.get("with_previous"))
                continue
            headings, found = told, [line for cells in drawn for line in cells[1:]]
        else:
            headings, *found = cells_of(ws, ws.tables[native].ref)
        if not expected:
            assert found == [[table.get("empty", "none this month"), *[None] * (len(headings) - 1)]]
        elif "pivot" in table:
            compared += _compare_side_by_side(headings, found, expected, table)
        else:
            shown = {column["heading"].replace("{currency}", "USD"): column for column in table["columns"]}
            dropped = [column for heading, column in shown.items() if heading not in headings]
            assert all(column["drop_if_zero"] and not any(row[column["name"]] for row in expected)
                       for column in dropped)  # fmt: skip
            wanted = [tuple(plain(row[shown[heading]["name"]]) for heading in headings) for row in expected]
            assert Counter(map(tuple, found)) == Counter(wanted), f"{native} differs from {table['table']}"
            compared += len(found) * len(headings)
    assert compared > 100


def _compare_side_by_side(
    headings: list[str], found: list[list[Any]], expected: list[dict[str, Any]], table: dict[str, Any]
) -> int:
    """A row a key, a column a month: every figure of the table stands in its place, and no other."""
    (key,) = (column["name"] for column in table["columns"])
    value = table["pivot"]["value"]
    wanted = {(row[key], row["month"]): plain(row[value]) for row in expected if row[value] is not None}
    shown = {(line[0], month): figure
             for line in found for month, figure in zip(headings[1:], line[1:], strict=True)
             if figure is not None}  # fmt: skip
    assert shown == wanted
    return len(shown)


def test_rows_stand_in_the_order_the_definition_gives(sample: Made) -> None:
    ws = sample.books["margins"]["summary"]
    _, *found = cells_of(ws, ws.tables["margins_summary_2"].ref)
    per_bbl = [line[3] for line in found]
    assert len(per_bbl) > 5
    assert per_bbl == sorted(per_bbl, reverse=True)


@pytest.mark.parametrize("name", NAMES)
def test_totals_are_the_database_s_and_the_formulas_take_exactly_the_rows_above(made: Made, name: str) -> None:
    """A total stands under its table as a value; a live one again as a formula that a reader can tick."""
    checked = live = 0
    for sheet, table, native in definitions(name):
        ws = made.books[name][sheet]
        if not any("total" in column for column in table["columns"]):
            continue
        _, first, last_column, last = range_boundaries(ws.tables[native].ref)
        expected = expected_rows(made.con, table)
        shown = {ws.cell(first, column).value: column for column in range(1, last_column + 1)}
        for column in table["columns"]:
            number = shown.get(column["heading"].replace("{currency}", "USD"))
            if "total" not in column or number is None or not expected:
                continue
            function, *names = column["total"]
            names = names or [column["name"]]
            values = [[row[one] for row in expected] for one in names]
            cell = ws.cell(last + 1, number)
            assert ws.cell(last + 1, 1).value == "total"
            assert _close(cell.value, _total(function, values)), (native, column["heading"])
            checked += 1
            if table.get("live") and cell.value is not None and number > 1:
                letter = cell.column_letter
                below = ws.cell(last + 2, number)
                if function in ("sum", "whole_sum"):
                    assert below.value == f"=SUBTOTAL(109,{letter}{first + 1}:{letter}{last})"
                else:
                    assert re.fullmatch(r'=IF\(\w+=0,"",(100\*)?\w+/\w+\)', below.value)
                assert below.data_type == "f"
                assert below.number_format == cell.number_format != "General"
                live += 1
    assert checked > 5
    assert live or name in ("losses", "margins")


def _close(found: Any, wanted: float | None) -> bool:
    if found is None or wanted is None:
        return found is None and wanted is None
    return abs(found - wanted) <= 1e-6 + 1e-9 * abs(wanted)


def _total(function: str, columns: list[list[Any]]) -> float | None:
    """The totals again in plain arithmetic."""
    whole = "whole" in function
    sums = [
        None if (whole and None in values) or all(value is None for value in values)
        else float(sum(value for value in values if value is not None))
        for values in columns
    ]
    if function == "root_sum_square":
        return float(sum(float(value) ** 2 for value in columns[0] if value is not None)) ** 0.5
    if function.startswith(("per_", "percent_")):
        # Of a ratio of a whole sum, the barrels below the line are a plain sum.
        above, below = sums[0], sums[1]
        return above / below * (100 if function.startswith("percent") else 1) if above is not None and below else None
    return sums[0]


def test_text_stays_text_and_only_the_totals_are_formulas(made: Made) -> None:
    hostile = 0
    for ws in made.sheets():
        for row in ws.iter_rows():
            live = row[0].value == "total by formula"
            for cell in row:
                assert cell.data_type != "e"
                assert (cell.data_type == "f") <= live, f"{ws.title} {cell.coordinate} is a formula"
                if isinstance(cell.value, str) and cell.data_type == "s" and cell.value[:1] in "=+-@":
                    assert cell.quotePrefix
                    hostile += 1
    if any(rows(made.con, "from result.problems where file = 'invented.csv'")):
        assert hostile > len(HOSTILE)


def test_no_text_says_nan_or_none(made: Made) -> None:
    for ws in made.sheets():
        for row in ws.iter_rows():
            for cell in row:
                assert str(cell.value).casefold() not in ("nan", "none", "null", "inf") or cell.value is None
                if isinstance(cell.value, str):
                    assert not re.search(r"\b(None|NaN|nan|inf)\b|Decimal\(|\{\w+\}", cell.value), cell.value


def test_tables_are_native_with_a_name_of_their_own_and_no_cell_is_merged(made: Made) -> None:
    for book in made.books.values():
        names = [name for ws in book.worksheets for name in ws.tables]
        assert len(names) == len({name.casefold() for name in names}) > 3
        for ws in book.worksheets:
            assert not ws.merged_cells.ranges
            assert ws.tables, ws.title
            for table in ws.tables.values():
                headings = cells_of(ws, table.ref)[0]
                assert [column.name for column in table.tableColumns] == headings
                assert len({heading.casefold() for heading in headings}) == len(headings)


def test_every_sheet_prints_on_the_width_of_a_page_and_says_where_one_is(made: Made) -> None:
    for name, book in made.books.items():
        paged = {sheet for sheet, table, _ in definitions(name) if table.get("new_page")}
        for number, ws in enumerate(book.worksheets):
            assert ws.page_setup.orientation == "landscape"
            assert ws.page_setup.fitToWidth == 1
            assert ws.sheet_properties.pageSetUpPr.fitToPage
            assert "&P" in ws.oddFooter.right.text
            assert "March 2026" in ws.oddHeader.right.text
            assert ws.title == ws.title.lower() and len(ws.title) <= 31
            if number:
                first = min(range_boundaries(table.ref)[1] for table in ws.tables.values())
                headings = {range_boundaries(table.ref)[1] for table in ws.tables.values()}
                for page in ws.row_breaks.brk:  # a page begins with a table's title, its headings after it
                    assert headings & {page.id + 1, page.id + 2} and not ws.page_setup.fitToHeight
                if ws.title in paged:
                    assert ws.row_breaks.brk
                    continue
                assert ws.freeze_panes == f"B{first + 1}"
                assert ws.print_title_rows == (f"${first}:${first}" if len(ws.tables) == 1 else None)


def test_charts_have_axes_with_titles_and_figures_to_draw(sample: Made) -> None:
    drawn: Counter[str] = Counter()
    for name, book in sample.books.items():
        for ws in book.worksheets:
            for chart in ws._charts:
                drawn[name] += 1
                assert not chart.x_axis.delete and not chart.y_axis.delete
                assert chart.y_axis.title and chart.title
                for series in chart.series:
                    figures = _referred(book, series.val.numRef.f)
                    names = _referred(book, (series.cat.strRef or series.cat.numRef).f)
                    assert len(figures) == len(names) > 1
                    assert any(isinstance(figure, (int, float)) and figure for figure in figures)
                    assert "total" not in names and None not in names
                lying_waterfall = chart.tagname == "barChart" and chart.type == "bar" and chart.gapWidth == 30
                assert (len(chart.series) > 1 and not lying_waterfall) == (chart.legend is not None)
    assert drawn["margins"] >= 4
    assert drawn["losses"] >= 3


def _referred(book: Any, reference: str) -> list[Any]:
    sheet, ref = reference.rsplit("!", 1)
    return [line[0] for line in cells_of(book[sheet.strip("'")], ref.replace("$", ""))]


def test_the_first_sheet_says_whose_month_it_is_and_that_it_is_fit_to_close(sample: Made) -> None:
    for book in sample.books.values():
        ws = book.worksheets[0]
        assert ws.title == "summary"
        said = text_of(ws)
        assert "Quillmouth Brewing (invented)" in said and "March 2026" in ws["A1"].value
        assert "Fit to close once the months before it are (open: 2026-01, 2026-02): all 10 controls hold; no errors" in said
        assert "Open, and no bar to the close: " in said
        assert "rows set aside" in said and "Caution: " in said


def test_the_first_sheet_says_in_words_which_control_fails(spoilt: Made) -> None:
    for book in spoilt.books.values():
        said = text_of(book.worksheets[0])
        assert "NOT fit to close: 1 of 10 controls FAIL" in said
        assert "K1 materials FAILS for =1+1: expected 120, found 118.5, difference -1.5." in said


def test_every_sheet_with_duty_carries_the_deference_and_the_areas_without_a_file(made: Made) -> None:
    for name in ("excise", "margins", "month-close"):
        for ws in made.books[name].worksheets:
            said = " ".join(text_of(ws).split())
            duty = any("duty" in str(heading) or "margin" in str(heading)
                       for table in ws.tables.values() for heading in cells_of(ws, table.ref)[0])  # fmt: skip
            if duty:
                assert " ".join(DEFERENCE.split()) in said
                fileless = made.con.execute("select value from result.problems where code = 'no-area-file'").fetchall()
                assert all(f"No duty is computed for area {area}" in said for (area,) in fileless)
                assert ("No duty is computed" in said) == bool(fileless)
    first = " ".join(text_of(made.books["excise"]["summary"]).split())
    assert "Alcohol and Tobacco Tax and Trade Bureau" in first and "26 U.S.C. 5051" in first
    returns = " ".join(text_of(made.books["excise"]["returns"]).split())
    assert "US: rates last compared with their source on" in returns and "rates last compared" not in first


def test_a_beer_without_a_price_has_no_margin_rather_than_a_wrong_one(spoilt: Made) -> None:
    ws = spoilt.books["margins"]["beers"]
    headings, *found = cells_of(ws, ws.tables["margins_beers"].ref)
    margin, cost = headings.index("margin, USD"), headings.index("cost of goods sold, USD")
    stouts = [line for line in found if line[headings.index("style")] == "stout"]
    assert stouts
    assert all(line[margin] is None and line[cost] > 0 for line in stouts)
    total = ws.cell(range_boundaries(ws.tables["margins_beers"].ref)[3] + 1, margin + 1)
    assert total.value is None


def test_losses_name_three_to_act_on_and_speak_their_verdict_in_words(sample: Made) -> None:
    ws = sample.books["losses"]["summary"]
    headings, *found = cells_of(ws, ws.tables["losses_summary"].ref)
    assert len(found) == 3
    # Dearest first; what costs no beer, a dipstick that reads wrong, comes last and has no money beside it.
    costs = [line[headings.index("USD a year")] for line in found]
    assert costs[:2] == sorted(costs[:2], reverse=True) and costs[2] is None
    each = sample.books["losses"]["each loss"]
    headings, *found = cells_of(each, each.tables["losses_each_loss"].ref)
    verdict, loss, error = (headings.index(name) for name in ("verdict", "loss, bbl", "± bbl"))
    for line in found:
        if line[loss] is None:
            wanted = "not measured"
        elif line[loss] > line[error]:
            wanted = "real"
        else:
            wanted = "within reading error" if line[loss] >= -2 * line[error] else "readings disagree"
        assert line[verdict] == wanted
    assert {line[verdict] for line in found} >= {"real", "within reading error", "not measured"}


def test_the_same_books_give_the_same_bytes(sample: Made, tmp_path: Path) -> None:
    report.write(sample.con, MONTH, tmp_path)
    for name in NAMES:
        assert (tmp_path / MONTH / f"{name}.xlsx").read_bytes() == (sample.folder / f"{name}.xlsx").read_bytes()


@pytest.mark.parametrize("ended", [False, True])
def test_workbooks_written_by_two_processes_are_the_same(sample: Made, tmp_path: Path, ended: bool) -> None:
    """And this process writes them all where something ended the other."""
    database = tmp_path / "books.duckdb"
    [(name,)] = sample.con.execute("select current_database()").fetchall()
    sample.con.execute(f"attach '{database}' as filed; copy from database {name} to filed; detach filed")
    with second_process() as beside, duckdb.connect(str(database), read_only=True) as con:
        if ended:
            with pytest.raises(BrokenExecutor):
                beside.submit(os._exit, 1).result()
        written = report.write(con, MONTH, tmp_path, beside=beside)
    for one in written:
        assert one.path and one.path.read_bytes() == (sample.folder / one.name).read_bytes()
    assert [one.name for one in written] == [f"{name}.xlsx" for name in NAMES]


def test_a_month_with_nothing_in_it_is_written_all_the_same(sample: Made, tmp_path: Path) -> None:
    empty = make(sample.con, tmp_path, "2031-05")
    assert "Nothing is recorded for May 2031." in text_of(empty.books["losses"].worksheets[0])


def test_a_workbook_open_elsewhere_is_told_and_the_others_are_written(
    sample: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A spreadsheet program on Windows keeps a file open, and renaming over it is refused."""
    report.write(sample.con, MONTH, tmp_path)
    before = (tmp_path / MONTH / "margins.xlsx").read_bytes()
    (tmp_path / MONTH / "losses.xlsx").unlink()
    rename = Path.replace

    def refused(self: Path, target: Path) -> Path:
        if target.name == "margins.xlsx":
            raise PermissionError(13, "used by another process")
        return rename(self, target)

    monkeypatch.setattr(Path, "replace", refused)
    written = {one.name: one for one in report.write(sample.con, MONTH, tmp_path)}
    assert written["margins.xlsx"].path is None
    assert "margins.xlsx was not written" in written["margins.xlsx"].message
    assert "close it there" in written["margins.xlsx"].message
    assert written["losses.xlsx"].path == tmp_path / MONTH / "losses.xlsx"
    assert sorted(path.name for path in (tmp_path / MONTH).iterdir()) == [f"{name}.xlsx" for name in NAMES]
    assert (tmp_path / MONTH / "margins.xlsx").read_bytes() == before


def test_a_page_header_keeps_an_ampersand(tmp_path: Path) -> None:
    table = Table("t_one", (Column("name, of"), Column("a", "money")), [["x", Decimal("1.5")]])
    write(Workbook("Month", "Ale & Sons", (Sheet("one", "One", tables=(table,)),)), tmp_path / "one.xlsx")
    ws = openpyxl.load_workbook(tmp_path / "one.xlsx")["one"]
    assert ws.oddHeader.left.text == "Ale && Sons"
    assert ws["B4"].value == 1.5 and ws["B4"].number_format == "#,##0.00"
