-- table: report.months
-- grain: one month of the books
-- key: month
-- units: none
-- reads: result.controls, result.material_months, result.lot_months, result.goods_months, result.run_costs,
--   result.stage_losses, result.period_expenses, result.duty_months, result.margins
-- rule: none
-- source: none; presentation

create table report.months (
    month text primary key,
    first_day date not null,
    last_day date not null
);

insert into report.months by name
with named as (
    select month from result.controls
    union select month from result.material_months
    union select month from result.lot_months
    union select month from result.goods_months
    union select month from result.run_costs
    union select month from result.stage_losses
    union select month from result.period_expenses
    union select month from result.duty_months
    union select month from result.margins
)
select
    month,
    (month || '-01')::date as first_day,
    last_day((month || '-01')::date) as last_day
from named
where month is not null;
