//! Words that several sections share: metals of plates, sizes of screws.

/// Metals a plate may be made of.
pub const PLATE_MATERIALS: &[&str] = &[
    "5083", "6061", "6082", "7075", "S235", "S275", "A36", "1018",
];
/// Screw sizes: coarse metric threads, then unified ones (UNC).
pub const SCREWS: &[&str] = &[
    "M3", "M4", "M5", "M6", "M8", "M10", "M12", "M16", "4-40", "5-40", "6-32", "8-32", "10-24",
    "1/4-20", "5/16-18", "3/8-16", "7/16-14", "1/2-13", "5/8-11", "3/4-10",
];
