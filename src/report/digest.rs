//! Digests of a report's files, as its manifest lists them.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

/// What is written, with the digest of what went into it.
pub struct Summed<W> {
    to: W,
    sum: Sha256,
}

impl<W> Summed<W> {
    pub fn new(to: W) -> Self {
        Self {
            to,
            sum: Sha256::new(),
        }
    }

    /// Of all that was written, in hexadecimal digits.
    pub fn digest(self) -> String {
        let sum = self.sum.finalize();
        sum.iter().map(|b| format!("{b:02x}")).collect()
    }
}

impl<W: Write> Write for Summed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.to.write(bytes)?;
        self.sum.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

/// SHA-256 of a file as it stands in the manifest.
pub fn digest(path: &Path) -> io::Result<String> {
    let mut sum = Summed::new(io::sink());
    io::copy(&mut File::open(path)?, &mut sum)?;
    Ok(sum.digest())
}
