//! The definition of a section: its struct, its keys and its reader from one text.
//!
//! Input: a key a line. Output: a struct with one optional field per key, a typed [`FileKey`] for
//! each, the constant `SECTION` with their definitions, and `read`.
//!
//! [`FileKey`]: crate::base::FileKey

/// Makes a section: the struct with one optional field per key, the constant
/// `SECTION` that lists the keys, and `read`, from one definition.
///
/// A key reads: doc comment, `name: Type = kind, "what happens when left out", "example";`
macro_rules! section {
    (
        $(#[$meta:meta])*
        $vis:vis struct $name:ident, $path:literal, $about:literal;
        $(rules $rules:expr;)?
        $(variants $variants:expr;)?
        $(
            $(#[doc = $doc:literal])+
            $field:ident : $ty:ty = $kind:expr, $default:expr, $example:literal;
        )*
    ) => {
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq, serde::Serialize, Default)]
        $vis struct $name {
            $(
                $(#[doc = $doc])+
                $vis $field: $crate::base::Opt<$ty>,
            )*
        }

        #[allow(non_upper_case_globals)]
        impl $name {
            $(
                #[doc = concat!("The key `", $path, ".", stringify!($field), "`.")]
                pub const $field: $crate::base::FileKey =
                    $crate::base::FileKey::new($path, stringify!($field));
            )*

            /// The keys of this section.
            pub const SECTION: &'static $crate::spec::key::Section = &$crate::spec::key::Section {
                name: $path,
                about: $about,
                keys: &[$(
                    $crate::spec::key::Key {
                        name: stringify!($field),
                        kind: $kind,
                        default: $default,
                        doc: concat!($($doc),+).trim_ascii(),
                        example: $example,
                    },
                )*],
                rules: $crate::spec::section::section!(@or &[] $(, $rules)?),
                variants: $crate::spec::section::section!(@some $($variants)?),
            };

            /// Reads the section; what is wrong goes to the reader.
            pub(in $crate::spec) fn read(table: &$crate::spec::reader::Table<'_, '_>) -> Self {
                Self { $($field: table.take(stringify!($field)),)* }
            }
        }
    };
    (@or $default:expr) => { $default };
    (@or $default:expr, $given:expr) => { $given };
    (@some) => { None };
    (@some $given:expr) => { Some($given) };
}
pub(crate) use section;
