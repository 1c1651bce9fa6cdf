-- table: result.problems
-- grain: one finding
-- key: none
-- units: none
-- reads: record.problems, volume.problems, cost.problems, excise.problems, result.controls, given_closed_files,
--   result.brewhouse, record.brews, result.late_records, closing.months
-- rule: severity
-- source: an error stops the close; a warning is judged from plausibility. Strike water of 2 to 4 L a kg: homebrewtechniques.com, common
--   practice; what lies beside it is most likely a wrong unit or a grist that lacks a bag

create table result.problems (
    severity text not null,
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text
);

insert into result.problems by name
select * exclude (depends_on)
from record.problems
union all by name from volume.problems
union all by name from cost.problems
union all by name from excise.problems;

-- A ledger that differs and a frozen table that somebody changed are no fault of the program, whatever else is found.
insert into result.problems by name
with
changed as (
    select month, string_agg('closed/' || case file
        when 'the close before' then strftime((month || '-01')::date - interval 1 month, '%Y-%m') || '/close.json'
        else month || '/' || file end, ', ' order by file) as files
    from given_closed_files
    where recorded_hash is distinct from found_hash
    group by month
)
select 'error' as severity, 'control-failed' as code, month, control as field, actual::text as value,
    expected::text as expected,
    'control ' || control || ' fails for ' || subject || ': ' || expected || ' against ' || actual
        || ', a difference of ' || difference
        || case control when 'K10' then '; of ' || month || ' not as it was left: ' || changed.files else '' end as message,
    case control
        when 'K9' then 'what the ledger has and these books lack, or the other way round, stands document by document on '
            'month-close.xlsx; post it or record it'
        when 'K10' then 'put the folder closed/ back from a copy'
        else 'put the findings above right; where there are none this is a fault of the program'
    end as action
from result.controls
left join changed using (month)
where not holds;

-- What the books began with stands in no entry that a later month could correct.
insert into result.problems by name
select
    'error' as severity, 'opening-after-close' as code, booked_month as month, file, sheet, row, 'cost' as field,
    kind as value, 'opening balances as they were closed' as expected,
    'a row of ' || kind || ' is ' || change || ' since ' || (select max(month) from closing.months)
        || ' was closed: every closed month began with another balance, which no correction can book' as message,
    'put the row back, or reopen the closed months down to ' || (select min(month) from closing.months) as action
from result.late_records
where kind in ('opening_materials', 'opening_goods', 'opening_lots', 'opening_duty')
    and booked_month > (select max(month) from closing.months);

insert into result.problems by name
select
    'warning' as severity, 'liquor-to-grist' as code, brewhouse.month, brews.file, brews.sheet, brews.row,
    'strike_volume' as field, shown(brewhouse.strike_bbl) as value,
    shown(brewhouse.strike_bbl * 2 / brewhouse.liquor_l_per_kg) || ' to '
        || shown(brewhouse.strike_bbl * 4 / brewhouse.liquor_l_per_kg) || ' bbl' as expected,
    'the strike water of brew ' || brew || ' is ' || brewhouse.liquor_l_per_kg::decimal(18,1) || ' L for each kg mashed ('
        || shown(brewhouse.mashed_lb) || ' lb); 2 to 4 is usual' as message,
    'check its unit, and the grist of the brew' as action
from result.brewhouse as brewhouse
join record.brews as brews using (brew)
where brewhouse.liquor_l_per_kg not between 2 and 4 and brewhouse.strike_bbl > 0;
