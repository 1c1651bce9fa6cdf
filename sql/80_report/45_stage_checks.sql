-- table: report.stage_checks
-- grain: one stage: where a brewer looks first when it loses too much
-- key: stage
-- units: none
-- reads: nothing
-- rule: none
-- source: common practice, no source

create table report.stage_checks (
    stage text primary key,
    look_at text not null
);

insert into report.stage_checks by name
select * from (values
    ('kettle', 'trub and hops left in the whirlpool, wort left in lines - take the end-of-boil dip again'),
    ('fermenter', 'yeast and hops dumped, beer left in the cone, the dip or sight glass of this tank'),
    ('transfer', 'hose and filter hold-up, push-out water, a leaking valve - dip both tanks'),
    ('bright tank', 'heel left behind, foam at the outlet, the sight glass of this tank'),
    ('packaging', 'foam and purge at the filler, start and end of run, low and high fills - weigh a few packages, see sheet fills'),
    ('warehouse', 'count again, look for shipments and returns without a document')
) as checks (stage, look_at);
