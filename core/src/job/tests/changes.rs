//! Tests of what is changed after it was entered: details, remarks, and the archive.

use super::*;

fn details(set: Details) -> EntryKind {
    EntryKind::Details { set: Box::new(set) }
}

fn rate(cents: u32, currency: &str) -> EntryKind {
    details(Details {
        rate_per_hour_cents: Some(cents),
        currency: Some(currency.to_owned()),
        ..Details::default()
    })
}

fn remark(text: &str) -> EntryKind {
    EntryKind::Remark {
        on: Subject::Whole,
        step: None,
        fault: false,
        text: text.to_owned(),
    }
}

fn changed(remark: &Entry, text: &str) -> EntryKind {
    EntryKind::RemarkChanged {
        remark: remark.id,
        text: text.to_owned(),
    }
}

fn texts(phone: &Phone) -> Vec<&str> {
    phone.state().remarks().map(|r| r.text.as_str()).collect()
}

#[test]
fn a_changed_rate_is_in_effect_until_it_is_taken_back_or_emptied() {
    let mut phone = Phone::new(1);
    phone.act(rate(6_000, "crowns"));
    let later = phone.act(rate(7_250, "euros"));
    assert_eq!(phone.state().details().rate(), Some(7_250));
    assert_eq!(phone.state().details().currency.as_deref(), Some("euros"));
    phone.undo(&later);
    assert_eq!(phone.state().details().rate(), Some(6_000));
    assert_eq!(phone.state().details().currency.as_deref(), Some("crowns"));
    phone.act(rate(0, ""));
    assert_eq!(phone.state().details().rate(), None);
    // Every one of them is still in the log.
    assert_eq!(phone.job.log().len(), 4);
}

#[test]
fn the_later_text_of_a_remark_counts_and_undo_brings_the_earlier_back() {
    let mut phone = Phone::new(1);
    let first = phone.act(remark("Key at the porter's"));
    let second = phone.act(changed(&first, "Key at the office"));
    let third = phone.act(changed(&first, ""));
    assert!(texts(&phone).is_empty());
    phone.undo(&third);
    assert_eq!(texts(&phone), ["Key at the office"]);
    phone.undo(&second);
    assert_eq!(texts(&phone), ["Key at the porter's"]);
    phone.undo(&first);
    assert!(texts(&phone).is_empty());
}

#[test]
fn a_fault_whose_text_is_changed_stays_fixed() {
    let mut phone = Phone::new(1);
    let fault = phone.act(EntryKind::Remark {
        on: on(40),
        step: None,
        fault: true,
        text: "Losse".to_owned(),
    });
    let how = "new center pin".to_owned();
    phone.act(EntryKind::FaultFixed {
        fault: fault.id,
        how,
    });
    phone.act(changed(&fault, "Loose"));
    assert_eq!(texts(&phone), ["Loose"]);
    assert_eq!(phone.state().open_faults().count(), 0);
}

#[test]
fn a_change_of_what_is_no_earlier_remark_has_no_effect() {
    let mut phone = Phone::new(1);
    let name = phone.act(details(Details {
        name: Some("Hall".to_owned()),
        ..Details::default()
    }));
    phone.act(changed(&name, "Hull"));
    let mut later = phone
        .copy(2)
        .job
        .draft(ReplicaId::new(2), NINE_MS, remark("Moths"));
    // The change precedes the remark that it names.
    phone.act(changed(&later, "None"));
    later.clock = phone.job.log().next_clock();
    phone.job.apply(later);
    assert_eq!(texts(&phone), ["Moths"]);
    assert_eq!(phone.state().details().name.as_deref(), Some("Hall"));
}

#[test]
fn two_phones_that_change_one_remark_agree_in_every_order() {
    let mut a = Phone::new(1);
    let first = a.act(remark("Tune first"));
    let mut b = a.copy(2);
    a.act(changed(&first, "Tune last"));
    b.act(changed(&first, "Do not tune"));
    let (of_a, of_b) = (a.clone(), b.clone());
    a.job.merge(of_b.job.log().entries().to_vec());
    b.job.merge(of_a.job.log().entries().to_vec());
    assert_eq!(a.state(), b.state());
    // Both were made at once, so the later replica counts; the other is not lost.
    assert_eq!(texts(&a), ["Do not tune"]);
    let open = a.job.concurrent();
    assert_eq!(open, b.job.concurrent());
    assert_eq!(open.len(), 1);
    assert_eq!(open[0].topic, Topic::Remark(first.id));
    assert_eq!(open[0].in_effect.kind, changed(&first, "Do not tune"));
    assert_eq!(open[0].others[0].kind, changed(&first, "Tune last"));
    // A remark that is taken back has no text to disagree on.
    let mut without = a.clone();
    without.undo(&first);
    assert!(without.job.concurrent().is_empty());
    let topic = Topic::Remark(first.id);
    assert_eq!(without.job.concurrent_about(&topic), None);
    // The next change knows both.
    a.act(changed(&first, "Tune last"));
    assert_eq!(texts(&a), ["Tune last"]);
    assert!(a.job.concurrent().is_empty());
}

#[test]
fn two_phones_that_disagree_on_the_archive_conflict() {
    let mut a = Phone::new(1);
    a.act(EntryKind::Archived { archived: true });
    let mut b = a.copy(2);
    a.act(EntryKind::Archived { archived: false });
    b.act(EntryKind::Archived { archived: false });
    b.act(EntryKind::Archived { archived: true });
    a.job.merge(b.job.log().entries().to_vec());
    assert!(a.state().is_archived());
    let open = a.job.concurrent();
    assert_eq!(open.len(), 1);
    assert_eq!(open[0].topic, Topic::Archived);
    a.act(EntryKind::Archived { archived: false });
    assert!(!a.state().is_archived() && a.job.concurrent().is_empty());
}

#[test]
fn a_carried_fault_shows_its_changed_text_until_the_change_or_the_fault_is_taken_back() {
    let mut phone = Phone::new(1);
    let carried = phone.act(EntryKind::FaultCarried {
        on: on(33),
        text: "Flange losse.".to_owned(),
        from: JobId::new(8),
        from_name: None,
        noted_at_ms: NINE_MS,
    });
    let change = phone.act(changed(&carried, "Flange loose."));
    assert_eq!(texts(&phone), ["Flange loose."]);
    assert_eq!(phone.state().open_faults().count(), 1);
    phone.undo(&change);
    assert_eq!(texts(&phone), ["Flange losse."]);
    // The undo key leaves it; an entry that takes it back, as earlier releases wrote it, counts.
    assert_eq!(phone.job.undoable(&[phone.replica]), None);
    let change = phone.act(changed(&carried, "Flange loose."));
    phone.undo(&carried);
    assert!(texts(&phone).is_empty());
    phone.undo(&change);
    assert!(texts(&phone).is_empty());
    assert_eq!(*phone.state(), State::folded(phone.job.log()));
}

#[test]
fn a_job_is_archived_taken_out_and_archived_again() {
    let mut phone = Phone::new(1);
    phone.act(EntryKind::Archived { archived: true });
    assert!(phone.state().is_archived());
    let out = phone.act(EntryKind::Archived { archived: false });
    assert!(!phone.state().is_archived());
    phone.undo(&out);
    assert!(phone.state().is_archived());
    assert_eq!(*phone.state(), State::folded(phone.job.log()));
}
