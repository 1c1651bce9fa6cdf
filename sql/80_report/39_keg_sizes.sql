-- table: report.keg_sizes
-- grain: one size of returnable keg in a month, all accounts
-- key: month, package
-- units: kegs, days; the books' currency
-- reads: result.kegs_out, result.books, report.months
-- rule: M7
-- source: cycle_days = kegs out on average * days / kegs that came back or were lost (flow balance); needed: kegs out at any
--   time next month if as many go out as this month and each stays as long

create table report.keg_sizes (
    month text not null,
    package text not null,
    opening_units decimal(18,6),
    shipped_units decimal(18,6),
    came_back_units decimal(18,6),
    lost_units decimal(18,6),
    closing_units decimal(18,6),
    overdue_units decimal(18,6),
    days_out decimal(18,6),
    cycle_days decimal(18,6),
    turns_a_year decimal(18,6),
    needed_units decimal(18,6),
    value decimal(18,6),
    primary key (month, package)
);

insert into report.keg_sizes by name
with
sizes as (
    select month, package, sum(opening_units) as opening_units, sum(shipped_units) as shipped_units,
        sum(came_back_units) as came_back_units, sum(lost_units) as lost_units, sum(closing_units) as closing_units,
        sum(overdue_units) as overdue_units, sum(average_units) as average_units,
        per(rounded6(sum(days_out::double * closing_units::double)), sum(closing_units))
            as days_out,
        whole_sum(value) as value
    from result.kegs_out
    group by month, package
),
cycles as (
    select sizes.*, months.last_day - months.first_day + 1 as days,
        -- In the first month kegs come back that nobody knew to be out, or none have had the time to.
        case when sizes.month > books.first_month then per(
            sizes.average_units * (months.last_day - months.first_day + 1),
            sizes.came_back_units + sizes.lost_units
        ) end as cycle_days
    from sizes
    cross join result.books
    join report.months using (month)
)
select * exclude (average_units, days),
    per(365::decimal(18,6), cycle_days) as turns_a_year,
    case when cycle_days is not null then part6(shipped_units, cycle_days, days) end as needed_units
from cycles;
