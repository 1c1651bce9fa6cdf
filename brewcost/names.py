"""What the rows of different kinds say of one another: names that must exist, documents that stand twice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from brewcost.cells import Table, quoted, saying
from brewcost.kinds import Field, dictionary
from brewcost.settings_model import Settings

if TYPE_CHECKING:
    import duckdb
    import polars as pl

READY_MADE = (
    "half_bbl", "third_bbl", "quarter_bbl", "sixth_bbl", "eighth_bbl", "keg_5gal", "keg_30L", "keg_50L", "keg_20L",
)  # fmt: skip
_READY_KEG = "^(?:" + "|".join(name.casefold() for name in READY_MADE) + ")$"
_READY_CASE = r"^case_[1-9]\d{0,2}x(?:[1-9]\d{0,4})(?:\.\d{1,3})?(?:ml)?$"
# What one of each sort is called in a message, and the code for one that is not there.
SINGULAR = {
    "beers": ("beer", "unknown-beer", "beers"),
    "materials": ("material", "unknown-material", "materials"),
    "packages": ("package", "unknown-package", "packages"),
    "vessels": ("vessel", "unknown-vessel", "vessels"),
    "accounts": ("account", "unknown-account", "accounts"),
    "sites": ("site", "unknown-site", "brewery.toml"),
    "pools": ("pool", "unknown-pool", "brewery.toml"),
    "lots": ("lot", "unknown-lot", "brews, moves, opening_lots or beer_in"),
    "brews": ("brew", "unknown-brew", "brews"),
    "runs": ("run", "unknown-run", "packaging"),
    "receipt_documents": ("receipt", "unknown-receipt", "receipts"),
    "shipment_documents": ("shipment", "unknown-document", "shipments"),
}
# Nearest known name of each unknown one. Names with other digits in them are other things, not slips of the pen.
_NEAREST = """
with unknown as (select unnest($unknown::text[]) as name),
known as (select unnest($known::text[]) as name),
pairs as (
    select
        unknown.name as unknown_name,
        known.name as known_name,
        jaro_winkler_similarity(lower(unknown.name), lower(known.name)) as nearness
    from unknown
    inner join known
        on regexp_replace(unknown.name, '[^0-9]', '', 'g') = regexp_replace(known.name, '[^0-9]', '', 'g')
)
select unknown_name, arg_max(known_name, (nearness, known_name))
from pairs
where nearness >= 0.85
group by unknown_name
"""
MOST_UNKNOWN = 500  # names for which a near one is looked up
MOST_KNOWN = 20_000


def known_names(tables: Mapping[str, Table], settings: Settings) -> dict[str, pl.DataFrame]:
    """Every name of each sort, those of rows set aside too: key (lower case) and name as first spelt."""
    import polars as pl

    parts: dict[str, list[pl.DataFrame]] = {
        "sites": [pl.DataFrame({"name": [site.site for site in settings.sites]}, schema={"name": pl.String})],
        "pools": [pl.DataFrame({"name": [pool.pool for pool in settings.pools]}, schema={"name": pl.String})],
    }
    for table in tables.values():
        for entry in table.kind.fields:
            if entry.defines:
                parts.setdefault(entry.defines, []).append(
                    table.typed.select(pl.col(entry.name).alias("name")).drop_nulls().unique(maintain_order=True)
                )
    return {
        sort: pl.concat(frames)
        .with_columns(pl.col("name").str.to_lowercase().alias("key"))
        .unique("key", keep="first", maintain_order=True)
        for sort, frames in parts.items()
    }


def resolve(con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table], names: Mapping[str, pl.DataFrame]) -> None:
    """Give every name its one spelling; a name that is not there is an error with the nearest one that is."""
    import polars as pl

    for table in tables.values():
        named = {
            entry.name: sort for entry in table.kind.fields
            if (sort := entry.of or entry.defines) and table.typed[entry.name].null_count() < table.typed.height
        }  # fmt: skip
        keys = table.typed.select(pl.col(named).str.to_lowercase())
        for entry in table.kind.fields:
            if entry.name not in named:
                continue
            sort, given, key = named[entry.name], table.typed[entry.name], keys[entry.name]
            spelt = key.to_frame("key").join(names[sort], on="key", how="left", maintain_order="left")["name"]
            if sort == "packages" and spelt.null_count() > given.null_count():
                spelt = spelt.fill_null(_ready_made(key))
            if entry.or_all:
                spelt = spelt.set((key == "*").fill_null(False), "*")
            if spelt.null_count() > given.null_count():
                _unknown(con, table, entry, sort, given.is_not_null() & spelt.is_null(), names[sort]["name"])
                if entry.suggest_only:
                    spelt = spelt.fill_null(given)
            if entry.of == "vessels":
                _at_other_site(table, entry, spelt, tables["vessels"].typed)
            table.typed = table.typed.with_columns(spelt.alias(entry.name))


def _at_other_site(table: Table, entry: Field, spelt: pl.Series, vessels: pl.DataFrame) -> None:
    """A vessel that stands at another site than the row's. Its row is in error, so the name may stay."""
    import polars as pl

    lower = pl.col("site", "vessel").str.to_lowercase()
    stands = vessels.select(lower).drop_nulls()
    sites = stands.group_by("vessel").agg(pl.col("site").unique().sort().str.join(", ").alias("sites"))
    named = table.typed.select("site", spelt.alias("vessel")).select(lower)
    here = named.join(stands.unique().with_columns(pl.lit(True).alias("here")), on=["site", "vessel"], how="left",
                      maintain_order="left")["here"].fill_null(False)  # fmt: skip
    beside = named.join(sites, on="vessel", how="left", maintain_order="left")["sites"]
    site = named["site"]
    table.find(
        ~here & site.is_not_null() & beside.is_not_null(), "other-site", entry.name,
        pl.format("vessel {} stands at {}, not at {}", quoted(), "sites", "site"), "a vessel of the row's site",
        "mend the vessel or the site", [beside.alias("sites")],
    )  # fmt: skip


def pools_in_force(tables: Mapping[str, Table], settings: Settings) -> None:
    """A pool that brewery.toml has, but not for that site or not yet in that month."""
    import polars as pl

    pools = pl.DataFrame(
        [(pool.pool.lower(), pool.site and pool.site.lower(), pool.from_month) for pool in settings.pools],
        schema={"pool": pl.String, "of_site": pl.String, "since": pl.String}, orient="row",
    )  # fmt: skip
    for table in tables.values():
        if not table.kind.has("pool") or table.typed.height == 0:
            continue
        dated = table.kind.dated_by
        assert dated is not None
        month = pl.col(dated.name) if dated.type == "month" else pl.col(dated.name).dt.strftime("%Y-%m")
        rows = table.typed.select("i", pl.col("pool", "site").str.to_lowercase(), month.alias("month")).drop_nulls()
        rows = rows.filter(pl.col("month") >= f"{settings.first_day:%Y-%m}")
        fits = pl.col("of_site").is_null() | (pl.col("of_site") == pl.col("site"))
        wrong = rows.join(pools, on="pool").group_by("i").agg((fits & (pl.col("since") <= pl.col("month"))).any().alias("fits"))
        bad = wrong.filter(~pl.col("fits"))["i"]
        table.find(table.text["i"].is_in(bad.implode()), "pool-not-in-force", "pool",
                   saying("is no pool of that site in that month"),
                   "a pool of brewery.toml for the site, from that month or earlier",
                   "mend the pool, the site or the month, or the pool's from_month in brewery.toml")  # fmt: skip


def invoiced_materials(tables: Mapping[str, Table]) -> None:
    """An invoice of a material that its receipt does not have. Rows set aside have theirs; one that is not known may be any."""
    import polars as pl

    table, received = tables["invoices"], tables["receipts"].typed
    if table.typed.height == 0:
        return
    lines = received.select(pl.col("document").alias("receipt_document"), pl.col("material").alias("received"))
    receipts = lines.group_by("receipt_document").agg(
        pl.col("received").unique().sort(), pl.col("received").null_count().alias("unknown")
    )
    invoices = table.typed.select("receipt_document", "material")
    beside = invoices.join(receipts, on="receipt_document", how="left", maintain_order="left")
    here = beside.select(pl.col("received").list.contains(pl.col("material")))["received"]
    absent = ~here & beside["material"].is_not_null() & (beside["unknown"] == 0)
    table.find(absent, "not-on-receipt", "material",
               pl.format("receipt {} has no {}", quoted("receipt_document"), quoted()),
               pl.format("a material of the receipt: {}", pl.col("received").list.join(", ")),
               "mend the material, or receipt_document", [beside["received"]])  # fmt: skip


def _ready_made(keys: pl.Series) -> pl.Series:
    """The spelling of a ready-made package; null where the name is none."""
    fits = keys.str.contains(_READY_KEG) | keys.str.contains(_READY_CASE)
    spelt = keys.str.replace(r"^(keg_\d+)l$", "${1}L").str.replace("ml$", "mL")
    return spelt.set(~fits.fill_null(False), None)


def one(singular: str) -> str:
    """The word with its article."""
    return f"an {singular}" if singular[0] in "aeiou" else f"a {singular}"


def _unknown(
    con: duckdb.DuckDBPyConnection, table: Table, entry: Field, sort: str, missing: pl.Series, known: pl.Series
) -> None:
    import polars as pl

    singular, code, where = SINGULAR[sort]
    wrong = table.typed[entry.name].filter(missing).unique(maintain_order=True).head(MOST_UNKNOWN).to_list()
    among = [*known.head(MOST_KNOWN).to_list(), *(READY_MADE if sort == "packages" else ())]
    near = dict(con.execute(_NEAREST, {"unknown": wrong, "known": among}).fetchall())
    guess = pl.col("value").replace_strict(near, default=None, return_dtype=pl.String)
    mend = f"mend the name, or add it to {where}"
    table.find(
        missing,
        code,
        entry.name,
        pl.format(f"no {singular} `{{}}`", pl.col("value")),
        f"{one(singular)} of {where}",
        pl.when(guess.is_not_null()).then(pl.format("did you mean `{}`?", guess)).otherwise(pl.lit(mend)),
    )


def material_units(tables: Mapping[str, Table]) -> None:
    """A quantity of a material in a unit that is not of the family in which the material is kept."""
    import polars as pl

    materials = tables["materials"].typed.select("material", "stock_unit").drop_nulls()
    kept = materials.unique("material", keep="first", maintain_order=True)
    for table in tables.values():
        for entry in table.kind.fields:
            material = "material" if table.kind.name == "counts" and entry.name == "unit" else entry.as_material
            if material is None:
                continue
            named = table.typed.select(pl.col(material).alias("material"))
            stock = named.join(kept, on="material", how="left", maintain_order="left")["stock_unit"]
            if table.kind.name == "counts":
                _count_units(table, stock)
            wanted = _family(stock)
            given = _family(table.typed[entry.name])
            table.find(
                given != wanted,
                "unit-family",
                entry.name,
                pl.format("{} is a unit of {}, but `{}` is kept in {}", quoted(), "given", material, "stock"),
                pl.format("a unit of {}", "wanted"),
                pl.format("write a unit of {}", "wanted"),
                [given.alias("given"), wanted.alias("wanted"), stock.alias("stock")],
            )


def _family(units: pl.Series) -> pl.Series:
    import polars as pl

    family = {unit: name for name, members in dictionary().units.items() for unit in members}
    return units.replace_strict(family, default=None, return_dtype=pl.String)


def _count_units(table: Table, stock: pl.Series) -> None:
    """What a blank unit of a count means, and units that do not suit a lot or packages."""
    import polars as pl

    typed, blank = table.typed, table.text["unit"].is_null()
    of_goods = typed["package"].is_not_null() & typed["material"].is_null() & typed["lot"].is_null()
    of_lot = typed["lot"].is_not_null() & typed["material"].is_null()
    family = _family(typed["unit"])
    wrong = (of_lot & (family != "volume")) | (of_goods & (family != "count"))
    table.find(wrong, "unit-family", "unit", saying("does not suit what was counted"),
               "a volume for a lot, each for packages", "write a volume for a lot, each for packages")  # fmt: skip
    part = of_goods & (typed["quantity"] % 1 != 0)
    table.find(part, "not-whole", "quantity", saying("is not a whole number of packages"), "a whole number",
               "write a whole number")  # fmt: skip
    unit = (
        pl.when(~blank).then(pl.col("unit")).when(of_lot).then(pl.lit("bbl")).when(of_goods).then(pl.lit("each"))
        .otherwise(stock)
    )  # fmt: skip
    table.typed = typed.with_columns(unit.alias("unit"))


def _roots(tables: Mapping[str, Table], accepted: Mapping[str, pl.Series], sort: str, name: pl.Series) -> pl.Series:
    """The place of the first row set aside that brings in each of these names."""
    import polars as pl

    place = pl.format("{}{} row {}", "file", pl.format(" sheet {}", "sheet").fill_null(""), "row").alias("root")
    frames = [
        table.typed.filter(~accepted[kind]).select(pl.col(entry.name).alias("name"), place).drop_nulls()
        for kind, table in tables.items() for entry in table.kind.fields if entry.defines == sort
    ]  # fmt: skip
    roots = pl.concat(frames).unique("name", keep="first", maintain_order=True)
    return pl.DataFrame({"name": name}).join(roots, on="name", how="left", maintain_order="left")["root"]


def naming_set_aside(tables: Mapping[str, Table], accepted: Mapping[str, pl.Series]) -> None:
    """A warning where a row names something that only rows set aside bring into the books.

    Args:
        accepted: for each kind, true for the rows that are not set aside.
    """
    import polars as pl

    good: dict[str, list[pl.Series]] = {}
    for kind, table in tables.items():
        for entry in table.kind.fields:
            if entry.defines:
                good.setdefault(entry.defines, []).append(table.typed[entry.name].filter(accepted[kind]).unique())
    names = {sort: pl.concat(columns).implode() for sort, columns in good.items()}
    for table in tables.values():
        columns = {entry.name: names[entry.of] for entry in table.kind.fields if entry.of in names}
        # All columns at once, for hardly ever is there one to be looked at.
        unlike = table.typed.select(~pl.col(name).is_in(known) for name, known in columns.items())
        for entry in table.kind.fields:
            if entry.of is None or entry.name not in columns or not (missing := unlike[entry.name]).any():
                continue
            # Names that are not there at all have been said; so have ready-made packages and `*`.
            name = table.typed[entry.name]
            said = [frame.filter(pl.col("field") == entry.name)["i"] for frame in table.findings]
            for rows in said:
                missing = missing & ~table.text["i"].is_in(rows.implode())
            if entry.of == "packages":
                missing = missing & _ready_made(name.str.to_lowercase()).is_null()
            if entry.or_all:
                missing = missing & (name != "*")
            if not missing.any():
                continue
            singular = SINGULAR[entry.of][0]
            table.find(
                missing, "names-set-aside", entry.name,
                pl.format(f"the only row of {singular} `{{}}` was set aside", "value"),
                f"{one(singular)} whose row is in order",
                pl.coalesce(pl.format("put {} right first", "root"), pl.lit("put that row right first")),
                [_roots(tables, accepted, entry.of, name)], pl.col("root"),
            )  # fmt: skip
