//! The stable codes of what can be wrong in a parameter file.
//!
//! Input: nothing. Output: the codes with their meaning ([`ALL`]).
//! A code never changes its meaning; new faults get new codes.

macro_rules! codes {
    ($($(#[doc = $doc:literal])+ $name:ident = $code:literal;)*) => {
        $($(#[doc = $doc])+ pub const $name: &str = $code;)*
        /// Every code with its meaning.
        pub const ALL: &[(&str, &str)] = &[$(($code, concat!($($doc),+).trim_ascii()),)*];
    };
}

codes! {
    /// The file is empty, or holds comments only.
    EMPTY_FILE = "empty-file";
    /// The file is larger than 1 MiB.
    FILE_TOO_LARGE = "file-too-large";
    /// The file is no UTF-8 text.
    NOT_UTF8 = "not-utf-8";
    /// A file name that leads out of the folder, or has an ending that is not read.
    BAD_FILE_NAME = "bad-file-name";
    /// A file that the parameter file names cannot be read.
    FILE_NOT_READ = "file-not-read";
    /// The text breaks the rules of TOML.
    SYNTAX = "syntax";
    /// Tables or lists inside each other more than 40 deep.
    NESTING = "nesting";
    /// A key or section stands twice.
    DUPLICATE_KEY = "duplicate-key";
    /// No such key in this section.
    UNKNOWN_KEY = "unknown-key";
    /// No such section.
    UNKNOWN_SECTION = "unknown-section";
    /// The key exists, but in another section.
    WRONG_SECTION = "wrong-section";
    /// A key that must be given is not there.
    MISSING_KEY = "missing-key";
    /// A section that must be there is not.
    MISSING_SECTION = "missing-section";
    /// A value of another type was expected.
    WRONG_TYPE = "wrong-type";
    /// A quantity in text without its unit.
    NO_UNIT = "no-unit";
    /// A unit that is not known.
    UNKNOWN_UNIT = "unknown-unit";
    /// A unit of another quantity, as newtons for a length.
    WRONG_QUANTITY = "wrong-quantity";
    /// Text that should be a number and is none.
    BAD_NUMBER = "bad-number";
    /// Not a number, or infinite.
    NOT_FINITE = "not-finite";
    /// A number out of its range.
    OUT_OF_RANGE = "out-of-range";
    /// A word that is none of the possible ones.
    UNKNOWN_WORD = "unknown-word";
    /// Text that is empty, too long, or has characters it must not have.
    BAD_TEXT = "bad-text";
    /// A list with too few or too many entries.
    BAD_COUNT = "bad-count";
    /// A pipe thread that is none.
    BAD_THREAD = "bad-thread";
    /// Keys that exclude each other.
    EXCLUSIVE_KEYS = "exclusive-keys";
    /// Keys that are only understood together.
    KEYS_TOGETHER = "keys-together";
    /// A key or section that says nothing for what was chosen elsewhere.
    KEY_NOT_USED = "key-not-used";
    /// A plastic that must not be molded on such a machine.
    REFUSED_PLASTIC = "refused-plastic";
    /// More errors than are shown.
    TOO_MANY_ERRORS = "too-many-errors";
}
