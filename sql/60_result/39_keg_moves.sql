-- table: result.keg_moves
-- grain: one record of returnable kegs that went out to an account, came back from it or were lost there
-- key: none (a document and line, or file, sheet and row)
-- units: kegs; deposit of one keg by brewery.toml, null where it states none
-- reads: record.shipments, record.returns, record.empties, record.packages, reference.margin_settings, reference.keg_deposits
-- rule: M7
-- source: a keg destroyed, lost by casualty or drunk on the premises does not go out

create table result.keg_moves (
    date date not null,
    document text not null,
    line bigint not null,
    account text not null,
    package text not null,
    out_units decimal(18,6) not null,
    back_units decimal(18,6) not null,
    lost_units decimal(18,6) not null,
    deposit decimal(18,6),
    file text not null,
    sheet text,
    row bigint not null
);

insert into result.keg_moves by name
with
moved as (
    select date, document, line, account, package, units as out_units, 0 as back_units, 0 as lost_units, file, sheet, row
    from record.shipments
    where purpose not in ('destroyed', 'casualty', 'premises')
    union all by name
    select date, document, line, account, package, 0 as out_units, units as back_units, 0 as lost_units, file, sheet, row
    from record.returns
    where outcome <> 'destroyed_elsewhere'
    union all by name
    select date, concat_ws(' ', file, sheet) as document, row as line, account, package, 0 as out_units,
        case when outcome = 'lost' then 0 else units end as back_units,
        case when outcome = 'lost' then units else 0 end as lost_units, file, sheet, row
    from record.empties
)
select moved.*, coalesce(keg_deposits.deposit, margin_settings.keg_deposit) as deposit
from moved
join record.packages on packages.package = moved.package and packages.returnable
cross join reference.margin_settings
left join reference.keg_deposits on keg_deposits.package = lower(moved.package)
where moved.account is not null;
