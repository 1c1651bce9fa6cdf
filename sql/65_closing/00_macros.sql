-- table: macros
-- grain: how a frozen table is compared with what is computed now
-- key: none
-- units: none
-- reads: nothing
-- rule: none
-- source: results of a closed month do not move; what a later record changes is a correction

-- Every figure of a table as a row of its own: what its row is about (all its text), the figure's name and its value.
-- What only numbers a row, or follows from the months before, is no figure of the month.
create or replace macro figures_of(named) as table
with
rows_as_json as (
    select month, to_json(given) as cells from query_table(named) as given
),
subjects as (
    select
        month, cells,
        array_to_string(list_transform(
            list_filter(json_keys(cells), lambda key : json_type(cells, '$.' || key) = 'VARCHAR'
                and key not in ('month', 'date') and cells ->> key <> ''),
            lambda key : cells ->> key
        ), ' · ') as subject
    from rows_as_json
),
figures as (
    select month, cells, subject, unnest(json_keys(cells)) as figure
    from subjects
)
select month, subject, figure, sum((cells ->> figure)::decimal(28,10)) as value
from figures
where json_type(cells, '$.' || figure) not in ('VARCHAR', 'NULL', 'BOOLEAN') and figure not in ('line', 'entry')
    and figure not like 'opening%' and figure not like 'correction%'
group by month, subject, figure;

-- Every accepted record of a kind with its place and, as JSON, its content.
create or replace macro records_of(named) as table
select given.file, given.sheet, given.row,
    json_merge_patch(to_json(given), '{"file":null,"sheet":null,"row":null,"accepted":null}')::text as cells
from query_table(named) as given
where accepted;
