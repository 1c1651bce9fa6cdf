-- table: result.removal_duty
-- grain: one removal's share of one area's duty
-- key: document, line, kind, area
-- units: quantity in the area's unit, amount in its currency
-- reads: excise.removal_duty
-- rule: M2, K7
-- source: shared over the removals that caused it by exact quantity, to the cent

create table result.removal_duty (
    document text not null,
    line bigint not null,
    kind text not null,
    area text not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null
);

insert into result.removal_duty by name
select document, line, kind, area, quantity, amount
from excise.removal_duty;
