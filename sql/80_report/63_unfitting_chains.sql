-- table: report.unfitting_chains
-- grain: one chain of lots whose readings do not fit together, in the month of its last lot
-- key: site, chain
-- units: misfit: chi-square with balances_count degrees of freedom; p values: how often readings without a mistake fit as badly
-- reads: given_chains, report.reconciliation
-- rule: V7
-- source: global test of data reconciliation (Reilly & Carpani 1963; Ripps 1965; Narasimhan & Jordache 2000, ch. 7), one false alarm
--   in a hundred chains

create table report.unfitting_chains (
    month text not null,
    site text not null,
    chain bigint not null,
    lots text not null,
    lots_count bigint not null,
    readings_count bigint not null,
    balances_count bigint not null,
    misfit decimal(18,6) not null,
    p_value double not null,
    blamed_count bigint not null,
    p_value_after double not null,
    verdict text not null,
    primary key (site, chain)
);

insert into report.unfitting_chains by name
with
members as (
    select site, chain, max(month) as month, count(distinct lot) as lots_count, count(*) filter (where own) as readings_count,
        first(lot order by date, lot) as first_lot, last(lot order by date, lot) as last_lot
    from report.reconciliation
    group by site, chain
)
select members.month, members.site, members.chain,
    case lots_count when 1 then first_lot when 2 then first_lot || ', ' || last_lot else first_lot || ' to ' || last_lot end as lots,
    lots_count, readings_count, balances_count, least(misfit, 1e9) as misfit, p_value, blamed_count, p_value_after,
    case when blamed_count = 0 then 'no one reading stands out'
        when p_value_after < 0.01 then 'NOR WITHOUT THEM'
        else 'fits without them'
    end as verdict
from given_chains
join members using (chain)
where p_value < 0.01;
