"""How long the whole job takes, where the time goes, and how far that is from the least it could take.

    python benchmarks/measure.py [SITESxYEARS ...]        default: sample 1x1 2x2 5x4; 20x10 is 4 million rows

Each line of the table is one set of books, run as processes: rows; wall and processor seconds and peak memory of a first
`report` and of a second one with nothing changed; the first split into start, load, compute and workbooks; the size of the
database and of the workbooks. Beside it the floor, measured in the same run: importing the same libraries, scanning the same
files with DuckDB, and writing the same cells with openpyxl and nothing else. Nothing here is a test; it prints figures.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from make_books import make

from brewcost.places import sample_dir

HERE = Path(__file__).resolve()


@dataclass(frozen=True)
class Run:
    """One finished process: wall and processor seconds, peak memory in MB, what it printed."""

    wall: float
    cpu: float
    peak_mb: float
    said: str


def run(*command: str) -> Run:
    started = time.perf_counter()
    process = subprocess.Popen([sys.executable, *command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    assert process.stdout is not None
    said = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    unit = 1024 * 1024 if sys.platform == "darwin" else 1024
    return Run(time.perf_counter() - started, used.ru_utime + used.ru_stime, used.ru_maxrss / unit, said)


def stages(folder: Path) -> None:
    """Child: the parts of a report, each with its seconds."""
    marks = [("start", time.perf_counter())]
    import duckdb  # noqa: F401
    import openpyxl  # noqa: F401
    import polars  # noqa: F401

    from brewcost import pipeline, report, settings
    from brewcost.beside import second_process
    from brewcost.books import Books

    books = Books(folder / "stages")
    books.folder.mkdir()
    marks.append(("read", time.perf_counter()))

    def told(step: str) -> None:
        if "." in step and len(marks) == 2:
            marks.append(("compute", time.perf_counter()))

    with second_process() as beside:
        with books.rebuilding() as con:
            pipeline.compute(con, Books(folder), settings.load(folder / "brewery.toml"), told)
            [(month,)] = con.execute("select max(month) from record.months").fetchall()
            marks.append(("save", time.perf_counter()))
        marks.append(("workbooks", time.perf_counter()))
        with books.reading() as con:
            report.write(con, month, books.out, beside=beside)
    marks.append(("", time.perf_counter()))
    for (name, begun), (_, ended) in pairwise(marks):
        print(f"{name} {ended - begun:.2f}", end="  ")


def floor(folder: Path, out: Path) -> None:
    """Child: the least the job could take."""
    import duckdb
    import fastexcel
    import openpyxl
    import polars  # noqa: F401

    con = duckdb.connect()
    for path in sorted((folder / "inputs").glob("*.csv")):
        con.execute("create or replace table scanned as select * from read_csv(?, all_varchar = true)", [str(path)])
    for path in sorted((folder / "inputs").glob("*.xlsx")):
        for sheet in fastexcel.read_excel(path).sheet_names:
            fastexcel.read_excel(path).load_sheet(sheet).to_polars()
    for path in sorted(out.glob("*.xlsx")):
        sizes = [(ws.max_row, ws.max_column) for ws in openpyxl.load_workbook(path, read_only=True).worksheets]
        book = openpyxl.Workbook()
        for rows, columns in sizes:
            ws = book.create_sheet()
            for row in range(rows or 0):
                ws.append([row] * (columns or 0))
        book.save(folder / "floor.xlsx")


def measure(name: str, folder: Path) -> tuple[int, float]:
    """Print the line of one set of books; its rows and the seconds of its first report."""
    rows = sum(sum(1 for _ in path.open(encoding="utf-8")) - 1 for path in (folder / "inputs").glob("*.csv"))
    first = run("-m", "brewcost", "report", "--folder", str(folder))
    second = run("-m", "brewcost", "report", "--folder", str(folder))
    split = run(str(HERE), "--stages", str(folder))
    [out] = (folder / "out").iterdir()
    least = run(str(HERE), "--floor", str(folder), str(out))
    database = (folder / "brewcost.duckdb").stat().st_size / 2**20
    workbooks = sum(path.stat().st_size for path in out.iterdir()) / 2**20
    print(
        f"{name:>8} {rows:>10,} {first.wall:>8.1f} {first.cpu:>8.1f} {first.peak_mb:>8.0f} {second.wall:>8.1f} "
        f"{least.wall:>7.1f} {first.wall / least.wall:>6.1f} {database:>7.0f} {workbooks:>6.1f}   {split.said}",
        flush=True,
    )
    return rows, first.wall


def main(names: list[str]) -> None:
    plain = run("-c", "import click\n@click.command()\ndef main(): pass\nmain(['--help'])")
    helped = run("-m", "brewcost", "--help")
    print(f"--help {helped.wall:.3f} s, of an empty click program {plain.wall:.3f} s: {helped.wall / plain.wall:.1f} times")
    print(
        f"{'books':>8} {'rows':>10} {'wall s':>8} {'cpu s':>8} {'peak MB':>8} {'again s':>8} {'floor s':>7} {'ratio':>6} "
        f"{'db MB':>7} {'xlsx':>6}   split of the first, seconds"
    )
    measured: list[tuple[int, float]] = []
    for name in names:
        with tempfile.TemporaryDirectory() as temporary:
            folder = Path(temporary) / "books"
            if name == "sample":
                shutil.copytree(sample_dir(), folder)
            else:
                sites, years = name.split("x")
                make(folder, int(sites), int(years))
            measured.append(measure(name, folder))
    if len(measured) > 1:
        print("growth:")
    for (few, short), (many, long) in pairwise(sorted(measured)):
        print(f"{few:>10,} to {many:>10,} rows, {many / few:.1f} times: {long / short:.1f} times the seconds")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--stages"]:
        stages(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["--floor"]:
        floor(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        main(sys.argv[1:] or ["sample", "1x1", "2x2", "5x4"])
