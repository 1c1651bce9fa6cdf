"""The commands: parse, call one function, print. Results on stdout; progress and findings on stderr.

Exit: 0 done; 1 a finding of severity error, a failed control, or a file, folder or disk that cannot be used; 2 wrong usage;
3 a fault of the program; 130 stopped with Ctrl-C.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
import time
import traceback
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from brewcost import __version__

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from brewcost.books import Books
    from brewcost.pipeline import Outcome
    from brewcost.write_workbook import Written

FAULT_LOG = "brewcost-fault.log"
DEMO = "demo-brewery"
LINES_BESIDE = 7  # of a screen: what is left out, how to see all, the state of the books, the next prompt


class Progress:
    """What is being done, on one line of a terminal that is overwritten; silent elsewhere and for the first second."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()
        self.since = time.monotonic()
        self.width = 0

    def __call__(self, doing: str) -> None:
        if self.shown and time.monotonic() - self.since > 1:
            line = f"{doing} ..."
            click.echo("\r" + line.ljust(self.width), nl=False, err=True)
            self.width = len(line)

    def done(self) -> None:
        if self.width:
            click.echo("\r" + " " * self.width + "\r", nl=False, err=True)
            self.width = 0


class _Month(click.ParamType):  # type: ignore[type-arg]  # older versions of click take none
    name = "month"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", value):
            self.fail(f"{value!r} is no month such as 2026-03", param, ctx)
        return value


def _reason(ctx: click.Context, param: click.Parameter, why: str) -> str:
    if not why.strip():
        raise click.UsageError("say why: --why TEXT")
    return why.strip()


folder_option = click.option(
    "--folder", type=click.Path(path_type=Path, exists=True, file_okay=False), default=Path(),
    help="The brewery's folder (default: this one).",
)  # fmt: skip
json_option = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="brewcost")
def cli() -> None:
    """What a brewery's beer cost, where its volume went and what duty is owed on it, from its own records."""


@cli.command()
@folder_option
@json_option
@click.option("--all", "show_all", is_flag=True, help="Print every finding, not a screenful.")
@click.option(
    "--set-aside", type=click.Path(path_type=Path, dir_okay=False), help="Write the rows that were set aside to a file."
)
def check(folder: Path, as_json: bool, show_all: bool, set_aside: Path | None) -> None:
    """Load what is in inputs/, compute every month, show each finding and control."""
    books, outcome = _build(folder)
    if set_aside is not None:
        from brewcost.set_aside import write

        with contextlib.closing(books.reading()) as con:
            click.echo(f"{set_aside}: {write(con, set_aside)} rows set aside", err=True)
    if as_json:
        click.echo(json.dumps(_as_json(books, outcome), ensure_ascii=False, indent=2, default=str))
    else:
        _say_findings(outcome, show_all)
        _say_state(books, outcome)
    sys.exit(0 if outcome.good else 1)


@cli.command()
@click.argument("code")
@click.argument("file", required=False)
@click.argument("row", required=False, type=int)
@click.option("--why", required=True, metavar="TEXT", callback=_reason, help="The reason; it stands on month-close.xlsx.")
@click.option("--who", metavar="NAME", help="Who accepts it (default: the user of this computer).")
@click.option("--sheet", metavar="NAME", help="The sheet, where the file has several.")
@click.option("--field", metavar="NAME", help="The field, where more than one finding fits.")
@click.option("--month", metavar="MONTH", help="Its month, 2026-03, likewise.")
@click.option("--value", metavar="TEXT", help="What stood there, likewise.")
@folder_option
def accept(
    code: str, file: str | None, row: int | None, why: str, who: str | None, folder: Path, **more: str | None
) -> None:
    """Accept a warning: CODE FILE ROW as it is printed. It is kept in accepted.csv; an error cannot be accepted."""
    import getpass

    from brewcost import acceptances

    books, outcome = _build(folder)
    if who is None:
        with contextlib.suppress(Exception):  # a computer without a user's name
            who = getpass.getuser()
    try:
        one = acceptances.accept(books.folder, outcome.problems, code, {"file": file, "row": row, **more}, why, who or "",
                                 datetime.now().date())  # fmt: skip
    except acceptances.AcceptError as error:
        raise click.UsageError(str(error)) from None
    click.echo(f"accepted: {one}")


@cli.command()
@click.argument("month", required=False, type=_Month())
@folder_option
@json_option
def report(month: str | None, folder: Path, as_json: bool) -> None:
    """Check, then write the workbooks of MONTH (2026-03; default: the latest month with records) into out/MONTH/."""
    from brewcost.beside import second_process

    with second_process() as beside:
        books, outcome = _build(folder)
        month = _chosen_month(month, outcome)
        written = _write_workbooks(books, month, beside)
    if as_json:
        files = [{"name": one.name, "path": one.path, "message": one.message} for one in written]
        click.echo(
            json.dumps(_as_json(books, outcome) | {"month": month, "workbooks": files}, ensure_ascii=False, indent=2,
                       default=str)
        )  # fmt: skip
    else:
        _say_findings(outcome, False)
        _say_state(books, outcome)
        for one in written:
            click.echo(one.path or one.message)
    _end(outcome, written)


@cli.command("what-if")
@click.argument("month", required=False, type=_Month())
@folder_option
@json_option
@click.option("--malt", metavar="CHANGE", help="Every malt costs that much more or less: +10%.")
@click.option("--hops", metavar="CHANGE", help="Every hop, likewise.")
@click.option("--material", nargs=2, multiple=True, metavar="NAME CHANGE", help="One material, or every one of a kind.")
@click.option("--volume", metavar="CHANGE", help="So many more or fewer of the same brews, runs and sales: +20%.")
@click.option("--price", nargs=2, multiple=True, metavar="WHAT CHANGE",
              help="Of a package, a beer, beer/package or all: +5, -3% or a new price.")  # fmt: skip
@click.option("--loss", nargs=2, multiple=True, metavar="STAGE PCT", help="The loss of a stage, % of what goes into it.")
@click.option("--rate", nargs=2, multiple=True, metavar="AREA RATE", help="The rate of duty of an area, or area/band.")
@click.option("--changes", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A TOML file with changes.")
def what_if(
    month: str | None, folder: Path, as_json: bool, malt: str | None, hops: str | None,
    material: tuple[tuple[str, str], ...], volume: str | None, price: tuple[tuple[str, str], ...],
    loss: tuple[tuple[str, str], ...], rate: tuple[tuple[str, str], ...], changes: Path | None,
) -> None:  # fmt: skip
    """The same computation on a copy of the books with something changed; MONTH as it is and as it would be."""
    from brewcost import what_if as what_ifs
    from brewcost.books import Books

    kinds = {name: value for name, value in (("malt", malt), ("hops", hops)) if value is not None}
    given = {"materials": kinds | dict(material), "prices": dict(price), "losses": dict(loss), "rates": dict(rate)}
    try:
        from_file = what_ifs.load(changes) if changes else what_ifs.Changes()
        from_options = what_ifs.parse(given if volume is None else given | {"volume": volume})
        month, lines, remarks = what_ifs.compare(Books(folder), month, what_ifs.both(from_file, from_options))
    except what_ifs.WhatIfError as error:
        raise click.UsageError(str(error)) from None
    if as_json:
        rows = [vars(line) | {"difference": line.difference} for line in lines]
        click.echo(json.dumps({"month": month, "figures": rows, "remarks": remarks}, ensure_ascii=False, indent=2, default=str))
    else:
        for text in what_ifs.shown(month, lines):
            click.echo(text)
        for text in remarks:
            click.echo(text, err=True)


@cli.command()
@click.argument("area", required=False)
@folder_option
@json_option
@click.option("--on", "on", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Only the rates in force that day.")
@click.option("--calendar", type=click.IntRange(1990, 2100), metavar="YEAR",
              help="The return periods of a year, of every length the area knows.")  # fmt: skip
def areas(area: str | None, folder: Path, as_json: bool, on: datetime | None, calendar: int | None) -> None:
    """The tax areas known; of one (US, US-ME): who the authority is, who pays, the rates and their sources."""
    from brewcost.areas_view import NoSuchArea, areas_command

    if area is None and (on or calendar):
        raise click.UsageError("--on and --calendar are of one area: brewcost areas US --calendar 2026")
    try:
        click.echo(areas_command(folder, area, on.date() if on else None, calendar, as_json))
    except NoSuchArea as error:
        raise click.UsageError(str(error)) from None


@cli.command()
@click.argument("what", nargs=-1, required=True)
@click.option("--levels", type=click.IntRange(min=0), help="So many levels below the figure; all of them otherwise.")
@folder_option
@json_option
def explain(what: tuple[str, ...], levels: int | None, folder: Path, as_json: bool) -> None:
    """From a figure back to the records behind it. WHAT is one of:

    \b
    lot LT-002 | run RN-001 | brew BR-001 | move MV-005 | shipment DN-0001
    goods "Quillmouth Pale" half_bbl 2026-02
    material "pilsner malt" 2026-02
    expense "idle capacity" 2026-02
    duty US 2026-Q1
    margin 2026-02
    margin beer|style|package|account|account-kind|area "Quillmouth Pale" 2026-02
    account 1200 2026-02
    capacity "cellar rent" 2026-02 | driver "cellar rent" 2026-02
    variance price|usage|mix|yield material|beer|brew|lot|run "pilsner malt" 2026-02
    variance purchase "aroma hops" 2026-02
    variance labour rate|efficiency brewhouse 2026-02
    variance overhead spending|efficiency|volume "boiler gas" 2026-02
    """
    from brewcost import trace

    books, _ = _build(folder)
    with contextlib.closing(books.reading()) as con:
        try:
            tree = trace.explain(con, what)
        except trace.TraceError as error:
            raise click.UsageError(str(error)) from None
    click.echo(json.dumps(tree.as_json(levels), ensure_ascii=False, indent=2) if as_json else "\n".join(tree.lines(levels)))


by_option = click.option("--by", help="Who does it (default: the name you are logged in with).")


@cli.command("close")
@click.argument("month", type=_Month())
@folder_option
@by_option
def close_month(month: str, folder: Path, by: str | None) -> None:
    """Freeze the figures of MONTH; refused while an error or a failed control stands in it or an earlier month is open."""
    from brewcost import closing

    books, outcome = _build(folder)
    month = _chosen_month(month, outcome)
    kept = closing.close(books, month, by or _login())
    click.echo(f"{month} is closed; its figures are kept in {kept}")
    _show_again(books, month)


@cli.command()
@click.argument("month", type=_Month())
@click.option("--why", required=True, metavar="TEXT", callback=_reason, help="The reason, kept with what was frozen.")
@folder_option
@by_option
def reopen(month: str, why: str, folder: Path, by: str | None) -> None:
    """Open the last closed MONTH again; what was frozen is kept with who, when and why."""
    from brewcost import closing
    from brewcost.books import Books

    books = Books(folder)
    kept = closing.reopen(books, month, by or _login(), why)
    click.echo(f"{month} is open again; what was frozen is kept in {kept}")
    _show_again(books, month)


def _show_again(books: Books, month: str) -> NoReturn:
    """Books and workbooks of a month that was closed or opened."""
    books, outcome = _build(books.folder)
    written = _write_workbooks(books, month)
    for one in written:
        click.echo(one.path or one.message)
    _end(outcome, written)


def _end(outcome: Outcome, written: list[Written]) -> NoReturn:
    sys.exit(0 if outcome.good and all(one.path for one in written) else 1)


def _login() -> str:
    """The name the user is logged in with."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        raise click.UsageError("nobody is logged in here by name; say who with --by NAME") from None


@cli.command()
@click.argument("folder", required=False, default=Path(DEMO), type=click.Path(path_type=Path))
def demo(folder: Path) -> None:
    """Copy the sample brewery (invented) into FOLDER, compute its months and write the workbooks of each."""
    from brewcost.beside import second_process
    from brewcost.start import copy_sample

    copy_sample(folder)
    with second_process() as beside:
        books, outcome = _build(folder)
        written = [one for month in outcome.months for one in _write_workbooks(books, month, beside)]
    for one in written:
        click.echo(one.path or one.message)
    _say_state(books, outcome)
    with contextlib.closing(books.reading()) as con:
        for text, value, unit in con.execute("select heading, value, unit from report.demo_figures order by place").fetchall():
            click.echo(f"{text}: {value:,.2f} {unit}")
    _end(outcome, written)


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
def start(folder: Path) -> None:
    """Make FOLDER ready for a brewery: a commented brewery.toml, and inputs/ with a blank log workbook."""
    from brewcost.start import new_folder

    for path in new_folder(folder):
        click.echo(path)


@cli.command()
@folder_option
def forms(folder: Path) -> None:
    """Write the blank log workbook again, its drop-downs filled from what the books already know."""
    from brewcost.books import Books
    from brewcost.start import new_log

    click.echo(new_log(Books(folder)))


def _build(folder: Path) -> tuple[Books, Outcome]:
    from brewcost import pipeline
    from brewcost.books import Books

    books = Books(folder)
    progress = Progress()
    try:
        return books, pipeline.build(books, progress)
    finally:
        progress.done()


def _chosen_month(month: str | None, outcome: Outcome) -> str:
    if not outcome.months:
        raise click.UsageError("there are no records yet, so there is no month to report")
    if month is None:
        return outcome.months[-1]
    if month not in outcome.months:
        raise click.UsageError(
            f"{month!r} is not a month of these books; they run from {outcome.months[0]} to {outcome.months[-1]}"
        )
    return month


def _write_workbooks(books: Books, month: str, beside: Executor | None = None) -> list[Written]:
    from brewcost import journal
    from brewcost import report as reports
    from brewcost.write_workbook import Written

    progress = Progress()
    with contextlib.closing(books.reading()) as con:
        written = reports.write(con, month, books.out, progress, beside)
        try:
            written.append(Written("journal.csv", journal.write(con, month, books.out / month)))
        except OSError as error:
            written.append(Written.failed("journal.csv", error))
    progress.done()
    return written


def _say_findings(outcome: Outcome, show_all: bool) -> None:
    import shutil

    from brewcost.problems import listing, summary

    screen = shutil.get_terminal_size()
    lines = listing(outcome.problems) if show_all else summary(
        outcome.problems, max(screen.lines - LINES_BESIDE, 5), screen.columns
    )
    for line in lines:
        click.echo(line, err=True)
    if len(lines) < len(outcome.problems) and not show_all:
        click.echo("`brewcost check --all` prints every finding; month-close.xlsx lists them too", err=True)


def _say_state(books: Books, outcome: Outcome) -> None:
    errors = sum(problem.severity == "error" for problem in outcome.problems)
    months = f"{outcome.months[0]} to {outcome.months[-1]}" if outcome.months else "no months"
    click.echo(f"{books.folder.resolve().name}: {months}")
    passed_over = f"; {outcome.passed_over:,} rows of examples and totals passed over" if outcome.passed_over else ""
    click.echo(f"records: {outcome.records:,}, {outcome.set_aside:,} of them set aside{passed_over}" if outcome.records
               else f"there is no record in {books.inputs} yet{passed_over}")  # fmt: skip
    click.echo(f"controls: {outcome.controls - outcome.failed_controls} of {outcome.controls} hold")
    accepted = f", {outcome.accepted} accepted" if outcome.accepted else ""
    click.echo(f"findings: {errors} errors, {len(outcome.problems) - errors} warnings{accepted}")


def _as_json(books: Books, outcome: Outcome) -> dict[str, Any]:
    from dataclasses import asdict

    with contextlib.closing(books.reading()) as con:
        cursor = con.execute("select control, count(*), count(*) filter (where not holds) from result.controls "
                             "group by control order by length(control), control")  # fmt: skip
        controls = [{"control": control, "checks": checks, "failed": failed} for control, checks, failed in cursor.fetchall()]
    return {
        "months": outcome.months,
        "good": outcome.good,
        "controls": controls,
        "problems": [asdict(problem) for problem in outcome.problems],
    }


@contextlib.contextmanager
def _faults() -> Iterator[None]:
    """Turn what went wrong into one line and the exit it deserves."""
    try:
        yield
        sys.stdout.flush()
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except BrokenPipeError:  # who reads has seen enough, as with `| head`; nor may the interpreter's own last flush complain
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        _end_stopped()
    except Exception as error:
        if _is_interruption(error):
            _end_stopped()
        _end_if_the_users(error)
        log = Path(FAULT_LOG)
        with contextlib.suppress(OSError):
            log.write_text(f"brewcost {__version__}\n{traceback.format_exc()}", encoding="utf-8")
        click.echo(
            f"fault: brewcost itself failed, not your records ({type(error).__name__}); "
            f"the full trace is in {log.resolve()}", err=True,
        )  # fmt: skip
        sys.exit(3)


def _end_stopped() -> NoReturn:
    click.echo("stopped; what was not finished is as it was before", err=True)
    sys.exit(130)


def _is_interruption(error: BaseException | None) -> bool:
    """Whether somebody stopped the run while the database was at work, which says so with an error of its own."""
    import duckdb

    while error is not None:
        # Waiting for a query, its Python side has no type of its own for it.
        if isinstance(error, duckdb.InterruptException) or (type(error) is RuntimeError and str(error) == "Query interrupted"):
            return True
        error = error.__cause__
    return False


def _end_if_the_users(error: Exception) -> None:
    """End with the message where settings, an area file, the folder or the machine are the matter (imported late: --help is
    instant)."""
    from brewcost import trouble
    from brewcost.acceptances import AcceptError
    from brewcost.area_model import AreaError
    from brewcost.books import BooksError, NotNew
    from brewcost.closing import ClosingError
    from brewcost.settings_model import SettingsError

    ours = (AcceptError, AreaError, BooksError, ClosingError, SettingsError)
    message = str(error) if isinstance(error, ours) else trouble.told(error)
    if message is not None:
        click.echo(f"error: {message}", err=True)
        sys.exit(2 if isinstance(error, NotNew) else 1)


def main() -> None:
    """The entry point of the `brewcost` command."""
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show a character shows a question mark, and the run goes on.
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    with _faults():
        cli.main(standalone_mode=False)
