-- table: result.controls
-- grain: one control of one subject in a month (K8: of one file, whatever the month)
-- key: month, control, subject
-- units: as the subject says
-- reads: control.*
-- rule: K1 to K5, K7, K8
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
    union all by name from control.k7_duty
    union all by name from control.k8_rows
    union all by name from control.k_owner
)
select *, actual - expected as difference, coalesce(expected = actual, false) as holds
from checks;
