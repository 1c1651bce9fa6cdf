-- table: report.losses_by_beer
-- grain: one beer of one month, its measured losses by stage
-- key: month, beer
-- units: bbl, the books' currency; knockout_pct of what went into the fermenters; half_barrels are kegs of 15.5 gal
-- reads: report.losses
-- rule: V1, V2, V3, V4, V7
-- source: none; presentation

create table report.losses_by_beer (
    month text not null,
    beer text not null,
    style text,
    kettle_bbl decimal(18,6) not null,
    fermenter_bbl decimal(18,6) not null,
    transfer_bbl decimal(18,6) not null,
    bright_tank_bbl decimal(18,6) not null,
    packaging_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    knockout_pct decimal(18,6),
    reading_error_bbl decimal(18,6),
    verdict text not null,
    abnormal_bbl decimal(18,6),
    half_barrels decimal(18,6),
    loss_cost decimal(18,6),
    abnormal_cost decimal(18,6),
    primary key (month, beer)
);

insert into report.losses_by_beer by name
select
    month,
    coalesce(beer, 'not stated') as beer,
    any_value(style) as style,
    coalesce(sum(loss_bbl) filter (where stage = 'kettle'), 0) as kettle_bbl,
    coalesce(sum(loss_bbl) filter (where stage = 'fermenter'), 0) as fermenter_bbl,
    coalesce(sum(loss_bbl) filter (where stage = 'transfer'), 0) as transfer_bbl,
    coalesce(sum(loss_bbl) filter (where stage = 'bright tank'), 0) as bright_tank_bbl,
    coalesce(sum(loss_bbl) filter (where stage = 'packaging'), 0) as packaging_bbl,
    coalesce(sum(loss_bbl), 0) as loss_bbl,
    percent(sum(loss_bbl), sum(volume_out_bbl) filter (where stage = 'kettle')) as knockout_pct,
    root_sum_square(reading_error_bbl) as reading_error_bbl,
    verdict(sum(loss_bbl), root_sum_square(reading_error_bbl)) as verdict,
    sum(abnormal_bbl) as abnormal_bbl,
    sum(half_barrels) as half_barrels,
    sum(loss_cost) as loss_cost,
    sum(abnormal_cost) as abnormal_cost
from report.losses
group by month, coalesce(beer, 'not stated');
