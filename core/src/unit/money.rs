//! Sums of money as people type them.

use std::fmt;

use super::decimal::folded;

/// The error for a text that is not a sum of money; holds the text, cut to 20 characters.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{MoneyError, read_cents};
///
/// let error = read_cents("sixty").unwrap_err();
/// assert_eq!(error, MoneyError("sixty".to_owned()));
/// assert_eq!(error.to_string(), "“sixty” is not a sum of money. Type it in figures, such as 60 or 72.50.");
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MoneyError(pub String);

impl fmt::Display for MoneyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = &self.0;
        write!(
            f,
            "“{text}” is not a sum of money. Type it in figures, such as 60 or 72.50."
        )
    }
}

impl std::error::Error for MoneyError {}

/// Returns a typed sum of money in hundredths of its currency, or `None` if nothing was typed.
///
/// Accepts whole numbers and decimals of one or two places, with a point or a comma, in plain or full-width
/// digits; at most 42,949,672.95. Three places are refused, because `1,200` means a different sum in
/// different countries.
///
/// ```
/// use evenhand_core::unit::read_cents;
///
/// assert_eq!(read_cents("60"), Ok(Some(6_000)));
/// assert_eq!(read_cents("72,5"), Ok(Some(7_250)));
/// assert_eq!(read_cents(" "), Ok(None));
/// assert!(read_cents("1,200").is_err());
/// ```
///
/// # Errors
/// Returns [`MoneyError`] if the text is anything else: a fraction, a negative sum, a sum with its currency.
pub fn read_cents(text: &str) -> Result<Option<u32>, MoneyError> {
    let folded = folded(text);
    if folded.is_empty() {
        return Ok(None);
    }
    let (whole, part) = folded.split_once(['.', ',']).unwrap_or((&folded, ""));
    let is_digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let is_money = is_digits(whole) && is_digits(part) && part.len() <= 2;
    let has_digit = !(whole.is_empty() && part.is_empty());
    let cents = (is_money && has_digit).then(|| format!("{whole}{part:0<2}").parse().ok());
    let refused = || MoneyError(text.trim().chars().take(20).collect());
    cents.flatten().map(Some).ok_or_else(refused)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_read_to_the_hundredth_however_they_are_typed() {
        for (text, cents) in [
            ("60", 6_000),
            (" 60.00 ", 6_000),
            ("72.5", 7_250),
            ("72,50", 7_250),
            ("0", 0),
            ("0.05", 5),
            (".50", 50),
            ("7.", 700),
            ("７２．５０", 7_250),
            ("42949672.95", u32::MAX),
        ] {
            assert_eq!(read_cents(text), Ok(Some(cents)), "{text}");
        }
        assert_eq!(read_cents(""), Ok(None));
        assert_eq!(read_cents("  "), Ok(None));
    }

    #[test]
    fn what_is_no_sum_of_money_is_refused_with_money_as_the_example() {
        for text in [
            "sixty",
            "1/2",
            "1¾",
            "1 3/4",
            "-60",
            "−60",
            "60 crowns",
            "1,200",
            "1.200",
            "1,200.50",
            "6 0",
            ".",
            ",",
            "1e3",
            "42949672.96",
            "99999999999999999999",
        ] {
            let error = read_cents(text).expect_err(text).to_string();
            assert!(
                error.starts_with(&format!("“{text}” is not a sum of money.")),
                "{error}"
            );
            assert!(error.ends_with("such as 60 or 72.50."), "{error}");
        }
    }
}
