"""The workbooks of a month: what `reports/*.toml` says, filled from the result tables.

Nothing is computed here but totals, and those by the database. A report table holds every month in a column `month`.
"""

from __future__ import annotations

import calendar
import tomllib
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import __version__
from brewcost.duty_notes import counted, duty_notes
from brewcost.places import reports_dir
from brewcost.sheets import FORMATS, Chart, Column, Sheet, Table, Total, Value, Workbook
from brewcost.write_workbook import Written
from brewcost.write_workbook import write as write_workbook

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    import duckdb

SIDE_BY_SIDE = 12  # months in a table that has a column for each
CLOSED, EARLIER = "month closed", "earlier months closed"  # items of the checklist
LISTED = 6  # failed controls and finding codes named on a first sheet
# How a figure is shown whose unit stands beside it; every other unit is money.
UNIT_KINDS = {"bbl": "bbl", "%": "pct", "price": "rate", "kegs": "tenths", "records": "units", "days": "units"}
_COLUMN_KEYS = {"name", "heading", "kind", "total", "strong", "drop_if_zero"}


class ReportError(RuntimeError):
    """A file under reports/ is not as it must be: a fault of the program, never of the records."""


@dataclass(frozen=True)
class Books:
    """What every workbook says of the books and the month."""

    name: str
    currency: str
    month: str

    @property
    def month_in_words(self) -> str:
        return f"{calendar.month_name[int(self.month[5:])]} {self.month[:4]}"

    @property
    def last_day(self) -> date:
        year, month = int(self.month[:4]), int(self.month[5:])
        return date(year, month, calendar.monthrange(year, month)[1])

    def fill(self, text: str) -> str:
        return text.replace("{currency}", self.currency).replace("{month}", self.month_in_words)


def write(
    con: duckdb.DuckDBPyConnection,
    month: str,
    out: Path,
    progress: Callable[[str], None] | None = None,
    beside: Executor | None = None,
) -> list[Written]:
    """Write the workbooks of one month into `out/month/`.

    Args:
        con: the books, with the schemas `result` and `report` filled.
        month: such as `2026-03`.
        out: the folder the months' folders stand in; made where missing.
        progress: told the name of each workbook before it is written.
        beside: a process that writes some of them meanwhile; `con` is then a file, opened to read only.

    Returns:
        One entry a workbook; one that cannot be written has no path but a message, and the others are still written.

    Raises:
        ReportError: a definition under reports/ names a table or column that is not there.
    """
    folder = out / month
    folder.mkdir(parents=True, exist_ok=True)
    definitions = sorted(reports_dir().glob("*.toml"), key=lambda definition: definition.stat().st_size)
    # The other process takes them from the last, this one from the first, until they meet.
    todo, written = deque(definitions), []
    given: tuple[Path, Future[Written]] | None = None

    def finish(definition: Path, other: Future[Written]) -> Written:
        try:
            return other.result()
        except BrokenExecutor:  # something ended it
            return _write_one(con, month, definition, folder)

    while todo:
        if beside is not None and (given is None or given[1].done()):
            written += [finish(*given)] if given else []
            given = _given(beside, con, month, todo[-1], folder)
            if given is not None:
                todo.pop()
            else:
                beside = None
        if todo:
            definition = todo.popleft()
            if progress:
                progress(f"writing {definition.stem}.xlsx")
            written.append(_write_one(con, month, definition, folder))
    written += [finish(*given)] if given else []
    return sorted(written, key=lambda one: one.name)


def _given(
    beside: Executor, con: duckdb.DuckDBPyConnection, month: str, definition: Path, folder: Path
) -> tuple[Path, Future[Written]] | None:
    """A workbook handed to the other process; None where something ended that."""
    query = "select path from duckdb_databases() where database_name = current_database()"
    [(database,)] = con.execute(query).fetchall()
    try:
        return definition, beside.submit(_write_from, database, month, definition, folder)
    except BrokenExecutor:
        return None


def _write_from(database: str, month: str, definition: Path, folder: Path) -> Written:
    import duckdb

    with duckdb.connect(database, read_only=True) as con:
        return _write_one(con, month, definition, folder)


def _write_one(con: duckdb.DuckDBPyConnection, month: str, definition: Path, folder: Path) -> Written:
    name = f"{definition.stem}.xlsx"
    workbook = build(con, month, definition)
    try:
        write_workbook(workbook, folder / name)
    except OSError as error:
        return Written.failed(name, error)
    return Written(name, folder / name)


def build(con: duckdb.DuckDBPyConnection, month: str, definition: Path) -> Workbook:
    """The content of one workbook of one month, as its definition says; raises ReportError as `write` does."""
    import duckdb

    try:
        spec = tomllib.loads(definition.read_text(encoding="utf-8"))
        [(name, currency)] = con.execute("select name, currency from result.books").fetchall()
        books = Books(name, currency, month)
        notes = duty_notes(con)
        sheets = tuple(
            _sheet(con, books, sheet, spec, definition.stem, notes[sheet.get("duty", "none")])
            for sheet in spec["sheets"]
        )
    except (duckdb.Error, KeyError, TypeError, ValueError) as error:
        raise ReportError(f"reports/{definition.name}: {error!r}") from error
    return Workbook(
        title=f"{spec['title']}, {books.month_in_words}",
        subject=books.name,
        sheets=sheets,
        stamp=datetime.combine(books.last_day, time()),
        program=f"brewcost {__version__}",
    )


def _sheet(
    con: duckdb.DuckDBPyConnection,
    books: Books,
    spec: Mapping[str, Any],
    workbook: Mapping[str, Any],
    stem: str,
    of_duty: tuple[str, ...],
) -> Sheet:
    first = bool(spec.get("first"))
    drawn = (
        (table, _table(con, books, table, _table_name(stem, spec["name"], index)))
        for index, table in enumerate(_each(con, books, spec["tables"]))
    )
    tables = tuple(made for table, made in drawn if made.rows or not table.get("skip_if_empty"))
    says = tuple((books.fill(line), False) for line in spec.get("says", ()))
    if first:
        title = f"{workbook['title']}, {books.month_in_words}"
        lines = (*_state_lines(con, books), *says)
        notes = tuple(f"Caution: {books.fill(line)}" for line in workbook.get("cautions", ()))
    else:
        title = f"{spec['title']}, {books.month_in_words}"
        sources = list(dict.fromkeys(table["table"] for table in spec["tables"]))
        lines, notes = says, (f"Table{'s' * (len(sources) > 1)}: {', '.join(sources)}.",)
    return Sheet(
        name=spec["name"],
        title=title,
        lines=lines,
        tables=tables,
        notes=(*map(books.fill, spec.get("notes", ())), *notes, *of_duty),
        frozen=not first,
    )


def _each(
    con: duckdb.DuckDBPyConnection, books: Books, specs: Sequence[Mapping[str, Any]]
) -> Iterator[Mapping[str, Any]]:
    """The tables of a sheet; one that says `per` stands there once for each value of that column, in `per_order`, and with
    it those after it that say `with_previous`."""
    for index, spec in enumerate(specs):
        if "per" not in spec:
            yield spec
            continue
        if spec.get("with_previous"):
            continue
        page = [spec, *takewhile(lambda later: later.get("with_previous"), specs[index + 1 :])]
        column = spec["per"]
        in_order = _Rows.shown(con, books.month, {**spec, "order": spec.get("per_order", [column]), "limit": None})
        found = dict.fromkeys(value for (value,) in in_order.read([column]))
        if not found:
            yield {key: value for key, value in spec.items() if key != "charts"} | {"title": ""}
        read = [_read_by(con, books, part, column) for part in page]
        for value in found:
            for part, rows in zip(page, read, strict=True):
                charts = [chart | {"title": chart["title"].replace("{per}", value)} for chart in part.get("charts", ())]
                title = part.get("title", "{per}" if part is spec else "").replace("{per}", value)
                shown = rows.get(value, [])[: part.get("limit")]
                yield {**part, "title": title, "charts": charts, "only": value, "rows": shown}


def _read_by(
    con: duckdb.DuckDBPyConnection, books: Books, spec: Mapping[str, Any], column: str
) -> dict[Any, list[tuple[Any, ...]]]:
    """A table's rows for every value of a column, read at once: a page each would be a query each."""
    rows: dict[Any, list[tuple[Any, ...]]] = {}
    for value, *row in _Rows.shown(con, books.month, {**spec, "limit": None}).read([column, *_names(spec)]):
        rows.setdefault(value, []).append(tuple(row))
    return rows


def _table_name(stem: str, sheet: str, index: int) -> str:
    """A name no other table of the workbook has, and that no spreadsheet program takes for a cell."""
    name = f"{stem}_{sheet}".replace("-", "_").replace(" ", "_")
    return name if index == 0 else f"{name}_{index + 1}"


def _table(con: duckdb.DuckDBPyConnection, books: Books, spec: Mapping[str, Any], name: str) -> Table:
    source = _Rows.shown(con, books.month, spec)
    row_kinds: list[str] = []
    if "pivot" in spec:
        columns, rows = _pivot(source, spec, books)
    else:
        # A page a lot has its rows already.
        found = spec["rows"] if "rows" in spec else source.read(_names(spec))
        columns, rows = _plain(found, spec, books)
        row_kinds = [UNIT_KINDS.get(row[-1], "money") for row in found] if "unit" in spec else []
    return Table(
        name=name,
        title=books.fill(spec.get("title", "")),
        columns=tuple(columns),
        rows=rows,
        totals=_totals(source, spec, books, columns) if rows else None,
        live=bool(spec.get("live")),
        empty=spec.get("empty", "none this month"),
        row_kinds=row_kinds,
        notes=tuple(map(books.fill, spec.get("notes", ()))),
        charts=tuple(
            _drawable(_chart(chart, spec, books), columns, rows)
            for chart in spec.get("charts", ())
            if len(rows) > 1 or chart["kind"] != "line"
        ),
        new_page=bool(spec.get("new_page")),
    )


def _names(spec: Mapping[str, Any]) -> list[str]:
    """The columns that are read of a table: those shown, then the one that says each row's unit."""
    return [*(column["name"] for column in spec["columns"]), *([spec["unit"]] if "unit" in spec else [])]


@dataclass(frozen=True)
class _Rows:
    """The rows of a table that a month's workbook shows, asked for in one statement each time: what to select of them, and how
    they are ordered. The names are those of the files under reports/."""

    con: duckdb.DuckDBPyConnection
    source: str
    values: tuple[Any, ...]
    order: str

    @classmethod
    def shown(cls, con: duckdb.DuckDBPyConnection, month: str, spec: Mapping[str, Any]) -> _Rows:
        """The month's own rows, those so far, or (no months kept) all; of a page, those of its own value."""
        months = spec.get("months", "this")
        if months not in _MONTHS:
            raise ValueError(f"months = {months!r}; expected {', '.join(_MONTHS)}")
        tests = [(_MONTHS[months], month)] if _MONTHS[months] else []
        if "only" in spec:
            tests.append((f"{_quoted(spec['per'])} = ?", spec["only"]))
        where = " where " + " and ".join(test for test, _ in tests) if tests else ""
        order = " order by " + ", ".join(map(_sort_key, spec["order"])) if "order" in spec else ""
        limit = f" limit {spec['limit']:d}" if spec.get("limit") else ""
        return cls(con, f" from {spec['table']}{where}", tuple(value for _, value in tests), order + limit)

    def read(self, names: Sequence[str]) -> list[tuple[Any, ...]]:
        """These columns of the rows in their order."""
        return self._asked(", ".join(map(_quoted, names)), self.order)

    def total(self, sums: Sequence[str]) -> tuple[Any, ...]:
        """Sums over all the rows."""
        return self._asked(", ".join(sums), "")[0]

    def records(self) -> list[dict[str, Any]]:
        """All columns by name."""
        rows = self._asked("*", self.order)
        names = [column[0] for column in self.con.description or ()]
        return [dict(zip(names, row, strict=True)) for row in rows]

    def _asked(self, what: str, order: str) -> list[tuple[Any, ...]]:
        return self.con.execute(f"select {what}{self.source}{order}", self.values).fetchall()


_MONTHS = {"this": "month = ?", "so far": "month <= ?", "all": ""}


def _quoted(name: str) -> str:
    return f'"{name}"'


def _sort_key(name: str) -> str:
    return f"{_quoted(name.removeprefix('-'))} {'desc' if name.startswith('-') else 'asc'} nulls last"


def _specs(spec: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for column in spec["columns"]:
        if unknown := set(column) - _COLUMN_KEYS:
            raise ValueError(f"unknown column keys {sorted(unknown)}")
        if column.get("kind", "text") not in (*FORMATS, "by row"):
            raise ValueError(f"unknown kind {column['kind']!r}")
        yield column


def _plain(
    rows: Sequence[tuple[Any, ...]], spec: Mapping[str, Any], books: Books
) -> tuple[list[Column], list[list[Value]]]:
    specs = list(_specs(spec))
    kept = [
        index
        for index, column in enumerate(specs)
        if not column.get("drop_if_zero") or any(row[index] not in (None, 0) for row in rows)
    ]
    headings = {column["name"]: books.fill(column["heading"]) for column in specs}
    columns = [_make_column(specs[index], headings) for index in kept]
    return columns, [[row[index] for index in kept] for row in rows]


def _make_column(spec: Mapping[str, Any], headings: Mapping[str, str]) -> Column:
    total = None
    if "total" in spec:
        function, *names = spec["total"]
        shown = all(name in headings for name in names)
        total = Total(function, tuple(headings[name] for name in names) if shown else ())
    return Column(
        heading=headings[spec["name"]],
        kind=spec.get("kind", "text"),
        total=total,
        strong=tuple(spec.get("strong", ())),
    )


def _pivot(source: _Rows, spec: Mapping[str, Any], books: Books) -> tuple[list[Column], list[list[Value]]]:
    """A column a month, the latest ones; the rows in the order in which their keys first occur."""
    specs, value = list(_specs(spec)), spec["pivot"]["value"]
    keys = [column["name"] for column in specs]
    found = source.read(["month", value, *keys])
    months = sorted({row[0] for row in found})[-SIDE_BY_SIDE:]
    lines: dict[tuple[Any, ...], dict[str, Value]] = {}
    for month, figure, *key in found:
        if month in months:
            lines.setdefault(tuple(key), {})[month] = figure
    headings = {column["name"]: books.fill(column["heading"]) for column in specs}
    columns = [_make_column(column, headings) for column in specs]
    columns += [Column(heading=month, kind=spec["pivot"].get("kind", "money")) for month in months]
    return columns, [[*key, *(line.get(month) for month in months)] for key, line in lines.items()]


def _totals(
    source: _Rows, spec: Mapping[str, Any], books: Books, columns: Sequence[Column]
) -> list[Value] | None:
    """Each column's total, computed by the database over the rows shown; None where no column has one."""
    wanted = [column for column in _specs(spec) if "total" in column]
    if not wanted:
        return None
    sums = []
    for column in wanted:
        function, *names = column["total"]
        sums.append(f"{function}({', '.join(map(_quoted, names or [column['name']]))})")
    figures = dict(zip((books.fill(column["heading"]) for column in wanted), source.total(sums), strict=True))
    return [figures.get(column.heading) for column in columns]


def _chart(spec: Mapping[str, Any], table: Mapping[str, Any], books: Books) -> Chart:
    headings = {column["name"]: books.fill(column["heading"]) for column in table["columns"]}
    rest = {key: value for key, value in spec.items() if key not in ("category", "values", "axis", "title", "bounds", "marked")}
    return Chart(
        title=books.fill(spec["title"]),
        category=headings[spec["category"]],
        values=tuple(headings[name] for name in spec["values"]),
        bounds=tuple(headings[name] for name in spec.get("bounds", ())),
        marked=headings.get(spec.get("marked", ""), ""),
        axis=books.fill(spec["axis"]),
        **rest,
    )


def _drawable(chart: Chart, columns: Sequence[Column], rows: Sequence[Sequence[Value]]) -> Chart:
    """The chart without columns that hold nothing, whose colour would stand in the legend all the same."""
    if len(chart.values) == 1:
        return chart
    filled = {column.heading for index, column in enumerate(columns) if any(row[index] for row in rows)}
    return replace(chart, values=tuple(heading for heading in chart.values if heading in filled) or chart.values[:1])


def _state_lines(con: duckdb.DuckDBPyConnection, books: Books) -> Iterator[tuple[str, bool]]:
    """Whose month it is and the state of the books, in words."""
    units = f"Amounts in {books.currency}, beer barrels (bbl) of 31 US gallons."
    yield f"{books.name}. {units} brewcost {__version__}.", False
    state = _records(con, "report.state", books.month, ["month"])
    if not state:
        yield f"Nothing is recorded for {books.month_in_words}.", True
        return
    now = state[0]
    failing, errors, earlier = now["failing_count"], now["errors_count"], now["earlier_errors_count"]
    controls = "no control was computed"
    if now["controls_count"]:
        controls = f"all {now['controls_count']} controls hold"
    if failing:
        controls = f"{failing} of {now['controls_count']} controls FAIL"
    items = _records(con, "report.checklist", books.month, ["place"])
    yield (
        f"{_fit(items)}: {controls}; {counted(errors, 'error')}"
        f"{f' and {earlier} in earlier months' if earlier else ''}, {counted(now['warnings_count'], 'warning')}; "
        f"{now['rows_set_aside']:,} of {counted(now['rows_read'], 'row')} set aside.", True
    )  # fmt: skip
    if left := [item for item in items if item["state"] != "done" and not item["stops"] and item["item"] != CLOSED]:
        named = "; ".join(f"{item['item']}: {item['done_count']:,} of {item['all_count']:,}" for item in left)
        yield f"Open, and no bar to the close: {named}.", False
    failed = _records(con, "report.failed_controls", books.month, ["place", "subject"])
    for row in failed[:LISTED]:
        what = f"{row['control']} {row['about'] or ''} FAILS for {row['subject'] or 'the books'}"
        figures = [_figure(row[name]) for name in ("expected", "actual", "difference")]
        yield f"{what}: expected {figures[0]}, found {figures[1]}, difference {figures[2]}.", True
    if len(failed) > LISTED:
        yield f"... and {len(failed) - LISTED} more: sheet failed controls of month-close.xlsx.", True
    codes = _records(con, "report.finding_codes", books.month, ["severity", "-finding_count", "code"])
    if codes:
        named = ", ".join(f"{row['code']} {row['finding_count']}" for row in codes[:LISTED])
        more = f", {len(codes) - LISTED} more kinds" if len(codes) > LISTED else ""
        yield f"Findings: {named}{more}; each with file and row on sheet to put right of month-close.xlsx.", False


def _fit(items: Sequence[Mapping[str, Any]]) -> str:
    """Whether the month can be closed, by its checklist: what stops `brewcost close` stands in it."""
    closed = next(item for item in items if item["item"] == CLOSED)
    if closed["state"] == "done":
        return f"Closed {closed['detail']}"
    stopped = [item for item in items if item["stops"]]
    if not stopped:
        return "Fit to close"
    if [item["item"] for item in stopped] == [EARLIER]:
        return f"Fit to close once the months before it are ({stopped[0]['detail']})"
    return "NOT fit to close"


def _records(
    con: duckdb.DuckDBPyConnection, table: str, month: str, order: Sequence[str]
) -> list[dict[str, Any]]:
    return _Rows.shown(con, month, {"table": table, "order": order}).records()


def _figure(value: Decimal | None) -> str:
    return "nothing" if value is None else f"{value.normalize():,f}"
