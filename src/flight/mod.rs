//! What one flight shows.
