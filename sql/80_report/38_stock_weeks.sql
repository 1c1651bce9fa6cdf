-- table: report.stock_weeks
-- grain: one beer in one package at the end of a month
-- key: month, beer, package
-- units: packages, bbl; weeks: at this month's pace, blank where nothing left
-- reads: result.goods_months, report.months
-- rule: M7
-- source: none; presentation

create table report.stock_weeks (
    month text not null,
    beer text not null,
    package text not null,
    stock_units decimal(18,6),
    stock_bbl decimal(18,6),
    out_units decimal(18,6),
    out_bbl decimal(18,6),
    weeks decimal(18,6),
    primary key (month, beer, package)
);

insert into report.stock_weeks by name
with
summed as (
    select month, beer, package, sum(closing_units) as stock_units, sum(closing_bbl) as stock_bbl,
        sum(shipped_units) as out_units, sum(shipped_bbl) as out_bbl
    from result.goods_months
    group by month, beer, package
)
select summed.*,
    per(summed.stock_units * (months.last_day - months.first_day + 1), summed.out_units * 7) as weeks
from summed
join report.months using (month)
where summed.stock_units <> 0 or summed.out_units <> 0;
