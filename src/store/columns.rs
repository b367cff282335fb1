//! Columns of numbers as bytes, to the bit: what a run puts aside of a long season and what it keeps
//! from one run to the next. The bytes end with a checksum; whatever is not whole reads as nothing.

use xxhash_rust::xxh3::xxh3_128;

const MAGIC: &[u8; 8] = b"BBCOLS1\n";
const CHECKSUM: usize = 16;

/// A head of the writer's own, columns, and the lines of the rows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Columns {
    pub head: Vec<u8>,
    pub columns: Vec<Vec<f64>>,
    pub lines: Vec<u32>,
}

/// As bytes.
pub fn encode(head: &[u8], columns: &[&[f64]], lines: &[u32]) -> Vec<u8> {
    let numbers: usize = columns.iter().map(|c| c.len() + 1).sum();
    let size = MAGIC.len() + head.len() + 8 * (numbers + 3) + 4 * lines.len() + CHECKSUM;
    let mut out = Vec::with_capacity(size);
    let length = |out: &mut Vec<u8>, n: usize| out.extend_from_slice(&(n as u64).to_le_bytes());
    out.extend_from_slice(MAGIC);
    length(&mut out, head.len());
    out.extend_from_slice(head);
    length(&mut out, columns.len());
    for column in columns {
        length(&mut out, column.len());
        for value in *column {
            out.extend_from_slice(&value.to_bits().to_le_bytes());
        }
    }
    length(&mut out, lines.len());
    for line in lines {
        out.extend_from_slice(&line.to_le_bytes());
    }
    let sum = xxh3_128(&out);
    out.extend_from_slice(&sum.to_le_bytes());
    out
}

/// What [`encode`] was given; `None` of bytes that it did not make or that were damaged since.
pub fn decode(bytes: &[u8]) -> Option<Columns> {
    let (body, sum) = bytes.split_at_checked(bytes.len().checked_sub(CHECKSUM)?)?;
    if xxh3_128(body).to_le_bytes() != sum {
        return None;
    }
    let mut rest = body.strip_prefix(MAGIC)?;
    let mut take = |size: usize| -> Option<&[u8]> {
        let (taken, after) = rest.split_at_checked(size)?;
        rest = after;
        Some(taken)
    };
    let number = |bytes: &[u8]| Some(u64::from_le_bytes(bytes.try_into().ok()?));
    let mut out = Columns::default();
    let head = number(take(8)?)?;
    out.head = take(usize::try_from(head).ok()?)?.to_vec();
    for _ in 0..number(take(8)?)? {
        let length = usize::try_from(number(take(8)?)?).ok()?;
        let (values, _) = take(length.checked_mul(8)?)?.as_chunks::<8>();
        let values = values
            .iter()
            .map(|b| f64::from_bits(u64::from_le_bytes(*b)));
        out.columns.push(values.collect());
    }
    let length = usize::try_from(number(take(8)?)?).ok()?;
    let (lines, _) = take(length.checked_mul(4)?)?.as_chunks::<4>();
    out.lines = lines.iter().map(|b| u32::from_le_bytes(*b)).collect();
    Some(out)
}
