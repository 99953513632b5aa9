//! What becomes of writes when something goes wrong among them, on both databases.

mod neighbours;
mod shop;
mod storage;
mod tampering;
