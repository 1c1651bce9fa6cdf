-- table: reference.keg_deposits
-- grain: one size of keg with a deposit of its own
-- key: package (lower case)
-- units: the books' currency for one keg
-- reads: given_keg_deposits
-- rule: M7
-- source: brewery.toml

create table reference.keg_deposits (
    package text primary key,
    deposit decimal(18,6) not null
);

insert into reference.keg_deposits by name
select package, deposit
from given_keg_deposits;
