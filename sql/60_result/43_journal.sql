-- table: result.journal
-- grain: one line of one entry of the month
-- key: month, entry, line
-- units: money
-- reads: result.movements, reference.chart, reference.chart_areas, record.months
-- rule: K6
-- source: an entry is a kind of movement at a site in a month; receipts, invoices, beer received and credits have one for each
--   document

create table result.journal (
    month text not null,
    entry bigint not null,
    line bigint not null,
    date date not null,
    site text,
    kind text not null,
    document text not null,
    role text not null,
    area text,
    account text not null,
    account_name text not null,
    text text not null,
    debit decimal(18,6) not null,
    credit decimal(18,6) not null,
    primary key (month, entry, line)
);

insert into result.journal by name
with
sides as (
    select month, date, site, kind, document, text, debit as role, area, amount from result.movements
    union all by name
    select month, date, site, kind, document, text, credit as role, area, -amount as amount from result.movements
),
lines as (
    select sides.month, sides.site, sides.kind, sides.document, sides.role, sides.text,
        case when chart.by_area then sides.area end as area,
        case when sides.document = '' then months.last_day else max(sides.date) end as date,
        sum(sides.amount)::decimal(18,6) as amount
    from sides
    join reference.chart using (role)
    join record.months using (month)
    group by sides.month, sides.site, sides.kind, sides.document, sides.role, sides.text, chart.by_area, sides.area,
        months.last_day
    having sum(sides.amount) <> 0
)
select
    lines.month,
    dense_rank() over (
        partition by lines.month order by lines.kind, lines.site nulls first, lines.document
    ) as entry,
    row_number() over (
        partition by lines.month, lines.kind, lines.site, lines.document
        order by lines.amount < 0, lines.role, lines.area, lines.text
    ) as line,
    lines.date, lines.site, lines.kind, lines.document, lines.role, lines.area,
    account_of(chart.account, chart_areas.account, lines.area) as account,
    concat_ws(' ', chart.name, lines.area) as account_name,
    lines.text,
    greatest(lines.amount, 0) as debit,
    greatest(-lines.amount, 0) as credit
from lines
join reference.chart using (role)
left join reference.chart_areas on chart_areas.role = lines.role and chart_areas.area = lines.area;
