"""Check by hand: do the totals of written workbooks and the formulas beside them agree once LibreOffice has calculated them?

    python tests/recalculated.py out/2026-03        (needs LibreOffice's `soffice`; the suite checks the formulas' ranges)
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import openpyxl


def disagreements(path: Path, into: Path) -> tuple[int, list[str]]:
    """Cells compared, and those whose formula gives another figure than the total above it."""
    subprocess.run(["soffice", f"-env:UserInstallation={(into / 'profile').as_uri()}", "--headless", "--convert-to", "xlsx",
                    "--outdir", str(into), str(path)], check=True, capture_output=True)  # fmt: skip
    book = openpyxl.load_workbook(into / path.name, data_only=True)
    compared, found = 0, []
    for sheet in book:
        for row in sheet.iter_rows():
            if row[0].value != "total by formula":
                continue
            for cell in row[1:]:
                total = sheet.cell(cell.row - 1, cell.column).value
                if isinstance(cell.value, (int, float)) or (isinstance(total, (int, float)) and cell.value is not None):
                    compared += 1
                    if not isinstance(cell.value, (int, float)) or abs(cell.value - float(total or 0)) > 0.005:
                        found.append(f"{path.name} {sheet.title} {cell.coordinate}: {total} and by formula {cell.value}")
    return compared, found


if __name__ == "__main__":
    wrong = []
    for workbook in sorted(Path(sys.argv[1]).glob("*.xlsx")):
        with tempfile.TemporaryDirectory() as folder:
            number, bad = disagreements(workbook, Path(folder))
        print(f"{workbook.name}: {number} totals compared, {len(bad)} differ")
        wrong += bad
    print("\n".join(wrong))
    sys.exit(1 if wrong else 0)
