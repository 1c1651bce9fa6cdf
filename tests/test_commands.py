"""The commands as a user calls them: exits, what goes where, and books that are replaced whole or not at all."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import duckdb
import openpyxl
import pytest
from small_books import REFERENCE, write_books

from brewcost import pipeline, places, trouble
from brewcost.books import Books, BooksError

WORKED = Path(__file__).parent / "worked_months"
TABLES = ("material_months", "lot_months", "run_costs", "goods_months", "stage_losses", "period_expenses", "margins",
          "removals", "removals_by_day", "duty", "duty_months", "capacity", "controls", "problems")  # fmt: skip


def brewcost(*words: object, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "brewcost", *map(str, words)], capture_output=True, text=True, encoding="utf-8",
        cwd=folder, check=False,
    )  # fmt: skip


@pytest.fixture
def worked(tmp_path: Path) -> Path:
    folder = tmp_path / "books"
    shutil.copytree(WORKED / "inputs", folder / "inputs")
    shutil.copy(WORKED / "brewery.toml", folder)
    return folder


def result(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    with duckdb.connect(str(folder / "brewcost.duckdb"), read_only=True) as con:
        return {table: con.execute(f"select * from result.{table} order by all").fetchall() for table in TABLES}


def test_report_writes_the_four_workbooks_and_the_journal_of_the_latest_month(worked: Path) -> None:
    done = brewcost("report", "--folder", worked)
    assert done.returncode == 0, done.stderr
    written = sorted(path.name for path in (worked / "out" / "2026-02").iterdir())
    assert written == ["excise.xlsx", "journal.csv", "losses.xlsx", "margins.xlsx", "month-close.xlsx"]
    assert all(str(worked / "out" / "2026-02" / name) in done.stdout for name in written)
    assert "missing-reading" in done.stderr and "missing-reading" not in done.stdout  # findings go to stderr


def test_books_are_not_replaced_by_empty_ones(worked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    books = Books(worked)
    first = pipeline.build(books)
    kept, scandir = books.database.read_bytes(), os.scandir

    def refusing(path: Path) -> object:
        if Path(path) == books.inputs:
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    with monkeypatch.context() as patch:
        patch.setattr(os, "scandir", refusing)
        with pytest.raises(BooksError, match="cannot be listed: Permission denied"):
            pipeline.build(books)
    books.inputs.rename(worked / "away")
    books.inputs.mkdir()
    with pytest.raises(BooksError, match=f"holds no record any more; the books, of {first.records} records"):
        pipeline.build(books)
    assert books.database.read_bytes() == kept
    books.database.unlink()
    done = brewcost("check", folder=worked)
    assert done.returncode == 0 and "there is no record in" in done.stdout


def test_report_of_another_month_and_of_one_that_is_not_there(worked: Path) -> None:
    assert brewcost("report", "2026-01", folder=worked).returncode == 0
    assert (worked / "out" / "2026-01" / "month-close.xlsx").exists()
    missing = brewcost("report", "2026-07", folder=worked)
    assert missing.returncode == 2
    assert "they run from 2026-01 to 2026-02" in missing.stderr


def test_check_as_json_lists_every_control_and_finding(worked: Path) -> None:
    done = brewcost("check", "--json", folder=worked)
    said = json.loads(done.stdout)
    assert done.returncode == 0
    assert said["good"] is True
    assert said["months"] == ["2026-01", "2026-02"]
    kept = {"K1", "K2", "K3", "K4", "K5", "K6", "K7", "K8", "K11", "K12"}
    assert {control["control"] for control in said["controls"]} == kept
    assert not (worked / "out").exists()
    assert {"severity", "code", "file", "row", "field", "message"} <= said["problems"][0].keys()


def test_an_error_in_the_records_exits_with_1_and_the_workbooks_are_written_all_the_same(worked: Path) -> None:
    shipments = worked / "inputs" / "shipments.csv"
    lines = shipments.read_text(encoding="utf-8").splitlines()
    lines[1] = lines[1].replace("2026-01-01", "first of January")
    shipments.write_text("\n".join(lines), encoding="utf-8")
    done = brewcost("report", "--folder", worked)
    assert done.returncode == 1
    assert 'shipments.csv row 2, date: "first of January"' in done.stderr
    assert (worked / "out" / "2026-02" / "month-close.xlsx").exists()
    aside = worked / "aside.csv"
    assert brewcost("check", "--set-aside", aside, folder=worked).returncode == 1
    assert "shipments,shipments.csv,,2," in aside.read_text(encoding="utf-8-sig")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "brewery.toml is missing"),
        ("name = 1\nfirst_month = '2026-01'\n[[sites]]\nsite='a'\narea='US'", "name is 1; expected text"),
        ("name = 'x'\nfirst_month = '2026-13'\n[[sites]]\nsite='a'\narea='US'", "first_month is '2026-13'"),
        ("name = 'x'\nfirst_month = '2026-01'\nsite = 'a'\n[[sites]]\nsite='a'\narea='US'", "site is not a setting"),
        ("name = ", "brewery.toml"),
    ],
)
def test_wrong_settings_are_one_line_and_no_fault(tmp_path: Path, text: str | None, said: str) -> None:
    (tmp_path / "inputs").mkdir()
    if text is not None:
        (tmp_path / "brewery.toml").write_text(text, encoding="utf-8")
    done = brewcost("check", folder=tmp_path)
    assert done.returncode == 1
    assert said in done.stderr
    assert "Traceback" not in done.stderr and not (tmp_path / "brewcost-fault.log").exists()


def test_a_reader_that_has_seen_enough_is_no_fault() -> None:
    run = subprocess.Popen([sys.executable, "-m", "brewcost", "areas"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert run.stdout is not None and run.stderr is not None
    run.stdout.close()
    assert run.stderr.read() == b""
    run.stderr.close()
    assert run.wait() == 1


def test_wrong_usage_exits_with_2(tmp_path: Path) -> None:
    assert brewcost("check", "--no-such-option", folder=tmp_path).returncode == 2
    assert brewcost("nonsense", folder=tmp_path).returncode == 2
    write_books(tmp_path, REFERENCE)
    for words, said in (
        (("check", "--folder", "nowhere"), "Directory 'nowhere' does not exist"),
        (("close", "foo"), "'foo' is no month such as 2026-03"),
        (("close", "2026-07"), "'2026-07' is not a month of these books"),
        (("reopen", "2026-13", "--why", "late"), "'2026-13' is no month such as 2026-03"),
        (("reopen", "2026-01", "--why", " "), "say why: --why TEXT"),
        (("areas", "XX"), "no area file for XX"),
        (("start", "."), "brewery.toml is there already"),
    ):
        done = brewcost(*words, folder=tmp_path)
        assert done.returncode == 2 and said in done.stderr, (words, done.stderr)


def test_a_fault_of_the_program_is_not_shown_as_the_users(worked: Path) -> None:
    code = ("from brewcost import cli, pipeline\n"
            "def broken(*_): raise ZeroDivisionError('invented')\n"
            "pipeline.build = broken\ncli.main()")  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code, "check"], cwd=worked, capture_output=True, text=True, check=False)
    assert done.returncode == 3
    assert "not your records" in done.stderr and "Traceback" not in done.stderr
    assert "ZeroDivisionError: invented" in (worked / "brewcost-fault.log").read_text(encoding="utf-8")


STOPPED = ["KeyboardInterrupt", "RuntimeError('Query interrupted')",
           "steps.StepError('a file') from duckdb.InterruptException('INTERRUPT Error: Interrupted!')"]  # fmt: skip


@pytest.mark.parametrize("error", STOPPED)
def test_a_run_that_was_stopped_says_so_and_is_no_fault(worked: Path, error: str) -> None:
    code = ("import duckdb\nfrom brewcost import cli, pipeline, steps\n"
            f"def stopped(*_): raise {error}\n"
            "pipeline.build = stopped\ncli.main()")  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code, "check"], cwd=worked, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.strip()) == (130, "stopped; what was not finished is as it was before")
    assert not (worked / "brewcost-fault.log").exists()


def test_a_folder_or_a_fault_that_says_interrupted_is_no_stop(worked: Path) -> None:
    named = worked.with_name("interrupted")
    named.mkdir()
    done = brewcost("check", "--folder", named)
    assert done.returncode == 1 and "brewery.toml is missing" in done.stderr
    code = ("from brewcost import cli, pipeline\n"
            "def broken(*_): raise ValueError('Interrupted Lager')\n"
            "pipeline.build = broken\ncli.main()")  # fmt: skip
    assert subprocess.run([sys.executable, "-c", code, "check"], cwd=worked, capture_output=True, check=False).returncode == 3


def test_progress_says_how_far_a_run_is_and_how_long_it_has_to_go() -> None:
    told: list[str] = []
    first = pipeline.Course(told.append, {})
    first("reading the records")
    first("volume.lots")
    assert told == [f"reading the records, 0 of {first.total}", f"volume.lots, 1 of {first.total}"]
    # The step that is done took twice as long as the last time, so what is left will too.
    second = pipeline.Course(told.append, {"reading the records": 10.0, "volume.lots": 15.0, "volume.losses": 5.0})
    second("reading the records")
    second.since -= 20.0
    second("volume.lots")
    assert told[-1] == f"volume.lots, 1 of {second.total}, about 40 s to go"


def test_a_run_killed_at_any_moment_leaves_the_earlier_books_and_the_next_run_is_as_if_nothing_was(
    worked: Path, tmp_path: Path
) -> None:
    undisturbed = tmp_path / "undisturbed"
    shutil.copytree(worked, undisturbed)
    assert brewcost("check", folder=undisturbed).returncode == 0
    assert brewcost("check", folder=worked).returncode == 0
    earlier = result(worked)
    assert earlier == result(undisturbed)
    # A new record, so that a half-made database would differ from the earlier one.
    for folder in (worked, undisturbed):
        with (folder / "inputs" / "expenses.csv").open("a", encoding="utf-8") as file:
            file.write("2026-02,main,rent,100\n")
    assert brewcost("check", folder=undisturbed).returncode == 0
    later = result(undisturbed)
    assert later != earlier
    for moment in (0.2, 0.6, 1.0, 1.5, 2.0, 2.6):
        run = subprocess.Popen(
            [sys.executable, "-m", "brewcost", "check"], cwd=worked, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL
        )
        time.sleep(moment)
        run.kill()
        run.wait()
        # Whole books, the earlier or the later ones, never a part.
        assert result(worked) in (earlier, later)
    done = brewcost("check", folder=worked)
    assert done.returncode == 0, done.stderr
    assert result(worked) == later
    assert not (worked / "brewcost.duckdb.new").exists()


def test_what_is_unchanged_is_not_computed_again_and_any_change_is(worked: Path) -> None:
    first = brewcost("check", folder=worked)
    made = (worked / "brewcost.duckdb").stat().st_mtime_ns
    again = brewcost("check", folder=worked)
    assert (again.stdout, again.stderr, again.returncode) == (first.stdout, first.stderr, first.returncode)
    assert (worked / "brewcost.duckdb").stat().st_mtime_ns == made
    before = result(worked)
    expenses = worked / "inputs" / "expenses.csv"
    text = expenses.read_text(encoding="utf-8")
    for changed in (text.replace("9095", "9096"), text):
        expenses.write_text(changed, encoding="utf-8")
        brewcost("check", folder=worked)
        assert (result(worked) == before) == (changed == text)
    (worked / "inputs" / "labour.csv").unlink()
    brewcost("check", folder=worked)
    assert result(worked)["run_costs"] != before["run_costs"]


def test_two_runs_at_once_do_not_spoil_each_other(worked: Path) -> None:
    command = [sys.executable, "-m", "brewcost", "check"]
    runs = [subprocess.Popen(command, cwd=worked, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
            for _ in range(2)]  # fmt: skip
    said = [run.communicate()[1] for run in runs]
    assert 0 in [run.returncode for run in runs]
    for run, told in zip(runs, said, strict=True):
        assert run.returncode == 0 or (run.returncode == 1 and told.startswith("error: another run is at work")), told
    with (worked / "inputs" / "expenses.csv").open("a", encoding="utf-8") as file:
        file.write("2026-02,main,rent,100\n")
    with Books(worked)._alone():
        done = brewcost("check", folder=worked)
    assert (done.returncode, done.stderr) == (1, "error: another run is at work on .; wait until it has ended\n")
    assert brewcost("check", folder=worked).returncode == 0  # the lock goes with its run


def a_file(path: Path) -> None:
    path.write_bytes(b"garbage" * 2000)


# What stands where something else belongs, the command that meets it, and what it says of it.
IN_THE_WAY = [
    ("out", a_file, ("report",), "out is a file where a folder belongs"),
    ("out/2026-02", a_file, ("report",), "out/2026-02 is a file where a folder belongs"),
    ("out/2026-02/margins.xlsx", Path.mkdir, ("report",), "margins.xlsx was not written: out/2026-02/margins.xlsx is a folder"),
    ("out/2026-02/journal.csv", Path.mkdir, ("report",), "journal.csv was not written: out/2026-02/journal.csv is a folder"),
    ("out/2026-01/journal.csv", Path.mkdir, ("close", "2026-01"), "journal.csv was not written: out/2026-01/journal.csv is a"),
    ("closed", a_file, ("check",), "closed is a file where a folder belongs"),
    ("brewcost.duckdb", Path.mkdir, ("check",), "brewcost.duckdb is a folder where a file belongs"),
    ("brewcost.duckdb", a_file, ("forms",), "brewcost.duckdb is no database; delete it"),
    ("brewcost.duckdb.new", Path.mkdir, ("check",), "brewcost.duckdb.new is a folder where a file belongs"),
    ("aside", a_file, ("check", "--set-aside", "nodir/x.csv"), "nodir is not there; make it, or name another place"),
]  # fmt: skip


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Small books that were computed, and have changed since."""
    folder = tmp_path_factory.mktemp("small") / "books"
    goods = {"site": "main", "beer": "Test Ale", "package": "half_bbl"}
    write_books(folder, REFERENCE | {"opening_goods": [goods | {"units": 20, "cost": 1000}]})
    assert brewcost("check", folder=folder).returncode == 0
    counts = f"{','.join(goods)},date,quantity\n{','.join(goods.values())},2026-02-28,20\n"
    (folder / "inputs" / "counts.csv").write_text(counts, encoding="utf-8")
    return folder


@pytest.mark.parametrize(("place", "put", "words", "said"), IN_THE_WAY)
def test_a_wrong_thing_in_the_place_of_a_file_is_told_and_no_fault(
    small: Path, tmp_path: Path, place: str, put: Callable[[Path], None], words: tuple[str, ...], said: str
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(small, folder)
    (folder / place).parent.mkdir(parents=True, exist_ok=True)
    if place == "brewcost.duckdb":
        (folder / place).unlink()
    put(folder / place)
    done = brewcost(*words, folder=folder)
    assert done.returncode == 1, done.stderr
    assert said in (done.stdout + done.stderr).replace("\\", "/")
    assert "Error" not in done.stderr and not (folder / "brewcost-fault.log").exists()
    assert not [path for path in folder.rglob("*") if path.suffix in (".part", ".new") and path.name not in place]


def test_a_full_disk_is_told_and_the_earlier_books_stay(small: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(small, folder)
    before = (folder / "brewcost.duckdb").read_bytes()
    # No file may be larger than that, as on a disk with so much room; the database and then a workbook are.
    for room, words, said in ((200_000, ("check",), "cannot be written"),
                              (5_000, ("report", "--folder", folder), "month-close.xlsx was not written")):  # fmt: skip
        code = (f"import resource\nresource.setrlimit(resource.RLIMIT_FSIZE, ({room}, resource.RLIM_INFINITY))\n"
                "from brewcost.cli import main\nif __name__ == '__main__': main()")  # fmt: skip
        done = subprocess.run([sys.executable, "-c", code, *map(str, words)], cwd=folder, capture_output=True, text=True,
                              check=False)  # fmt: skip
        assert done.returncode == 1 and said in done.stdout + done.stderr, done.stderr
        assert "run again" in done.stdout + done.stderr and "Error" not in done.stderr
        if words == ("check",):
            assert (folder / "brewcost.duckdb").read_bytes() == before
            assert brewcost("check", folder=folder).returncode == 0


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (OSError(errno.ENOSPC, "x", "a.csv"), "a.csv cannot be written: the disk is full; make room and run again"),
        (OSError(errno.EROFS, "x", "a.csv"), "a.csv cannot be written: its disk can only be read; use another one"),
        (PermissionError(errno.EACCES, "x", "a.part", None, "a.csv"), "a.csv is open in another program or protected; "),
        (duckdb.IOException('Could not write file "/a/b.new": No space left on device'), "/a/b.new cannot be written: "),
        (FileNotFoundError(errno.ENOENT, "x", str(places.sql_dir() / "1.sql")), None),
        (duckdb.CatalogException("Catalog Error: No space left on device"), None),
        (ValueError("Permission denied"), None),
    ],
)
def test_a_trouble_of_the_machine_is_a_message_and_a_fault_is_none(error: Exception, said: str | None) -> None:
    wrapped = RuntimeError("a step")
    wrapped.__cause__ = error
    for one in (error, wrapped):
        told = trouble.told(one)
        assert told is None if said is None else (told or "").startswith(said)


def test_what_stands_is_said_of_a_close_that_was_stopped_after_the_month_was_frozen(small: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(small, folder)
    code = ("from brewcost import cli, pipeline\nbuild, runs = pipeline.build, []\n"
            "def stopped(*words):\n    if runs: raise KeyboardInterrupt\n    runs.append(1)\n    return build(*words)\n"
            "pipeline.build = stopped\ncli.main()")  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code, "close", "2026-01", "--by", "Test controller"], cwd=folder,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert (done.returncode, done.stderr.strip()) == (130, "stopped; what was not finished is as it was before")
    assert done.stdout.startswith("2026-01 is closed; its figures are kept in ")
    assert (folder / "closed" / "2026-01" / "close.json").exists()


def test_the_second_process_says_nothing_when_it_is_stopped_as_it_starts(tmp_path: Path) -> None:
    code = ("import os, signal, time\nfrom brewcost.beside import second_process\n"
            "if __name__ == '__main__':\n    try:\n        with second_process():\n            time.sleep({})\n"
            "            os.killpg(0, signal.SIGINT)\n            time.sleep(9)\n"
            "    except KeyboardInterrupt:\n        print('stopped')")  # fmt: skip
    for moment in (0, 0.1, 0.3):
        done = subprocess.run([sys.executable, "-c", code.format(moment)], capture_output=True, text=True, check=False,
                              start_new_session=True, timeout=60)  # fmt: skip
        assert (done.stdout, done.stderr) == ("stopped\n", "")


def test_an_empty_set_of_books_has_nothing_to_say(tmp_path: Path) -> None:
    write_books(tmp_path, REFERENCE)
    done = brewcost("check", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "0 errors" in done.stdout


def test_help_is_quick_because_nothing_heavy_is_imported() -> None:
    code = ("import sys; sys.argv = ['brewcost', '--help']\nfrom brewcost.cli import main\n"
            "try: main()\nexcept SystemExit: pass\n"
            "print([name for name in ('duckdb', 'polars', 'openpyxl') if name in sys.modules])")  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.rstrip().endswith("[]")


def test_a_month_is_closed_explained_and_reopened(worked: Path) -> None:
    early = brewcost("close", "2026-02", "--by", "Test controller", folder=worked)
    assert early.returncode == 1 and "2026-01 is open" in early.stderr
    done = brewcost("close", "2026-01", "--by", "Test controller", folder=worked)
    assert done.returncode == 0, done.stderr
    assert (worked / "closed" / "2026-01" / "close.json").exists()
    tree = json.loads(brewcost("explain", "duty", "US", "2026-01", "--json", folder=worked).stdout or "{}")
    assert not tree or tree["parts"]
    assert brewcost("reopen", "2026-01", folder=worked).returncode == 2  # a reason is asked for
    done = brewcost("reopen", "2026-01", "--why", "a late invoice", "--by", "Test controller", folder=worked)
    assert done.returncode == 0, done.stderr
    assert not (worked / "closed" / "2026-01").exists()
    first = openpyxl.load_workbook(worked / "out" / "2026-01" / "month-close.xlsx").worksheets[0]
    assert "Closed by" not in " ".join(str(row[0].value) for row in first.iter_rows())


@pytest.mark.parametrize(("columns", "lines"), [(80, 24), (120, 40), (60, 15)])
def test_what_check_says_fits_on_the_screen_and_all_prints_every_finding(
    columns: int, lines: int, worked: Path
) -> None:
    """File by file, the worst first; every finding is told, counted with another, or counted as left out."""
    inputs = worked / "inputs"
    text = (inputs / "shipments.csv").read_text(encoding="utf-8").splitlines()
    text[1:61] = [line.replace("2026", f"{number}026") for number, line in enumerate(text[1:61], start=3)]
    (inputs / "shipments.csv").write_text("\n".join(text), encoding="utf-8")
    with (inputs / "expenses.csv").open("a", encoding="utf-8") as file:
        file.write("2026-02,main,no such pool,100\n")
    environment = {**os.environ, "COLUMNS": str(columns), "LINES": str(lines)}
    done = subprocess.run([sys.executable, "-m", "brewcost", "check"], cwd=worked, env=environment, capture_output=True,
                          text=True, encoding="utf-8", check=False)  # fmt: skip
    printed = [*done.stderr.splitlines(), *done.stdout.splitlines()]
    assert sum(-(-len(line) // columns) for line in printed) <= lines - 1  # and the next prompt
    assert printed[0].startswith("error: shipments.csv row ")
    assert "(date-too-late) and 6 more like it" in printed[0] and "(not-a-date) and 52 more like it" in printed[1]
    assert any("`brewcost check --all` prints every finding" in line for line in printed)
    every = subprocess.run([sys.executable, "-m", "brewcost", "check", "--all"], cwd=worked, env=environment,
                           capture_output=True, text=True, encoding="utf-8", check=False)  # fmt: skip
    said = json.loads(brewcost("check", "--json", folder=worked).stdout)
    assert len(every.stderr.splitlines()) == len(said["problems"]) >= 61
