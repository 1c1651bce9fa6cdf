"""The chart of accounts: what the journal posts to, with a default number and a name for each."""

from __future__ import annotations

from collections.abc import Mapping

# role: (default number, name). brewery.toml's [accounts] gives a role another number.
CHART: Mapping[str, tuple[str, str]] = {
    "bank": ("1000", "bank"),
    "receivables": ("1100", "receivables"),
    "materials": ("1200", "materials"),
    "process": ("1210", "beer in process"),
    "goods": ("1220", "finished goods"),
    "house_stock": ("1230", "stock at own houses"),
    "labour": ("1290", "labour to be shared out"),
    "overhead": ("1291", "overhead to be shared out"),
    "by_products": ("1292", "by-products to be shared out"),
    "short_stock": ("1295", "stock used or shipped that was not on hand"),
    "payables": ("2000", "payables"),
    "received_not_invoiced": ("2010", "goods received not invoiced"),
    "wages_payable": ("2020", "wages payable"),
    "accrued_expenses": ("2030", "accrued expenses"),
    "duty_payable": ("2100", "duty payable"),
    "keg_deposits": ("2200", "keg deposits"),
    "sales": ("4000", "sales"),
    "sales_credits": ("4010", "credits to customers"),
    "deposits_kept": ("4090", "deposits kept for kegs that were lost"),
    "cost_of_goods_sold": ("5000", "cost of goods sold"),
    "own_deliveries": ("5010", "cost of beer delivered to own locations"),
    "duty": ("5100", "beer duty"),
    "freight_out": ("5200", "freight out"),
    "idle_capacity": ("5300", "idle capacity"),
    "abnormal_loss": ("5310", "abnormal loss"),
    "material_shrinkage": ("5320", "material shrinkage"),
    "stock_shortage": ("5330", "stock shortage"),
    "period_pools": ("5340", "period costs"),
    "unshared": ("5350", "costs that nothing could take"),
    "warehouse_labour": ("5360", "warehouse labour"),
    "material_sold": ("5370", "material sold, less its income"),
    "beer_not_sold": ("5380", "beer sampled, destroyed or given away"),
    "duty_interest": ("5390", "interest and penalties on duty"),
    "rounding": ("5990", "rounding to cents"),
}
# These stand once for each tax area, as `duty_payable US-ME`; by default under the role's number and the area.
BY_AREA = ("duty_payable", "duty")
# Income and expense, whatever number brewery.toml gives them: together they are the profit of these books.
OF_PROFIT = tuple(role for role, (number, _) in CHART.items() if number >= "4000")
# Balances that the books know from their opening on, so that a general ledger can be agreed with them.
ROLLED = ("materials", "process", "goods", "house_stock", "received_not_invoiced", "keg_deposits", "duty_payable")
