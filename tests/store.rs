//! The season's tables as files.
