//! What the user wrote: the parameter file as typed values with their places.
//!
//! Input: TOML text. Output: a [`Job`] or all [`crate::base::Diagnostics`] of the file.
//! Decides nothing: a value left out stays `None` until `design` decides it.
//!
//! Each key is defined once, in the `section!` of its module: field, type, range,
//! what happens when it is left out, meaning and example. The reader, the JSON
//! schema, the help texts and the form are made from that definition.

pub mod adaptor;
mod attach;
pub mod attached;
pub mod codes;
pub mod edit;
pub mod help;
pub mod job;
pub mod key;
pub mod layers;
pub mod learned;
pub mod machine;
mod measure;
pub mod mesh;
pub mod mill;
pub mod mold;
pub mod part;
pub mod part_feature;
mod place;
pub mod profile;
pub mod read;
mod reader;
pub mod reducer;
pub mod repeat;
mod rules;
pub mod schema;
mod section;
pub mod sections;
pub mod series;
pub mod shape;
pub mod shop;
pub mod shots;
pub mod stock;
mod suggest;
mod syntax;
pub mod templates;
pub mod thread;
mod value;

pub use job::Job;
pub use read::{LARGEST_FILE, is_parameter_file, read, read_bytes};
