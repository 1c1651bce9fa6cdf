-- table: report.corrections
-- grain: one figure of a closed month that is corrected in a month
-- key: month, closed_month, stands_in, about, figure, account
-- units: as the figure; unit: 'price' where cents do not say it
-- reads: result.corrections, result.journal, closing.journal, closing.months
-- rule: none
-- source: none; presentation. Of a journal line the account stands in a column of its own

create table report.corrections (
    month text not null,
    closed_month text not null,
    stands_in text not null,
    about text not null,
    figure text not null,
    unit text not null,
    booked decimal(28,10) not null,
    recomputed decimal(28,10) not null,
    difference decimal(28,10) not null,
    account text,
    caused_by text
);

insert into report.corrections by name
with
tables as (
    select * from (values
        ('material_months', 'materials'), ('lot_months', 'beer in process'), ('goods_months', 'packaged goods'),
        ('house_stock_months', 'stock at own houses'), ('run_costs', 'packaging runs'), ('stage_losses', 'losses'),
        ('period_expenses', 'period expenses'), ('margins', 'margins'), ('duty_months', 'duty payable'),
        ('capacity', 'capacity'), ('variances', 'variances of materials'), ('labour_variances', 'variances of labour'),
        ('purchase_variances', 'prices of what was received'), ('overhead_variances', 'variances of overhead')
    ) as tables (result_table, shown)
),
posted as (
    select distinct account, concat_ws(' · ', role, area, account, account_name) as shown
    from (
        select role, area, account, account_name from result.journal
        union all by name
        select role, area, account, account_name from closing.journal
    )
)
select
    corrections.booked_month as month, corrections.closed_month,
    coalesce(tables.shown, corrections.result_table) as stands_in,
    replace(corrections.subject, coalesce(posted.shown || ' · ', ''), '') as about,
    replace(replace(replace(corrections.figure, '_bbl', ', bbl'), '_pct', ', %'), '_', ' ') as figure,
    case when corrections.figure like '%price%' or corrections.figure like '%rate' or corrections.figure like '%per%'
        then 'price' else '' end as unit,
    corrections.booked, corrections.recomputed, corrections.difference, corrections.account, corrections.caused_by
from result.corrections
left join tables using (result_table)
left join posted on corrections.result_table = 'journal' and posted.account = corrections.account
    and contains(corrections.subject, posted.shown);
