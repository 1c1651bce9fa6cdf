-- table: report.bridge_effects
-- grain: one step of the bridge that is not nothing, without the margins it joins
-- key: month, step
-- units: the books' currency; size: without its sign, to rank by
-- reads: report.bridge_steps
-- rule: M5
-- source: none; presentation

create table report.bridge_effects (
    month text not null,
    step text not null,
    amount decimal(18,6),
    size decimal(18,6),
    says text not null,
    primary key (month, step)
);

insert into report.bridge_effects by name
select month, step, amount, abs(amount) as size, says
from report.bridge_steps
where place between 2 and 11 and amount <> 0;
