"""brewery.toml: what it may not say, and that each refusal names the key, what stands there and what was expected."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import duckdb
import pytest
from excise_case import books, duty, package, ship

from brewcost import areas, settings

SITES = [{"site": "Alpha", "area": "AU"}, {"site": "Zeta", "area": "AU"}]
LEAST = {"name": "Invented", "currency": "AUD", "first_month": "2026-01", "sites": SITES}

RENT = {"pool": "rent", "stage": "cellar", "driver": "tank_days", "behaviour": "fixed"}


def parse(**more: Any) -> settings.Settings:
    return settings.parse({**LEAST, **more})


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"filers": [{"area": "AU"}, {"area": "US"}, {"area": "au"}]},
         "[[filers]] AU stands twice for every site, as entries 1 and 3; expected one"),
        ({"filers": [{"area": "US", "site": "alpha"}, {"area": "US", "site": "Alpha"}]},
         "[[filers]] US stands twice for the site Alpha, as entries 1 and 2; expected one"),
        *(({"pools": [RENT | {"normal_driver": Decimal(figure)}]}, "normal_driver is Decimal")
          for figure in ("nan", "inf", "1e30", "1e20", "0.0000001")),
        ({"pools": [RENT | {"normal_driver": [1] * 11 + [0]}]}, "one figure from 0.001 to below 1000000000000, or twelve"),
        ({"pools": [RENT | {"normal_driver": 60, "budget": Decimal("1e15")}]}, "[[pools]] 'rent' budget is Decimal('1E+15')"),
        ({"pools": [RENT | {"normal_driver": 60, "from_month": "0000-01"}]}, "from_month is '0000-01'; expected a month"),
        ({"first_month": "0000-01"}, "first_month is '0000-01'; expected a month such as \"2026-03\", from 1900-01"),
        ({"first_month": "9999-01"}, "first_month is '9999-01'; expected a month"),
        ({"reading_tolerance_bbl": {"kettle": Decimal("nan")}}, "kettle is Decimal('NaN'); expected a number from 0 to below"),
        ({"kegs": {"overdue_days": 10**23}}, "overdue_days is 100000000000000000000000; expected a whole number of days"),
        ({"kegs": {"deposits": {"half_bbl": 50, "HALF_BBL": 40}}}, "[kegs] deposits 'HALF_BBL' stands twice"),
        ({"kegs": {"deposits": {"half\x01": 50}}}, "'half\\x01' is a name with a control character; expected none"),
        ({"name": "Inv\x01ented"}, "name is 'Inv\\x01ented'; expected text without control characters"),
        ({"currency": "U\x1fD"}, "currency is 'U\\x1fD'; expected text without control characters"),
    ],
)  # fmt: skip
def test_settings_that_cannot_be_used_are_refused(more: dict[str, Any], said: str) -> None:
    with pytest.raises(settings.SettingsError) as refusal:
        parse(**more)
    assert str(refusal.value).startswith("brewery.toml: ") and said in str(refusal.value)


def test_where_one_return_covers_every_site_two_entries_for_it_are_refused() -> None:
    parsed = parse(filers=[{"area": "AU", "site": "Zeta"}, {"area": "AU"}])
    with pytest.raises(areas.AreaError, match=r"AU has an entry for the site Zeta and one for every site; expected one"):
        areas.register(duckdb.connect(), None, parsed)
    # Where each site files, its own entry stands before that of every site.
    areas.register(duckdb.connect(), None, parse(filers=[{"area": "US", "site": "Zeta"}, {"area": "US"}]))


def test_a_return_for_every_site_has_what_its_entry_says_whichever_site_that_names() -> None:
    con = books(
        {"packages": [package("keg", "keg", 50, "L")], "shipments": [ship(date(2026, 1, 5), "keg", 10, site="Alpha")]},
        sites={"Alpha": "AU", "Zeta": "AU"}, filers=[{"area": "AU", "site": "Zeta", "remission": True}], currency="AUD",
    )  # fmt: skip
    assert con.execute("select site, remission from excise.filers").fetchall() == [("Alpha", True)]
    assert duty(con, "AU") == 0


def test_a_filer_in_an_area_without_a_file_is_a_finding() -> None:
    con = books({}, filers=[{"area": "US-QQ", "expected_tax": Decimal(5)}])
    found = con.execute("select code, value, message from excise.problems").fetchall()
    assert [(code, value) for code, value, _ in found] == [("no-area-file", "US-QQ")]
    assert "[[filers]] in brewery.toml" in found[0][2]
