-- table: reference.units
-- grain: one unit a record may use
-- key: unit
-- units: quantity * numerator / denominator = barrels, pounds or each; temperatures and gravities are not ratios
-- reads: nothing
-- rule: U1
-- source: 1 bbl = 31 US gal (26 U.S.C. 5051(a)(1)(B)); gallon 3.785411784 L, pound 0.45359237 kg (NIST SP 811, Handbook
--   44 App. C); 128 fluid ounces a gallon; imperial gallon 4.54609 L (UK Weights and Measures Act 1985)

create table reference.units (
    unit text primary key,
    family text not null,
    numerator decimal(18,0) not null,
    denominator decimal(18,0) not null
);

insert into reference.units by name
select * from (values
    ('bbl', 'volume', 1, 1),
    ('gal', 'volume', 1, 31),
    ('hL', 'volume', 100000000000, 117347765304),
    ('L', 'volume', 1000000000, 117347765304),
    ('mL', 'volume', 1000000, 117347765304),
    ('floz', 'volume', 1, 3968),
    ('imp_gal', 'volume', 4546090000, 117347765304),
    ('lb', 'weight', 1, 1),
    ('oz', 'weight', 1, 16),
    ('kg', 'weight', 100000000, 45359237),
    ('g', 'weight', 100000, 45359237),
    ('t', 'weight', 100000000000, 45359237),
    ('bag55lb', 'weight', 55, 1),
    ('bag50lb', 'weight', 50, 1),
    ('bag25kg', 'weight', 2500000000, 45359237),
    ('each', 'count', 1, 1),
    ('F', 'temperature', 1, 1),
    ('C', 'temperature', 1, 1),
    ('plato', 'gravity', 1, 1),
    ('sg', 'gravity', 1, 1)
) as units (unit, family, numerator, denominator);
