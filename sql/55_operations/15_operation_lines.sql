-- table: excise.operation_lines
-- grain: one line of the statement of operations
-- key: form_line
-- units: none
-- reads: nothing
-- rule: X8
-- source: TTB F 5130.9, wording of 2014; lines 27 to 30 and 32 are from memory, unverified

create table excise.operation_lines (
    form_line bigint primary key,
    text text not null
);

insert into excise.operation_lines by name
select form_line, text
from (values
    (1, 'on hand at the beginning of the period'),
    (2, 'produced by fermentation'),
    (3, 'water and other liquids added in the cellar'),
    (4, 'received in the cellar from racking and bottling'),
    (5, 'received in bond from other breweries'),
    (6, 'received from the cellar'),
    (7, 'returned to this brewery after removal from it'),
    (8, 'returned to this brewery after removal from another of ours'),
    (9, 'racked'),
    (10, 'bottled'),
    (11, 'physical inventory overage'),
    (12, 'other entries: gains measured, repacked from, untaxed beer returned'),
    (13, 'total beer'),
    (14, 'removed for consumption or sale'),
    (15, 'removed tax-determined for the tavern on the premises, serving tanks'),
    (16, 'removed without tax: export'),
    (17, 'removed without tax: supplies for vessels and aircraft'),
    (18, 'removed without tax: research, development, testing'),
    (19, 'removed without tax: to other breweries'),
    (20, 'unfit beer removed for manufacturing'),
    (21, 'consumed on the premises'),
    (22, 'transferred for racking'),
    (23, 'transferred for bottling'),
    (24, 'returned to the cellar from racking and bottling'),
    (25, 'racked'),
    (26, 'bottled'),
    (27, 'laboratory samples'),
    (28, 'destroyed at the brewery'),
    (29, 'transferred to a distilled spirits plant'),
    (30, 'losses, including theft'),
    (31, 'physical inventory shortage: explain, or pay'),
    (32, 'other entries: repacked into another package, put back to ferment'),
    (33, 'on hand at the end of the period'),
    (34, 'total beer')
) as lines(form_line, text);
