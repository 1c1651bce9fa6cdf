-- table: macros
-- grain: what the workbooks' ratios, totals and verdicts share
-- key: none
-- units: as each says
-- reads: nothing
-- rule: V7, M1
-- source: none; presentation of figures that earlier tables hold

-- A ratio, and a share in per cent; blank where there is nothing to divide by.
create or replace macro per(a, b) as case when b <> 0 then divide6(a, b) end;

create or replace macro percent(a, b) as case when b <> 0 then divide6(100 * a, b) end;

-- The same of two columns' sums.
create or replace macro per_sum(a, b) as per(sum(a), sum(b));

create or replace macro percent_sum(a, b) as percent(sum(a), sum(b));

-- A sum that is blank where one of its parts is: revenue without a price is not a smaller revenue (M1).
create or replace macro whole_sum(a) as case when count(a) = count(*) then sum(a) end;

create or replace macro per_whole_sum(a, b) as per(whole_sum(a), sum(b));

create or replace macro percent_whole_sum(a, b) as percent(whole_sum(a), whole_sum(b));

-- Reading errors of independent readings add as squares (V7).
create or replace macro root_sum_square(a) as rounded6(sqrt(sum(a::double * a::double)));

-- Is a loss real? A gain beyond twice its reading error says that the readings disagree (V7).
create or replace macro verdict(loss, reading_error) as
    case
        when loss is null or reading_error is null then 'not measured'
        when loss < -2 * reading_error then 'readings disagree'
        when loss > reading_error then 'real'
        else 'within reading error'
    end;

-- A week in the fermenter for ales, two for lagers (common practice, no source); none is usual for a bright tank.
create or replace macro usual_days(stage, style) as
    case when stage = 'fermenter' then if(style ilike '%lager%' or style ilike '%pils%', 14, 7) end;

create or replace macro stage_place(stage) as
    list_position(['kettle', 'fermenter', 'transfer', 'bright_tank', 'packaging', 'warehouse'], stage);

-- What a record says, without its blank fields and the marks of the notation.
create or replace macro plain_record(cells) as
    regexp_replace(
        regexp_replace(replace(json_merge_patch('{}', cells)::text, '":', '": '), '[{}"]', '', 'g'), ',', ', ', 'g'
    );
