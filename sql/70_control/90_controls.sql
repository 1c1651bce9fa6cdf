-- table: result.controls
-- grain: one control of one subject in a month (K8: of one file, whatever the month)
-- key: month, control, subject
-- units: as the subject says
-- reads: control.*, closing.months, given_frozen_controls
-- rule: K1 to K12
-- source: calculation rules K; both sides are compared with =, not with a tolerance

create table result.controls (
    month text,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6),
    difference decimal(18,6),
    holds boolean not null
);

insert into result.controls by name
with
checks as (
    from control.k1_materials
    union all by name from control.k2_beer_in_process
    union all by name from control.k3_goods
    union all by name from control.k4_volume
    union all by name from control.k5_money
    union all by name from control.k6_journal
    union all by name from control.k7_duty
    union all by name from control.k8_rows
    union all by name from control.k9_ledger
    union all by name from control.k10_closed
    union all by name from control.k11_kettle_to_keg
    union all by name from control.k_owner
)
select *, actual - expected as difference, coalesce(expected = actual, false) as holds
from checks
-- A closed month keeps the controls it was closed with; that nobody touched its figures since is K10.
where month is null or month not in (select month from closing.months) or control = 'K10'
union all by name
from given_frozen_controls;
