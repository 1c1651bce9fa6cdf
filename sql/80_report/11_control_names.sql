-- table: report.control_names
-- grain: one control
-- key: control
-- units: place: where it stands among the others
-- reads: reference.settings
-- rule: K1, K2, K3, K4, K5, K6, K7, K8, K9, K11
-- source: the controls of the calculation rules

create table report.control_names (
    control text primary key,
    place bigint not null,
    about text not null,
    says text not null
);

insert into report.control_names by name
select *, substr(control, 2)::bigint as place from (values
    ('K1', 'materials', 'opening + received - used ± counts = closing'),
    ('K2', 'beer in process', 'cost put into beer = change in process + packaged + losses and samples'),
    ('K3', 'packaged goods', 'opening + packaged + received - shipped ± counts = closing'),
    ('K4', 'barrels', 'barrels in = barrels packaged, lost, drawn and still in the cellar'),
    ('K5', 'money', 'everything spent = change in the three stocks + cost of goods sold + period expenses'),
    ('K6', 'journal', 'debits = credits, each account agrees with its movement'),
    ('K7', 'duty', 'each authority''s duty = duty shared to removals, days = return'),
    ('K8', 'rows read', 'read = accepted + set aside + ignored'),
    ('K9', 'general ledger', 'the general ledger agrees with the roll-forwards'),
    ('K10', 'closed months', 'the frozen figures are as they were closed'),
    ('K11', 'kettle to keg', 'every brew adds up to its kettle, all sources to what the tanks lost and gave'),
    ('K12', 'margins', 'the owner''s margins, their parts and the bridge are the controller''s figures')
) as names (control, about, says);
