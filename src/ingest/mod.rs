//! Bytes to SI columns and a ledger. Parsing never fails: a reader returns what it could use, the
//! ledger of what it set aside, and findings.

mod assign;
pub mod cell;
mod channels;
mod clock;
mod columnar;
mod counter;
mod delimited;
mod dialect;
pub mod encoding;
mod format;
mod gpx;
mod header;
mod igc;
mod layout;
pub mod ledger;
pub mod log;
mod nmea;
mod order;
mod plausible;
mod read;
mod records;
mod scan;
pub mod sense;
mod sorter;
mod source;
mod stamp;
mod table;
mod tap;
mod throttle;
mod track;
mod vocabulary;
mod words;

pub use cell::Cell;
pub use channels::{AssignedColumn, Assignment, How, assign_channels};
pub use dialect::{Dialect, LineEnd};
pub use format::Format;
pub use ledger::{FileLedger, Marked, Reason};
pub use log::{Channel, Log, Series};
pub use read::{LogRead, ReadOptions, log_of, read_log, read_log_from, read_table, scan};
pub use scan::{Passed, Scan, Take};
pub use source::Source;
pub use table::{HeaderCell, Table, TableRead, TableRow};
pub use words::Purpose;
