-- table: reference.allowed_loss
-- grain: one stage
-- key: stage
-- units: allowed loss in % of the volume in
-- reads: given_allowed_loss
-- rule: V6
-- source: brewery.toml

create table reference.allowed_loss (
    stage text primary key,
    allowed_pct decimal(18,6) not null
);

insert into reference.allowed_loss by name
select stage, allowed_pct
from given_allowed_loss;
