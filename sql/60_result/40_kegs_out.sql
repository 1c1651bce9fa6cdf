-- table: result.kegs_out
-- grain: one account and size of returnable keg in a month
-- key: month, account, package
-- units: kegs; days_out: average age of those out; deposit of one keg and value: by brewery.toml, null where
--   it states none
-- reads: result.keg_moves, record.months, reference.settings, reference.margin_settings, reference.keg_deposits
-- rule: M7
-- source: kegs come back in the order in which they went out. Kegs that came back and had never gone out were out when the
--   books began

create table result.kegs_out (
    month text not null,
    account text not null,
    package text not null,
    opening_units decimal(18,6) not null,
    shipped_units decimal(18,6) not null,
    came_back_units decimal(18,6) not null,
    lost_units decimal(18,6) not null,
    closing_units decimal(18,6) not null,
    overdue_units decimal(18,6) not null,
    average_units decimal(18,6) not null,
    days_out decimal(18,6),
    deposit decimal(18,6),
    value decimal(18,6),
    primary key (month, account, package)
);

insert into result.kegs_out by name
with
running as (
    select *,
        sum(out_units - back_units - lost_units) over (
            partition by account, package order by date, out_units = 0, document, line
        ) as balance
    from result.keg_moves
),
before_books as (
    select account, package, greatest(-min(balance), 0) as units from running group by account, package
),
-- What went out lies along a line in the order of time; what came back takes it from the start.
layers as (
    select running.account, running.package, running.date, running.out_units as units,
        before_books.units + sum(running.out_units) over (
            partition by running.account, running.package order by running.date, running.document, running.line
            rows between unbounded preceding and current row
        ) as last_unit
    from running
    join before_books using (account, package)
    where running.out_units > 0
    union all by name
    select before_books.account, before_books.package, settings.first_day as date, before_books.units,
        before_books.units as last_unit
    from before_books
    cross join reference.settings
    where before_books.units > 0
),
flows as (
    select kegs.account, kegs.package, months.month,
        sum(kegs.out_units) as shipped_units, sum(kegs.back_units) as came_back_units,
        sum(kegs.lost_units) as lost_units,
        -- Each movement counts for the days of the month that follow it.
        sum((kegs.out_units - kegs.back_units - kegs.lost_units) * (months.last_day - kegs.date + 1))
            as unit_days
    from result.keg_moves as kegs
    join record.months on kegs.date between months.first_day and months.last_day
    group by kegs.account, kegs.package, months.month
),
rolled as (
    select before_books.account, before_books.package, months.month, months.first_day, months.last_day, months.days,
        coalesce(flows.shipped_units, 0) as shipped_units,
        coalesce(flows.came_back_units, 0) as came_back_units,
        coalesce(flows.lost_units, 0) as lost_units,
        coalesce(flows.unit_days, 0) as unit_days,
        before_books.units + coalesce(sum(
            flows.shipped_units - flows.came_back_units - flows.lost_units
        ) over so_far, 0) as closing_units,
        coalesce(sum(flows.came_back_units + flows.lost_units) over so_far, 0) as gone_units
    from before_books
    cross join record.months
    left join flows on flows.account = before_books.account and flows.package = before_books.package
        and flows.month = months.month
    window so_far as (
        partition by before_books.account, before_books.package order by months.month
        rows between unbounded preceding and current row
    )
),
-- What is out at a month's end lies on the line between what is gone and the last that went out by then. The sum of its days
-- of going out is that up to its end, less that up to its start, which lies in the layer of the oldest.
-- Days are numbered from any one day.
numbered as (
    select *, date - date '2000-01-01' as day from layers
),
line as (
    select *, sum(units * day) over (
            partition by account, package order by last_unit rows between unbounded preceding and current row
        ) as days
    from numbered
),
by_day as (
    select account, package, day, max(last_unit) as last_unit, max(days) as days from line group by account, package, day
),
dated as (
    select rolled.account, rolled.package, rolled.month, rolled.gone_units, rolled.last_day - date '2000-01-01' as day,
        margin_settings.keg_overdue_days
    from rolled
    cross join reference.margin_settings
),
ages as (
    select dated.account, dated.package, dated.month,
        latest.last_unit - dated.gone_units as units,
        (latest.last_unit - dated.gone_units) * dated.day
            - (latest.days - oldest.days + (oldest.last_unit - dated.gone_units) * oldest.day) as unit_days,
        greatest(coalesce(overdue.last_unit, 0) - dated.gone_units, 0) as overdue_units
    from dated
    asof join by_day as latest on latest.account = dated.account and latest.package = dated.package
        and latest.day <= dated.day
    asof join line as oldest on oldest.account = dated.account and oldest.package = dated.package
        and oldest.last_unit > dated.gone_units
    asof left join by_day as overdue on overdue.account = dated.account and overdue.package = dated.package
        and overdue.day < dated.day - dated.keg_overdue_days
    where latest.last_unit > dated.gone_units
)
select
    rolled.month, rolled.account, rolled.package,
    rolled.closing_units - rolled.shipped_units + rolled.came_back_units + rolled.lost_units as opening_units,
    rolled.shipped_units, rolled.came_back_units, rolled.lost_units, rolled.closing_units,
    coalesce(ages.overdue_units, 0) as overdue_units,
    divide6(
        (rolled.closing_units - rolled.shipped_units + rolled.came_back_units + rolled.lost_units) * rolled.days
            + rolled.unit_days, rolled.days
    ) as average_units,
    case when ages.units > 0 then divide6(ages.unit_days, ages.units) end as days_out,
    coalesce(keg_deposits.deposit, margin_settings.keg_deposit) as deposit,
    rolled.closing_units * coalesce(keg_deposits.deposit, margin_settings.keg_deposit) as value
from rolled
cross join reference.margin_settings
left join ages using (account, package, month)
left join reference.keg_deposits on keg_deposits.package = lower(rolled.package)
where rolled.closing_units <> 0 or rolled.shipped_units <> 0 or rolled.came_back_units <> 0
    or rolled.lost_units <> 0;
