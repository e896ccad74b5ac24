//! The order, from outside: the trade's published examples, worked tables, and random lawns.

#[path = "order/lawns.rs"]
mod lawns;
#[path = "order/rows.rs"]
mod rows;
#[path = "order/table.rs"]
mod table;
#[path = "order/trade.rs"]
mod trade;
