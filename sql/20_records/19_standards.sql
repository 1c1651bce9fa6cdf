-- table: record.standards
-- grain: one stage of one beer from one month on
-- key: beer, stage, from_month
-- units: allowed loss in % of the volume in, and bbl for each lb of hops put into the lot; hours a barrel, money an hour
-- reads: given_standards
-- rule: V6
-- source: kinds.toml

-- beer `*`: every beer. from_month null: always.
create table record.standards (
    file text not null,
    sheet text,
    row bigint not null,
    beer text not null,
    stage text not null,
    allowed_loss_pct decimal(18,6) not null,
    loss_bbl_per_lb_hops decimal(18,6),
    hours_per_bbl decimal(18,6),
    hourly_rate decimal(18,6),
    from_month text
);

insert into record.standards by name
select
    given.file,
    given.sheet,
    given.row,
    given.beer,
    given.stage,
    given.allowed_loss_pct,
    given.loss_bbl_per_lb_hops,
    given.hours_per_bbl,
    given.hourly_rate,
    given.from_month
from given_standards as given
where given.accepted;
