//! Findings to HTML, PNG and JSON. Draws and writes, computes nothing.
