-- table: report.beer_in_cellar
-- grain: one lot with beer in it at the end of one month
-- key: month, site, lot
-- units: bbl, the books' currency; days at the month's end since the lot was opened; half_barrels are kegs of 15.5 gal
-- reads: report.months, report.beer_in_process
-- rule: V10
-- source: none; presentation

create table report.beer_in_cellar (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    stage text,
    vessel text,
    opened_on date,
    age_days bigint,
    closing_bbl decimal(18,6) not null,
    half_barrels decimal(18,6) not null,
    closing_cost decimal(18,6),
    closing_cost_per_bbl decimal(18,6),
    primary key (month, site, lot)
);

insert into report.beer_in_cellar by name
select
    beer.month,
    beer.site,
    beer.lot,
    beer.beer,
    beer.stage,
    beer.vessel,
    beer.opened_on,
    date_diff('day', beer.opened_on, months.last_day) as age_days,
    beer.closing_bbl,
    2 * beer.closing_bbl as half_barrels,
    beer.closing_cost,
    beer.closing_cost_per_bbl
from report.beer_in_process as beer
join report.months as months on months.month = beer.month
where beer.closing_bbl <> 0;
