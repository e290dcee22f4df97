//! One entry of each kind, every field filled in.

use super::*;
use crate::note::Sections;
use crate::trade::{Band, Per, Stage, Target};
use crate::unit::{Kind, Length, LengthUnit, Turns};

fn nm(nm: i64) -> Length {
    Length::from_nm(nm)
}

fn setup() -> Setup {
    let key = KeyLever {
        front_nm: nm(228_000_000),
        back_nm: nm(150_000_000),
        front_pin_nm: nm(200_000_000),
    };
    Setup {
        sections: Sections::new([20, 52].map(n)).ok(),
        length_unit: Some(LengthUnit::Inch),
        samples: Some([1, 40, 88].map(n).to_vec()),
        natural_key: Some(key),
        sharp_key: Some(key),
        papers_nm: Some(vec![nm(76_200), nm(254_000)]),
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(64),
            before_nm: nm(3_000_000),
            after_nm: nm(-2_000_000),
        }]),
        earlier: Some(Box::new(earlier())),
        floats: Some(Floats::Dip),
        control_notes: Some(vec![ControlNote {
            note: n(88),
            bench_nm: nm(161_000_000),
            key_bed_nm: nm(-1),
        }]),
    }
}

fn earlier() -> Earlier {
    Earlier {
        job: JobId::new(8),
        left_at_ms: 1_760_000_000_000,
        left: vec![Left {
            measure: MeasureId::of("let_off"),
            place: Place::Piano,
            readings: vec![
                (
                    Subject::Note(n(40)),
                    Value::from_base(Kind::Length, 2_000_000),
                ),
                (Subject::Whole, Value::Good(true)),
            ],
        }],
        responses: vec![Responded {
            measure: MeasureId::of("let_off"),
            section: Some(0),
            per_turn_nm: nm(5_100_000),
            give_or_take_nm: nm(200_000),
            trials: 12,
        }],
        minutes: vec![(StepId::of("let_off"), 45)],
    }
}

fn details() -> Details {
    let text = |t: &str| Some(t.to_owned());
    Details {
        name: text("Invented grand"),
        client: text("Client 17, <script>alert(1)</script>"),
        instrument: Some(Instrument::Grand),
        described: text("180 cm, “invented”\n=1+1"),
        serial: text("0000"),
        scope: text("Bench regulation"),
        technician: text("T. 🎹"),
        rate_per_hour_cents: Some(7_250),
        currency: text("euros"),
        invented: Some(true),
    }
}

fn targets() -> Vec<EntryKind> {
    let band = Band::mm(200, 30, 50);
    let of = |scope, target| EntryKind::Target {
        measure: MeasureId::of("let_off"),
        scope,
        target,
    };
    vec![
        of(Scope::Job, Some(Target::Flat(band))),
        of(Scope::Section(2), Some(Target::BySection(vec![band, band]))),
        of(
            Scope::Note(n(88)),
            Some(Target::Tapered(vec![
                (n(1), band),
                (n(88), Band::at_least(2, 1)),
            ])),
        ),
        of(
            Scope::Job,
            Some(Target::ShareOf {
                of: MeasureId::of("blow"),
                percent: 50,
                within: 1,
                accept: 2,
            }),
        ),
        of(Scope::Job, None),
    ]
}

fn records(earlier: EntryId) -> Vec<EntryKind> {
    let values = [
        Value::from_base(Kind::Length, -1_800_000),
        Value::from_base(Kind::Force, 52_500),
        Value::from_base(Kind::Mass, 14_000),
        Value::from_base(Kind::Count, 7),
        Value::from_base(Kind::Frequency, 440_000),
        Value::from_base(Kind::Humidity, 425),
        Value::from_base(Kind::Temperature, 21_500),
        Value::from_base(Kind::Grade, 2),
        Value::Good(false),
        Value::Done(true),
    ];
    let subjects = [Subject::Whole, Subject::Section(7), on(88)];
    let occasions = [Occasion::AsFound, Occasion::Working, Occasion::AsLeft];
    let reading = |(i, value): (usize, Value)| EntryKind::Reading {
        measure: MeasureId::of("let_off"),
        on: subjects[i % 3],
        place: [BENCH, PIANO][i % 2],
        occasion: occasions[i % 3],
        value,
        typed: "1 3/4 in".to_owned(),
        supersedes: vec![earlier; i % 2],
    };
    let made = [
        Correction::Turned(Turns::from_64ths(-8)),
        Correction::Papers(vec![nm(76_200), nm(-76_200)]),
        Correction::ByEye,
    ];
    let correction = |made| EntryKind::Correction {
        measure: MeasureId::of("blow"),
        on: on(1),
        place: PIANO,
        made,
    };
    let readings = values.into_iter().enumerate().map(reading);
    readings.chain(made.into_iter().map(correction)).collect()
}

/// Every kind of act that this version writes.
pub(super) fn acts(earlier: EntryId) -> Vec<EntryKind> {
    let step = || step_id("cauls_in");
    let own = OwnStep {
        id: step_id("own"),
        name: "Own step".to_owned(),
        stage: Stage::Bench,
        after: Some(step_id("blow")),
        per: Per::SectionEnds,
        kind: Kind::Good,
        minutes: 15,
        how: "Look.".to_owned(),
    };
    let mut acts = vec![
        EntryKind::Made { job: JobId::new(9) },
        EntryKind::Details {
            set: Box::new(details()),
        },
        EntryKind::Setup {
            set: Box::new(setup()),
        },
        EntryKind::WaitStarted {
            step: step(),
            minutes: 720,
        },
        EntryKind::WaitEnded {
            step: step(),
            reason: "dry".to_owned(),
        },
        EntryKind::Remark {
            on: on(33),
            step: Some(step()),
            fault: true,
            text: "loose".to_owned(),
        },
        EntryKind::Remark {
            on: Subject::Whole,
            step: None,
            fault: false,
            text: String::new(),
        },
        EntryKind::PassOpened { step: step() },
        EntryKind::PassClosed { step: step() },
        EntryKind::LeftOut {
            step: step_id("key_tops"),
            out: true,
        },
        EntryKind::OwnStep {
            step: Box::new(own),
        },
        EntryKind::Arranged {
            steps: vec![step_id("blow"), step_id("drop")],
        },
        EntryKind::FaultFixed {
            fault: earlier,
            how: "new centre pin".to_owned(),
        },
        EntryKind::MinutesStated {
            step: step(),
            minutes: 90,
        },
        EntryKind::Undo { entry: earlier },
    ];
    acts.extend(targets());
    acts.extend(records(earlier));
    acts
}

/// A phone with one entry of each kind.
pub(crate) fn phone() -> Phone {
    let mut phone = Phone::new(0xabc);
    let earlier = phone.read("blow", on(1), BENCH, 45_000_000).id;
    for act in acts(earlier) {
        phone.wait(1);
        phone.act(act);
    }
    phone
}

#[test]
fn the_sample_has_every_kind_of_act() {
    let name = |act: &EntryKind| match act {
        EntryKind::Made { .. } => "made",
        EntryKind::Details { .. } => "details",
        EntryKind::Setup { .. } => "setup",
        EntryKind::Reading { .. } => "reading",
        EntryKind::Correction { .. } => "correction",
        EntryKind::Target { .. } => "target",
        EntryKind::WaitStarted { .. } => "wait_started",
        EntryKind::WaitEnded { .. } => "wait_ended",
        EntryKind::Remark { .. } => "remark",
        EntryKind::FaultFixed { .. } => "fault_mended",
        EntryKind::MinutesStated { .. } => "minutes_stated",
        EntryKind::Undo { .. } => "undo",
        EntryKind::PassOpened { .. } => "pass_opened",
        EntryKind::PassClosed { .. } => "pass_closed",
        EntryKind::LeftOut { .. } => "left_out",
        EntryKind::OwnStep { .. } => "own_step",
        EntryKind::Arranged { .. } => "arranged",
        EntryKind::Unknown(_) => "unknown",
    };
    let names: std::collections::BTreeSet<&str> = phone()
        .job
        .log()
        .entries()
        .iter()
        .map(|e| name(&e.kind))
        .collect();
    assert_eq!(names.len(), 17);
    for entry in phone().job.log().entries() {
        let line = entry.to_line();
        assert!(
            line.contains(&format!("\"act\":\"{}\"", name(&entry.kind))),
            "{line}"
        );
        assert_eq!(Entry::from_line(&line).as_ref(), Ok(entry));
    }
}
