-- table: macros
-- grain: what the components of cost share
-- key: none
-- units: none
-- reads: nothing
-- rule: M3
-- source: cost.component_inputs

-- A component whatever its kind: `ingredients/malt/variable` as `ingredients/all/variable`. Barrels keep theirs.
create or replace macro any_kind(component) as
    case when component like 'barrels/%' then component
        else split_part(component, '/', 1) || '/all/' || split_part(component, '/', 3) end;
