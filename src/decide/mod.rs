//! Finds values for what the file leaves open, so that what is decided passes its own checks.
//!
//! Input: a job and its design by rule. Output: [`Choices`] that the next design takes in place of
//! its rules. Given values are never touched; facts (machine, shop, nozzle, kind of plastic) are
//! assumed, not chosen. The same computations judge here and at the end, with fewer cells here.
//!
//! Method: a design whose rules pass keeps them, but for plates that may be thinner. Else each open
//! value has a ladder ([`feed`]: step by step, what gains most for its cost; [`closing`]: the
//! cheapest of all combinations), and what turns out not to be needed is taken back.

mod closing;
mod feed;
mod question;

pub use question::Question;

use crate::design::{Choices, Design};
use crate::process::trial::Trials;

/// The choices for a job whose design by rule is `first`; none where rules are the best there is.
pub fn choices(question: &Question<'_>, first: &Design) -> Choices {
    let mut choices = Choices::default();
    if first.cavities.is_empty() || !first.whole_shot {
        return choices;
    }
    // The sprue's length comes from the plate, the load on the plates from the feed: each is
    // looked at once more where the other has changed it.
    let Some(trials) = Trials::new(first) else {
        return choices;
    };
    let closed = closing::search(question, &trials, &choices).unwrap_or_default();
    choices.extend(&closed);
    if question.options.fill
        && let Some(fed) = feed::search(question, &trials, &choices)
    {
        choices.extend(&fed);
        if !fed.is_empty()
            && let Some(again) = closing::search(question, &trials, &choices)
        {
            choices.extend(&again);
        }
    }
    choices
}
