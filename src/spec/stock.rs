//! Words that several sections share: metals of plates, sizes of screws.

/// Metals a plate may be made of.
pub const PLATE_MATERIALS: &[&str] = &["5083", "6082", "7075", "S235", "S275"];
/// Screw sizes.
pub const SCREWS: &[&str] = &["M3", "M4", "M5", "M6", "M8", "M10", "M12", "M16"];
