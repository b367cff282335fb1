//! Where bytes come from: opened anew for every pass, so that a long file is never held whole.

use std::io::{self, Read};

/// Bytes that can be read from their start as often as asked.
pub trait Source: Sync {
    fn open(&self) -> io::Result<Box<dyn Read + '_>>;

    /// Length in bytes.
    fn length(&self) -> io::Result<u64>;

    /// All of it, where it is in memory.
    fn bytes(&self) -> Option<&[u8]> {
        None
    }
}

impl Source for &[u8] {
    fn open(&self) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(*self))
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.len() as u64)
    }

    fn bytes(&self) -> Option<&[u8]> {
        Some(self)
    }
}

impl Source for Vec<u8> {
    fn open(&self) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(self.as_slice()))
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.len() as u64)
    }

    fn bytes(&self) -> Option<&[u8]> {
        Some(self)
    }
}

/// The first bytes, at most `most`.
pub(super) fn head(source: &dyn Source, most: usize) -> io::Result<Vec<u8>> {
    let mut out = Vec::new();
    source.open()?.take(most as u64).read_to_end(&mut out)?;
    Ok(out)
}

/// All bytes, for the formats that are read whole.
pub(super) fn whole(source: &dyn Source) -> io::Result<Vec<u8>> {
    let mut out = Vec::with_capacity(usize::try_from(source.length()?).unwrap_or_default());
    source.open()?.read_to_end(&mut out)?;
    Ok(out)
}

/// Hands over pieces until the end.
pub(super) fn pieces(mut reader: impl Read, mut take: impl FnMut(&[u8])) -> io::Result<()> {
    let mut piece = vec![0; PIECE];
    loop {
        match reader.read(&mut piece) {
            Ok(0) => return Ok(()),
            Ok(n) => take(&piece[..n]),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

/// Bytes asked for at once.
pub(super) const PIECE: usize = 1 << 16;
