"""The records: every file under inputs/ read, typed, checked and handed to the database as `given_*` frames."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import filled_in, names, rules
from brewcost.cells import Table, read_cells
from brewcost.intake import read
from brewcost.kinds import Kind, dictionary
from brewcost.problems import COLUMNS, Problem, as_rows, found
from brewcost.settings_model import Settings
from brewcost.text_rows import Intake, Sheet, as_heading

if TYPE_CHECKING:
    import duckdb
    import polars as pl

TOTALS = r"^totals?:?$"
MANY = 100_000  # rows


def register(con: duckdb.DuckDBPyConnection, folder: Path, settings: Settings) -> None:
    """Read every file under folder/inputs and register what sql/20_records reads.

    Registers one `given_KIND` frame a kind of record (file, sheet, row, accepted and a typed column a field, quantities
    still in the units they were written in), `given_rows` (every row read and what became of it), `given_sheets` (rows
    read by file and sheet) and `given_problems`. Bad records raise nothing: they are set aside and listed.

    Args:
        con: an open database.
        folder: the brewery's folder.
        settings: its brewery.toml.
    """
    load(con, read(folder / "inputs", settings.number_style), settings)


def load(con: duckdb.DuckDBPyConnection, intake: Intake, settings: Settings) -> None:
    """The same, of files already read."""
    import polars as pl

    problems = list(intake.problems)
    parts = [(sheet.kind.name, *_rows(sheet, settings, problems)) for sheet in intake.sheets]
    states = [state for _, state, _ in parts]
    tables = {
        name: read_cells(
            kind, _numbered(kind, [text for of, _, text in parts if of == name]), settings.number_style, settings.first_day
        )
        for name, kind in dictionary().kinds.items()
    }
    accepted, replaced = _check(con, tables, settings)
    problems = _still_there(problems, intake.sheets, states, replaced)
    _hand_over(con, "given_problems", _problems(tables, problems))
    _hand_over(con, "given_rows", _raw_rows(intake.sheets, states, tables, accepted, replaced))
    read_rows = [(sheet.file, sheet.sheet, sheet.kind.name, sheet.cells.height) for sheet in intake.sheets]
    schema = {"file": pl.String, "sheet": pl.String, "kind": pl.String, "rows_read": pl.Int64}
    _hand_over(con, "given_sheets", pl.DataFrame(read_rows, schema=schema, orient="row"))
    # What is handed over is let go of here, so that it is not held twice.
    del intake, states, parts
    for name in list(tables):
        typed = tables.pop(name).typed.select(pl.exclude("i"), accepted[name].alias("accepted"))
        _hand_over(con, f"given_{name}", typed)


def _still_there(
    problems: Sequence[Problem], sheets: Sequence[Sheet], states: Sequence[pl.DataFrame], replaced: Mapping[str, pl.DataFrame]
) -> list[Problem]:
    """The findings but those of rows that were handed in again."""
    import polars as pl

    gone: set[tuple[object, ...]] = {place for frame in replaced.values() for place in frame.iter_rows()}
    # Where every record of a sheet was handed in again, its headings are as good as put right.
    mended = {(file, sheet) for file, sheet, _ in gone}
    for sheet, state in zip(sheets, states, strict=True):
        place = (sheet.file, sheet.sheet)
        if place in mended and all((*place, row) in gone for row in state.filter(pl.col("state") == "record")["row"]):
            gone.add((*place, 1))
    return [problem for problem in problems if (problem.file, problem.sheet, problem.row) not in gone]


def _hand_over(con: duckdb.DuckDBPyConnection, name: str, frame: pl.DataFrame) -> None:
    """A frame under a name; where it has many rows they become the database's own, which can put them out of memory."""
    if frame.height < MANY:
        con.register(name, frame.to_arrow())
        return
    con.register("frame", frame.to_arrow())
    con.execute(f"create temp table {name} as from frame")
    con.unregister("frame")


def _rows(sheet: Sheet, settings: Settings, problems: list[Problem]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Match the headings, sort out rows that are no records, and name the columns after the fields.

    Returns:
        file, sheet, row, kind and state of every row; and the records' text as `Table.text` without i.
    """
    import polars as pl

    kind, cells = sheet.kind, sheet.cells
    columns, absent, stray = _headings(sheet, settings, problems)
    first = pl.col(cells.columns[0]).str.to_lowercase() if cells.width else pl.lit(None, pl.String)
    state = (
        pl.when(pl.all_horizontal(pl.all().is_null())).then(pl.lit("blank"))
        .when(first.str.starts_with("example")).then(pl.lit("example"))
        .when(first.str.contains(TOTALS)).then(pl.lit("totals"))
        .otherwise(pl.lit("record"))
    )  # fmt: skip
    rows = cells.with_columns(
        sheet.rows(),
        state.alias("state") if cells.width else pl.lit("blank").alias("state"),
    )
    set_aside = _stray_cells(sheet, rows, stray, problems)
    set_aside += [problem.row for problem in sheet.broken if problem.row]
    problems += sheet.broken
    records = rows.filter(pl.col("state") == "record")
    places = {"file": pl.lit(sheet.file, pl.String), "sheet": pl.lit(sheet.sheet, pl.String), "row": pl.col("row")}
    origin = places
    if sheet.origins is not None:
        records = records.join(sheet.origins, on="row", how="left", maintain_order="left")
        origin = {name: pl.col(f"of_{name}") for name in places}
    only = settings.sites[0].site if len(settings.sites) == 1 else None
    fields = {
        field.name: pl.col(cells.columns[columns[field.name]]) if field.name in columns else pl.lit(None, pl.String)
        for field in kind.fields
    }
    if only and kind.has("site") and kind.field("site").required:
        fields["site"] = fields["site"].fill_null(only)
    text = records.select(
        **places,
        **{f"of_{name}": place for name, place in origin.items()},
        aside=pl.lit(bool(absent)) | pl.col("row").is_in(set_aside),
        absent=pl.lit(absent, pl.List(pl.String)),
        **fields,
    )
    return rows.select(**places, kind=pl.lit(kind.name), state="state"), text


def _headings(
    sheet: Sheet, settings: Settings, problems: list[Problem]
) -> tuple[dict[str, int], list[str], list[int]]:
    """Where each field's column is, the required fields without one, and the columns that have no heading."""
    kind = sheet.kind
    places: dict[str, int] = {}
    absent: list[str] = []
    stray: list[int] = []

    def say(code: str, message: str, name: str, expected: str, action: str) -> None:
        problems.append(found(code, message, file=sheet.file, sheet=sheet.sheet, row=1, field=name, value=name,
                              expected=expected, action=action))  # fmt: skip

    for place, heading in enumerate(sheet.headings):
        if heading is None:
            stray.append(place)
            continue
        name = as_heading(heading)
        if not kind.has(name):
            say("unknown-column", f"{kind.name} have no column `{heading}`; it is not read", heading,
                "one of " + ", ".join(field.name for field in kind.fields),
                "mend its name, or take it out")  # fmt: skip
        elif name in places:
            say("repeated-column", f"the column `{heading}` stands twice", name, "each column once",
                "take one of them out")  # fmt: skip
            absent.append(name)
        else:
            places[name] = place
    for field in kind.fields:
        optional = field.name == "site" and len(settings.sites) == 1
        needed = field.required or field.name in (kind.required_unless or {})
        if needed and field.name not in places and not optional:
            say("missing-column", f"the column `{field.name}` is missing; every row is set aside", field.name,
                f"a column {field.name} in row 1", "write the column names into row 1")  # fmt: skip
            absent.append(field.name)
    return places, absent, stray


def _stray_cells(sheet: Sheet, rows: pl.DataFrame, stray: Sequence[int], problems: list[Problem]) -> list[int]:
    """Cells without a heading. In a csv file, right of the headings, a stray separator has pushed the row's cells to
    the right, so the row is set aside; elsewhere they are remarks and are named once.

    Returns:
        The numbers of the rows set aside.
    """
    import polars as pl

    named = [place for place, heading in enumerate(sheet.headings) if heading]
    last = max(named, default=-1)
    set_aside: list[int] = []
    for place in stray:
        column = sheet.cells.columns[place]
        filled = rows.filter(pl.col(column).is_not_null() & (pl.col("state") == "record")).select("row", column)
        if filled.height == 0:
            continue
        if sheet.sheet is None and place > last:
            fresh = filled.filter(~pl.col("row").is_in(set_aside))
            for row, value in fresh.iter_rows():
                problems.append(found("extra-cell", f'"{value}" stands right of the last heading', file=sheet.file,
                                      row=row, field=f"column {place + 1}", value=value,
                                      expected="as many cells as headings",
                                      action="put a text with a separator in it between quotation marks"))  # fmt: skip
            set_aside += fresh["row"].to_list()
        else:
            problems.append(found("no-heading", f"column {place + 1} has no heading; it is not read", file=sheet.file,
                                  sheet=sheet.sheet, row=1, field=f"column {place + 1}", value=filled[column][0],
                                  expected="a heading in row 1", action="name it, or take it out"))  # fmt: skip
    return set_aside


def _numbered(kind: Kind, texts: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """The rows of all files of a kind, numbered in the order in which they first stood; none where there is no file."""
    import polars as pl

    place = {"file": pl.String, "sheet": pl.String, "row": pl.Int64}
    schema: dict[str, Any] = place | {f"of_{name}": text for name, text in place.items()}
    schema |= {"aside": pl.Boolean, "absent": pl.List(pl.String)}
    schema |= {field.name: pl.String for field in kind.fields}
    text = pl.concat(texts, rechunk=True) if texts else pl.DataFrame(schema=schema)
    claimed = pl.lit(False)
    if text.select(_mends().any()).item():
        mends = text.filter(_mends()).select(pl.col("of_file", "of_sheet", "of_row").name.map(lambda name: name[3:])).unique()
        text = text.sort("of_file", "of_sheet", "of_row", maintain_order=True, nulls_last=False)
        text = text.join(mends.with_columns(pl.lit(True).alias("claimed")), on=["file", "sheet", "row"], how="left",
                         nulls_equal=True, maintain_order="left")  # fmt: skip
        claimed = pl.col("claimed").fill_null(False)
    return text.with_columns(claimed.alias("claimed")).with_row_index("i")


def _mends() -> pl.Expr:
    """Whether a row was handed in again in the place of another."""
    import polars as pl

    return (pl.col("file") != pl.col("of_file")) | (pl.col("row") != pl.col("of_row"))


def _check(
    con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table], settings: Settings
) -> tuple[dict[str, pl.Series], dict[str, pl.DataFrame]]:
    """Everything that is checked across cells, rows and kinds.

    Returns:
        of each kind, whether each row is accepted; and file, sheet and row of those that a mended row took the place of.
    """
    import polars as pl

    filled_in.fill(tables)
    rules.within_rows(tables)
    names.resolve(con, tables, names.known_names(tables, settings))
    names.material_units(tables)
    names.pools_in_force(tables, settings)
    names.invoiced_materials(tables)
    replaced = {name: _replace(table) for name, table in tables.items()}
    rules.lines_of_runs(tables)
    rules.runs_of_one_day(tables["packaging"], tables["packaging"].in_error())
    accepted: dict[str, pl.Series] = {}
    for name, table in tables.items():
        later = rules.duplicates(table)
        accepted[name] = ~table.text["i"].is_in(pl.concat([table.in_error(), later]).implode())
    for name in rules.PAPERS:
        rules.identical(tables[name], accepted[name])
    names.naming_set_aside(tables, accepted)
    return accepted, replaced


def _replace(table: Table) -> pl.DataFrame:
    """Take out the rows in error for which a mended row was handed in, and those that were handed in as they stand: they
    may have been set aside for another row. Else a mended row of which the original is in order, or that stands twice,
    is an error itself.

    Returns:
        file, sheet and row of those taken out.
    """
    import polars as pl

    text, place = table.text, ["file", "sheet", "row"]
    none = text.head(0).select(place)
    if not text.select(_mends().any()).item():
        return none
    mends = text.filter(_mends())
    # A mended row bears the number of the row it stands for; that is no second document.
    twice = rules.standing_twice(table, text["i"].filter(text.select(~_mends()).to_series()))
    cells = [entry.name for entry in table.kind.fields]
    handed_in = mends.select(*cells, *(pl.col(f"of_{name}").alias(name) for name in place))
    alike = text.join(handed_in, on=[*place, *cells], nulls_equal=True, how="semi")["i"]
    wrong = pl.concat([table.in_error(), twice, alike])
    wrong = text["i"].is_in(wrong.implode())
    gone = text.filter(pl.col("claimed") & wrong)
    sound = text.filter(pl.col("claimed") & ~wrong).select("file", "sheet", "row", pl.lit(True).alias("sound"))
    of = ["of_file", "of_sheet", "of_row"]
    again = mends.select("i", *of).join(sound, left_on=of, right_on=place, how="left", nulls_equal=True)
    late = pl.concat([again.filter(pl.col("sound")).select("i"), again.filter(~pl.struct(of).is_first_distinct()).select("i")])
    sheet = pl.format(" sheet {}", "of_sheet").fill_null("")
    table.find(text["i"].is_in(late["i"].implode()), "nothing-to-mend", "from_row",
               pl.format("{}{} row {} is in order, or was mended already", "of_file", sheet, "of_row"),
               "a row that was set aside", "take this row out, or mend that one in its own file")  # fmt: skip
    keep = ~text["i"].is_in(gone["i"].implode())
    table.text, table.typed = table.text.filter(keep), table.typed.filter(keep)
    table.findings = [frame.filter(~pl.col("i").is_in(gone["i"].implode())) for frame in table.findings]
    return gone.select(place)


def _problems(tables: Mapping[str, Table], problems: Sequence[Problem]) -> pl.DataFrame:
    """All findings as one frame with the columns of a problem, by place; the month is the row's own."""
    import polars as pl

    whole: dict[str, Any] = {name: pl.Int64 if name == "row" else pl.String for name in COLUMNS}
    frames = [pl.DataFrame(as_rows(problems), schema=whole, orient="row")]
    for table in tables.values():
        if not table.findings:
            continue
        dated = table.kind.dated_by
        month = pl.lit(None, pl.String)
        if dated:
            month = pl.col(dated.name) if dated.type == "month" else pl.col(dated.name).dt.strftime("%Y-%m")
        places = table.typed.select("i", "file", "sheet", "row", month.alias("month"))
        frames.append(pl.concat(table.findings).join(places, on="i").select(COLUMNS))
    return pl.concat(frames).sort("file", "sheet", "row", "field", "code", nulls_last=False)


def _raw_rows(
    sheets: Sequence[Sheet], states: Sequence[pl.DataFrame], tables: Mapping[str, Table],
    accepted: Mapping[str, pl.Series], replaced: Mapping[str, pl.DataFrame],
) -> pl.DataFrame:  # fmt: skip
    """Every row read: file, sheet, row, kind, state, and the text of those that did not become a record."""
    import polars as pl

    schema = {"file": pl.String, "sheet": pl.String, "row": pl.Int64, "kind": pl.String, "state": pl.String}
    place = ["file", "sheet", "row"]
    aside = [table.text.filter(~accepted[kind]).select(place) for kind, table in tables.items() if not accepted[kind].all()]
    fates = pl.concat([
        *(frame.with_columns(pl.lit("set aside").alias("fate")) for frame in aside),
        *(frame.with_columns(pl.lit("replaced").alias("fate")) for frame in replaced.values() if frame.height),
        pl.DataFrame(schema={name: schema[name] for name in place} | {"fate": pl.String}),
    ])  # fmt: skip
    became = pl.concat([pl.DataFrame(schema=schema), *states]).join(
        fates, on=place, how="left", nulls_equal=True, maintain_order="left"
    )
    state = pl.when(pl.col("state") != "record").then(pl.col("state")).otherwise(pl.col("fate").fill_null("accepted"))
    became = became.select(*place, "kind", state.alias("state"))
    kept = became.filter(pl.col("state").is_in(["set aside", "replaced", "example", "totals"])).select(place)
    rows_of = {(file, sheet): rows["row"].to_list() for (file, sheet), rows in kept.group_by("file", "sheet")}
    cells = [text for sheet in sheets for text in _as_read(sheet, rows_of.get((sheet.file, sheet.sheet), ()))]
    kept = kept.with_columns(pl.Series("cells", cells, pl.String))
    return became.join(kept, on=place, how="left", nulls_equal=True, maintain_order="left")


def _as_read(sheet: Sheet, rows: Sequence[int]) -> list[str]:
    """The cells of some rows as JSON, under the headings of the file."""
    if not rows:
        return []
    titles: list[str] = []
    for place, heading in enumerate(sheet.headings):
        title = heading or f"column {place + 1}"
        titles.append(title if title not in titles else f"{title} ({place + 1})")
    chosen = sheet.cells.filter(sheet.rows().is_in(list(rows)))
    if sheet.origins is not None:
        titles += ["from_file", "from_sheet", "from_row"]
        chosen = chosen.hstack(sheet.origins.filter(sheet.rows().is_in(list(rows))).drop("row"))
    return [
        json.dumps({title: cell for title, cell in zip(titles, cells, strict=False) if cell}, ensure_ascii=False)
        for cells in chosen.iter_rows()
    ]
