"""The rows set aside as a file to mend and load again."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import TYPE_CHECKING

from brewcost.kinds import dictionary
from brewcost.text_rows import as_heading
from brewcost.trouble import replacing

if TYPE_CHECKING:
    import duckdb


def write(con: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Write the rows set aside, each with its kind, its place and every cell as it was read; mended, the file loads again.

    Returns:
        How many there are.

    Raises:
        OSError: the file cannot be written, or is open in another program.
    """
    rows = con.execute(
        "select kind, file, sheet, row, cells from record.raw_rows where state = 'set aside' "
        "order by kind, file, sheet nulls first, row"
    ).fetchall()
    cells = [{as_heading(name): cell for name, cell in json.loads(row[4]).items()} for row in rows]
    kinds = list(dict.fromkeys(row[0] for row in rows))
    names = list(dict.fromkeys(field.name for kind in kinds for field in dictionary().kinds[kind].fields))
    names += sorted({name for row in cells for name in row} - {*names, "from_file", "from_sheet", "from_row"})
    with replacing(path) as unfinished, unfinished.open("w", encoding="utf-8-sig", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("kind", "from_file", "from_sheet", "from_row", *names))
        for row, found in zip(rows, cells, strict=True):
            place = row[1:4]
            if "from_file" in found:  # it was mended once already: the place is where it first stood
                place = (found["from_file"], found.get("from_sheet"), found["from_row"])
            writer.writerow((row[0], *place, *(found.get(name) for name in names)))
    return len(rows)
