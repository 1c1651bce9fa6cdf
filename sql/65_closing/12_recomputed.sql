-- table: macros
-- grain: what is computed now, where a table shows what was frozen
-- key: none
-- units: none
-- reads: closing.months
-- rule: none
-- source: result.* shows a closed month as it was frozen; what was computed for it now stands in closing.*

-- Both together, whole.
create or replace macro recomputed(shown, taken_out) as table
from query_table(shown) where month not in (select month from closing.months)
union all by name
from query_table(taken_out);
