//! What is lost between what pushes and the inlet: it rises with the flow.
//!
//! Input: a law from flow to pressure lost. Output: the same as a short table, cheap to ask, and
//! where a network and what is lost before it meet. Knows no machine.

use serde::Serialize;

/// Flows of the table, equally spaced in their logarithm over six decades.
const POINTS: usize = 31;
const DECADES: f64 = 6.0;

/// Pressure lost before the inlet, Pa, at a flow, m³/s: a line in the logarithms between points
/// (between two points a power law, as any melt nearly has).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Loss {
    /// Logarithm of the largest flow.
    top: f64,
    /// Logarithms of the losses from the least flow up; `None`: nothing is lost.
    ln: Option<[f64; POINTS]>,
}

impl Loss {
    /// Nothing is lost.
    pub const NONE: Self = Self { top: 0.0, ln: None };

    /// The table of a law up to the largest flow, m³/s. A law that loses nothing, or knows no
    /// number, is [`Loss::NONE`].
    pub fn new(largest: f64, of: impl Fn(f64) -> f64) -> Self {
        let top = largest.ln();
        let mut ln = [0.0; POINTS];
        for (i, at) in ln.iter_mut().enumerate() {
            *at = of((top + Self::below_top(i)).exp()).ln();
        }
        let sound = top.is_finite() && ln.iter().all(|x| x.is_finite());
        Self {
            top,
            ln: sound.then_some(ln),
        }
    }

    fn step() -> f64 {
        DECADES * std::f64::consts::LN_10 / (POINTS - 1) as f64
    }

    fn below_top(i: usize) -> f64 {
        (i as f64 - (POINTS - 1) as f64) * Self::step()
    }

    /// Pressure lost, Pa, at a flow, m³/s; beyond the table by its end's power law.
    pub fn at(&self, flow: f64) -> f64 {
        let Some(ln) = &self.ln else { return 0.0 };
        if flow <= 0.0 {
            return 0.0;
        }
        let place = (flow.ln() - self.top) / Self::step() + (POINTS - 1) as f64;
        let i = place.clamp(0.0, (POINTS - 2) as f64).floor() as usize;
        (ln[i] + (place - i as f64) * (ln[i + 1] - ln[i])).exp()
    }

    /// The flow, m³/s, that loses so much (Pa); `None` when none does, or none within the table.
    pub fn flow_of(&self, loss: f64) -> Option<f64> {
        self.ln
            .filter(|ln| loss > 0.0 && loss < ln[POINTS - 1].exp())?;
        let (mut low, mut high) = (self.top + 2.0 * Self::below_top(0), self.top);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.at(middle.exp()) > loss {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(low.exp())
    }

    /// True when nothing is lost at any flow.
    pub fn is_none(&self) -> bool {
        self.ln.is_none()
    }

    /// The inlet's pressure, Pa, where a network that takes `flow` (m³/s) at `pressure` (Pa), and
    /// in proportion at others, meets what is left of `push` (Pa): p + loss(flow p / pressure) = push.
    pub(crate) fn meet(&self, push: f64, flow: f64, pressure: f64) -> f64 {
        if self.is_none() || flow <= 0.0 || pressure <= 0.0 {
            return push;
        }
        // Both terms rise with p: halved in the logarithm.
        let (mut low, mut high) = (1e-9 * push, push);
        for _ in 0..60 {
            let p = (low * high).sqrt();
            if p + self.at(flow * p / pressure) > push {
                high = p;
            } else {
                low = p;
            }
            if high < low * (1.0 + 1e-7) {
                break;
            }
        }
        low
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_power_law_comes_back_whole() {
        let law = |q: f64| 3e9 * q.powf(0.35);
        let loss = Loss::new(2e-5, law);
        for q in [1e-12, 3e-9, 7.7e-7, 2e-5, 5e-5] {
            assert!((loss.at(q) / law(q) - 1.0).abs() < 1e-9, "{q}");
        }
        assert_eq!(loss.at(0.0), 0.0);
        assert_eq!(Loss::NONE.at(1e-5), 0.0);
        assert!(Loss::new(1e-5, |_| f64::NAN).is_none());
    }

    #[test]
    fn a_straight_network_behind_a_straight_loss_shares_the_pressure() {
        // Two resistances in a row: 3 MPa over R1 = 1e11 and R2 = 2e11 Pa·s/m³ leave two thirds.
        let loss = Loss::new(1e-4, |q| 1e11 * q);
        let p = loss.meet(3e6, 1e-5, 2e6);
        assert!((p / 2e6 - 1.0).abs() < 1e-6, "{p}");
        assert_eq!(Loss::NONE.meet(3e6, 1e-5, 2e6), 3e6);
    }
}
