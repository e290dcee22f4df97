//! Quantities as integers of a small unit: lengths, forces, turns and the value of a reading.
//!
//! Text is parsed exactly, and only printing rounds. No reading is ever stored as a float:
//! 1/64 in is exactly 396 875 nm and 0.01 mm is exactly 10 000 nm.

mod decimal;
mod force;
mod length;
mod money;
mod turns;
mod value;

pub(crate) use decimal::has_fraction;
pub use decimal::{DecimalFormat, Exact, NumberError};
pub use force::{Force, ForceError};
pub use length::{InchForm, Length, LengthError, LengthUnit};
pub use money::{MoneyError, read_cents};
pub use turns::{Turns, TurnsError};
pub use value::{Kind, Value, ValueError};

#[cfg(test)]
mod tests {
    use super::*;

    fn nm(text: &str) -> i64 {
        match Length::read(text, LengthUnit::Millimeter) {
            Ok(length) => length.nm(),
            Err(error) => panic!("{text}: {error}"),
        }
    }

    #[test]
    fn every_form_that_people_type_is_read_exactly() {
        for two in ["2", "2.0", "2,0", " 2 ", "２", "+2", "2mm", "2 MM", "0.2cm"] {
            assert_eq!(nm(two), 2_000_000, "{two}");
        }
        for (text, inch_64ths) in [
            ("1/16in", 4),
            ("1/16 \"", 4),
            ("1 3/4 in", 112),
            ("1-3/4in", 112),
            ("1¾ inch", 112),
            ("1 ¾″", 112),
            ("⅜\"", 24),
            ("0.375in", 24),
            ("8 5/32 in", 522),
            ("１　３/４ ｉｎ".replace("ｉｎ", "in").as_str(), 112),
            ("1⁄16 in.", 4),
        ] {
            assert_eq!(nm(text), inch_64ths * 396_875, "{text}");
        }
        assert_eq!(nm(".5"), 500_000);
        assert_eq!(nm("45mm"), 45_000_000);
        assert_eq!(nm("0.01"), 10_000);
        assert_eq!(nm("-0.2"), -200_000);
        assert_eq!(nm("−0.2"), -200_000);
    }

    #[test]
    fn a_bare_number_takes_the_default_unit_and_a_typed_unit_wins() {
        let inch = LengthUnit::Inch;
        assert_eq!(Length::read("1/16", inch), Ok(Length::from_nm(1_587_500)));
        assert_eq!(Length::read("45mm", inch), Ok(Length::from_nm(45_000_000)));
    }

    #[test]
    fn nonsense_is_refused_with_what_would_have_been_accepted() {
        for text in [
            "abc",
            "1.2.3",
            "1,2,3",
            "--2",
            "1//2",
            "1/2/3",
            "/",
            ".",
            ",",
            "1e3",
            "NaN",
            "inf",
            "1 2",
            "mm",
            "3 / 4 / 5",
            "1 1.5",
            "¾¾",
            "1.5¾",
            "0x10",
            "٣",
            "1 -",
            "-",
            "+",
        ] {
            let refused = Length::read(text, LengthUnit::Millimeter);
            let said = refused.expect_err(text).to_string();
            assert!(
                said.contains("1.8") || said.contains("Nothing"),
                "{text}: {said}"
            );
        }
        let over_zero = Length::read("1/0", LengthUnit::Millimeter);
        assert_eq!(over_zero, Err(LengthError::Number(NumberError::OverZero)));
        let long = Length::read("1234567890", LengthUnit::Millimeter);
        assert_eq!(long, Err(LengthError::Number(NumberError::TooLong)));
    }

    #[test]
    fn printing_rounds_for_the_eye_only() {
        let mm = LengthUnit::Millimeter;
        assert_eq!(Length::from_nm(1_849_999).shown(mm, 1), "1.8");
        assert_eq!(Length::from_nm(1_850_000).shown(mm, 1), "1.9");
        assert_eq!(Length::from_nm(-40_000).shown(mm, 1), "0.0");
        assert_eq!(Length::from_nm(-50_000).shown(mm, 1), "−0.1");
        assert_eq!(
            Length::from_nm(2_000_000).shown(LengthUnit::Inch, 3),
            "0.079"
        );
        assert_eq!(
            Length::from_nm(-1_587_500).shown(LengthUnit::Inch, 3),
            "−1/16"
        );
    }

    #[test]
    fn decimals_are_printed_with_their_sign_and_places() {
        let cents = |count| DecimalFormat::fixed(2).print(count, 100);
        assert_eq!(cents(6_000), "60.00");
        assert_eq!(cents(5), "0.05");
        assert_eq!(cents(-5), "−0.05");
        assert_eq!(cents(-99), "−0.99");
        assert_eq!(cents(-100), "−1.00");
        assert_eq!(cents(-1_234), "−12.34");
        let exact = |count, per_unit| DecimalFormat::EXACT.print(count, per_unit);
        assert_eq!(exact(1_587_500, 1_000_000), "1.5875");
        assert_eq!(exact(-50_000, 1_000_000), "-0.05");
        assert_eq!(exact(2_000_000, 1_000_000), "2");
        assert_eq!(exact(100, 1), "100");
        assert_eq!(exact(425, 10), "42.5");
        assert_eq!(exact(i64::MIN, 1), "-9223372036854775808");
        assert_eq!(exact(i64::MIN, 1_000_000), "-9223372036854.775808");
        let whole = |count| DecimalFormat::fixed(0).print(count, 1_000);
        assert_eq!(whole(499), "0");
        assert_eq!(whole(500), "1");
        assert_eq!(whole(-499), "0");
        assert_eq!(whole(-500), "−1");
    }

    #[test]
    fn the_largest_turn_that_a_file_can_carry_is_printed() {
        assert_eq!(
            Turns::from_64ths(i64::MIN).to_string(),
            "−144115188075855872"
        );
    }

    #[test]
    fn other_quantities_read_and_print_in_their_units() {
        let mm = LengthUnit::Millimeter;
        assert_eq!(
            Kind::Frequency.read("440.5 Hz", mm),
            Ok(Value::Millihertz(440_500))
        );
        assert_eq!(Kind::Humidity.read("42.5%", mm), Ok(Value::Permille(425)));
        assert_eq!(
            Kind::Temperature.read("-3,5 °C", mm),
            Ok(Value::Millicelsius(-3_500))
        );
        assert_eq!(Kind::Count.read("6", mm), Ok(Value::Count(6)));
        assert_eq!(Kind::Count.read("6.5", mm), Err(ValueError::NotWhole));
        assert_eq!(Kind::Humidity.shown(425, mm, 1), "42.5");
        assert_eq!(Kind::Force.shown(52_500, mm, 1), "52.5");
        assert_eq!(Kind::Good.read("1", mm), Err(ValueError::NotTyped));
    }
}
