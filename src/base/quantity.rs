//! Text with a unit to a number: `"12 mm"`, `"3/8 in"`, `"1 1/2 in"`, `"250 N"`, `"1.6 %"`.
//!
//! Input: text and the dimension that is wanted. Output: the number in the
//! stored unit of [`crate::units`], or what is wrong with the text.
//! Does not check ranges and knows no keys.
//!
//! Numbers are kept as whole-number fractions until the last step, one
//! division of two exactly held whole numbers, so a decimal or an inch fraction
//! becomes the nearest `f64` there is: `"1 1/2 in"` is exactly 38.1.

use super::dimension::{Dimension, UNITS};
use Dimension as D;

/// What is wrong with a text that should be a quantity.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// No number at the start.
    #[error("no number in \"{0}\"")]
    NoNumber(String),
    /// A decimal comma; holds the text with a point.
    #[error("a decimal comma; write \"{0}\"")]
    DecimalComma(String),
    /// A fraction with 0 below the line.
    #[error("division by zero")]
    ZeroBelow,
    /// A number without unit; holds the number.
    #[error("\"{0}\" has no unit")]
    NoUnit(String),
    /// A unit nobody knows; holds it.
    #[error("unknown unit \"{0}\"")]
    UnknownUnit(String),
    /// A known unit of another dimension.
    #[error("\"{unit}\" is the unit of {}", .is.noun())]
    WrongQuantity {
        /// The unit as written.
        unit: String,
        /// What it measures.
        is: Dimension,
    },
    /// More digits than can be held, or not finite.
    #[error("the number is too long")]
    TooLong,
}

/// A fraction of whole numbers.
#[derive(Clone, Copy)]
struct Fraction(i128, i128);

impl Fraction {
    fn reduced(self) -> Self {
        let (mut a, mut b) = (self.0.unsigned_abs(), self.1.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let g = i128::try_from(a.max(1)).unwrap_or(1);
        Fraction(self.0 / g, self.1 / g)
    }
    fn times(self, num: i128, den: i128) -> Option<Self> {
        Some(Fraction(self.0.checked_mul(num)?, self.1.checked_mul(den)?).reduced())
    }
    fn plus(self, other: Self) -> Option<Self> {
        let a = self.0.checked_mul(other.1)?;
        let b = other.0.checked_mul(self.1)?;
        Some(Fraction(a.checked_add(b)?, self.1.checked_mul(other.1)?).reduced())
    }
    /// Exact to the last bit while both parts are below 2^53.
    fn value(self) -> f64 {
        self.0 as f64 / self.1 as f64
    }
}

/// Reads a quantity; the result is in the stored unit of `want`.
///
/// A unit is needed unless `want` is [`Dimension::Number`] or [`Dimension::Ratio`];
/// there a ratio may also be written `"10:1"`.
pub fn parse(text: &str, want: Dimension) -> Result<f64, QuantityError> {
    let text = text.trim();
    if text.len() > 60 {
        return Err(QuantityError::TooLong);
    }
    // "2000 1/min": the unit begins with a digit.
    let split = match text.strip_suffix("1/min") {
        Some(head) if !head.trim().is_empty() => head.len(),
        _ => number_end(text),
    };
    let (number, symbol) = (text[..split].trim(), text[split..].trim());
    if let Some(rest) = symbol.strip_prefix(',')
        && rest.starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(QuantityError::DecimalComma(text.replacen(',', ".", 1)));
    }
    let value = fraction(number, text)?;
    if symbol.is_empty() {
        return if matches!(want, D::Number | D::Ratio) {
            Ok(value.value())
        } else {
            Err(QuantityError::NoUnit(number.to_owned()))
        };
    }
    if want == D::Number
        && let Some(rest) = symbol.strip_prefix(':')
    {
        let below = fraction(rest.trim(), text)?;
        if below.0 == 0 {
            return Err(QuantityError::ZeroBelow);
        }
        return value
            .times(below.1, below.0)
            .map(Fraction::value)
            .ok_or(QuantityError::TooLong);
    }
    // The unit may be written with other spaces; its case matters (mm, MPa) unless nothing else fits.
    let found = UNITS
        .iter()
        .filter(|u| u.dimension == want)
        .chain(UNITS.iter())
        .find(|u| u.symbols.contains(&symbol))
        .or_else(|| {
            UNITS
                .iter()
                .filter(|u| u.dimension == want)
                .find(|u| u.symbols.iter().any(|s| s.eq_ignore_ascii_case(symbol)))
        })
        .ok_or_else(|| QuantityError::UnknownUnit(symbol.to_owned()))?;
    if found.dimension != want {
        return Err(QuantityError::WrongQuantity {
            unit: symbol.to_owned(),
            is: found.dimension,
        });
    }
    value
        .plus(Fraction(found.shift_hundredths, 100))
        .and_then(|v| v.times(found.num, found.den))
        .map(|v| v.value() * found.scale)
        .filter(|v| v.is_finite())
        .ok_or(QuantityError::TooLong)
}

/// Where the number ends and the unit begins.
fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let mut end = 0;
    let mut at = 0;
    while at < bytes.len() {
        match bytes[at] {
            b'0'..=b'9' => end = at + 1,
            b'.' | b'+' | b' ' => {}
            b'-' => {}
            // A fraction bar counts only between digits: "1/min" is 1 and a unit.
            b'/' if bytes.get(at + 1).is_some_and(u8::is_ascii_digit) => {}
            // An exponent: 1e-3
            b'e' | b'E'
                if end == at
                    && bytes
                        .get(at + 1)
                        .is_some_and(|b| b.is_ascii_digit() || *b == b'-' || *b == b'+') => {}
            _ => break,
        }
        at += 1;
    }
    // "250." keeps its point.
    if bytes.get(end) == Some(&b'.') {
        end += 1;
    }
    end
}

/// `12`, `12.5`, `1e-3`, `3/8`, `1 1/2`, `1-1/2`, each with an optional sign.
fn fraction(number: &str, whole_text: &str) -> Result<Fraction, QuantityError> {
    let none = || QuantityError::NoNumber(whole_text.to_owned());
    let (negative, body) = match number.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, number.strip_prefix('+').unwrap_or(number)),
    };
    let value = if let Some((top, below)) = body.split_once('/') {
        let (whole, top) = match top.trim().rsplit_once([' ', '-']) {
            Some((whole, top)) => (natural(whole.trim()).ok_or_else(none)?, top),
            None => (0, top),
        };
        let top = natural(top.trim()).ok_or_else(none)?;
        let below = natural(below.trim()).ok_or_else(none)?;
        if below == 0 {
            return Err(QuantityError::ZeroBelow);
        }
        whole
            .checked_mul(below)
            .and_then(|w| w.checked_add(top))
            .map(|n| Fraction(n, below).reduced())
            .ok_or(QuantityError::TooLong)?
    } else {
        decimal(body).ok_or_else(none)??
    };
    Ok(if negative {
        Fraction(-value.0, value.1)
    } else {
        value
    })
}

fn natural(text: &str) -> Option<i128> {
    if text.is_empty() || text.len() > 15 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    text.parse().ok()
}

/// A decimal number as a fraction; `None` when it is none.
fn decimal(text: &str) -> Option<Result<Fraction, QuantityError>> {
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((m, e)) => (m, e.parse::<i32>().ok()?),
        None => (text, 0),
    };
    let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let digits = format!("{whole}{part}");
    if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let too_long = Some(Err(QuantityError::TooLong));
    if digits.len() > 20 || exponent.abs() > 12 {
        return too_long;
    }
    let number: i128 = digits.parse().ok()?;
    let places = i32::try_from(part.len()).ok()? - exponent;
    let ten = |n: i32| 10_i128.checked_pow(n.unsigned_abs());
    let fraction = if places >= 0 {
        ten(places).map(|d| Fraction(number, d))
    } else {
        ten(places)
            .and_then(|m| number.checked_mul(m))
            .map(|n| Fraction(n, 1))
    };
    match fraction {
        Some(f) => Some(Ok(f.reduced())),
        None => too_long,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_tenth_of_a_millimetre_comes_back_exactly() {
        for tenths in 0..=2000_i32 {
            let expected: f64 = f64::from(tenths) / 10.0;
            for text in [
                format!("{}.{} mm", tenths / 10, tenths % 10),
                format!("{}.{:02} cm", tenths / 100, tenths % 100),
                format!("{}.{:04} m", tenths / 10_000, tenths % 10_000),
                format!("{} um", tenths * 100),
            ] {
                assert_eq!(parse(&text, D::Length), Ok(expected), "{text}");
            }
            let shown = crate::Length::from_mm(expected).to_string();
            assert_eq!(parse(&shown, D::Length), Ok(expected), "{shown}");
        }
    }

    #[test]
    fn every_64th_of_an_inch_is_the_nearest_number_to_its_millimetres() {
        // 25.4/64 = 0.396875 exactly, so the decimal text of n × 0.396875 is the outside value.
        for n in 1..=512_i64 {
            let millionths = n * 396_875;
            let expected: f64 = format!("{}.{:06}", millionths / 1_000_000, millionths % 1_000_000)
                .parse()
                .unwrap();
            let (whole, part) = (n / 64, n % 64);
            let mut texts = vec![format!("{n}/64 in")];
            if whole > 0 && part > 0 {
                texts.push(format!("{whole} {part}/64 in"));
                texts.push(format!("{whole}-{part}/64\""));
            }
            for text in texts {
                assert_eq!(parse(&text, D::Length), Ok(expected), "{text}");
            }
        }
    }

    #[test]
    fn trade_examples() {
        // Outside values: 1 in = 25.4 mm; 1 lbf = 4.4482216152605 N; 1 psi = 6894.757 Pa;
        // 1 kgf = 9.80665 N; 450 °F = 232.222 °C (NIST SP 811, from memory).
        let ok = |t: &str, d: Dimension, v: f64| {
            let got = parse(t, d).unwrap();
            assert!((got - v).abs() <= 1e-12 * v.abs().max(1.0), "{t}: {got}");
        };
        assert_eq!(parse("1 1/2 in", D::Length), Ok(38.1));
        assert_eq!(parse("3/8 in", D::Length), Ok(9.525));
        assert_eq!(parse("0.1 in", D::Length), Ok(2.54));
        assert_eq!(parse("-.5mm", D::Length), Ok(-0.5));
        assert_eq!(parse("1e2 mm", D::Length), Ok(100.0));
        assert_eq!(parse("1.6 %", D::Ratio), Ok(0.016));
        assert_eq!(parse("10:1", D::Number), Ok(10.0));
        assert_eq!(parse("450 °F", D::Temperature), Ok(2090.0 / 9.0));
        assert_eq!(parse("300 K", D::Temperature), Ok(26.85));
        assert_eq!(parse("2000 1/min", D::Rotation), Ok(2000.0));
        assert_eq!(parse("12 g/10 min", D::MeltFlow), Ok(12.0));
        ok("50 lbf", D::Force, 222.411080763025);
        ok("25 kgf", D::Force, 245.16625);
        ok("1000 psi", D::Pressure, 6.894757293168361);
        ok("1.5707963267948966 rad", D::Angle, 90.0);
        assert_eq!(parse("12 m/min", D::Speed), Ok(200.0));
    }

    #[test]
    fn faults_are_named() {
        use QuantityError as E;
        assert_eq!(
            parse("12 N", D::Length),
            Err(E::WrongQuantity {
                unit: "N".into(),
                is: D::Force
            })
        );
        assert_eq!(parse("12", D::Length), Err(E::NoUnit("12".into())));
        assert_eq!(
            parse("12 furlongs", D::Length),
            Err(E::UnknownUnit("furlongs".into()))
        );
        assert_eq!(
            parse("1,5 mm", D::Length),
            Err(E::DecimalComma("1.5 mm".into()))
        );
        assert_eq!(parse("1/0 in", D::Length), Err(E::ZeroBelow));
        assert_eq!(parse("mm", D::Length), Err(E::NoNumber("mm".into())));
        assert_eq!(parse("1e400 mm", D::Length), Err(E::TooLong));
    }

    proptest::proptest! {
        /// Any text at all: no panic, and what is read is finite.
        #[test]
        fn any_text_is_read_or_refused(text in "[0-9 ./:+eE\\-]{0,20}(mm|in|µm|%|1/min|°F|Ø|\\PC{0,4})") {
            for d in [D::Length, D::Temperature, D::Number, D::Ratio, D::Rotation] {
                if let Ok(v) = parse(&text, d) {
                    proptest::prop_assert!(v.is_finite());
                }
            }
        }

        /// What is shown is read back to within the four decimals shown.
        #[test]
        fn shown_lengths_are_read_back(mm in 0.0..10_000.0_f64) {
            let shown = crate::Length::from_mm(mm).to_string();
            proptest::prop_assert!((parse(&shown, D::Length).unwrap() - mm).abs() <= 0.5001e-4);
        }
    }
}
