//! The whole chain, from a season folder to findings and report.

mod demo;
