-- table: report.stocks
-- grain: one of the three stocks, or that at own houses where they are counted, in one month
-- key: month, stock
-- units: the books' currency
-- reads: report.months, result.material_months, result.lot_months, result.goods_months, result.house_stock_months
-- rule: K5
-- source: none; presentation

create table report.stocks (
    month text not null,
    place bigint not null,
    stock text not null,
    opening_cost decimal(18,6) not null,
    correction_cost decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    change_cost decimal(18,6) not null,
    primary key (month, stock)
);

insert into report.stocks by name
with stocks as (
    select 'materials' as stock, month, opening_cost, correction_cost, closing_cost
    from result.material_months
    union all
    select 'beer in process' as stock, month, opening_cost, correction_cost, closing_cost
    from result.lot_months
    union all
    select 'packaged goods' as stock, month, opening_cost, correction_cost, closing_cost
    from result.goods_months
    union all
    select 'stock at own houses' as stock, month, opening_cost, correction_cost, closing_cost
    from result.house_stock_months
),
names (place, stock) as (
    select * from (values (1, 'materials'), (2, 'beer in process'), (3, 'packaged goods'), (4, 'stock at own houses'))
    where col0 < 4 or exists (from result.house_stock_months)
)
select
    months.month,
    names.place,
    names.stock,
    coalesce(sum(stocks.opening_cost), 0) as opening_cost,
    coalesce(sum(stocks.correction_cost), 0) as correction_cost,
    coalesce(sum(stocks.closing_cost), 0) as closing_cost,
    coalesce(sum(stocks.closing_cost), 0) - coalesce(sum(stocks.opening_cost), 0) as change_cost
from report.months as months
cross join names
left join stocks on stocks.month = months.month and stocks.stock = names.stock
group by months.month, names.place, names.stock;
