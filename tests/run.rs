//! The whole chain on season folders.
