//! The bundled font, for measuring, rasterising and the page. See `font/README.md` for its licence.

pub const FAMILY: &str = "Report Sans";
pub const REGULAR: &[u8] = include_bytes!("font/report-sans-regular.ttf");
pub const BOLD: &[u8] = include_bytes!("font/report-sans-bold.ttf");
/// (ascender − descender) / units per em of both files: (2189 + 600) / 2048, their `hhea` table.
pub const LINE_HEIGHT: f64 = 2789.0 / 2048.0;

/// Base64 with padding (RFC 4648, section 4).
pub fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let byte = |i: usize| u32::from(chunk.get(i).copied().unwrap_or(0));
        let word = byte(0) << 16 | byte(1) << 8 | byte(2);
        for i in 0..4 {
            if i <= chunk.len() {
                out.push(char::from(ALPHABET[(word >> (18 - 6 * i) & 63) as usize]));
            } else {
                out.push('=');
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    /// The test vectors of RFC 4648, section 10 (from memory).
    #[test]
    fn base64_of_the_rfc() {
        let pairs = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in pairs {
            assert_eq!(super::base64(plain.as_bytes()), coded);
        }
    }
}
