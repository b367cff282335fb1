//! What a columnar file says that it unpacks to, before anything is unpacked: a few bytes can stand for
//! more than memory holds.

use std::panic::{AssertUnwindSafe, catch_unwind};

use arrow::ipc::{Message, RecordBatch, root_as_footer, root_as_message};
use bytes::Bytes;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use super::format::Format;

/// Most rows of a columnar file: five hours at 1 kHz.
const MOST_ROWS: u64 = 20_000_000;
/// Most bytes that a columnar file may unpack to.
const MOST_BYTES: u64 = 1 << 30;

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Claim {
    rows: u64,
    bytes: u64,
}

/// Why a file is not unpacked, in words; `None` where it may be (or is damaged, which is told elsewhere).
pub(super) fn too_large(format: Option<Format>, bytes: &Bytes) -> Option<String> {
    let claim = match format? {
        Format::Parquet => of_parquet(bytes),
        Format::ArrowFile => of_file(bytes),
        _ => of_stream(bytes),
    }?;
    (claim.rows > MOST_ROWS || claim.bytes > MOST_BYTES).then(|| {
        format!(
            "its {} kB say that they unpack to {} rows and {} MB; at most {MOST_ROWS} rows and {} MB are read",
            bytes.len() >> 10,
            claim.rows,
            claim.bytes >> 20,
            MOST_BYTES >> 20
        )
    })
}

/// A negative count is no count.
fn count(number: i64) -> u64 {
    u64::try_from(number).unwrap_or(u64::MAX)
}

fn of_parquet(bytes: &Bytes) -> Option<Claim> {
    let open = AssertUnwindSafe(|| ParquetRecordBatchReaderBuilder::try_new(bytes.clone()));
    let builder = catch_unwind(open).ok()?.ok()?;
    let groups = builder.metadata().row_groups().iter();
    Some(groups.fold(Claim::default(), |sum, group| Claim {
        rows: sum.rows.saturating_add(count(group.num_rows())),
        bytes: sum.bytes.saturating_add(count(group.total_byte_size())),
    }))
}

fn of_file(bytes: &[u8]) -> Option<Claim> {
    let end = bytes.len().checked_sub(10)?;
    let length = usize::try_from(number_at(bytes, end)?).ok()?;
    let footer = root_as_footer(bytes.get(end.checked_sub(length)?..end)?).ok()?;
    let mut claim = Claim::default();
    let blocks = footer.recordBatches().into_iter().flatten();
    for block in blocks.chain(footer.dictionaries().into_iter().flatten()) {
        let start = usize::try_from(block.offset()).ok()?;
        let body = start.checked_add(usize::try_from(block.metaDataLength()).ok()?)?;
        // Four bytes of mark and four of length go before the message.
        let message = root_as_message(bytes.get(start.checked_add(8)?..body)?).ok()?;
        add(&mut claim, message, bytes.get(body..)?);
    }
    Some(claim)
}

fn of_stream(bytes: &[u8]) -> Option<Claim> {
    let (mut claim, mut at) = (Claim::default(), 0usize);
    while at + 8 <= bytes.len() {
        let length = usize::try_from(number_at(bytes, at + 4)?).ok()?;
        if length == 0 {
            break;
        }
        let body = (at + 8).checked_add(length)?;
        let Some(message) = bytes.get(at + 8..body) else {
            break;
        };
        let message = root_as_message(message).ok()?;
        add(&mut claim, message, bytes.get(body..)?);
        at = body.checked_add(usize::try_from(message.bodyLength()).ok()?)?;
    }
    Some(claim)
}

fn add(claim: &mut Claim, message: Message<'_>, body: &[u8]) {
    let of_dictionary = message.header_as_dictionary_batch().and_then(|d| d.data());
    if let Some(batch) = message.header_as_record_batch().or(of_dictionary) {
        claim.rows = claim.rows.saturating_add(count(batch.length()));
        claim.bytes = claim.bytes.saturating_add(unpacked(batch, body));
    }
}

/// Before each compressed buffer stands its unpacked length, -1 where it is not compressed after all
/// (Arrow columnar format, "Compression").
fn unpacked(batch: RecordBatch<'_>, body: &[u8]) -> u64 {
    if batch.compression().is_none() {
        return 0;
    }
    let buffers = batch.buffers().into_iter().flatten();
    let lengths = buffers.filter(|b| b.length() >= 8).filter_map(|buffer| {
        let at = usize::try_from(buffer.offset()).ok()?;
        let length = body.get(at..at.checked_add(8)?)?.try_into().ok()?;
        match i64::from_le_bytes(length) {
            -1 => None,
            length => Some(count(length)),
        }
    });
    lengths.fold(0, u64::saturating_add)
}

fn number_at(bytes: &[u8], at: usize) -> Option<u32> {
    let number = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    Some(u32::from_le_bytes(number))
}
