//! Tests of two phones on one action.

use super::*;

/// Two phones that shared a job, then took concurrent readings of the same note.
fn apart() -> (Phone, Phone, Entry, Entry) {
    let mut a = Phone::new(1);
    a.read("blow", on(40), BENCH, 47_000_000);
    let mut b = a.copy(2);
    let of_a = a.read("blow", on(40), BENCH, 45_000_000);
    let of_b = b.read("blow", on(40), BENCH, 45_600_000);
    (a, b, of_a, of_b)
}

fn entries(phone: &Phone) -> Vec<Entry> {
    phone.job.log().entries().to_vec()
}

#[test]
fn the_same_note_read_on_two_phones_keeps_both_and_shows_the_other() {
    let (mut a, mut b, of_a, of_b) = apart();
    let merged = a.job.merge(entries(&b));
    assert_eq!(
        (merged.new, merged.known, merged.differing.len()),
        (1, 1, 0)
    );
    b.job.merge(entries(&a));
    assert_eq!(a.state(), b.state());
    let measure_state = a.state().measure_state("blow", on(40), BENCH).unwrap();
    // Same time and clock: the replica decides, the same way on both phones.
    assert_eq!(measure_state.in_effect().unwrap().position.id, of_b.id);
    let others: Vec<_> = measure_state
        .others(Occasion::Working)
        .iter()
        .map(|r| r.position.id)
        .collect();
    assert_eq!(others, [of_a.id]);
    assert_eq!(measure_state.readings().count(), 3);
    let concurrent = a.job.concurrent();
    assert_eq!(concurrent.len(), 1);
    assert_eq!(concurrent[0].in_effect, &of_b);
    assert_eq!(concurrent[0].others, [&of_a]);
}

#[test]
fn reading_again_takes_the_place_of_both() {
    let (mut a, b, of_a, of_b) = apart();
    a.job.merge(entries(&b));
    let again = a.read("blow", on(40), BENCH, 45_300_000);
    assert_eq!(again.supersedes, Some(vec![of_a.id, of_b.id]));
    let measure_state = a.state().measure_state("blow", on(40), BENCH).unwrap();
    assert!(measure_state.others(Occasion::Working).is_empty());
    assert_eq!(a.job.concurrent(), []);
    assert_eq!(measure_state.unsuperseded(Occasion::Working), [again.id]);
}

#[test]
fn two_phones_that_read_the_same_value_agree() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    a.read("blow", on(40), BENCH, 45_000_000);
    b.read("blow", on(40), BENCH, 45_000_000);
    a.job.merge(entries(&b));
    let measure_state = a.state().measure_state("blow", on(40), BENCH).unwrap();
    assert!(measure_state.others(Occasion::Working).is_empty());
    assert_eq!(measure_state.unsuperseded(Occasion::Working).len(), 2);
}

/// Two rulers differ; nobody turned anything.
#[test]
fn readings_of_two_phones_that_differ_tell_of_no_work() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    a.read("blow", on(40), BENCH, 45_000_000);
    a.read("aftertouch", on(40), BENCH, 1_150_000);
    b.read("blow", on(41), BENCH, 45_000_000);
    b.read("blow", on(41), BENCH, 45_000_000);
    b.read("blow", on(40), BENCH, 45_600_000);
    a.job.merge(entries(&b));
    let measure_state = a.state().measure_state("blow", on(40), BENCH).unwrap();
    assert_eq!(measure_state.in_effect().unwrap().value.base(), 45_600_000);
    assert_eq!(a.state().disturbed("aftertouch", on(40), BENCH), None);
}

#[test]
fn an_undo_may_arrive_before_what_it_undoes() {
    let mut a = Phone::new(1);
    let reading = a.read("drop", on(1), BENCH, 2_000_000);
    let undo = a.undo(&reading);
    let mut late = Job::new();
    assert!(late.apply(undo));
    assert!(late.state().measure_state("drop", on(1), BENCH).is_none());
    assert!(late.apply(reading.clone()));
    assert!(!late.state().is_alive(reading.id));
    assert_eq!(late.state(), a.state());
}

#[test]
fn an_undo_of_what_comes_later_undoes_nothing() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    b.read("drop", on(3), BENCH, 2_000_000);
    let later = b.read("drop", on(2), BENCH, 2_000_000);
    let undo = a.act(EntryKind::Undo { entry: later.id });
    assert!(undo.written() < later.written());
    a.job.merge(entries(&b));
    assert!(a.state().is_alive(later.id));
}

#[test]
fn of_two_entries_with_one_name_the_stored_one_wins_and_the_other_is_reported() {
    let mut a = Phone::new(1);
    let stored = a.read("drop", on(1), BENCH, 2_000_000);
    let mut other = stored.clone();
    other.at_ms += 1;
    let before = a.state().clone();
    let merged = a.job.merge([stored.clone(), other.clone()]);
    assert_eq!((merged.new, merged.known), (0, 1));
    assert_eq!(merged.differing, [other.clone()]);
    assert_eq!(a.job.log().get(stored.id), Some(&stored));
    assert_eq!(a.state(), &before);
    assert!(!a.job.apply(other));
}

#[test]
fn the_clock_goes_past_every_entry_seen() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    for note in 1..=9 {
        b.read("drop", on(note), BENCH, 2_000_000);
    }
    a.job.merge(entries(&b));
    let next = a.read("drop", on(1), BENCH, 2_500_000);
    assert_eq!((next.clock, next.id.seq), (10, 1));
    let measure_state = a.state().measure_state("drop", on(1), BENCH).unwrap();
    assert_eq!(measure_state.in_effect().unwrap().position.id, next.id);
}

/// A job at the largest clock and sequence number stays usable, and all of it can be read back.
#[test]
fn at_the_last_clock_nothing_is_lost() {
    let mut phone = Phone::new(1);
    let last = Entry {
        id: EntryId {
            replica: phone.replica,
            seq: Entry::MAX,
        },
        clock: Entry::MAX,
        ..phone.job.draft(
            phone.replica,
            NINE_MS,
            EntryKind::Made { job: JobId::new(1) },
        )
    };
    phone.job.apply(last);
    for note in 1..=3 {
        let entry = phone.read("drop", on(note), BENCH, 2_000_000);
        assert_eq!(Entry::from_line(&entry.to_line()), Ok(entry));
    }
    assert_eq!(phone.job.log().len(), 4);
    let measure_state = phone.state().measure_state("drop", on(3), BENCH).unwrap();
    assert_eq!(measure_state.in_effect().unwrap().value.base(), 2_000_000);
}

#[test]
fn a_wall_time_that_cannot_be_stored_is_moved_to_one_that_can() {
    let mut phone = Phone::new(1);
    for at_ms in [i64::MIN, -1, i64::MAX] {
        phone.at_ms = at_ms;
        let entry = phone.read("drop", on(1), BENCH, 2_000_000);
        assert_eq!(Entry::from_line(&entry.to_line()), Ok(entry));
    }
}

/// Applies the entries one by one in every order, and compares each state with that of the whole log.
fn in_every_order(known: &Job, arriving: &mut Vec<Entry>, from: usize) {
    if from + 1 < arriving.len() {
        for at in from..arriving.len() {
            arriving.swap(from, at);
            in_every_order(known, arriving, from + 1);
            arriving.swap(from, at);
        }
        return;
    }
    let mut job = known.clone();
    for entry in arriving.iter().cloned() {
        job.apply(entry);
        assert!(*job.state() == State::folded(job.log()), "{arriving:?}");
    }
}

fn opened(phone: &mut Phone, new: &[Entry]) -> Entry {
    phone.act(EntryKind::opened(new).unwrap())
}

fn value(phone: &Phone, note: i64) -> Option<i64> {
    let state = phone.state().measure_state("blow", on(note), BENCH)?;
    Some(state.in_effect()?.value.base())
}

#[test]
fn an_import_is_taken_back_whole_and_brought_back_in_every_order_of_arrival() {
    let mut a = Phone::new(1);
    let mine = a.read("blow", on(40), BENCH, 47_000_000);
    let known = a.job.clone();
    let mut b = a.copy(2);
    let new = vec![b.undo(&mine), b.read("blow", on(41), BENCH, 45_000_000)];
    a.job.merge(new.clone());
    let batch = opened(&mut a, &new);
    let mut all = new;
    assert_eq!((value(&a, 40), value(&a, 41)), (None, Some(45_000_000)));
    a.wait(1);
    let later = a.read("blow", on(42), BENCH, 46_000_000);
    let undo = a.undo(&batch);
    // What was entered later stays, and what the file took back is there again.
    let values = |a: &Phone| [40, 41, 42].map(|note| value(a, note));
    let back = [Some(47_000_000), None, Some(46_000_000)];
    assert_eq!(values(&a), back);
    assert_eq!(
        a.job.last_opened(&[a.replica]),
        Some((batch.id, vec![undo.id]))
    );
    let again = a.undo(&undo);
    let brought = [None, Some(45_000_000), Some(46_000_000)];
    assert_eq!(values(&a), brought);
    assert_eq!(a.job.last_opened(&[a.replica]), Some((batch.id, vec![])));
    assert_eq!(a.job.undoable(&[a.replica]).map(|e| e.id), Some(later.id));
    all.extend([batch, later, undo, again]);
    in_every_order(&known, &mut all, 0);
}

/// An import may hold the batch of another, taken back: a file that blanks a job is itself taken back whole.
#[test]
fn a_batch_in_a_batch_cannot_keep_anything_taken_back() {
    let mut a = Phone::new(1);
    let mine = [40, 41].map(|note| a.read("blow", on(note), BENCH, 47_000_000));
    let known = a.job.clone();
    let mut evil = a.copy(2);
    let blanks = opened(&mut evil, &mine);
    let mut new = vec![blanks.clone(), evil.undo(&blanks)];
    a.job.merge(new.clone());
    assert_eq!((value(&a, 40), value(&a, 41)), (None, None));
    let batch = opened(&mut a, &new);
    let undo = a.undo(&batch);
    assert_eq!(value(&a, 40), Some(47_000_000));
    assert_eq!(value(&a, 41), Some(47_000_000));
    new.extend([batch, undo]);
    in_every_order(&known, &mut new, 0);
}

#[test]
fn what_arrives_later_is_of_no_batch() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    let sent = [40, 41, 42].map(|note| b.read("blow", on(note), BENCH, 45_000_000));
    let with_a_hole = [sent[0].clone(), sent[2].clone()];
    a.job.merge(with_a_hole.clone());
    let batch = opened(&mut a, &with_a_hole);
    let undo = a.undo(&batch);
    a.job.merge(sent.clone());
    let more = b.read("blow", on(43), BENCH, 45_000_000);
    a.job.merge([more]);
    let values = [40, 41, 42, 43].map(|note| value(&a, note).is_some());
    assert_eq!(values, [false, true, false, true]);
    a.undo(&undo);
    assert_eq!([40, 42].map(|note| value(&a, note).is_some()), [true; 2]);
}

#[test]
fn the_hours_of_an_import_that_is_taken_back_do_not_count() {
    let step = || step_id("blow");
    let open = || EntryKind::PassOpened {
        step: step(),
        utc_offset_minutes: None,
    };
    let mut a = Phone::new(1);
    a.act(open());
    a.wait(2);
    a.read("blow", on(40), BENCH, 45_000_000);
    let minutes = |a: &Phone| -> Vec<i64> {
        let times = a.state().work_times();
        times.iter().map(|t| t.minutes()).collect()
    };
    assert_eq!(minutes(&a), [2]);
    let mut b = a.copy(2);
    let mut new = vec![b.act(open())];
    b.wait(3);
    new.push(b.read("blow", on(41), BENCH, 45_000_000));
    new.push(b.act(EntryKind::MinutesStated {
        step: step_id("let_off"),
        minutes: 45,
        worked: None,
        instead_of: None,
    }));
    a.job.merge(new.clone());
    assert_eq!(minutes(&a).iter().sum::<i64>(), 50);
    let batch = opened(&mut a, &new);
    let undo = a.undo(&batch);
    assert_eq!(minutes(&a), [2]);
    // Counted once taken back, a statement of the batch does not come back with it.
    a.undo(&undo);
    assert_eq!(minutes(&a).iter().sum::<i64>(), 50);
}

/// Five hundred imports of one job can be taken back; more, of a hostile file, cost nothing.
#[test]
fn only_so_many_batches_count() {
    let mut a = Phone::new(1);
    let mine = a.read("blow", on(40), BENCH, 45_000_000);
    let batches: Vec<Entry> = (0..501)
        .map(|_| opened(&mut a, std::slice::from_ref(&mine)))
        .collect();
    a.undo(&batches[500]);
    assert_eq!(value(&a, 40), Some(45_000_000));
    a.undo(&batches[499]);
    assert_eq!(value(&a, 40), None);
}
