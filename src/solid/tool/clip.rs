//! What of a body is wanted.

/// Keep only one side of a horizontal plane, reaching a little across it.
pub(crate) struct Clip {
    /// Height of the plane.
    pub z: f64,
    /// Which side stays.
    pub keep_above: bool,
    /// How far a body that meets the plane reaches across it.
    pub beyond: f64,
}
