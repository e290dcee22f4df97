//! Tests of the estimate as an offer: by hand, in whole cents.

use super::*;
use crate::analysis::estimate::estimate;
use crate::analysis::job_plan::job_plan;
use crate::analysis::schedule::OpeningHours;
use crate::job::tests::{PIANO, Phone, n};
use crate::job::{EntryKind, Setup, Subject};
use crate::note::Sections;
use crate::trade::Occasion::AsFound;
use crate::trade::{Instrument, JobKind, Part};

fn survey(phone: &mut Phone, measure: &str, section: u8, grade: i64) {
    phone.read_as(AsFound, measure, Subject::Section(section), PIANO, grade);
}

/// An invented renewal: new hammers and knuckles for the 20 notes of the bass, key bushings for all 88.
fn renewal(instrument: Instrument) -> Phone {
    let mut phone = Phone::new(1);
    let set = Box::new(Details {
        instrument: Some(instrument),
        rate_per_hour_cents: Some(6_333),
        currency: Some("EUR".to_owned()),
        travel_cents: Some(2_505),
        tax_percent_hundredths: Some(1_910),
        valid_days: Some(45),
        ..Details::default()
    });
    phone.act(EntryKind::Details { set });
    let prices = [("hammers", 1_249), ("knuckles", 387), ("bushings", 41)];
    phone.setup(Setup {
        sections: Sections::new([n(20)]).ok(),
        part_prices_cents: Some(prices.map(|(part, cents)| (part.to_owned(), cents)).into()),
        ..Setup::default()
    });
    for (part, sections) in [
        (Part::Hammers, &[0][..]),
        (Part::Knuckles, &[0]),
        (Part::Bushings, &[0, 1]),
    ] {
        for section in sections {
            survey(&mut phone, part.wear(), *section, 2);
            survey(&mut phone, part.decision(), *section, 2);
        }
    }
    phone
}

#[test]
fn the_estimate_of_a_renewal_adds_up_to_the_cent() {
    let phone = renewal(Instrument::Grand);
    let estimate = estimate(&phone.job);
    let quote = quote(&phone.job, &estimate);
    // By hand: 20 hammers at 12.49, 20 knuckles at 3.87, 352 bushings at 0.41.
    let parts: Vec<_> = quote
        .parts
        .iter()
        .map(|p| (p.part.count, p.cents))
        .collect();
    assert_eq!(
        parts,
        [(20, Some(24_980)), (20, Some(7_740)), (352, Some(14_432))]
    );
    let minutes: i64 = quote.stages.iter().map(|s| s.minutes).sum();
    let work: i64 = quote.stages.iter().filter_map(|s| s.cents).sum();
    // Each line is rounded by itself, so the sum is off that of all minutes by less than half a cent a line.
    for stage in &quote.stages {
        assert_eq!(stage.cents, Some((stage.minutes * 6_333 + 30) / 60));
    }
    let exact = minutes * 6_333 / 60;
    assert!((work - exact).abs() <= 1 + quote.stages.len() as i64 / 2);
    let net = work + 24_980 + 7_740 + 14_432 + 2_505;
    assert_eq!(quote.net_cents, Some(net));
    // 19.10 % in exact fractions of a cent, half up.
    let tax = (net * 191 + 500) / 1_000;
    assert_eq!((quote.tax_cents, quote.total_cents), (tax, Some(net + tax)));
    assert_eq!((quote.valid_days, quote.unpriced.len()), (45, 0));
    // Nobody measured a sample, so nothing supports a range.
    assert_eq!(quote.high, None);
    // 480 min for 88 hammers are 109 for 20, 360 for 88 knuckles 82 for 20.
    let fitting: Vec<i64> = quote.parts.iter().map(|p| p.fitting_minutes).collect();
    assert_eq!(fitting[..2], [109, 82]);
    assert!(fitting[2] > 0);
}

#[test]
fn parts_that_no_step_fits_are_named() {
    let mut phone = renewal(Instrument::Grand);
    let of = |phone: &Phone| quote(&phone.job, &estimate(&phone.job)).not_fitted;
    assert_eq!(of(&phone), [""; 0]);
    phone.act(EntryKind::LeftOut {
        step: crate::trade::StepId::of("knuckles_renewed"),
        out: true,
    });
    assert_eq!(of(&phone), ["knuckles"]);
}

#[test]
fn new_parts_cost_by_what_they_are_and_an_upright_has_its_own() {
    let total = |instrument| {
        let phone = renewal(instrument);
        let estimate = estimate(&phone.job);
        let quote = quote(&phone.job, &estimate);
        quote
            .parts
            .into_iter()
            .map(|p| p.part.name)
            .collect::<Vec<_>>()
    };
    assert_eq!(
        total(Instrument::Grand),
        ["hammers", "knuckles", "key bushings"]
    );
    assert_eq!(
        total(Instrument::Upright),
        ["hammers", "butt leather and felt", "key bushings"]
    );
}

#[test]
fn a_part_without_a_price_is_named_and_in_no_sum() {
    let mut phone = renewal(Instrument::Grand);
    let of = |phone: &Phone| quote(&phone.job, &estimate(&phone.job));
    let before = of(&phone).net_cents;
    let prices = [("hammers".to_owned(), 1_249)].into();
    phone.setup(Setup {
        part_prices_cents: Some(prices),
        ..Setup::default()
    });
    let after = of(&phone);
    assert_eq!(after.unpriced, ["knuckles", "key bushings"]);
    assert_eq!(
        before.zip(after.net_cents).map(|(b, a)| b - a),
        Some(7_740 + 14_432)
    );
}

#[test]
fn without_a_rate_there_are_hours_and_no_sum() {
    let phone = Phone::new(1);
    let estimate = estimate(&phone.job);
    let quote = quote(&phone.job, &estimate);
    assert_eq!((quote.net_cents, quote.total_cents), (None, None));
    assert_eq!(quote.valid_days, 30);
    assert!(
        quote
            .stages
            .iter()
            .all(|s| s.minutes > 0 && s.cents.is_none())
    );
}

#[test]
fn a_range_is_given_where_a_sample_supports_one() {
    let mut phone = Phone::new(1);
    let [touch_up, ..] = JobKind::built_in(Instrument::Grand);
    phone.act(EntryKind::KindChosen {
        kind: Box::new(touch_up),
    });
    let high = |phone: &Phone| {
        let estimate = estimate(&phone.job);
        let high = quote(&phone.job, &estimate).high;
        high.map(|high| (high.minutes, estimate.totals[2].minutes))
    };
    assert_eq!(high(&phone), None);
    for number in [1, 40, 52, 88] {
        phone.read_as(
            AsFound,
            "let_off",
            Subject::Note(n(number)),
            PIANO,
            3_000_000,
        );
    }
    let (shown, of_estimate) = high(&phone).expect("a sample");
    assert_eq!(shown, of_estimate);
}

/// The minutes of the plan, and those of the estimate step by step; without the survey, once it is done.
fn both(phone: &Phone, survey: bool) -> (i64, i64) {
    let day = OpeningHours::new(8 * 60, 16 * 60).expect("a day");
    let plan = job_plan(phone.state(), phone.at_ms, 0, day).expect("a plan");
    let counts = |step: &str| {
        let step = phone.state().step(step);
        survey || step.is_some_and(|s| s.stage != Stage::Survey)
    };
    let planned = plan.lines.iter().filter(|l| counts(l.step.as_str()));
    let lines = estimate(&phone.job).lines;
    let estimated = lines.iter().filter(|l| counts(l.step.id.as_str()));
    (
        planned.map(|l| i64::from(l.minutes)).sum(),
        estimated.map(|l| l.minutes[1]).sum(),
    )
}

#[test]
fn the_plan_and_the_estimate_come_from_the_same_figures() {
    for instrument in [Instrument::Grand, Instrument::Upright] {
        for kind in JobKind::built_in(instrument) {
            let mut phone = Phone::new(1);
            let set = Box::new(Details {
                instrument: Some(instrument),
                ..Details::default()
            });
            phone.act(EntryKind::Details { set });
            let name = kind.name.clone();
            phone.act(EntryKind::KindChosen {
                kind: Box::new(kind),
            });
            let (planned, estimated) = both(&phone, true);
            assert_eq!(planned, estimated, "{name}, nothing measured");
            assert!(planned > 0);
            // The sample finds one note in four out: both count less from now on.
            for (number, um) in [(1, 2_000), (40, 2_000), (52, 3_500), (88, 2_000)] {
                phone.read_as(
                    AsFound,
                    "let_off",
                    Subject::Note(n(number)),
                    PIANO,
                    um * 1_000,
                );
            }
            let (after, estimated) = both(&phone, false);
            assert_eq!(after, estimated, "{name}, after the sample");
            let takes_let_off = phone.state().step("let_off").is_some();
            assert!(after < planned || !takes_let_off, "{name}");
        }
    }
    for instrument in [Instrument::Grand, Instrument::Upright] {
        let (planned, estimated) = both(&renewal(instrument), false);
        assert_eq!(planned, estimated);
    }
}
