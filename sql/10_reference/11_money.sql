-- table: macros
-- grain: an amount of money as a message shows it
-- key: none
-- units: the currency of the books
-- reads: reference.settings
-- rule: none
-- source: whole cents

create or replace macro money(amount) as amount::decimal(18,2) || ' ' || (select currency from reference.settings);
