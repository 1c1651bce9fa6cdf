-- table: closing.record_changes
-- grain: one record that is new, changed or gone since the last close, or another file that changed; all records where no
--   month is closed
-- key: change, kind, file, sheet, row
-- units: cells: the record as JSON, in the units it was written in; month: the first its figures can touch, null for any
-- reads: given_*, record.invoices, record.receipts
-- rule: none
-- source: a record is its content: one that only moved to another row or file is the same. Readings of tanks and the ledger
--   move no figure of a month

create table closing.record_changes (
    change text not null,
    kind text not null,
    file text not null,
    sheet text,
    row bigint,
    month text,
    cells text,
    before_cells text
);

insert into closing.record_changes by name
with
now as (
    select 'beers' as kind, * from records_of('given_beers')
    union all by name
    select 'materials' as kind, * from records_of('given_materials')
    union all by name
    select 'packages' as kind, * from records_of('given_packages')
    union all by name
    select 'vessels' as kind, * from records_of('given_vessels')
    union all by name
    select 'vessel_scale' as kind, * from records_of('given_vessel_scale')
    union all by name
    select 'accounts' as kind, * from records_of('given_accounts')
    union all by name
    select 'recipes' as kind, * from records_of('given_recipes')
    union all by name
    select 'package_materials' as kind, * from records_of('given_package_materials')
    union all by name
    select 'standards' as kind, * from records_of('given_standards')
    union all by name
    select 'prices' as kind, * from records_of('given_prices')
    union all by name
    select 'opening_materials' as kind, * from records_of('given_opening_materials')
    union all by name
    select 'opening_lots' as kind, * from records_of('given_opening_lots')
    union all by name
    select 'opening_goods' as kind, * from records_of('given_opening_goods')
    union all by name
    select 'receipts' as kind, * from records_of('given_receipts')
    union all by name
    select 'invoices' as kind, * from records_of('given_invoices')
    union all by name
    select 'uses' as kind, * from records_of('given_uses')
    union all by name
    select 'brews' as kind, * from records_of('given_brews')
    union all by name
    select 'moves' as kind, * from records_of('given_moves')
    union all by name
    select 'packaging' as kind, * from records_of('given_packaging')
    union all by name
    select 'shipments' as kind, * from records_of('given_shipments')
    union all by name
    select 'returns' as kind, * from records_of('given_returns')
    union all by name
    select 'credits' as kind, * from records_of('given_credits')
    union all by name
    select 'repacks' as kind, * from records_of('given_repacks')
    union all by name
    select 'counts' as kind, * from records_of('given_counts')
    union all by name
    select 'labour' as kind, * from records_of('given_labour')
    union all by name
    select 'expenses' as kind, * from records_of('given_expenses')
    union all by name
    select 'beer_in' as kind, * from records_of('given_beer_in')
    union all by name
    select 'byproducts' as kind, * from records_of('given_byproducts')
    union all by name
    select 'empties' as kind, * from records_of('given_empties')
    union all by name
    select 'filings' as kind, * from records_of('given_filings')
    union all by name
    select 'payments' as kind, * from records_of('given_payments')
    union all by name
    select 'opening_duty' as kind, * from records_of('given_opening_duty')
),
-- A record's content as a number of 128 bits, so that what is grouped and joined stays narrow. Only those of which there are
-- more or fewer than when the books were closed are looked at one by one.
written as materialized (
    select *, md5_number(cells) as digest from now
),
-- Every close kept what had changed since the one before; together they are the records as last closed.
steps as (
    select kind, cells, md5_number(cells) as digest, file, sheet, row, 1 as step
    from given_frozen_records
    where change <> 'gone' and cells is not null
    union all by name
    select kind, before_cells as cells, md5_number(before_cells) as digest, file, sheet, row, -1 as step
    from given_frozen_records
    where change <> 'new' and before_cells is not null
),
closed as (
    select kind, digest, sum(step)::bigint as closed_count
    from steps
    group by kind, digest
    having sum(step) > 0
),
counted as (
    select kind, digest, count(*) as now_count from written semi join closed using (kind, digest) group by kind, digest
),
differing as (
    select kind, digest, coalesce(counted.now_count, 0) as now_count, closed.closed_count
    from closed
    left join counted using (kind, digest)
    where coalesce(counted.now_count, 0) <> closed.closed_count
),
added as (
    select * from written anti join closed using (kind, digest)
    union all by name
    select written.*
    from written
    join differing using (kind, digest)
    where differing.now_count > differing.closed_count
    qualify row_number() over (
        partition by kind, digest order by written.file, written.sheet nulls first, written.row
    ) > differing.closed_count
),
gone_once as (
    select kind, digest, any_value(differing.closed_count - differing.now_count) as gone_count,
        arg_max({file: steps.file, sheet: steps.sheet, row: steps.row, cells: steps.cells}, steps.step) as was
    from steps
    join differing using (kind, digest)
    where differing.now_count < differing.closed_count
    group by kind, digest
),
gone as (
    select kind, was.cells as cells, was.file as file, was.sheet as sheet, was.row as row
    from gone_once
    cross join generate_series(1, gone_count)
),
changes as (
    select
        case when gone.kind is null then 'new' when added.kind is null then 'gone' else 'changed' end as change,
        coalesce(added.kind, gone.kind) as kind, coalesce(added.file, gone.file) as file,
        coalesce(added.sheet, gone.sheet) as sheet, coalesce(added.row, gone.row) as row,
        added.cells, gone.cells as before_cells
    from added
    full join gone on gone.kind = added.kind and gone.file = added.file and gone.sheet is not distinct from added.sheet
        and gone.row = added.row
),
dated as (
    select *,
        list_min(list_transform([cells, before_cells], lambda said : coalesce(
            left(said ->> 'date', 7), said ->> 'month', left(said ->> 'filed_on', 7), left(said ->> 'from_date', 7),
            said ->> 'from_month'
        ))) as month
    from changes
),
-- An invoice changes what its receipt cost, in the receipt's month.
receipt_months as (
    select invoices.file, invoices.sheet, invoices.row, min(month_of(receipts.date)) as month
    from record.invoices
    join record.receipts on receipts.document = invoices.receipt_document and receipts.material = invoices.material
    group by invoices.file, invoices.sheet, invoices.row
)
select dated.* exclude (month), least(dated.month, receipt_months.month) as month
from dated
left join receipt_months on dated.kind = 'invoices' and receipt_months.file = dated.file
    and receipt_months.sheet is not distinct from dated.sheet and receipt_months.row = dated.row
union all by name
select 'changed' as change, kind, file
from given_closed_sources
where recorded_hash <> found_hash;
