-- table: report.removals_by_purpose
-- grain: one purpose and form of one month; returns stand apart
-- key: month, site, purpose, form, taxable
-- units: bbl; excise_bbl at 5 decimals; the books' currency
-- reads: result.removals
-- rule: X3, X4
-- source: none; presentation

create table report.removals_by_purpose (
    month text not null,
    site text,
    purpose text not null,
    form text,
    taxable text not null,
    lines_count bigint not null,
    bbl decimal(18,6),
    excise_bbl decimal(18,6),
    duty decimal(18,6)
);

insert into report.removals_by_purpose by name
select
    month,
    site,
    coalesce(purpose, 'return') as purpose,
    form,
    case when taxable then 'taxable' else 'not taxable' end as taxable,
    count(*) as lines_count,
    sum(bbl) as bbl,
    sum(excise_bbl) as excise_bbl,
    sum(duty) as duty
from result.removals
group by all;
