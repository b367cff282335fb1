//! Bytes to SI columns and a ledger. Parsing never fails: a reader returns what it could use, the
//! ledger of what it set aside, and findings.

pub mod ledger;
pub mod log;

pub use ledger::{FileLedger, Reason};
pub use log::{Channel, Log, Series};
