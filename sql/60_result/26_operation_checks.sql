-- table: result.operation_checks
-- grain: one published cross-check of one site's statement of operations
-- key: site, period, check_no, form_column
-- units: bbl
-- reads: excise.operation_checks, excise.quarterly_operations
-- rule: X8
-- source: TTB, Helpful Hints in Preparing Form 5130.9; the quarterly form's two totals are check 7 likewise

create table result.operation_checks (
    site text not null,
    period text not null,
    check_no bigint not null,
    form_column text not null,
    text text not null,
    expected decimal(18,6) not null,
    actual decimal(18,6) not null,
    holds boolean not null,
    primary key (site, period, check_no, form_column)
);

insert into result.operation_checks by name
select site, period, check_no, form_column, text, expected, actual, holds
from excise.operation_checks
union all by name
select totals.site, totals.period, 7 as check_no, 'quarterly form' as form_column,
    'line 8 = line 18 (the sum of lines 10 to 17)' as text, additions.bbl as expected, totals.bbl as actual,
    additions.bbl = totals.bbl as holds
from excise.quarterly_operations as totals
join excise.quarterly_operations as additions
    on additions.site = totals.site and additions.period = totals.period and additions.form_line = 8
where totals.form_line = 18;
