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
cells as (
    select month, cells, unnest(json_keys(cells)) as name from rows_as_json
),
subjects as (
    select month, cells, name,
        (select string_agg(cells ->> key, ' · ')
            from unnest(json_keys(cells)) as keys (key)
            where json_type(cells, '$.' || key) = 'VARCHAR' and key not in ('month', 'date')) as subject
    from cells
    where json_type(cells, '$.' || name) not in ('VARCHAR', 'NULL', 'BOOLEAN')
)
select month, coalesce(subject, '') as subject, name as figure, sum((cells ->> name)::decimal(28,10)) as value
from subjects
where name not in ('line', 'entry') and name not like 'opening%' and name not like 'correction%'
group by month, coalesce(subject, ''), name;
