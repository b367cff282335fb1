//! Bytes to SI columns and a ledger. Parsing never fails: a reader returns what it could use, the
//! ledger of what it set aside, and findings.

mod angle;
mod assign;
mod calendar;
pub mod cell;
mod channels;
mod charset;
mod clock;
mod columnar;
mod counter;
mod date_order;
mod delimited;
mod dialect;
mod doubts;
pub mod encoding;
mod foreign;
mod format;
mod gathered;
mod gpx;
mod header;
mod height;
mod igc;
mod layout;
pub mod ledger;
pub mod log;
mod marks;
mod nmea;
mod no_table;
mod order;
mod overrule;
mod plain;
mod plausible;
mod read;
mod records;
mod rising;
mod scan;
pub mod sense;
mod sides;
mod signs;
mod sorter;
mod source;
mod stamp;
mod table;
mod tap;
mod throttle;
mod time_columns;
mod track;
mod unpacked;
mod vocabulary;
mod words;
mod written;

pub use cell::Cell;
pub use channels::{AssignedColumn, Assignment, How, assign_channels};
pub use dialect::{Dialect, LineEnd};
pub use format::Format;
pub use ledger::{FileLedger, Marked, Reason};
pub use log::{Channel, Log, Series};
pub use marks::{Basis, Marks};
pub use overrule::toml_string;
pub use read::{
    LogRead, ReadOptions, log_of, read_log, read_log_from, read_table, read_table_as, scan,
};
pub use scan::{Passed, Scan, Take};
pub use source::Source;
pub use table::{HeaderCell, Table, TableRead, TableRow};
pub use words::Purpose;
