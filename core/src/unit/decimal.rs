//! Decimals: the exact parser of typed numbers, and the printer of integers of a small unit.

use std::fmt;

/// A typed number as an exact fraction of two integers.
///
/// Accepts decimals with a point or a comma (`2`, `2.0`, `2,0`, `.5`), fractions (`1/16`),
/// mixed numbers (`1 3/4`, `1-3/4`), the fraction characters of Unicode (`1¾`, `⅜`),
/// full-width digits and a leading sign. Range: at most nine digits before the point and nine
/// after it. It has no default. Two numbers are equal if their values are, whatever their form.
///
/// ```
/// use evenhand_core::unit::Exact;
///
/// assert_eq!(Exact::read("1 3/4")?, Exact::read("1,75")?);
/// assert_eq!(Exact::read("⅜")?.scaled(1000), Some(375));
/// assert!(Exact::read("1.2.3").is_err());
/// # Ok::<(), evenhand_core::unit::NumberError>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Exact {
    numerator: i128,
    denominator: i128,
}

/// The error for a text that is not a number.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{Exact, NumberError};
///
/// assert_eq!(Exact::read("1/0"), Err(NumberError::OverZero));
/// assert_eq!(Exact::read(" "), Err(NumberError::Empty));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberError {
    /// The text is empty.
    Empty,
    /// The text is not a number; holds the text, cut to 20 characters.
    Unreadable(String),
    /// The denominator of the fraction is zero.
    OverZero,
    /// There are more than nine digits on one side of the point, or the result does not fit an `i64`.
    TooLong,
}

impl fmt::Display for NumberError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NumberError::Empty => write!(f, "Nothing was typed yet."),
            NumberError::Unreadable(text) => write!(
                f,
                "“{text}” is not a number. Type it as 1.8, 1,8, 1/16, 1 3/4 or 1¾."
            ),
            NumberError::OverZero => write!(
                f,
                "A fraction cannot have 0 below the line. Type it as 1/16 or 1 3/4."
            ),
            NumberError::TooLong => write!(
                f,
                "That number has too many digits. A reading has at most nine before the point and nine after it."
            ),
        }
    }
}

impl std::error::Error for NumberError {}

/// The largest number of digits on either side of the point: far above any reading, far below overflow.
const MAX_DIGITS: usize = 9;

/// The fraction characters of Unicode, with numerator and denominator.
const FRACTIONS: [(char, i128, i128); 19] = [
    ('½', 1, 2),
    ('⅓', 1, 3),
    ('⅔', 2, 3),
    ('¼', 1, 4),
    ('¾', 3, 4),
    ('⅕', 1, 5),
    ('⅖', 2, 5),
    ('⅗', 3, 5),
    ('⅘', 4, 5),
    ('⅙', 1, 6),
    ('⅚', 5, 6),
    ('⅐', 1, 7),
    ('⅛', 1, 8),
    ('⅜', 3, 8),
    ('⅝', 5, 8),
    ('⅞', 7, 8),
    ('⅑', 1, 9),
    ('⅒', 1, 10),
    ('↉', 0, 3),
];

/// Returns `true` if the text contains a fraction, with a slash or as one character.
pub(crate) fn has_fraction(text: &str) -> bool {
    let of_one = |c: char| FRACTIONS.iter().any(|(fraction, ..)| *fraction == c);
    folded(text).contains(|c| c == '/' || of_one(c))
}

/// Normalizes a text: one form each for full-width digits and signs, fraction slashes, minus
/// signs, quotation marks and white space; ASCII letters in lower case; trimmed.
pub(super) fn folded(text: &str) -> String {
    text.trim()
        .chars()
        .map(|c| match c {
            '０'..='９' => char::from(b'0' + (c as u32 - '０' as u32) as u8),
            '．' => '.',
            '，' => ',',
            '／' | '⁄' | '∕' => '/',
            '−' | '－' | '–' => '-',
            '＋' => '+',
            '″' | '”' | '“' | '＂' => '"',
            '’' | '′' => '\'',
            c if c.is_whitespace() => ' ',
            c => c.to_ascii_lowercase(),
        })
        .collect()
}

/// Parses unsigned decimal digits. Returns `None` if the text is empty or has another character.
///
/// # Errors
/// Returns [`NumberError::TooLong`] for more than [`MAX_DIGITS`] digits.
fn digits(text: &str) -> Result<Option<i128>, NumberError> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return Ok(None);
    }
    if text.len() > MAX_DIGITS {
        return Err(NumberError::TooLong);
    }
    Ok(text.parse().ok())
}

impl Exact {
    /// Parses a number as people type it.
    ///
    /// # Errors
    /// Returns [`NumberError`] if the text is empty, is not a number or has too many digits.
    pub fn read(text: &str) -> Result<Exact, NumberError> {
        let folded = folded(text);
        Exact::from_folded(&folded).and_then(|read| {
            read.ok_or_else(|| NumberError::Unreadable(text.trim().chars().take(20).collect()))
        })
    }

    /// Parses a text that was normalized by [`folded`]. Returns `None` if it is not a number.
    ///
    /// # Errors
    /// Returns [`NumberError`] if the text is empty, has too many digits or divides by zero.
    pub(super) fn from_folded(text: &str) -> Result<Option<Exact>, NumberError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(NumberError::Empty);
        }
        let (negative, unsigned) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let read = match unsigned_number(unsigned.trim_start())? {
            Some(read) => read,
            None => return Ok(None),
        };
        let sign = if negative { -1 } else { 1 };
        Ok(Some(Exact {
            numerator: sign * read.numerator,
            ..read
        }))
    }

    /// Returns `true` if it was typed as a fraction of 8ths, 16ths, 32nds or 64ths, before reduction.
    /// Only inch rules have such divisions; halves and quarters are said of millimeters too.
    pub(super) const fn is_of_an_inch_rule(self) -> bool {
        matches!(self.denominator, 8 | 16 | 32 | 64)
    }

    /// Returns this number times `units`, rounded half away from zero, or `None` if it does not fit an `i64`.
    pub fn scaled(self, units: i64) -> Option<i64> {
        let wide = self.numerator.checked_mul(i128::from(units))?;
        let (q, r) = (wide / self.denominator, wide % self.denominator);
        let away = if 2 * r.abs() >= self.denominator {
            r.signum()
        } else {
            0
        };
        i64::try_from(q + away).ok()
    }

    /// Returns this number times `units`, or `None` if that is not a whole number.
    ///
    /// ```
    /// # use evenhand_core::unit::Exact;
    /// assert_eq!(Exact::read("1/8")?.whole(64)?, Some(8));
    /// assert_eq!(Exact::read("1/3")?.whole(64)?, None);
    /// # Ok::<(), evenhand_core::unit::NumberError>(())
    /// ```
    ///
    /// # Errors
    /// Returns [`NumberError::TooLong`] if the product does not fit an `i64`.
    pub fn whole(self, units: i64) -> Result<Option<i64>, NumberError> {
        let scaled = self.scaled(units).ok_or(NumberError::TooLong)?;
        let exact = i128::from(scaled) * self.denominator == self.numerator * i128::from(units);
        Ok(exact.then_some(scaled))
    }
}

impl PartialEq for Exact {
    fn eq(&self, other: &Exact) -> bool {
        self.numerator * other.denominator == other.numerator * self.denominator
    }
}

/// Parses a number without a sign: a fraction character, a fraction with a slash, or a decimal.
/// Returns `None` if it is none of these.
fn unsigned_number(text: &str) -> Result<Option<Exact>, NumberError> {
    if let Some((c, n, d)) = FRACTIONS.iter().find(|(c, ..)| text.ends_with(*c)) {
        let whole = text.strip_suffix(*c).unwrap_or("").trim_end();
        // Some people write the mixed number 1¾ as `1-¾`.
        return mixed(
            whole.trim_end_matches('-').trim_end(),
            *n,
            *d,
            whole.is_empty(),
        );
    }
    match text.split_once('/') {
        Some((before, below)) => {
            let Some(d) = digits(below.trim())? else {
                return Ok(None);
            };
            let before = before.trim_end();
            let (whole, above) = match before.rsplit_once([' ', '-']) {
                Some((whole, above)) => (whole.trim_end_matches(['-', ' ']), above),
                None => ("", before),
            };
            let Some(n) = digits(above)? else {
                return Ok(None);
            };
            mixed(whole, n, d, above.len() == before.len())
        }
        None => decimal(text),
    }
}

/// Returns `whole + n/d`. Without a whole number it is a plain fraction if `alone`, otherwise `None`.
fn mixed(whole: &str, n: i128, d: i128, alone: bool) -> Result<Option<Exact>, NumberError> {
    if d == 0 {
        return Err(NumberError::OverZero);
    }
    let whole = match (digits(whole)?, alone) {
        (Some(whole), _) => whole,
        (None, true) => 0,
        (None, false) => return Ok(None),
    };
    Ok(Some(Exact {
        numerator: whole * d + n,
        denominator: d,
    }))
}

/// Parses a decimal with a point or a comma; either side of it may be empty, but not both.
fn decimal(text: &str) -> Result<Option<Exact>, NumberError> {
    let (whole, part) = text.split_once(['.', ',']).unwrap_or((text, ""));
    if whole.is_empty() && part.is_empty() {
        return Ok(None);
    }
    let read = |text: &str| {
        if text.is_empty() {
            Ok(Some(0))
        } else {
            digits(text)
        }
    };
    match (read(whole)?, read(part)?) {
        (Some(w), Some(p)) => {
            let denominator = 10i128.pow(part.len() as u32);
            Ok(Some(Exact {
                numerator: w * denominator + p,
                denominator,
            }))
        }
        _ => Ok(None),
    }
}

/// The format in which an integer of small units is printed as a decimal: nanometers as mm, cents as money.
///
/// It has no default: [`DecimalFormat::fixed`] is for people, [`DecimalFormat::EXACT`] for files.
///
/// ```
/// use evenhand_core::unit::DecimalFormat;
///
/// // For people: a minus sign and a fixed number of places, rounded half away from zero.
/// assert_eq!(DecimalFormat::fixed(1).print(-1_850_000, 1_000_000), "−1.9");
/// assert_eq!(DecimalFormat::fixed(2).print(-50, 100), "−0.50");
/// // For programs: a hyphen, and as many places as it takes.
/// assert_eq!(DecimalFormat::EXACT.print(-50_000, 1_000_000), "-0.05");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DecimalFormat {
    /// The sign of a negative number.
    pub minus: char,
    /// Digits after the point, 0 to [`DecimalFormat::MAX_PLACES`]; more count as that many.
    pub places: u32,
    /// Whether trailing zeros are omitted, and the point if nothing follows it.
    pub trim: bool,
}

impl DecimalFormat {
    /// The largest number of digits after the point that is printed, 9.
    pub const MAX_PLACES: u32 = 9;

    /// For files and tables: a hyphen and no trailing zeros. Rounds only if the unit does not divide 10⁹.
    pub const EXACT: DecimalFormat = DecimalFormat {
        minus: '-',
        places: DecimalFormat::MAX_PLACES,
        trim: true,
    };

    /// Returns the format for the screen: the minus sign U+2212 and always this many digits after the point.
    pub const fn fixed(places: u32) -> DecimalFormat {
        DecimalFormat {
            minus: '−',
            places,
            trim: false,
        }
    }

    /// Returns `count` small units as a decimal of a unit that has `per_unit` of them (at least 1; less counts
    /// as 1), rounded half away from zero. A number that rounds to zero has no sign.
    pub fn print(self, count: i64, per_unit: i64) -> String {
        let places = self.places.min(DecimalFormat::MAX_PLACES);
        let per_unit = u128::from(per_unit.max(1).unsigned_abs());
        let scale = 10u128.pow(places);
        // At most 2⁶³ · 10⁹, far below what a u128 holds.
        let wide = u128::from(count.unsigned_abs()) * scale;
        let rounded = (2 * wide + per_unit) / (2 * per_unit);
        let (whole, part) = (rounded / scale, rounded % scale);
        let mut printed = String::new();
        if count < 0 && rounded > 0 {
            printed.push(self.minus);
        }
        printed += &whole.to_string();
        if places > 0 && !(self.trim && part == 0) {
            let part = format!(".{part:0width$}", width = places as usize);
            printed += if self.trim {
                part.trim_end_matches('0')
            } else {
                &part
            };
        }
        printed
    }
}
