-- table: cost.repacks
-- grain: one repack, and whether it closes a ring
-- key: file, sheet, row
-- units: packages
-- reads: record.repacks, reference.settings
-- rule: C11a, C12
-- source: by monthly average the month's repacks of a site share one rate, so goods repacked back into themselves in that
--   month have no value of their own; such repacks are left out and reported. By fifo their order in time gives it

create table cost.repacks (
    document text not null,
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    from_item text not null,
    to_item text not null,
    from_beer text not null,
    from_package text not null,
    from_units bigint not null,
    to_beer text not null,
    to_package text not null,
    to_units bigint not null,
    in_ring boolean not null
);

insert into cost.repacks by name
with recursive
repacks as (
    select *,
        concat_ws(chr(31), site, month_of(date), from_beer, from_package) as from_item,
        concat_ws(chr(31), site, month_of(date), to_beer, to_package) as to_item
    from record.repacks
),
reached as (
    select from_item as start, to_item as item from repacks
    union
    select reached.start, repacks.to_item
    from reached
    join repacks on repacks.from_item = reached.item
)
select
    repacks.*,
    -- A ring runs through a repack whose goods lead back to what it was made from.
    case
        when settings.goods_method = 'average' then exists (
            select 1 from reached where reached.start = repacks.to_item and reached.item = repacks.from_item
        ) or repacks.from_item = repacks.to_item
        else repacks.from_item = repacks.to_item
    end as in_ring
from repacks
cross join reference.settings;
