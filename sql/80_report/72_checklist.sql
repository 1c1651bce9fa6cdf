-- table: report.checklist
-- grain: one thing to be done before a month is closed
-- key: month, place
-- units: how many are done, of how many; stops: whether what is open stops the close (as `brewcost close` refuses)
-- reads: report.months, result.material_months, result.goods_months, result.counts, report.received_not_invoiced, result.movements,
--   excise.returns, report.state, report.findings, record.months, closing.months, result.corrections
-- rule: severity
-- source: none; presentation

create table report.checklist (
    month text not null,
    place bigint not null,
    item text not null,
    done_count bigint,
    all_count bigint,
    state text not null,
    stops text not null,
    detail text,
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
    select months.month, received.all_count, opened.open_count, opened.amount
    from report.months as months
    left join (
        select months.month, count(*) as all_count
        from report.months as months
        join (
            select distinct month, document, text
            from result.movements
            where kind = 'receipts' and credit = 'received_not_invoiced'
        ) as receipts on receipts.month <= months.month
        group by months.month
    ) as received using (month)
    left join (
        select month, count(*) as open_count, sum(amount) as amount from report.received_not_invoiced group by month
    ) as opened using (month)
),
filings as (
    select months.month, count(*) as ended_count, count(returns.filed_on) as filed_count,
        string_agg(case when returns.filed_on is null then returns.area || ' ' || returns.period || ', due '
            || coalesce(returns.due_date::text, 'not known') end, '; ' order by returns.area, returns.period) as missing
    from report.months as months
    join excise.returns on strftime(returns.to_date, '%Y-%m') <= months.month
    group by months.month
),
accepted as (
    select month, count(*) as warnings_count, count(accepted) as accepted_count
    from report.findings
    where severity = 'warning'
    group by month
),
changes as (
    select booked_month as month, count(*) as figures_count from result.corrections group by booked_month
),
earlier as (
    select months.month, count(*) as months_count, count(closed.month) as closed_count,
        string_agg(before.month, ', ' order by before.month) filter (where closed.month is null) as open_months
    from report.months as months
    join record.months as before on before.month < months.month
    left join closing.months as closed on closed.month = before.month
    group by months.month
),
items as (
    select months.month, 1 as place, 'materials on hand counted' as item, coalesce(counts.counted_count, 0) as done_count,
        coalesce(counts.held_count, 0) as all_count, null as detail
    from report.months as months
    left join counts on counts.month = months.month and counts.what = 'material'
    union all by name
    select months.month, 2 as place, 'packaged goods on hand counted' as item,
        coalesce(counts.counted_count, 0) as done_count, coalesce(counts.held_count, 0) as all_count, null as detail
    from report.months as months
    left join counts on counts.month = months.month and counts.what = 'goods'
    union all by name
    select months.month, 3 as place, 'estimated receipts invoiced' as item,
        coalesce(estimates.all_count, 0) - coalesce(estimates.open_count, 0) as done_count,
        coalesce(estimates.all_count, 0) as all_count,
        case when estimates.open_count > 0 then 'at an estimate: ' || shown(estimates.amount) end as detail
    from report.months as months
    left join estimates using (month)
    union all by name
    select months.month, 4 as place, 'excise returns of ended periods filed' as item,
        coalesce(filings.filed_count, 0) as done_count, coalesce(filings.ended_count, 0) as all_count,
        'not recorded as filed: ' || filings.missing as detail
    from report.months as months
    left join filings using (month)
    union all by name
    select month, 5 as place, 'controls that hold' as item, controls_count - failing_count as done_count,
        controls_count as all_count, null as detail
    from report.state
    union all by name
    select month, 6 as place, 'errors put right' as item, 0 as done_count,
        errors_count + earlier_errors_count as all_count, null as detail
    from report.state
    union all by name
    select months.month, 7 as place, 'warnings put right or accepted' as item,
        coalesce(accepted.accepted_count, 0) as done_count, coalesce(accepted.warnings_count, 0) as all_count,
        case when accepted.warnings_count > accepted.accepted_count
            then 'each on sheet to put right; brewcost accept takes what is as it should be' end as detail
    from report.months as months
    left join accepted using (month)
    union all by name
    select months.month, 8 as place, 'corrections of closed months, to be looked at' as item,
        case when coalesce(changes.figures_count, 0) = 0 then 0 end as done_count,
        coalesce(changes.figures_count, 0) as all_count,
        case when changes.figures_count > 0 then 'each on sheet corrections' end as detail
    from report.months as months
    left join changes using (month)
    union all by name
    select months.month, 9 as place, 'earlier months closed' as item, coalesce(earlier.closed_count, 0) as done_count,
        coalesce(earlier.months_count, 0) as all_count, 'open: ' || earlier.open_months as detail
    from report.months as months
    left join earlier using (month)
    union all by name
    select months.month, 10 as place, 'month closed' as item, (closed.month is not null)::bigint as done_count,
        1 as all_count,
        'by ' || closed.closed_by || ', ' || closed.closed_at || ', brewcost ' || closed.version as detail
    from report.months as months
    left join closing.months as closed on closed.month = months.month
)
select *,
    case
        when done_count = all_count then 'done'
        when place = 8 then 'to look at'
        when place = 5 then 'FAILS'
        else 'OPEN'
    end as state,
    case when done_count <> all_count and place in (5, 6, 9) then 'stopped' else '' end as stops
from items;
