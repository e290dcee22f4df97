//! Default targets that are common practice or from memory.

use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, Instrument, Verdict};

const MM: i64 = 1_000_000;

fn band(instrument: Instrument, id: &str, note: Note) -> Band {
    let target = instrument.measure(id).and_then(|m| m.target.as_ref());
    let band = target.and_then(|t| t.plain_band(note, &Sections::default()));
    band.expect("a target")
}

#[test]
fn the_half_blow_pedal_leaves_half_of_the_blow() {
    let aim = |id| band(Instrument::Upright, id, Note::FIRST).aim;
    assert_eq!(aim("half_blow_pedal") * 2, aim("blow"));
}

/// 0 to 0.2 mm.
#[test]
fn lost_motion_is_taken_up() {
    let lost_motion = band(Instrument::Upright, "lost_motion", Note::FIRST);
    for (nm, verdict) in [
        (0, Verdict::OnTarget),
        (MM / 5, Verdict::OnTarget),
        (MM / 5 + 1, Verdict::Out),
    ] {
        assert_eq!(lost_motion.judge(nm), verdict, "{nm}");
    }
}

/// 8 mm in the low bass, 2 mm at the top; the old 3 mm over the whole row passed a bass hammer filed to the wood.
#[test]
fn the_felt_left_over_the_wood_is_tapered() {
    let least = |note| band(Instrument::Grand, "hammer_felt", note);
    for (note, mm) in [(Note::FIRST, 8), (Note::LAST, 2)] {
        assert_eq!(least(note).judge(mm * MM), Verdict::OnTarget, "{note}");
        assert_eq!(least(note).judge(mm * MM - 1), Verdict::Out, "{note}");
    }
    let aims: Vec<i64> = Note::all().map(|n| least(n).aim).collect();
    assert!(aims.windows(2).all(|w| w[1] < w[0]));
}
