//! What a hand can do at a lever: the limits computed with, and the rows they were chosen from.
//!
//! Input: one hand or both. Output: [`HandForce`]. The limits are our own choice.

use super::cited::{RangeRow, built_in};
use serde::Serialize;

built_in!(
    /// Every row of the table.
    force_rows: RangeRow = "hand-force"
);

/// Limits at a lever, N.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HandForce {
    /// Often, by anybody.
    pub often: f64,
    /// Now and then.
    pub now_and_then: f64,
    /// Short and strong, by a strong adult.
    pub strong: f64,
}

/// How often a force may be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HowOften {
    /// Shot after shot, by anybody.
    Often,
    /// Now and then.
    NowAndThen,
    /// Short and strong, by a strong adult.
    Strong,
    /// More than one should count on.
    TooMuch,
}

impl HowOften {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            HowOften::Often => "shot after shot",
            HowOften::NowAndThen => "now and then",
            HowOften::Strong => "short and strong only",
            HowOften::TooMuch => "more than a strong adult should be asked for",
        }
    }
}

impl HandForce {
    /// How often this force may be asked for.
    pub fn judge(&self, force: f64) -> HowOften {
        // Forces are shown as whole newtons and are judged as shown.
        let force = force.round();
        if force <= self.often {
            HowOften::Often
        } else if force <= self.now_and_then {
            HowOften::NowAndThen
        } else if force <= self.strong {
            HowOften::Strong
        } else {
            HowOften::TooMuch
        }
    }
}

/// The limits for one hand or both.
pub fn limits(one_hand: bool) -> HandForce {
    let item = if one_hand { "one_hand" } else { "both_hands" };
    let find = || {
        let r = force_rows().iter().find(|r| r.item == item)?;
        Some(HandForce {
            often: r.low?,
            now_and_then: r.typical?,
            strong: r.high?,
        })
    };
    find().expect("the built-in table has both rows: a test reads them")
}

/// The published rows that the limits were chosen from, in one sentence.
pub const ROWS: &str = "own choice from published rows: greatest mean pull of men 400 N and women 244 N, push 251 and 140 N (Das & Wang, Int. J. Occup. Saf. Ergon. 2004, 10, 43); one hand on a lever 118 to 216 N, both twice that (Ivergard & Hunt 2009); 30 % less more than once in 30 s (FAA HFDS 14.5.2.2); 1st and 15th percentile of workers 126 and 200 N (EN 1005-3 annex A)";

#[cfg(test)]
mod tests {
    use super::*;

    fn typical(item: &str) -> f64 {
        let row = force_rows().iter().find(|r| r.item == item);
        row.and_then(|r| r.typical).unwrap()
    }

    #[test]
    fn limits_stand_in_order_and_below_what_was_measured() {
        for one in [false, true] {
            let l = limits(one);
            assert!(l.often < l.now_and_then && l.now_and_then < l.strong);
        }
        // Das & Wang 2004: 250 N is 62 % of the men's mean greatest pull, 102 % of the women's.
        let both = limits(false);
        let men = both.strong / typical("pull_max_isometric_standing_male");
        let women = both.strong / typical("pull_max_isometric_standing_female");
        assert!((men - 0.62).abs() < 0.006 && (women - 1.02).abs() < 0.006);
        // EN 1005-3 annex A: ln-mean 5.45, ln-sd 0.30: 199 N at the 15th percentile, 126 N at the
        // 1st. Nine in ten hold what is asked now and then.
        let at = |z: f64| (5.45 - z * 0.30_f64).exp();
        assert!((at(0.5244) - 199.0).abs() < 1.0 && (at(2.0537) - 126.0).abs() < 1.0);
        assert!(both.now_and_then < at(1.2816) + 10.0);
    }

    #[test]
    fn a_force_is_judged_as_it_is_shown() {
        let l = limits(false);
        assert_eq!(l.judge(100.4), HowOften::Often);
        assert_eq!(l.judge(150.4), HowOften::NowAndThen);
        assert_eq!(l.judge(151.0), HowOften::Strong);
        assert_eq!(l.judge(251.0), HowOften::TooMuch);
    }
}
