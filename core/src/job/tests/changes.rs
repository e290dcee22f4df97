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
    assert_eq!(texts(&a).len(), 1);
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
