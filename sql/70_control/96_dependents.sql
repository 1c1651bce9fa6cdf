-- table: control.dependents
-- grain: one finding that may go away when a row it depends on is put right
-- key: code, month, file, sheet, row, field, message
-- units: none
-- reads: record.problems, record.set_aside_stocks, record.moves, record.packaging, record.readings, record.counts,
--   record.shipments, record.labour, cost.material_moves, cost.goods_moves, result.controls, result.problems
-- rule: severity
-- source: one thing put right should be told as one thing

create table control.dependents (
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    message text not null,
    depends_on text not null
);

insert into control.dependents by name
with
layered as (
    select problems.*
    from result.problems as problems
    anti join record.problems as own
        on own.code = problems.code and own.message = problems.message and own.file = problems.file and own.row = problems.row
),
-- What a finding is about, as record.set_aside_stocks names it.
material_rows as (
    select distinct file, sheet, row, date, concat_ws(' · ', site, material) as subject, short_qty > 0 as is_short
    from cost.material_moves
    where short_qty > 0 or counted_qty <> 0
),
short_goods as (
    select file, sheet, row, date, concat_ws(' · ', site, beer, package) as subject
    from cost.goods_moves
    where short_units > 0
),
placed as (
    select 'material' as sort, subject, file, sheet, row from material_rows
    union
    select 'goods', subject, file, sheet, row from short_goods
    union
    select 'goods', concat_ws(' · ', site, beer, package), file, sheet, row from record.counts where beer is not null
    union
    select 'lot', lot, file, sheet, row from record.counts where lot is not null
    union
    select 'lot', lot, file, sheet, row from record.readings
    union
    select 'lot', from_lot, file, sheet, row from record.moves
    union
    select 'lot', lot, file, sheet, row from record.packaging
    union
    select 'price', concat_ws(' · ', beer, package), file, sheet, row from record.shipments
    union
    select 'pay', site, file, sheet, row from record.labour
),
sorts (code, sort) as (
    values ('material-short', 'material'), ('count-short', 'material'), ('count-short', 'goods'),
        ('count-over', 'material'), ('count-over', 'goods'), ('goods-short', 'goods'), ('count-differs', 'lot'),
        ('reading-differs', 'lot'), ('overdrawn', 'lot'), ('missing-price', 'price'), ('labour-unpriced', 'pay')
),
about as (
    select layered.*, sorts.sort, placed.subject
    from layered
    join sorts using (code)
    join placed on placed.sort = sorts.sort and placed.file = layered.file
        and placed.sheet is not distinct from layered.sheet and placed.row = layered.row
    union all by name
    select *, case code when 'cost-drawn-out' then 'lot' else 'tank' end as sort, value as subject
    from layered
    where code in ('cost-drawn-out', 'vessel-shared')
    union all by name
    -- The subject of a control ends with the figure that is compared.
    select layered.*, case controls.control when 'K1' then 'material' else 'goods' end as sort,
        regexp_replace(controls.subject, ' · [^·]*$', '') as subject
    from layered
    join result.controls on controls.control = layered.field and controls.month = layered.month and not controls.holds
        and starts_with(layered.message, 'control ' || controls.control || ' fails for ' || controls.subject || ':')
    where layered.code = 'control-failed' and controls.control in ('K1', 'K3')
),
first_shorts as (
    select *, month_of(date) as month
    from (
        select 'material' as sort, * exclude (is_short) from material_rows where is_short
        union all by name
        select 'goods' as sort, * from short_goods
    )
    qualify row_number() over (partition by sort, subject order by date, file, sheet nulls first, row) = 1
),
roots as (
    -- A row that names what was set aside: what is wrong with it follows from that, but for a stock, a price or a pay.
    select layered.*, 1 as place, own.depends_on
    from layered
    join record.problems as own on own.code = 'names-set-aside' and own.file = layered.file
        and own.sheet is not distinct from layered.sheet and own.row = layered.row
    where layered.code not in (select code from sorts where sort <> 'lot')
    union all by name
    select about.* exclude (sort, subject), 2 as place, stocks.place as depends_on
    from about
    join record.set_aside_stocks as stocks on stocks.sort = about.sort and stocks.subject = about.subject
        and coalesce(stocks.month, '') <= about.month
    union all by name
    -- What is short once is short again, its control fails, and a count then finds it over.
    select about.* exclude (sort, subject), 3 as place, place_of(short.file, short.sheet, short.row) as depends_on
    from about
    join first_shorts as short on short.sort = about.sort and short.subject = about.subject
        and short.month <= about.month
    where about.code in ('control-failed', 'material-short', 'goods-short', 'count-over')
        and (about.row is null or place_of(about.file, about.sheet, about.row)
            <> place_of(short.file, short.sheet, short.row))
)
select code, month, file, sheet, row, field, message, depends_on
from record.problems
where depends_on is not null
union all by name
select code, month, file, sheet, row, field, message, arg_min(depends_on, (place, depends_on)) as depends_on
from roots
group by all;
