-- table: reference.margin_settings
-- grain: the books
-- key: none (one row)
-- units: pour_loss_pct in % of a keg; a glass in barrels; days; deposit in the books' currency for a keg of any size
-- reads: given_margin_settings
-- rule: M4, M7
-- source: brewery.toml; a pour loss of 5 % where nothing is said: a keg of a well-kept draught system yields 95 %
--   (trade article, low confidence). 1 bbl = 31 US gal = 248 US pints = 117.347765304 L exactly (NIST HB 44)

create table reference.margin_settings (
    pour_loss_pct decimal(18,6) not null,
    glass text not null,
    glasses_per_bbl decimal(18,9) not null,
    keg_overdue_days bigint not null,
    keg_deposit decimal(18,6)
);

insert into reference.margin_settings by name
select pour_loss_pct, glass,
    case glass when 'half_litre' then 234.695530608 else 248 end as glasses_per_bbl,
    keg_overdue_days, keg_deposit
from given_margin_settings;
