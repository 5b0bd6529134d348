//! Gates against outlines that are known.

use super::*;
