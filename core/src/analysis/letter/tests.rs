//! Tests of the letter: an invented touch-up in the home, counted by hand.

use super::*;
use crate::job::tests::{BENCH, PIANO, Phone, n, on};
use crate::job::{Details, EntryKind, Setup, Subject, WorkDay};
use crate::note::{Note, Sections};
use crate::trade::Occasion::{AsFound, Working};
use crate::trade::{Caution, JobKind};

const UM: i64 = 1_000;

fn letter(phone: &Phone) -> ClientLetter {
    client_letter(&phone.job, phone.at_ms, 0)
}

/// A touch-up: of 88 notes 31 have a let-off of 3.0 mm, and all are set but three; the spring of 12 is weak.
fn touch_up() -> Phone {
    let mut phone = Phone::new(1);
    let [touch_up, ..] = JobKind::built_in(Instrument::Grand);
    phone.act(EntryKind::KindChosen {
        kind: Box::new(touch_up),
    });
    phone.setup(Setup {
        sections: Sections::new([20, 44, 68].map(n)).ok(),
        ..Setup::default()
    });
    phone.act(EntryKind::Remark {
        on: Subject::Whole,
        step: None,
        fault: false,
        text: "Key at the porter's lodge.".to_owned(),
    });
    phone.read_as(AsFound, "pitch_a4", Subject::Whole, PIANO, 438_200);
    for number in [1, 40, 88] {
        phone.read_as(AsFound, "natural_dip", on(number), PIANO, 9_900 * UM);
        phone.read_as(
            AsFound,
            "down_weight",
            on(number),
            PIANO,
            50_000 + 1_000 * i64::from(number > 1),
        );
    }
    for note in Note::all() {
        let number = i64::from(note.number());
        let wide = number <= 31;
        let first = if wide { 3_000 } else { 2_000 };
        phone.read_as(AsFound, "let_off", on(number), PIANO, first * UM);
        let weak = i64::from(number <= 12);
        phone.read_as(AsFound, "spring", on(number), PIANO, 2 - weak);
    }
    for note in Note::all() {
        let number = i64::from(note.number());
        let acceptable = number > 85;
        let left = if acceptable { 2_400 } else { 2_000 };
        phone.read_as(Working, "let_off", on(number), PIANO, left * UM);
        phone.read_as(Working, "spring", on(number), PIANO, 2);
    }
    phone.act(EntryKind::Remark {
        on: on(33),
        step: None,
        fault: true,
        text: "loose flange".to_owned(),
    });
    phone
}

fn details(phone: &mut Phone, set: Details) {
    phone.act(EntryKind::Details { set: Box::new(set) });
}

#[test]
fn a_touch_up_is_said_in_words_and_counts() {
    let letter = letter(&touch_up());
    assert_eq!(
        letter.title,
        "Your grand piano: what we found and what we did"
    );
    let found = [
        "The pitch of A4 was 438.2 Hz, 1.8 below 440.0.",
        "Touch: the keys went down at 50 to 51 g.",
        "Key dip of the naturals: 9.9 mm.",
        "Let-off was too wide on 31 of 88 notes measured: soft notes were lost.",
        "Repetition spring was too weak on 12 of 88 notes measured: fast repeats were lost.",
    ];
    assert_eq!(letter.found, found);
    let done = [
        "Let-off: checked on all 88 notes, 31 adjusted. Now 85 are on target, 3 acceptable.",
        "Repetition spring: checked on all 88 notes, 12 adjusted. Now 88 are on target.",
    ];
    assert_eq!(letter.done[..2], done);
    assert_eq!(letter.left, ["Note F3: loose flange, still to be seen to."]);
    // A year from the work in September.
    assert_eq!(letter.next, (2027, 9));
}

#[test]
fn the_letter_has_no_internal_remark_no_caution_and_no_step_that_was_not_agreed() {
    let phone = touch_up();
    let text = letter(&phone).plain_text("", &[], "November 2027");
    let order = phone.state().order();
    let open = order.steps().iter().filter(|s| {
        let id = s.id.as_str();
        !["let_off", "spring", "pitch_a4"].contains(&id)
    });
    let open = open.map(|s| s.name.to_string());
    let cautions = Caution::ALL.into_iter().map(|c| c.text().to_owned());
    let internal = [
        "porter",
        "Not begun",
        "not begun",
        "Left out",
        "device",
        "Unknown",
    ];
    let internal = internal.into_iter().map(str::to_owned);
    for said in open.chain(cautions).chain(internal) {
        assert!(!text.contains(&said), "{said}: {text}");
    }
}

#[test]
fn the_two_pictures_are_of_what_came_in_most() {
    let letter = letter(&touch_up());
    let [let_off, spring] = letter.pictures.as_slice() else {
        panic!("{} pictures", letter.pictures.len());
    };
    assert_eq!(
        (let_off.name.as_str(), spring.name.as_str()),
        ("Let-off", "Repetition spring")
    );
    // 3.0 mm is one millimeter over 2.0, twice the accepted half of 0.5.
    let of = |row: &[(Note, f32)], number| {
        row.iter()
            .find(|(note, _)| *note == n(number))
            .map(|(_, off)| *off)
    };
    assert_eq!(
        (of(&let_off.before, 1), of(&let_off.after, 1)),
        (Some(2.0), Some(0.0))
    );
    // 2.4 mm is four fifths of it.
    assert_eq!(of(&let_off.after, 88), Some(0.8));
    // A weak spring is out on the low side.
    assert!(of(&spring.before, 1).is_some_and(|off| off < -1.0));
    assert_eq!(let_off.before.len(), 88);
}

#[test]
fn the_price_is_that_of_the_hours_or_the_one_agreed() {
    let mut phone = touch_up();
    assert_eq!(letter(&phone).price, None);
    details(
        &mut phone,
        Details {
            rate_per_hour_cents: Some(6_000),
            travel_cents: Some(2_500),
            tax_percent_hundredths: Some(1_900),
            ..Details::default()
        },
    );
    // Without hours the travel alone is charged, and the technician is told.
    let without = letter(&phone);
    let price = without.price.expect("travel");
    assert_eq!((price.travel_cents, price.work_cents), (2_500, 0));
    // 19 % of 25.00.
    assert_eq!(price.total_cents, 2_975);
    assert!(
        without
            .warnings
            .last()
            .is_some_and(|w| w.starts_with("No hours are counted"))
    );
    phone.act(EntryKind::MinutesStated {
        step: crate::trade::StepId::of("let_off"),
        minutes: 195,
        worked: None,
        instead_of: None,
    });
    let price = letter(&phone).price.expect("hours at a rate");
    assert_eq!((price.minutes, price.work_cents), (195, 19_500));
    assert!(price.is_so_far);
    // 19 % of 220.00 are 41.80.
    assert_eq!((price.tax, price.total_cents), ((1_900, 4_180), 26_180));
    details(
        &mut phone,
        Details {
            price_cents: Some(25_000),
            ..Details::default()
        },
    );
    let price = letter(&phone).price.expect("agreed");
    assert_eq!((price.is_agreed, price.total_cents), (true, 25_000));
}

#[test]
fn the_own_sentence_is_the_remark_for_the_client() {
    let mut phone = touch_up();
    let own = "Please keep the lid closed overnight.";
    details(
        &mut phone,
        Details {
            for_client: Some(own.to_owned()),
            ..Details::default()
        },
    );
    let letter = letter(&phone);
    assert_eq!(letter.own, own);
    assert!(letter.plain_text("", &[], "").contains(own));
}

#[test]
fn what_is_out_and_was_not_worked_on_is_left_for_later() {
    let mut phone = touch_up();
    for number in [40, 52] {
        phone.read_as(AsFound, "blow", on(number), PIANO, 48_000 * UM);
    }
    phone.read_as(Working, "let_off", on(1), PIANO, 3_100 * UM);
    let left = letter(&phone).left;
    assert_eq!(left[0], "Let-off: 1 note (A0) is still out.");
    assert_eq!(left[1], "Out, and not part of this work: blow on 2 notes.");
}

#[test]
fn worn_parts_say_where_and_whether_that_was_agreed() {
    let mut phone = touch_up();
    for (part, section, grade) in [
        ("hammers", 1, 1),
        ("hammers", 2, 1),
        ("checks", 0, 2),
        ("knuckles", 3, 1),
        ("bushings", 3, 1),
    ] {
        let measure = format!("wear_{part}");
        phone.read_as(AsFound, &measure, Subject::Section(section), PIANO, grade);
    }
    for section in [1, 2] {
        phone.read_as(
            AsFound,
            "decide_hammers",
            Subject::Section(section),
            PIANO,
            0,
        );
    }
    for (decision, what) in [("decide_knuckles", 2), ("decide_bushings", 1)] {
        phone.read_as(AsFound, decision, Subject::Section(3), PIANO, what);
    }
    let letter = letter(&phone);
    let worn = letter.found.iter().rev().take(2).rev().collect::<Vec<_>>();
    assert_eq!(
        worn,
        [
            "Worn out: back-check leather A0 to E2.",
            "Worn: hammers F2 to E6; knuckles F6 to C8; key bushings F6 to C8."
        ]
    );
    let left: Vec<_> = letter
        .left
        .iter()
        .filter(|l| l.starts_with("Worn") || l.starts_with("We propose"))
        .collect();
    let expected = [
        "Worn, left as they are, as agreed: hammers F2 to E6.",
        "We propose to renew, see the estimate: knuckles F6 to C8.",
        "We propose to recondition: key bushings F6 to C8.",
        "Worn, noted for a later visit: back-check leather A0 to E2.",
    ];
    assert_eq!(left, expected);
}

#[test]
fn work_that_goes_on_is_said_so_and_ends_with_the_job() {
    let mut phone = touch_up();
    phone.read("drop", on(1), PIANO, 2_000 * UM);
    let going = letter(&phone);
    let all = phone.state().progress(phone.at_ms);
    let open = all.iter().filter(|(_, p)| !p.is_read()).count();
    let said = format!("The work is not finished: {open} steps to do.");
    assert_eq!(going.done.last(), Some(&said));
    assert!(open > 2 && going.warnings[0].contains("archive the job"));
    phone.read("let_off", on(1), PIANO, 2_000 * UM);
    phone.act(EntryKind::Archived { archived: true });
    let ended = letter(&phone);
    assert!(!ended.done.contains(&said) && ended.warnings.len() < going.warnings.len());
    assert_eq!(
        ended.left.last().map(String::as_str),
        Some("Note F3: loose flange, noted for the next visit.")
    );
}

#[test]
fn notes_that_are_not_checked_yet_are_left() {
    let mut phone = Phone::new(1);
    for number in 1..=4 {
        phone.read("let_off", on(number), BENCH, 2_000 * UM);
    }
    phone.read_as(AsFound, "blow", on(40), PIANO, 48_000 * UM);
    let left = letter(&phone).left;
    let expected = [
        "Let-off: 84 of 88 notes are not checked yet.",
        // A step of this job sets it.
        "Out, and not set yet: blow on 1 note.",
    ];
    assert_eq!(left, expected);
}

#[test]
fn the_days_of_the_work_are_those_with_time_and_the_last() {
    let mut phone = touch_up();
    let day = |day: &str| day.parse::<Day>().expect("a day");
    let worked = Day::at(phone.at_ms, 0);
    assert_eq!(letter(&phone).worked, [worked]);
    for (of, minutes) in [("2026-10-02", 60), ("2026-10-03", 0)] {
        let worked = WorkDay {
            day: day(of),
            technician: None,
        };
        let step = crate::trade::StepId::of("let_off");
        let stated = phone.state().minutes_stated(step, minutes, worked, None);
        phone.act(stated);
    }
    let letter = letter(&phone);
    assert_eq!(letter.worked, [worked, day("2026-10-02")]);
    // The next visit is counted from the last of them.
    assert_eq!(letter.next, (2027, 10));
}

#[test]
fn nothing_wrong_is_a_finding_and_ticks_alone_are_what_was_done() {
    let mut phone = Phone::new(1);
    phone.read_as(AsFound, "let_off", on(1), PIANO, 2_000 * UM);
    phone.read_as(AsFound, "wear_hammers", Subject::Section(0), PIANO, 0);
    let found = [
        "All that was measured on the notes was in tolerance.",
        "No part that was looked at is worn.",
    ];
    assert_eq!(letter(&phone).found, found);
    phone.read("dust", Subject::Whole, BENCH, 1);
    assert_eq!(letter(&phone).done[0], "Dust and vacuum.");
}

#[test]
fn a_conflict_is_told_to_the_technician_alone() {
    let mut phone = touch_up();
    let mut other = phone.copy(2);
    for (phone, cents) in [(&mut phone, 180_000), (&mut other, 200_000)] {
        details(
            phone,
            Details {
                price_cents: Some(cents),
                ..Details::default()
            },
        );
    }
    phone.job.merge(other.job.log().entries().to_vec());
    let letter = letter(&phone);
    assert_eq!(letter.conflicts, 1);
    let text = letter.plain_text("", &[], "").to_lowercase();
    assert!(
        !text.contains("conflict") && !text.contains("1800"),
        "{text}"
    );
}

#[test]
fn the_tax_in_a_price_agreed_is_said() {
    let mut phone = touch_up();
    details(
        &mut phone,
        Details {
            price_cents: Some(180_000),
            tax_percent_hundredths: Some(1_900),
            travel_cents: Some(2_500),
            ..Details::default()
        },
    );
    let price = LetterPrice::of(&phone.job).expect("agreed");
    // By hand: 1800.00 · 19 / 119 = 287.39.
    assert_eq!((price.tax, price.total_cents), ((1_900, 28_739), 180_000));
    assert!(!price.is_so_far);
}

#[test]
fn an_empty_job_makes_a_letter_without_sums_or_pictures() {
    let letter = letter(&Phone::new(1));
    assert_eq!(
        (letter.found.len(), letter.done.len(), letter.left.len()),
        (0, 0, 0)
    );
    assert!(letter.pictures.is_empty() && letter.price.is_none());
    assert_eq!(letter.title, "Your grand piano: what we found");
}
