-- table: report.chains
-- grain: what became of the wort of the brewery, of one beer, month, tank, lot or brew: the brews of the twelve months up to a month
-- key: month, kind, level
-- units: bbl, %, the books' currency; half_barrels are kegs of 15.5 gal. kettle_bbl (what went into the fermenter where the kettle
--   was not read) = lost + packaged + samples + destroyed + serving tanks + in the cellar, exactly; shipped is a part of packaged
-- reads: report.months, result.kettle_to_keg, result.brewhouse, result.beer_fates, result.lots, report.chain_losses
-- rule: V7, V8, V8a
-- source: by volume share; a tank or lot is the one the wort was brewed into. Loss in % of stage: of what came into that stage;
--   brews of several months count as read apart from one another

create table report.chains (
    month text not null,
    kind text not null,
    place bigint not null,
    level text not null,
    brews_count bigint not null,
    kettle_bbl decimal(18,6) not null,
    into_fermenter_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    into_bright_bbl decimal(18,6) not null,
    packaged_bbl decimal(18,6) not null,
    shipped_bbl decimal(18,6) not null,
    sample_bbl decimal(18,6) not null,
    destroyed_bbl decimal(18,6) not null,
    serving_tank_bbl decimal(18,6) not null,
    elsewhere_bbl decimal(18,6) not null,
    in_cellar_bbl decimal(18,6) not null,
    kettle_loss_bbl decimal(18,6) not null,
    kettle_loss_pct decimal(18,6),
    fermenter_loss_bbl decimal(18,6) not null,
    fermenter_loss_pct decimal(18,6),
    transfer_loss_bbl decimal(18,6) not null,
    transfer_loss_pct decimal(18,6),
    bright_tank_loss_bbl decimal(18,6) not null,
    bright_tank_loss_pct decimal(18,6),
    packaging_loss_bbl decimal(18,6) not null,
    packaging_loss_pct decimal(18,6),
    kettle_loss_knockout_pct decimal(18,6),
    kettle_loss_half_barrels decimal(18,6) not null,
    kettle_loss_cost decimal(18,6) not null,
    fermenter_loss_knockout_pct decimal(18,6),
    fermenter_loss_half_barrels decimal(18,6) not null,
    fermenter_loss_cost decimal(18,6) not null,
    transfer_loss_knockout_pct decimal(18,6),
    transfer_loss_half_barrels decimal(18,6) not null,
    transfer_loss_cost decimal(18,6) not null,
    bright_tank_loss_knockout_pct decimal(18,6),
    bright_tank_loss_half_barrels decimal(18,6) not null,
    bright_tank_loss_cost decimal(18,6) not null,
    packaging_loss_knockout_pct decimal(18,6),
    packaging_loss_half_barrels decimal(18,6) not null,
    packaging_loss_cost decimal(18,6) not null,
    lost_bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6),
    verdict text not null,
    lost_knockout_pct decimal(18,6),
    half_barrels decimal(18,6) not null,
    lost_cost decimal(18,6) not null,
    came_out_pct decimal(18,6)
);

insert into report.chains by name
with
stages as (
    select fates.name as brew,
        coalesce(sum(fates.bbl) filter (where lots.stage = 'bright_tank'), 0) as into_bright_bbl,
        coalesce(sum(fates.bbl) filter (where lots.stage = 'fermenter' and fates.fate = 'in_cellar'), 0) as in_fermenter_bbl
    from result.beer_fates as fates
    join result.lots as lots using (site, lot)
    where fates.source = 'brew'
    group by fates.name
),
costs as (
    select brew, sum(cost) as lost_cost,
        coalesce(sum(cost) filter (where stage = 'kettle'), 0) as kettle_loss_cost,
        coalesce(sum(cost) filter (where stage = 'fermenter'), 0) as fermenter_loss_cost,
        coalesce(sum(cost) filter (where stage = 'transfer'), 0) as transfer_loss_cost,
        coalesce(sum(cost) filter (where stage = 'bright_tank'), 0) as bright_tank_loss_cost,
        coalesce(sum(cost) filter (where stage = 'packaging'), 0) as packaging_loss_cost
    from report.chain_losses
    group by brew
),
brews as (
    select brews.*, brewhouse.into_fermenter_bbl, stages.into_bright_bbl,
        coalesce(brews.end_of_boil_bbl, brewhouse.into_fermenter_bbl) as kettle_bbl,
        brewhouse.into_fermenter_bbl - brews.fermenter_loss_bbl - stages.in_fermenter_bbl as drawn_bbl,
        coalesce(brews.kettle_loss_bbl, 0) + brews.fermenter_loss_bbl + brews.transfer_loss_bbl + brews.bright_tank_loss_bbl
            + brews.packaging_loss_bbl as lost_bbl,
        coalesce(costs.lost_cost, 0) as lost_cost,
        coalesce(costs.kettle_loss_cost, 0) as kettle_loss_cost,
        coalesce(costs.fermenter_loss_cost, 0) as fermenter_loss_cost,
        coalesce(costs.transfer_loss_cost, 0) as transfer_loss_cost,
        coalesce(costs.bright_tank_loss_cost, 0) as bright_tank_loss_cost,
        coalesce(costs.packaging_loss_cost, 0) as packaging_loss_cost,
        unnest([
            {place: 1, kind: 'the brewery', level: 'all beers'},
            {place: 2, kind: 'each beer', level: brews.beer},
            {place: 3, kind: 'each month of brewing', level: brews.month},
            {place: 4, kind: 'each fermenter', level: concat_ws(' at ', coalesce(lots.vessel, 'not stated'),
                case when sites.several then brews.site end)},
            {place: 5, kind: 'each lot', level: concat_ws(' at ', concat_ws(', ', 'lot ' || brewhouse.lot, lots.beer),
                case when sites.several then brews.site end)},
            {place: 6, kind: 'each brew', level: concat_ws(', ', 'brew ' || brews.brew, brews.beer)}
        ], recursive := true)
    from result.kettle_to_keg as brews
    cross join (select count(distinct site) > 1 as several from result.lots) as sites
    join result.brewhouse as brewhouse using (brew)
    join result.lots as lots on lots.site = brews.site and lots.lot = brewhouse.lot
    left join stages using (brew)
    left join costs using (brew)
),
records as (
    select brews.month, brews.kind, brews.level, sum(losses.reading_error_bbl) as error_bbl
    from brews
    join report.chain_losses as losses using (brew)
    group by brews.month, brews.kind, brews.level, losses.stage, losses.record
),
errors as (
    select month, kind, level, sum(error_bbl::double ** 2) as error_square
    from records
    group by month, kind, level
),
brewed as (
    select month, kind, place, level, count(*) as brews_count, sum(kettle_bbl) as kettle_bbl,
        sum(end_of_boil_bbl) as end_of_boil_bbl, sum(into_fermenter_bbl) as into_fermenter_bbl, sum(drawn_bbl) as drawn_bbl,
        sum(into_bright_bbl) as into_bright_bbl, sum(packaged_bbl) as packaged_bbl, sum(shipped_bbl) as shipped_bbl,
        sum(sample_bbl) as sample_bbl, sum(destroyed_bbl) as destroyed_bbl, sum(serving_tank_bbl) as serving_tank_bbl,
        sum(in_cellar_bbl) as in_cellar_bbl, sum(coalesce(kettle_loss_bbl, 0)) as kettle_loss_bbl,
        sum(fermenter_loss_bbl) as fermenter_loss_bbl, sum(transfer_loss_bbl) as transfer_loss_bbl,
        sum(bright_tank_loss_bbl) as bright_tank_loss_bbl, sum(packaging_loss_bbl) as packaging_loss_bbl,
        sum(lost_bbl) as lost_bbl, sum(lost_cost) as lost_cost,
        sum(kettle_loss_cost) as kettle_loss_cost,
        sum(fermenter_loss_cost) as fermenter_loss_cost,
        sum(transfer_loss_cost) as transfer_loss_cost,
        sum(bright_tank_loss_cost) as bright_tank_loss_cost,
        sum(packaging_loss_cost) as packaging_loss_cost
    from brews
    group by month, kind, place, level
),
summed as (
    select months.month, brewed.kind, brewed.place, brewed.level, sum(columns(brewed.* exclude (month, kind, place, level))),
        sqrt(sum(errors.error_square))::decimal(18,6) as reading_error_bbl
    from report.months as months
    join brewed on brewed.month <= months.month
        and date_diff('month', (brewed.month || '-01')::date, months.first_day) < 12
    left join errors on errors.month = brewed.month and errors.kind = brewed.kind and errors.level = brewed.level
    group by months.month, brewed.kind, brewed.place, brewed.level
)
select * exclude (end_of_boil_bbl) replace (row_number() over (
        partition by month order by place, case when kind = 'each fermenter' then length(level) end, level) as place),
    sample_bbl + destroyed_bbl + serving_tank_bbl as elsewhere_bbl,
    percent(kettle_loss_bbl, end_of_boil_bbl) as kettle_loss_pct,
    percent(fermenter_loss_bbl, into_fermenter_bbl) as fermenter_loss_pct,
    percent(transfer_loss_bbl, drawn_bbl) as transfer_loss_pct,
    percent(bright_tank_loss_bbl, into_bright_bbl) as bright_tank_loss_pct,
    percent(packaging_loss_bbl, packaged_bbl + packaging_loss_bbl) as packaging_loss_pct,
    percent(kettle_loss_bbl, into_fermenter_bbl) as kettle_loss_knockout_pct, 2 * kettle_loss_bbl as kettle_loss_half_barrels,
    percent(fermenter_loss_bbl, into_fermenter_bbl) as fermenter_loss_knockout_pct, 2 * fermenter_loss_bbl as fermenter_loss_half_barrels,
    percent(transfer_loss_bbl, into_fermenter_bbl) as transfer_loss_knockout_pct, 2 * transfer_loss_bbl as transfer_loss_half_barrels,
    percent(bright_tank_loss_bbl, into_fermenter_bbl) as bright_tank_loss_knockout_pct, 2 * bright_tank_loss_bbl as bright_tank_loss_half_barrels,
    percent(packaging_loss_bbl, into_fermenter_bbl) as packaging_loss_knockout_pct, 2 * packaging_loss_bbl as packaging_loss_half_barrels,
    verdict(lost_bbl, reading_error_bbl) as verdict,
    percent(lost_bbl, into_fermenter_bbl) as lost_knockout_pct,
    2 * lost_bbl as half_barrels,
    percent(packaged_bbl + serving_tank_bbl, kettle_bbl - in_cellar_bbl) as came_out_pct
from summed;
