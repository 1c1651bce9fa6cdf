-- table: report.beer_in_process
-- grain: one lot that held beer in one month, with the tank it was first filled into
-- key: month, site, lot
-- units: bbl, the books' currency
-- reads: result.lot_months, result.lots
-- rule: C8
-- source: none; presentation

create table report.beer_in_process (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    stage text,
    vessel text,
    opened_on date,
    emptied_on date,
    opening_bbl decimal(18,6),
    correction_bbl decimal(18,6),
    in_bbl decimal(18,6),
    drawn_bbl decimal(18,6),
    loss_bbl decimal(18,6),
    closing_bbl decimal(18,6),
    opening_cost decimal(18,6),
    correction_cost decimal(18,6),
    added_cost decimal(18,6),
    drawn_cost decimal(18,6),
    abnormal_cost decimal(18,6),
    closing_cost decimal(18,6),
    opening_cost_per_bbl decimal(18,6),
    closing_cost_per_bbl decimal(18,6),
    change_cost_per_bbl decimal(18,6),
    change_cost decimal(18,6),
    primary key (month, site, lot)
);

insert into report.beer_in_process by name
select
    lot_months.*,
    lots.stage,
    lots.vessel,
    lots.opened_on,
    lots.emptied_on,
    per(lot_months.opening_cost, lot_months.opening_bbl) as opening_cost_per_bbl,
    per(lot_months.closing_cost, lot_months.closing_bbl) as closing_cost_per_bbl,
    per(lot_months.closing_cost, lot_months.closing_bbl) - per(lot_months.opening_cost, lot_months.opening_bbl) as change_cost_per_bbl,
    lot_months.closing_cost - lot_months.opening_cost as change_cost
from result.lot_months as lot_months
left join result.lots as lots on lots.site = lot_months.site and lots.lot = lot_months.lot;
