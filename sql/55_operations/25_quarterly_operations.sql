-- table: excise.quarterly_operations
-- grain: one line of one site's quarterly report of operations
-- key: site, period, form_line
-- units: bbl, two decimals
-- reads: excise.operations
-- rule: X8
-- source: TTB F 5130.26, edition of 10/2014; line 18 (total) is from memory, unverified; samples stand with subpart L (25.195)

create table excise.quarterly_operations (
    site text not null,
    period text not null,
    form_line bigint not null,
    text text not null,
    bbl decimal(18,6) not null,
    primary key (site, period, form_line)
);

insert into excise.quarterly_operations by name
with
-- Which lines of the monthly form make up which of the quarterly one.
lines as (
    select * from (values
        (1, 'on hand at the beginning of the quarter', [1]),
        (2, 'produced by fermentation, with water and other liquids added', [2, 3]),
        (3, 'received in bond', [5]),
        (4, 'returned to the brewery after removal from it', [7]),
        (5, 'physical inventory overage', [11]),
        (6, 'other entries: gains measured, repacked from, untaxed beer returned', [12]),
        (7, 'returned after removal from another of our breweries', [8]),
        (8, 'total additions and on hand (lines 1 to 7)', [1, 2, 3, 5, 7, 8, 11, 12]),
        (10, 'removed for consumption or sale, with tax-determined for the tavern', [14, 15]),
        (11, 'removed without payment of tax (subpart L), with samples', [16, 17, 18, 19, 20, 27, 29]),
        (12, 'consumed on the premises', [21]),
        (13, 'destroyed on the premises', [28]),
        (14, 'losses, including theft', [30]),
        (15, 'physical inventory shortage: explain, or pay', [31]),
        (16, 'other entries: repacked into another package, put back to ferment', [32]),
        (17, 'on hand at the end of the quarter', [33]),
        (18, 'total (lines 10 to 17)', [14, 15, 16, 17, 18, 19, 20, 21, 27, 28, 29, 30, 31, 32, 33])
    ) as lines(form_line, text, monthly_lines)
),
quarters as (
    select distinct site, period from excise.operations where period like '%Q%'
),
totals as (
    select site, period, form_line, bbl from excise.operations where form_column = 'total'
)
select quarters.site, quarters.period, lines.form_line, lines.text, coalesce(sum(totals.bbl), 0) as bbl
from quarters
cross join lines
left join totals
    on totals.site = quarters.site and totals.period = quarters.period
    and list_contains(lines.monthly_lines, totals.form_line)
group by quarters.site, quarters.period, lines.form_line, lines.text;
