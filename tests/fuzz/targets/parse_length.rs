//! Any text as a length: no panic, and a length of up to a kilometre, written out to the last
//! nanometer, reads as the same length (a longer one has more digits than are read).
#![no_main]

use evenhand_core::trade::Instrument;
use evenhand_core::unit::{Length, LengthUnit};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    // A measure that the text itself chooses: to try all of them on each text would be a hundred times slower.
    let measures = Instrument::Grand.measures();
    let at = text.bytes().map(usize::from).sum::<usize>() % measures.len();
    for unit in [LengthUnit::Millimeter, LengthUnit::Inch] {
        let _ = measures[at].read_typed(text, unit);
        let Ok(length) = Length::read(text, unit) else {
            continue;
        };
        let nm = length.nm();
        if nm.unsigned_abs() > 1_000_000_000_000 {
            continue;
        }
        let sign = if nm < 0 { "-" } else { "" };
        let (whole, part) = (nm.unsigned_abs() / 1_000_000, nm.unsigned_abs() % 1_000_000);
        let exactly = format!("{sign}{whole}.{part:06} mm");
        assert_eq!(Length::read(&exactly, unit), Ok(length), "{exactly}");
    }
});
