-- table: report.loss_figures
-- grain: one figure of one month on the first sheet of the brewer's workbook
-- key: month, place
-- units: as the row says
-- reads: report.months, report.losses, report.losses_by_stage, report.beer_in_cellar, result.stage_losses,
--   result.run_costs, result.books
-- rule: V1, V2, V3, V4, V5, V7
-- source: none; presentation

create table report.loss_figures (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    last_month decimal(18,6),
    change decimal(18,6),
    primary key (month, place)
);

insert into report.loss_figures by name
with brewed as (
    select month, sum(volume_out_bbl) as out_bbl
    from result.stage_losses
    where stage = 'kettle'
    group by month
),
packaged as (
    select month, sum(good_bbl) as good_bbl
    from result.run_costs
    group by month
),
lost as (
    select
        month,
        sum(loss_bbl) as loss_bbl,
        root_sum_square(reading_error_bbl) as reading_error_bbl,
        sum(loss_cost) as loss_cost,
        sum(abnormal_cost) as abnormal_cost
    from report.losses_by_stage
    group by month
),
unmeasured as (
    select month, count(*) filter (where verdict = 'not measured') as unmeasured_count
    from report.losses
    group by month
),
stocked as (
    select month, sum(closing_bbl) as closing_bbl
    from report.beer_in_cellar
    group by month
),
figures as (
    select
        months.month,
        unnest([
            {place: 1, figure: 'lost, all stages', unit: 'bbl', value: coalesce(lost.loss_bbl, 0)},
            {place: 2, figure: '  reading error of that, ±', unit: 'bbl', value: lost.reading_error_bbl},
            {place: 3, figure: '  in half-barrel kegs', unit: 'kegs', value: 2 * coalesce(lost.loss_bbl, 0)},
            {place: 4, figure: '  at cost', unit: books.currency, value: coalesce(lost.loss_cost, 0)},
            {place: 5, figure: '  beyond what is allowed', unit: books.currency,
                value: coalesce(lost.abnormal_cost, 0)},
            {place: 6, figure: 'into fermenters', unit: 'bbl', value: coalesce(brewed.out_bbl, 0)},
            {place: 7, figure: 'packaged', unit: 'bbl', value: coalesce(packaged.good_bbl, 0)},
            {place: 8, figure: 'in the cellar at the end', unit: 'bbl', value: coalesce(stocked.closing_bbl, 0)},
            {place: 9, figure: 'losses not measured', unit: 'records',
                value: coalesce(unmeasured.unmeasured_count, 0)}
        ], recursive := true)
    from report.months as months
    cross join result.books as books
    left join brewed on brewed.month = months.month
    left join packaged on packaged.month = months.month
    left join lost on lost.month = months.month
    left join unmeasured on unmeasured.month = months.month
    left join stocked on stocked.month = months.month
)
select
    *,
    lag(value) over months_of_figure as last_month,
    value - lag(value) over months_of_figure as change
from figures
window months_of_figure as (partition by place order by month);
