"""Australia's remission of duty: all of it, up to a cap in a financial year (ATO, Remission scheme for alcohol manufacturers).

A$350,000 a year from 1 July 2021; A$400,000 announced from 1 July 2026. The rates are those of brewcost/areas/AU.toml.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from excise_case import books, duty, ship
from excise_case import package as a_package
from small_books import REFERENCE, failed_controls, lines, write_books

from brewcost import areas, closing, pipeline, settings
from brewcost.areas_view import areas_command
from brewcost.books import Books
from brewcost.trace import explain

KEG = a_package("keg", "keg", 50, "L")
# A keg of 50 L at 5 %: 50 x (5 - 1.15) % = 1.925 L of alcohol above the threshold, at A$43.39 (subitem 1.11).
LITRES, RATE = Decimal("1.925"), Decimal("43.39")


def gross(kegs: int) -> Decimal:
    """Duty of one month's kegs: litres of alcohol cut to one decimal, dollars to the cent (ATO worked examples)."""
    litres = (LITRES * kegs).quantize(Decimal("0.1"), rounding="ROUND_DOWN")
    return (litres * RATE).quantize(Decimal("0.01"), rounding="ROUND_DOWN")


def australia(
    shipped: Sequence[tuple[date, int]],
    filer: Mapping[str, Any] | None = None,
    sites: Sequence[str] = ("main",),
    **records: Any,
) -> duckdb.DuckDBPyConnection:
    """So many kegs each day, the sites in turn; the brewery is given the remission unless `filer` says else."""
    shipments = [ship(day, "keg", units, f"S{n:02}", site=sites[n % len(sites)]) for n, (day, units) in enumerate(shipped)]
    con = books(
        {"packages": [KEG], "shipments": shipments, **records},
        sites=dict.fromkeys(sites, "AU"),
        filers=[{"area": "AU", **({"remission": True} if filer is None else filer)}],
        currency="AUD",
    )
    _adds_up(con)
    return con


def _adds_up(con: duckdb.DuckDBPyConnection) -> None:
    """K7: the removals of each month of a site carry its duty to the cent; all months come to all returns."""
    unlike = con.execute("""
        select area, site, month, months.amount, shared.amount
        from excise.duty_months as months
        full join (select area, site, month, sum(amount) as amount from excise.removal_duty group by all) as shared
            using (area, site, month)
        where coalesce(months.amount, 0) <> coalesce(shared.amount, 0)
        union all
        select area, site, 'all', sum(months.amount), any_value(returns.tax)
        from excise.duty_months as months
        join (select area, site, sum(amount) as tax from excise.duty group by all) as returns using (area, site)
        group by area, site
        having sum(months.amount) <> any_value(returns.tax)""").fetchall()
    assert unlike == []


def taxes(con: duckdb.DuckDBPyConnection) -> dict[str, Decimal]:
    """What each return comes to."""
    return dict(con.execute("select period, tax from excise.returns where area = 'AU'").fetchall())


def shares(con: duckdb.DuckDBPyConnection) -> list[tuple[Decimal, Decimal]]:
    """Amount and what was remitted of each removal, by document."""
    return con.execute("select amount, remitted from excise.removal_duty where area = 'AU' order by document").fetchall()


CAP_2025, CAP_2026 = Decimal(350000), Decimal(400000)
AUGUST, SEPTEMBER, OCTOBER = date(2025, 8, 5), date(2025, 9, 5), date(2025, 10, 6)
# 2,500 kegs are A$208,814.37, so 5,000 in two months pass the cap of the year from July 2025.
LOTS = 2500
CASES: list[tuple[str, list[tuple[date, int]], dict[str, Any] | None, dict[str, Decimal]]] = [
    ("below the cap nothing is owed", [(AUGUST, 100), (SEPTEMBER, LOTS)], None,
     {"2025-08": Decimal(0), "2025-09": Decimal(0)}),
    ("the month that crosses it owes what is beyond, later ones all", [(AUGUST, LOTS), (SEPTEMBER, LOTS), (OCTOBER, 10)], None,
     {"2025-08": Decimal(0), "2025-09": 2 * gross(LOTS) - CAP_2025, "2025-10": gross(10)}),
    ("July begins a new count, and a higher cap", [(date(2026, 6, 30), 5000), (date(2026, 7, 1), 5000)], None,
     {"2026-06": gross(5000) - CAP_2025, "2026-07": gross(5000) - CAP_2026}),
    ("a brewery that does not say so is given none", [(AUGUST, 100)], {}, {"2025-08": gross(100)}),
    ("nor one that says it is not", [(AUGUST, 100)], {"remission": False}, {"2025-08": gross(100)}),
    ("a part of a group has its part of the cap", [(AUGUST, LOTS)], {"remission": True, "remission_cap": 100000},
     {"2025-08": gross(LOTS) - 100000}),
    ("a part larger than the cap is the cap", [(AUGUST, 5000)], {"remission": True, "remission_cap": 900000},
     {"2025-08": gross(5000) - CAP_2025}),
]  # fmt: skip


@pytest.mark.parametrize(("shipped", "filer", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_what_a_return_comes_to(
    shipped: list[tuple[date, int]], filer: dict[str, Any] | None, expected: dict[str, Decimal]
) -> None:
    assert taxes(australia(shipped, filer)) == expected


def test_the_whole_duty_stays_on_the_return_and_the_remission_is_a_line_under_it() -> None:
    con = australia([(AUGUST, LOTS), (SEPTEMBER, LOTS)])
    lines = con.execute(
        "select band, quantity, rate, amount, counts from excise.duty where period = '2025-09' order by amount desc"
    ).fetchall()
    assert lines == [
        ("subitem 1.11", Decimal("4812.5"), RATE, gross(LOTS), True),
        ("remission for manufacturers, year from 2025-07-01, all duty up to 350000.00", 0, None,
         gross(LOTS) - CAP_2025, False),
    ]  # fmt: skip


def test_a_cap_that_is_only_announced_says_so() -> None:
    con = australia([(date(2026, 6, 30), 1), (date(2026, 7, 1), 1)])
    said = con.execute("select unverified, source from excise.duty where rate is null order by from_date").fetchall()
    assert [doubt for doubt, _ in said] == [False, True]
    assert said[0][1].startswith("ATO, Remission scheme") and said[1][1].endswith("announced (unverified)")


def test_the_cap_is_counted_over_all_sites_in_order_of_date() -> None:
    """The day that crosses is split: the deliveries before it are free, those after it pay in full."""
    con = australia([(AUGUST, LOTS), (SEPTEMBER, LOTS), (date(2025, 9, 20), LOTS)], sites=("east", "west"))
    first, second, third = shares(con)
    assert taxes(con) == {"2025-08": 0, "2025-09": gross(LOTS) + gross(2 * LOTS) - CAP_2025}
    assert first == (0, gross(LOTS)) and second == (second[0], CAP_2025 - gross(LOTS))
    assert third == (third[0], 0) and third[0] in (gross(LOTS), gross(LOTS) + Decimal("0.01"))


def test_a_delivery_says_in_cents_what_it_bears_and_what_was_remitted() -> None:
    con = australia([(AUGUST, 7), (AUGUST, 5000), (AUGUST, 3)])
    found = shares(con)
    assert sum(remitted for _, remitted in found) == CAP_2025
    assert sum(amount for amount, _ in found) == gross(5010) - CAP_2025
    assert found[0][0] == 0 and found[2][1] == 0 and found[2][0] > 0


def test_explain_tells_of_each_delivery_what_was_remitted() -> None:
    con = australia([(AUGUST, 3000), (AUGUST, 2000)])
    con.execute("create view result.duty as from excise.duty")
    con.execute("create view result.books as select currency from reference.settings")
    tree = explain(con, ["duty", "au", "2025-08"])
    beyond = gross(5000) - CAP_2025
    assert tree.amount == beyond
    assert [(part.what, part.amount) for part in tree.parts] == [
        ("removal S00, 250,577.25 less 250,577.25 remitted", 0),
        ("removal S01, 167,051.50 less 99,422.75 remitted", beyond),
    ]


def returned(day: date, units: int) -> dict[str, Any]:
    return {"document": "R1", "date": day, "package": "keg", "units": units, "outcome": "destroyed", "original_document": "S00"}


def test_beer_that_comes_back_below_the_cap_lowers_the_count_and_no_duty() -> None:
    con = australia([(AUGUST, LOTS), (OCTOBER, LOTS)], returns=[returned(SEPTEMBER, 500)])
    found = taxes(con)
    assert found["2025-08"] == found["2025-09"] == 0
    ((remitted,),) = con.execute("select remitted from excise.remissions where period = '2025-09'").fetchall()
    assert remitted == -gross(500)
    assert found["2025-10"] == 2 * gross(LOTS) - gross(500) - CAP_2025


def test_beer_that_comes_back_beyond_the_cap_lowers_what_is_owed() -> None:
    con = australia([(AUGUST, 5000), (OCTOBER, 1)], returns=[returned(SEPTEMBER, 100)])
    assert taxes(con) == {"2025-08": gross(5000) - CAP_2025, "2025-09": -gross(100), "2025-10": gross(1)}


def test_beer_of_last_year_that_comes_back_in_july_gives_nothing_back_that_was_never_paid() -> None:
    con = australia([(date(2026, 6, 1), 100), (date(2026, 8, 3), 1)], returns=[returned(date(2026, 7, 2), 50)])
    assert taxes(con) == {"2026-06": 0, "2026-07": 0, "2026-08": 0}


def test_what_was_remitted_before_the_books_began_is_used_up() -> None:
    opening = [{"area": "AU", "period": "2025-07", "tax_remitted": 300000}]
    con = australia([(AUGUST, LOTS), (date(2026, 7, 1), LOTS)], opening_duty=opening)
    assert taxes(con)["2025-08"] == gross(LOTS) - 50000
    assert taxes(con)["2026-07"] == 0


@pytest.mark.parametrize("opening", [[], [{"area": "AU", "period": "2025-07", "tax_remitted": 0}]])
def test_books_that_begin_inside_a_year_are_asked_what_of_it_is_used_up(opening: list[dict[str, Any]]) -> None:
    con = australia([(AUGUST, 100)], opening_duty=opening)
    found = con.execute("select code, field, value from excise.problems where code = 'remission-before-books'").fetchall()
    assert found == ([] if opening else [("remission-before-books", "tax_remitted", "2025-07-01")])


def test_before_the_scheme_the_whole_duty_is_owed() -> None:
    case = [a_package("case", "bottled", "330", "mL", 24)]
    con = books(
        {"packages": case, "shipments": [ship(date(2019, 9, 2), "case", 1000)]},
        sites={"main": "AU"}, filers=[{"area": "AU", "remission": True}], currency="AUD",
    )  # fmt: skip
    # 1000 x 24 x 0.33 L x 3.85 % = 304.92 L, cut to 304.9, at 50.70 (ATO worked example of August 2019).
    assert duty(con, "AU") == Decimal("15458.43")


def test_a_filed_return_keeps_its_amount_and_the_next_one_bears_the_net_difference() -> None:
    filing = {"area": "AU", "period": "2025-08", "filed_on": date(2025, 9, 2), "quantity": 0, "amount": 5}
    con = australia([(AUGUST, LOTS), (SEPTEMBER, 1)], filings=[filing])
    assert con.execute("select period, tax, decreasing from excise.returns order by period").fetchall() == [
        ("2025-08", 5, 0), ("2025-09", 0, 5)
    ]  # fmt: skip


AREA = """
area = "XX"
name = "Invented"
level = "country"
authority = "an authority"
edition = "an edition"
currency = "USD"
basis = "L"
payer = "brewer"
default_period = "monthly"
counter_starts = "07-01"
{returns}
[rounding]
money = {{ places = 2, mode = "half_up", source = "a source" }}
[[periods]]
length = "monthly"
source = "a source"
[[rates]]
from = 2000-01-01
rate = 1
source = "a source"
checked = 2026-11-25
"""
REST = 'source = "s"\nchecked = 2026-11-25\n'


@pytest.mark.parametrize(
    ("remissions", "message"),
    [
        (["from = 2021-07-01\ncap = 1\ncolour = 2\n" + REST], "remissions[1].colour is not a key"),
        (["from = 2021-07-01\ncap = 1\nchecked = 2026-11-25\n"], "remissions[1].source is missing"),
        (['from = 2021-07-01\ncap = 1\nsource = "s"\n'], "remissions[1].checked is missing"),
        (["from = 2021-07-01\n" + REST], "remissions[1].cap is missing"),
        (["from = 2021-07-01\ncap = -1\n" + REST], "remissions[1].cap is -1; expected a number from 0 to 1000000000"),
        (["from = 2021-01-01\ncap = 1\n" + REST], "remissions[1].from is 2021-01-01; expected the edge of a year"),
        (["from = 2021-07-01\nto = 2022-06-01\ncap = 1\n" + REST], "remissions[1].to is 2022-06-01; expected the edge"),
        (["from = 2021-07-01\ncap = 1\n" + REST, "from = 2022-07-01\ncap = 2\n" + REST],
         "remissions[2].from 2022-07-01 overlaps"),
        (["from = 2021-07-01\nto = 2022-06-30\ncap = 1\n" + REST, "from = 2023-07-01\ncap = 2\n" + REST],
         "remissions[2].from 2023-07-01 leaves a gap after 2022-06-30"),
        (["from = 2021-07-01\nto = 2020-06-30\ncap = 1\n" + REST], "remissions[1].to is 2020-06-30, before 2021-07-01"),
    ],
)  # fmt: skip
def test_a_remission_that_is_wrong_is_refused_with_file_and_key(tmp_path: Path, remissions: list[str], message: str) -> None:
    _refused(tmp_path, 'returns = "brewer"', remissions, message)


def test_a_remission_of_an_area_with_a_return_each_site_is_refused(tmp_path: Path) -> None:
    _refused(tmp_path, "", ["from = 2021-07-01\ncap = 1\n" + REST], 'remissions[1] needs returns = "brewer"')


def _refused(folder: Path, returns: str, remissions: list[str], message: str) -> None:
    text = AREA.format(returns=returns) + "".join(f"[[remissions]]\n{one}" for one in remissions)
    (folder / "XX.toml").write_text(text, encoding="utf-8")
    with pytest.raises(areas.AreaError) as refusal:
        areas.read(folder / "XX.toml")
    assert str(refusal.value).startswith("areas/XX.toml: ") and message in str(refusal.value)


def test_a_filer_cannot_take_a_remission_that_its_area_does_not_know() -> None:
    parsed = settings.parse({
        "name": "Invented", "currency": "USD", "first_month": "2026-01", "sites": [{"site": "main", "area": "US"}],
        "filers": [{"area": "US", "remission": True}],
    })  # fmt: skip
    with pytest.raises(areas.AreaError, match=r"\[\[filers\]\] US remission is true; areas/US.toml knows no remission"):
        areas.register(duckdb.connect(), None, parsed)


def test_a_part_of_the_cap_needs_the_remission() -> None:
    with pytest.raises(settings.SettingsError, match=r"\[\[filers\]\] AU remission_cap .*remission = true beside it"):
        settings.parse({
            "name": "Invented", "currency": "AUD", "first_month": "2026-01", "sites": [{"site": "main", "area": "AU"}],
            "filers": [{"area": "AU", "remission_cap": 100}],
        })  # fmt: skip


def test_the_areas_command_shows_the_remission_in_force() -> None:
    text = areas_command(area="AU", on=date(2026, 11, 1))
    assert "remission for manufacturers: all duty up to 400000 a year" in text and "announced (unverified)" in text
    assert "350000" not in text


def test_a_closed_month_keeps_what_was_remitted_and_a_late_delivery_is_a_correction(tmp_path: Path) -> None:
    """The cap is crossed in January, which is closed; two kegs more are told of later, and bear the whole duty."""
    goods = {"site": "main", "beer": "Test Ale", "package": "half_bbl"}
    folder = write_books(tmp_path, {
        **REFERENCE,
        "accounts": [{"account": "Test shop", "kind": "retailer", "area": "AU"}],
        "opening_goods": [goods | {"units": 100, "cost": 5000}],
        "shipments": [goods | {"document": f"S{n}", "line": 1, "date": day, "account": "Test shop", "units": 10,
                               "purpose": "sale", "unit_price": 100}
                      for n, day in enumerate(("2026-01-10", "2026-02-10"), 1)],
    }, more='[[filers]]\narea = "AU"\nremission = true\nremission_cap = 500')  # fmt: skip
    lines(folder / "brewery.toml", lambda rows: [row.replace("US-ME", "AU").replace("USD", "AUD") for row in rows])

    def months() -> dict[str, Decimal]:
        pipeline.build(Books(folder))
        with Books(folder).reading() as con:
            assert failed_controls(con) == []
            return dict(con.execute("select month, amount from result.duty_months").fetchall())

    # A keg of half a barrel is 58.673882 L (31 gallons of 231 cubic inches, NIST Handbook 44): 22.5 L of alcohol for ten,
    # cut to one decimal, at 43.39 are 976.27.
    assert months() == {"2026-01": Decimal("476.27"), "2026-02": Decimal("976.27")}
    closing.close(Books(folder), "2026-01", "A")
    late = "S3,1,2026-01-20,Test shop,2,sale,100"
    lines(folder / "inputs" / "shipments.csv", lambda rows: [*rows, f"main,Test Ale,half_bbl,{late}"])
    assert months() == {"2026-01": Decimal("476.27"), "2026-02": Decimal("976.27")}
    with Books(folder).reading() as con:
        found = con.execute(
            "select booked, recomputed from result.corrections where result_table = 'duty_months' and figure = 'amount'"
        ).fetchall()
    # Twelve kegs: 27.1 L at 43.39 are 1,175.86, less 500.
    assert found == [(Decimal("476.27"), Decimal("675.86"))]
