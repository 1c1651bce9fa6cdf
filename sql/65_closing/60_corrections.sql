-- table: result.corrections
-- grain: one figure of a closed month that later records change
-- key: booked_month, closed_month, result_table, subject, figure
-- units: as the figure
-- reads: closing.material_months, closing.lot_months, closing.goods_months, closing.house_stock_months, closing.run_costs,
--   closing.stage_losses, closing.period_expenses, closing.margins, closing.duty_months, closing.capacity, closing.variances,
--   closing.labour_variances, closing.purchase_variances, closing.overhead_variances, closing.journal, closing.turn,
--   closing.months, given_frozen_corrections, reference.chart, result.late_records, given_frozen_capacity,
--   given_frozen_duty_months, given_frozen_goods_months, given_frozen_house_stock_months, given_frozen_journal,
--   given_frozen_labour_variances, given_frozen_lot_months, given_frozen_margins, given_frozen_material_months,
--   given_frozen_overhead_variances, given_frozen_period_expenses, given_frozen_purchase_variances, given_frozen_run_costs,
--   given_frozen_stage_losses, given_frozen_variances
-- rule: none
-- source: booked = as frozen and corrected up to the last close; recomputed = as the records say now. The account a journal
--   figure hits is its own; of any other table, the account its stock, expense or revenue stands in. caused_by: of the late
--   records that can touch the month those that share most names with what the figure is about; where none shares a name, all

create table result.corrections (
    booked_month text not null,
    closed_month text not null,
    result_table text not null,
    subject text not null,
    figure text not null,
    booked decimal(28,10) not null,
    recomputed decimal(28,10) not null,
    difference decimal(28,10) not null,
    account text,
    caused_by text
);

insert into result.corrections by name
with
recomputed as (
    select 'material_months' as result_table, * from figures_of('closing.material_months')
    union all by name
    select 'lot_months' as result_table, * from figures_of('closing.lot_months')
    union all by name
    select 'goods_months' as result_table, * from figures_of('closing.goods_months')
    union all by name
    select 'house_stock_months' as result_table, * from figures_of('closing.house_stock_months')
    union all by name
    select 'run_costs' as result_table, * from figures_of('closing.run_costs')
    union all by name
    select 'stage_losses' as result_table, * from figures_of('closing.stage_losses')
    union all by name
    select 'period_expenses' as result_table, * from figures_of('closing.period_expenses')
    union all by name
    select 'margins' as result_table, * from figures_of('closing.margins')
    union all by name
    select 'capacity' as result_table, * from figures_of('closing.capacity')
    union all by name
    select 'variances' as result_table, * from figures_of('closing.variances')
    union all by name
    select 'purchase_variances' as result_table, * from figures_of('closing.purchase_variances')
    union all by name
    select 'labour_variances' as result_table, * from figures_of('closing.labour_variances')
    union all by name
    select 'overhead_variances' as result_table, * from figures_of('closing.overhead_variances')
    union all by name
    select 'duty_months' as result_table, * from figures_of('closing.duty_months')
    union all by name
    select 'journal' as result_table, * from figures_of('closing.journal')
),
frozen as (
    select 'material_months' as result_table, * from figures_of('given_frozen_material_months')
    union all by name
    select 'lot_months' as result_table, * from figures_of('given_frozen_lot_months')
    union all by name
    select 'goods_months' as result_table, * from figures_of('given_frozen_goods_months')
    union all by name
    select 'house_stock_months' as result_table, * from figures_of('given_frozen_house_stock_months')
    union all by name
    select 'run_costs' as result_table, * from figures_of('given_frozen_run_costs')
    union all by name
    select 'stage_losses' as result_table, * from figures_of('given_frozen_stage_losses')
    union all by name
    select 'period_expenses' as result_table, * from figures_of('given_frozen_period_expenses')
    union all by name
    select 'margins' as result_table, * from figures_of('given_frozen_margins')
    union all by name
    select 'capacity' as result_table, * from figures_of('given_frozen_capacity')
    union all by name
    select 'variances' as result_table, * from figures_of('given_frozen_variances')
    union all by name
    select 'purchase_variances' as result_table, * from figures_of('given_frozen_purchase_variances')
    union all by name
    select 'labour_variances' as result_table, * from figures_of('given_frozen_labour_variances')
    union all by name
    select 'overhead_variances' as result_table, * from figures_of('given_frozen_overhead_variances')
    union all by name
    select 'duty_months' as result_table, * from figures_of('given_frozen_duty_months')
    union all by name
    select 'journal' as result_table, * from figures_of('given_frozen_journal')
),
-- Entries that correct are no figures of their own month.
sides as (
    select result_table, month, subject, figure, 0 as booked, value as recomputed from recomputed
    union all by name
    select result_table, month, subject, figure, value as booked, 0 as recomputed
    from frozen
    where result_table <> 'journal' or subject not like 'corrections ·%'
    union all by name
    select result_table, closed_month as month, subject, figure, difference as booked, 0 as recomputed
    from given_frozen_corrections
),
figures as (
    select result_table, month, subject, figure, sum(booked) as booked, sum(recomputed) as recomputed
    from sides
    group by all
    having sum(booked) <> sum(recomputed)
),
-- Names in what a figure is about, and in the late records: material, lot, brew, beer, account ...
about as (
    select result_table, month, subject, figure, unnest(string_split(subject, ' · ')) as name
    from figures
),
late as (
    select late_records.*,
        case
            when row is null then file || ' (changed)'
            else concat_ws(', ', file, sheet) || ' row ' || row || ' (' || change || ')'
        end as shown
    from result.late_records
    join closing.turn on late_records.booked_month = turn.first_open
),
said as (
    select distinct shown, unnest(cells ->> ['$.material', '$.lot', '$.from_lot', '$.to_lot', '$.brew', '$.run', '$.beer',
        '$.from_beer', '$.to_beer', '$.package', '$.account', '$.document', '$.receipt_document', '$.pool', '$.area',
        '$.kind']) as name
    from (
        select shown, cells from late
        union all
        select shown, before_cells from late
    )
),
shared as (
    select about.result_table, about.month, about.subject, about.figure, said.shown, count(distinct name) as names_count
    from about
    join said using (name)
    group by all
),
causes as (
    select figures.result_table, figures.month, figures.subject, figures.figure, late.shown
    from figures
    join late on coalesce(late.month, figures.month) <= figures.month
        -- What is bought, used and paid for moves no duty.
        and not (late.kind in ('receipts', 'invoices', 'uses', 'labour', 'expenses', 'byproducts', 'credits', 'recipes',
                'package_materials', 'standards', 'prices', 'opening_materials')
            and (figures.result_table = 'duty_months' or figures.subject like '%duty accrued%'))
    left join shared on shared.result_table = figures.result_table and shared.month = figures.month
        and shared.subject = figures.subject and shared.figure = figures.figure and shared.shown = late.shown
    qualify rank() over (
        partition by figures.result_table, figures.month, figures.subject, figures.figure
        order by coalesce(shared.names_count, 0) desc
    ) = 1
),
named as (
    select result_table, month, subject, figure,
        string_agg(shown, '; ' order by place) filter (where place <= 3)
            || case when count(*) > 3 then '; and ' || count(*) - 3 || ' more' else '' end as caused_by
    from (
        select *, row_number() over (partition by result_table, month, subject, figure order by shown) as place
        from causes
    )
    group by result_table, month, subject, figure
),
roles as (
    select * from (values
        ('material_months', 'closing_cost', 'materials'), ('lot_months', 'closing_cost', 'process'),
        ('goods_months', 'closing_cost', 'goods'), ('house_stock_months', 'closing_cost', 'house_stock'), ('margins', 'revenue', 'sales'),
        ('margins', 'cost_of_goods_sold', 'cost_of_goods_sold'), ('margins', 'duty', 'duty'),
        ('margins', 'freight', 'freight_out'), ('duty_months', 'amount', 'duty_payable')
    ) as roles (result_table, figure, role)
)
select
    turn.first_open as booked_month, figures.month as closed_month, figures.result_table, figures.subject,
    figures.figure, figures.booked, figures.recomputed, figures.recomputed - figures.booked as difference,
    case
        when figures.result_table = 'journal'
            then (
                select any_value(posted.account)
                from (select account from closing.journal union select account from given_frozen_journal) as posted
                where figures.subject like '%· ' || posted.account || ' ·%'
            )
        else chart.account
    end as account,
    named.caused_by
from figures
cross join closing.turn
left join named using (result_table, month, subject, figure)
left join roles using (result_table, figure)
left join reference.chart using (role)
union all by name
from given_frozen_corrections;
