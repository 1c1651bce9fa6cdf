-- table: report.chain_losses
-- grain: the part that one brew has in one loss: of its kettle, of a lot, of a day's moves out of a lot, of a run line
-- key: brew, stage, record
-- units: bbl, the books' currency; reading_error_bbl: that of the loss, by the brew's share in it
-- reads: result.stage_losses, result.beer_fates, result.lot_flows
-- rule: V7, V8, V8a
-- source: a brew's share in a loss is its barrels of it over all of it; so it is in the reading error and in the cost

create table report.chain_losses (
    brew text not null,
    stage text not null,
    record text not null,
    bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null,
    cost decimal(18,6) not null
);

insert into report.chain_losses by name
with
losses as (
    select losses.site, losses.stage, coalesce(losses.brew, losses.lot, losses.run || ' line ' || losses.line, flows.lot || ' ' || flows.date) as record,
        losses.brew, losses.loss_bbl, losses.reading_error_bbl, losses.loss_cost
    from result.stage_losses as losses
    left join result.lot_flows as flows on losses.move is not null and flows.site = losses.site and flows.direction = 'out'
        and flows.record = 'move ' || losses.move
    where losses.loss_bbl is not null
),
whole as (
    select site, stage, record, any_value(brew) as brew, sum(loss_bbl) as loss_bbl,
        sqrt(sum(reading_error_bbl::double ** 2)) as error_bbl, sum(loss_cost) as loss_cost
    from losses
    group by site, stage, record
),
lost as (
    select name as brew, site, bbl, replace(fate, '_loss', '') as stage,
        case fate when 'packaging_loss' then run || ' line ' || line when 'transfer_loss' then lot || ' ' || date else lot end
            as record
    from result.beer_fates
    where source = 'brew' and fate like '%\_loss' escape '\'
),
parts as (
    select whole.brew, whole.stage, whole.record, whole.loss_bbl as bbl, whole.loss_bbl, whole.error_bbl, whole.loss_cost
    from whole
    where whole.stage = 'kettle'
    union all by name
    select lost.brew, lost.stage, lost.record, sum(lost.bbl) as bbl,
        any_value(whole.loss_bbl) as loss_bbl, any_value(whole.error_bbl) as error_bbl, any_value(whole.loss_cost) as loss_cost
    from lost
    join whole using (site, stage, record)
    group by lost.brew, lost.stage, lost.record
)
select brew, stage, record, bbl,
    error_bbl * case when loss_bbl <> 0 then greatest(least(bbl::double / loss_bbl::double, 1), 0) else 0 end as reading_error_bbl,
    case when loss_bbl <> 0 then part6(loss_cost, bbl, loss_bbl) else 0 end as cost
from parts;
