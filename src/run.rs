//! The pipeline, top to bottom.
