-- table: report.received_not_invoiced
-- grain: one document and material received at an estimate, whose invoice has not come by the month's end
-- key: month, document, material
-- units: money
-- reads: report.months, result.movements, record.invoices
-- rule: K6
-- source: none; presentation of the goods received not invoiced that the journal carries

create table report.received_not_invoiced (
    month text not null,
    received_on date not null,
    document text not null,
    material text not null,
    amount decimal(18,6) not null
);

insert into report.received_not_invoiced by name
with
received as (
    select document, text as material, min(date) as received_on, min(month) as received_month, sum(amount) as amount
    from result.movements
    where kind = 'receipts' and credit = 'received_not_invoiced'
    group by document, text
),
invoiced as (
    select receipt_document as document, material, min(strftime(date, '%Y-%m')) as invoiced_month
    from record.invoices
    group by receipt_document, material
)
select months.month, received.received_on, received.document, received.material, received.amount
from report.months as months
join received on received.received_month <= months.month
left join invoiced using (document, material)
where invoiced.invoiced_month is null or invoiced.invoiced_month > months.month;
