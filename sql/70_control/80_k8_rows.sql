-- table: control.k8_rows
-- grain: one file or sheet that was read
-- key: subject
-- units: rows
-- reads: record.row_counts
-- rule: K8
-- source: rows read = rows accepted + rows set aside + rows ignored (blank, example, totals, mended elsewhere, of a copied file)

create table control.k8_rows (
    month text,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k8_rows by name
select null as month, 'K8' as control, concat_ws(' · ', file, sheet) as subject, rows_read as expected,
    rows_accepted + rows_set_aside + rows_ignored as actual
from record.row_counts;
