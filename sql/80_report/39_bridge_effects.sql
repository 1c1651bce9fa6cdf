-- table: report.bridge_effects
-- grain: one bar of the bridge from last month's margin to this month's, the steps by what they moved; steps of nothing left out
-- key: month, place
-- units: the books' currency; a bar is drawn on `floor`, its part below zero apart where it crosses zero
-- reads: report.bridge_steps
-- rule: M5
-- source: none; presentation. The steps are those of report.bridge_steps, so in any order they lead to the same margin

create table report.bridge_effects (
    month text not null,
    place bigint not null,
    step text not null,
    amount decimal(18,6) not null,
    floor decimal(18,6) not null,
    whole decimal(18,6) not null,
    rise decimal(18,6) not null,
    fall decimal(18,6) not null,
    below_zero decimal(18,6) not null,
    says text not null
);

insert into report.bridge_effects by name
with
shown as (
    select month, place in (1, 12) as is_margin, place = 12 as is_last, step, amount, says,
        row_number() over (
            partition by month order by case place when 1 then 1 when 12 then 3 else 2 end, abs(amount) desc, place
        ) as place
    from report.bridge_steps
    where place in (1, 12) or amount <> 0
),
-- A bar runs from what the steps before it left to what it leaves itself; a margin stands on zero.
ends as (
    select *,
        sum(case when is_last then 0 else amount end) over (partition by month order by place) as reached
    from shown
    where month in (select month from report.bridge_steps group by month having count(amount) = count(*))
),
bars as (
    select *,
        least(reached, case when is_margin then 0 else reached - amount end) as low,
        greatest(reached, case when is_margin then 0 else reached - amount end) as high
    from ends
),
parts as (
    select *,
        case when low >= 0 then low when high <= 0 then high else 0 end as floor,
        case when low >= 0 then high - low when high <= 0 then low - high else high end as bar,
        case when low < 0 and high > 0 then low else 0 end as below_zero
    from bars
)
select month, place, step, amount, says, floor, below_zero,
    case when is_margin then bar else 0 end as whole,
    case when not is_margin and amount > 0 then bar else 0 end as rise,
    case when not is_margin and amount < 0 then bar else 0 end as fall
from parts;
