-- table: excise.packages
-- grain: one package in the books
-- key: package
-- units: containers in mL (4 decimals), a package in litres
-- reads: record.packages
-- rule: X1
-- source: 1 bbl = 31 gal of 231 cubic inches = 117.347765304 L exactly (26 U.S.C. 5051, 5052; NIST HB 44)

create table excise.packages (
    package text primary key,
    form text not null,
    containers bigint not null,
    container_ml decimal(18,4) not null,
    litres decimal(28,10) not null,
    bbl_numerator decimal(28,6) not null,
    bbl_denominator decimal(18,0) not null,
    excise_bbl decimal(18,6)
);

insert into excise.packages by name
select
    package,
    form,
    containers,
    divide10(bbl_numerator::double * 117347.765304::double, bbl_denominator::double * containers)::decimal(18,4)
        as container_ml,
    divide10(bbl_numerator::double * 117.347765304::double, bbl_denominator) as litres,
    bbl_numerator,
    bbl_denominator,
    excise_bbl
from record.packages;
