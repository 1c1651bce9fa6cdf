-- table: reference.reading_tolerance
-- grain: one stage
-- key: stage
-- units: plus or minus barrels of one reading, one standard deviation
-- reads: given_reading_tolerance
-- rule: V7
-- source: brewery.toml

create table reference.reading_tolerance (
    stage text primary key,
    tolerance_bbl decimal(18,6) not null
);

insert into reference.reading_tolerance by name
select stage, tolerance_bbl
from given_reading_tolerance;
