-- table: report.checklist
-- grain: one thing to be done before a month is closed
-- key: month, place
-- units: none
-- reads: report.months, result.material_months, result.goods_months, result.counts, report.received_not_invoiced,
--   excise.returns, report.state, closing.months, result.corrections
-- rule: severity
-- source: none; presentation

create table report.checklist (
    month text not null,
    place bigint not null,
    item text not null,
    state text not null,
    detail text not null,
    primary key (month, place)
);

insert into report.checklist by name
with
held as (
    select month, 'material' as what, site || material as subject from result.material_months where closing_qty <> 0
    union all by name
    select month, 'goods' as what, site || beer || ' ' || package as subject from result.goods_months where closing_units <> 0
),
counted as (
    select distinct month, what, site || subject as subject from result.counts
),
counts as (
    select held.month, held.what, count(*) as held_count, count(counted.subject) as counted_count
    from held
    left join counted on counted.month = held.month and counted.what = held.what and counted.subject = held.subject
    group by held.month, held.what
),
estimates as (
    select month, count(*) as open_count, sum(amount) as amount from report.received_not_invoiced group by month
),
filings as (
    select months.month, count(*) as ended_count, count(returns.filed_on) as filed_count,
        string_agg(case when returns.filed_on is null then returns.area || ' ' || returns.period || ', due '
            || coalesce(returns.due_date::text, 'not known') end, '; ' order by returns.area, returns.period) as missing
    from report.months as months
    join excise.returns on strftime(returns.to_date, '%Y-%m') <= months.month
    group by months.month
),
changes as (
    select booked_month as month, count(*) as figures_count from result.corrections group by booked_month
),
items as (
    select months.month, 1 as place, 'materials counted' as item,
        case when coalesce(counts.counted_count, 0) = coalesce(counts.held_count, 0) then 'done' else 'OPEN' end as state,
        coalesce(counts.counted_count, 0) || ' of ' || coalesce(counts.held_count, 0)
            || ' materials on hand were counted this month' as detail
    from report.months as months
    left join counts on counts.month = months.month and counts.what = 'material'
    union all by name
    select months.month, 2 as place, 'packaged goods counted' as item,
        case when coalesce(counts.counted_count, 0) = coalesce(counts.held_count, 0) then 'done' else 'OPEN' end as state,
        coalesce(counts.counted_count, 0) || ' of ' || coalesce(counts.held_count, 0)
            || ' goods on hand were counted this month' as detail
    from report.months as months
    left join counts on counts.month = months.month and counts.what = 'goods'
    union all by name
    select months.month, 3 as place, 'estimates replaced by invoices' as item,
        case when estimates.open_count > 0 then 'OPEN' else 'done' end as state,
        case when estimates.open_count > 0
            then estimates.open_count || ' receipts stand at an estimate: ' || shown(estimates.amount)
            else 'no receipt stands at an estimate' end as detail
    from report.months as months
    left join estimates using (month)
    union all by name
    select months.month, 4 as place, 'excise returns filed' as item,
        case when filings.filed_count < filings.ended_count then 'OPEN' else 'done' end as state,
        case when filings.filed_count < filings.ended_count then 'not recorded as filed: ' || filings.missing
            else 'every return of a period that has ended is recorded as filed' end as detail
    from report.months as months
    left join filings using (month)
    union all by name
    select month, 5 as place, 'controls' as item, case when failing_count > 0 then 'FAILS' else 'done' end as state,
        failing_count || ' of ' || controls_count || ' controls fail' as detail
    from report.state
    union all by name
    select month, 6 as place, 'errors put right' as item,
        case when errors_count + earlier_errors_count > 0 then 'OPEN' else 'done' end as state,
        errors_count || ' errors in this month, ' || earlier_errors_count || ' in earlier ones' as detail
    from report.state
    union all by name
    select month, 7 as place, 'warnings looked at and accepted' as item,
        case when warnings_count > 0 then 'to be ticked' else 'done' end as state,
        warnings_count || ' warnings, each on sheet to put right' as detail
    from report.state
    union all by name
    select months.month, 8 as place, 'corrections of closed months' as item,
        case when changes.figures_count > 0 then 'to be looked at' else 'done' end as state,
        case when changes.figures_count > 0 then changes.figures_count || ' figures of closed months are corrected here'
            else 'no closed figure is corrected here' end as detail
    from report.months as months
    left join changes using (month)
    union all by name
    select months.month, 9 as place, 'closed' as item, case when closed.month is null then 'OPEN' else 'done' end as state,
        coalesce('by ' || closed.closed_by || ' on ' || closed.closed_at || ', brewcost ' || closed.version,
            'not closed: `brewcost close ' || months.month || '`') as detail
    from report.months as months
    left join closing.months as closed on closed.month = months.month
)
from items;
