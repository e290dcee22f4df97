//! Tests of the travel balance of a job.

use super::*;
use crate::analysis::travel::Dimension as D;
use crate::job::{EntryKind, Job, ReplicaId, Setup};
use crate::trade::MeasureId;
use crate::unit::Value;

const PHONE: ReplicaId = ReplicaId::new(1);

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

fn read(job: &mut Job, occasion: Occasion, note: Note, place: Place, lengths: [f64; 4]) {
    let read = [D::Dip, D::Blow, D::LetOff, D::Aftertouch];
    for (d, mm) in read.into_iter().zip(lengths) {
        let id = MeasureId::of(measure_of(d, note));
        let value = Value::Nm(Length::from_mm(mm));
        let on = Subject::Note(note);
        job.apply(job.reading(PHONE, 0, id, on, place, occasion, value, ""));
    }
}

fn following(job: &mut Job, following: FollowingLength) {
    let set = Setup {
        following: Some(following),
        ..Setup::default()
    };
    let set = Box::new(set);
    job.apply(job.draft(PHONE, 0, EntryKind::Setup { set }));
}

/// Naturals of ratio 5 and sharps of ratio 5.5, as found.
fn sampled_job() -> Job {
    let mut job = Job::new();
    for (number, blow) in [(1, 46.0), (20, 45.0), (44, 47.0), (88, 44.0)] {
        let travel = [10.0, blow, 2.0, 10.0 - (blow - 2.0) / 5.0];
        read(&mut job, Occasion::AsFound, n(number), Place::Piano, travel);
    }
    for (number, blow) in [(2, 46.0), (41, 45.0), (86, 47.0)] {
        let travel = [9.4, blow, 2.0, 9.4 - (blow - 2.0) / 5.5];
        read(&mut job, Occasion::AsFound, n(number), Place::Piano, travel);
    }
    job
}

#[test]
fn the_sample_as_found_shows_the_ratio_of_naturals_and_of_sharps() {
    let job = sampled_job();
    let balance = balance(job.state(), Place::Bench);
    assert!((balance.naturals.as_ref().unwrap().ratio - 5.0).abs() < 1e-6);
    assert!((balance.sharps.as_ref().unwrap().ratio - 5.5).abs() < 1e-6);
    let natural = balance.note(n(40));
    assert!(matches!(natural.ratio_from, RatioFrom::Notes(4, Some(_))));
    // 10 − 43 ÷ 5 = 1.4 of the aims.
    let aftertouch = natural.aftertouch.unwrap();
    assert!((aftertouch.mm() - 1.4).abs() < 1e-4);
    assert_eq!(natural.parts[0].source, Source::Aimed);
    // The dip of a sharp is neither measured nor given a target.
    let sharp = balance.note(n(38));
    assert_eq!(
        (sharp.parts[0].source, sharp.aftertouch),
        (Source::Unknown, None)
    );
}

#[test]
fn what_the_dip_is_spent_on_adds_up_whichever_length_floats() {
    let mut job = sampled_job();
    for chosen in [
        None,
        Some(FollowingLength::Aftertouch),
        Some(FollowingLength::Blow),
        Some(FollowingLength::Dip),
    ] {
        if let Some(chosen) = chosen {
            following(&mut job, chosen);
        }
        let note = balance(job.state(), Place::Bench).note(n(40));
        let spent = note.spent().unwrap();
        assert_eq!(
            spent.dip,
            spent.lost_motion + spent.hammer + spent.aftertouch
        );
        // 43 ÷ 5 of the aims, if the blow is not left to follow.
        if chosen != Some(FollowingLength::Blow) {
            assert!((spent.hammer.mm() - 8.6).abs() < 1e-4, "{chosen:?}");
        }
    }
    // The dip of a sharp is unknown unless it is left to follow.
    let mut job = sampled_job();
    assert_eq!(balance(job.state(), Place::Bench).note(n(38)).spent(), None);
    following(&mut job, FollowingLength::Dip);
    assert!(
        balance(job.state(), Place::Bench)
            .note(n(38))
            .spent()
            .is_some()
    );
}

#[test]
fn the_chosen_length_floats_and_says_what_would_bring_it_back() {
    let mut job = sampled_job();
    let working = Occasion::Working;
    read(
        &mut job,
        working,
        n(40),
        Place::Bench,
        [9.6, 47.0, 2.0, 0.6],
    );
    following(&mut job, FollowingLength::Aftertouch);
    let note = balance(job.state(), Place::Bench).note(n(40));
    let solved = note.solved.unwrap();
    assert!((solved.value.mm() - 0.6).abs() < 1e-4);
    // The job accepts 0.762 to 1.524.
    let strayed = solved.strayed.unwrap();
    assert!((strayed.by.mm() + 0.162).abs() < 1e-4);
    let back = |d| strayed.bring_back.iter().find(|b| b.0 == d).unwrap().1.mm();
    assert!((back(D::Dip) - 0.162).abs() < 1e-4 && (back(D::Blow) + 0.81).abs() < 1e-4);
    following(&mut job, FollowingLength::Blow);
    let balance = balance(job.state(), Place::Bench);
    let solved = balance.note(n(40)).solved.unwrap();
    // 2 + (9.6 − 0.6) × 5, with the ratio of five naturals, all of 5.
    assert!((solved.value.mm() - 47.0).abs() < 1e-3);
    assert_eq!(solved.strayed, None);
}

#[test]
fn a_sharp_s_dip_is_what_gives_its_aftertouch() {
    let mut job = sampled_job();
    following(&mut job, FollowingLength::Dip);
    let sharp = balance(job.state(), Place::Bench).note(n(38));
    // 1.15 + 43 ÷ 5.5.
    let dip = sharp.solved.unwrap().value.mm();
    assert!((dip - (1.15 + 43.0 / 5.5)).abs() < 1e-4, "{dip}");
}

#[test]
fn a_note_that_does_not_fit_the_rest_is_pointed_out() {
    let mut job = sampled_job();
    read(
        &mut job,
        Occasion::AsFound,
        n(30),
        Place::Piano,
        [10.0, 45.0, 2.0, 2.4],
    );
    let state = job.state();
    assert_eq!(
        balance(state, Place::Piano).odd().collect::<Vec<_>>(),
        [n(30)]
    );
    assert!(balance(state, Place::Piano).note(n(30)).odd);
}
