-- table: cost.brew_costs
-- grain: one brew and element of cost: what was put into it, what its lot takes over, what is abnormal loss
-- key: brew, element
-- units: money
-- reads: volume.stage_losses, cost.charges, cost.pool_shares
-- rule: C6, C7
-- source: abnormal waste is an expense, never stock (IAS 2 paragraph 16a; ASC 330-10-35-7)

create table cost.brew_costs (
    brew text not null,
    element text not null,
    cost decimal(18,6) not null,
    good_cost decimal(18,6) not null,
    abnormal_cost decimal(18,6) not null
);

insert into cost.brew_costs by name
with
put_in as (
    select brew, element, amount from cost.charges where charged and brew is not null
    union all by name
    select brew, element, amount from cost.pool_shares where brew is not null
),
costs as (
    select brew, element, sum(amount) as cost from put_in group by brew, element
),
kettles as (
    select
        costs.*,
        case
            -- Wort dumped: all of it is lost, whatever was read.
            when losses.volume_out_bbl = 0 then 0
            when losses.abnormal_bbl > 0
                then part6(costs.cost, losses.volume_out_bbl, losses.volume_in_bbl - losses.allowed_bbl)
            else costs.cost
        end as good_cost
    from costs
    join volume.stage_losses as losses on losses.stage = 'kettle' and losses.brew = costs.brew
)
select *, cost - good_cost as abnormal_cost
from kettles;
