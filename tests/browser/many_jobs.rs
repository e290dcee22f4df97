//! Many jobs in one file: exported, opened in one go, chosen one by one; and what counts as exported.
//! The file is long because each way that many jobs go out and come in has its test.

use std::fs;
use std::path::{Path, PathBuf};

use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::job::{
    Details, EntryKind, JOBS_END, JOBS_SEPARATOR, Job, JobId, JobsScan, ReplicaId, jobs_start,
};
use serde_json::json;
use tempfile::TempDir;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::{accessibility_faults, jobs_schema_faults};
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named};

const NINE_MS: i64 = 1_790_000_000_000;

/// A job of this name; every tenth is as large as the demo job.
fn job(id: u64, name: &str) -> Job {
    let mut job = match id % 10 {
        0 => {
            let demo = evenhand_core::demo::entries(JobId::new(id), ReplicaId::new(7), NINE_MS);
            Job::from_entries(demo)
        }
        _ => {
            let mut job = Job::new();
            let made = EntryKind::Made {
                job: JobId::new(id),
            };
            job.apply(job.draft(ReplicaId::new(7), NINE_MS, made));
            job
        }
    };
    let set = Box::new(Details {
        name: Some(name.to_owned()),
        invented: Some(false),
        ..Details::default()
    });
    job.apply(job.draft(ReplicaId::new(7), NINE_MS, EntryKind::Details { set }));
    job
}

/// A file of many jobs in a folder.
fn file_of(folder: &TempDir, files: &[String]) -> PathBuf {
    let path = folder.path().join("office.jobs.json");
    let all = files.join(JOBS_SEPARATOR);
    let text = format!("{}{all}{JOBS_END}", jobs_start(files.len(), NINE_MS));
    fs::write(&path, text).expect("the file is written");
    path
}

/// The names of the jobs in a file of many, each of which opens without a notice.
fn names_in(file: &Path) -> Vec<String> {
    let bytes = fs::read(file).expect("the export can be read");
    let mut scan = JobsScan::new();
    assert_eq!(scan.read_on(&bytes), Ok(true));
    let index = scan.finish().expect("a file of many jobs");
    assert_eq!(index.notice, None);
    let name = |range: &std::ops::Range<u64>| {
        let opened = open(&bytes[range.start as usize..range.end as usize]).expect("it opens");
        assert_eq!(opened.notices, Vec::<String>::new());
        let job = Job::from_entries(opened.entries);
        job.state().details().name.clone().unwrap_or_default()
    };
    index.files.iter().map(name).collect()
}

/// Waits while the bar shows that the work goes on.
async fn wait_while_it_works(browser: &Browser) {
    let begun = "return document.querySelector('.busy, dialog, .notice') !== null";
    browser.wait_until(begun, vec![]).await;
    let words = "return document.querySelector('.busy p')?.innerText ?? ''";
    let mut shown = browser.run(words, vec![]).await;
    while shown != json!("") {
        // Each tenth in its own time.
        let moves = "return (document.querySelector('.busy p')?.innerText ?? '') !== arguments[0]";
        browser.wait_until(moves, vec![shown]).await;
        shown = browser.run(words, vec![]).await;
    }
}

/// Opens all jobs of a file, and returns what became of them.
pub async fn open_all(browser: &Browser, file: &Path) -> String {
    Jobs(browser).choose(file).await;
    wait_while_it_works(browser).await;
    browser.wait_for(".open-list").await;
    browser.tap(".sheet .button.main").await;
    wait_while_it_works(browser).await;
    let done = "return document.querySelector('.sheet h2')?.innerText === 'Opened'";
    browser.wait_until(done, vec![]).await;
    let counts = browser.text(".sheet [role=status]").await;
    browser.tap(".sheet header .tool").await;
    let closed = "return document.querySelector('dialog') === null";
    browser.wait_until(closed, vec![]).await;
    counts
}

async fn wait_for_reminder(browser: &Browser, says: &str) {
    let said = "return document.querySelector('.reminder p')?.innerText === arguments[0]";
    browser.wait_until(said, vec![json!(says)]).await;
}

#[tokio::test]
async fn a_hundred_and_twenty_jobs_go_out_in_one_file_and_come_back_in_one_go() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let mut all: Vec<String> = (0..119).map(|id| format!("Room {id}")).collect();
    let jobs: Vec<Job> = (0..).zip(&all).map(|(id, name)| job(id, name)).collect();
    let files: Vec<String> = jobs.iter().map(|job| export(job, NINE_MS)).collect();
    let from_office = file_of(&folder, &files);
    let desk = Browser::open(Device::DESK, Profile::fresh()).await;
    let list = Jobs::open(&desk, &site).await;
    assert_eq!(open_all(&desk, &from_office).await, "119 new");
    // What came in a file is in a file; what is made here is not.
    wait_for_reminder(&desk, "All work is exported.").await;
    list.make("Made here", "").await;
    all.push("Made here".to_owned());
    desk.run("location.hash = '#/'", vec![]).await;
    wait_for_reminder(&desk, "1 job has work that is not exported.").await;
    desk.tap(".reminder .button").await;
    desk.wait_for(".choose input:checked").await;
    assert_eq!(desk.count(".choose input:checked").await, 1);
    tap_named(&desk, ".choose-all", "All").await;
    assert_eq!(desk.count(".choose input:checked").await, 120);
    desk.screenshot("jobs-to-export").await;
    tap_named(&desk, ".reach", "Export 120 jobs").await;
    wait_while_it_works(&desk).await;
    let file = desk.download(".jobs.json").await;
    wait_for_reminder(&desk, "All work is exported.").await;
    wait_for_notice(&desk, "Download started: 120-jobs-").await;
    assert_eq!(jobs_schema_faults(&file), [""; 0]);
    let mut names = names_in(&file);
    names.sort();
    all.sort();
    assert_eq!(names, all);

    let phone = Browser::phone().await;
    let list = Jobs::open(&phone, &site).await;
    assert_eq!(open_all(&phone, &file).await, "120 new");
    wait_for_reminder(&phone, "All work is exported.").await;
    let mut names = list.names().await;
    names.sort();
    assert_eq!(names, all);
    // Opened once more, nothing is new.
    assert_eq!(open_all(&phone, &file).await, "120 with nothing new");
    phone.reload().await;
    crate::pages::wait_for_count(&phone, ".job-name", 120).await;
}

#[tokio::test]
async fn each_job_of_a_file_is_judged_and_chosen_alone() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let good = |id, name| export(&job(id, name), NINE_MS);
    let broken = r#"{"format":"evenhand-job","version":1,"log":[nonsense]}"#.to_owned();
    let file = file_of(&folder, &[good(1, "First"), broken, good(3, "Third")]);
    let phone = Browser::phone().await;
    let list = Jobs::open(&phone, &site).await;
    list.choose(&file).await;
    phone.wait_for(".open-list").await;
    assert_eq!(phone.text(".sheet [role=status]").await, "2 new, 1 refused");
    let refused = phone.text(".opened.not-opened").await;
    assert!(refused.contains("office.jobs.json"), "{refused}");
    assert!(refused.contains("cannot be read at line 1"), "{refused}");
    assert_eq!(accessibility_faults(&phone).await, [""; 0]);
    phone.screenshot("jobs-to-open").await;
    tap_named(&phone, ".sheet", "None").await;
    phone.tap(".sheet [aria-label='Open Third']").await;
    tap_named(&phone, ".sheet", "Open 1 job").await;
    let done = "return document.querySelector('.sheet h2')?.innerText === 'Opened'";
    phone.wait_until(done, vec![]).await;
    phone.screenshot("jobs-opened").await;
    phone.tap(".sheet header .tool").await;
    assert_eq!(list.names().await, ["Third"]);
}

#[tokio::test]
async fn an_export_that_fails_or_is_stopped_marks_nothing() {
    let site = serve_release();
    let phone = Browser::phone().await;
    // A share sheet that is canceled.
    phone
        .before_load(
            "navigator.canShare = () => true; navigator.share = () => Promise.reject(new DOMException('', 'AbortError'))",
        )
        .await;
    let jobs = Jobs::open(&phone, &site).await;
    for name in ["First room", "Second room"] {
        jobs.make(name, "").await;
        phone.run("location.hash = '#/'", vec![]).await;
        phone.wait_for(".job-list").await;
    }
    let unexported = "2 jobs have work that is not exported.";
    wait_for_reminder(&phone, unexported).await;
    let refuse = "window.real = URL.createObjectURL; URL.createObjectURL = () => { throw new Error('refused') }";
    let stop = "window.stopper = new MutationObserver(() => document.querySelector('.stop button')?.click()); stopper.observe(document.body, { childList: true, subtree: true })";
    for (before, button, says) in [
        (refuse, "Export 2 jobs", "refused the download"),
        (
            "URL.createObjectURL = real",
            "Share 2 jobs",
            "was not shared, and nothing is marked as exported",
        ),
        (stop, "Export 2 jobs", "Stopped. Nothing was exported."),
    ] {
        phone.run(before, vec![]).await;
        phone.tap(".reminder .button").await;
        tap_named(&phone, ".reach", button).await;
        wait_for_notice(&phone, says).await;
        wait_for_reminder(&phone, unexported).await;
    }
    phone.run("stopper.disconnect()", vec![]).await;
    let downloads = fs::read_dir(phone.download_folder()).expect("a folder");
    assert_eq!(downloads.count(), 0);
    // One of the two goes out, and is marked alone.
    phone.tap(".reminder .button").await;
    phone.tap(".choose [aria-label='Export First room']").await;
    tap_named(&phone, ".reach", "Export 1 job").await;
    let file = phone.download(".job.json").await;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    assert!(name.starts_with("second-room-20"), "{name}");
    wait_for_reminder(&phone, "1 job has work that is not exported.").await;
}

#[tokio::test]
async fn a_merge_leaves_an_exported_job_exported() {
    let site = serve_release();
    let (one, other) = (Browser::phone().await, Browser::phone().await);
    Jobs::open(&one, &site).await.make("Shared", "").await;
    let sent = Order(&one).export().await;
    Jobs::open(&other, &site).await.choose(&sent).await;
    other.wait_for(".order .step").await;
    Order(&other).begin("let_off").await;
    Pass(&other).on_target().await;
    Pass(&other).wait_until_saved().await;
    other.tap(".bar a.tool").await;
    let returned = Order(&other).export().await;
    one.run("location.hash = '#/'", vec![]).await;
    wait_for_reminder(&one, "All work is exported.").await;
    let changes = Jobs(&one).merge(&returned).await;
    assert!(changes.contains("1 reading"), "{changes}");
    let told = wait_for_notice(&one, "(shared-20").await;
    assert!(told.starts_with("Shared ("), "{told}");
    one.wait_for(".order .step").await;
    one.run("location.hash = '#/'", vec![]).await;
    wait_for_reminder(&one, "All work is exported.").await;
    // What is entered here is not in any file.
    Jobs(&one).open_first().await;
    Order(&one).begin("let_off").await;
    Pass(&one).travel_to(5).await;
    Pass(&one).on_target().await;
    Pass(&one).wait_until_saved().await;
    one.run("location.hash = '#/'", vec![]).await;
    wait_for_reminder(&one, "1 job has work that is not exported.").await;
}

#[tokio::test]
async fn the_preferences_export_everything_on_the_device() {
    let site = serve_release();
    let phone = Browser::phone().await;
    let jobs = Jobs::open(&phone, &site).await;
    for name in ["First room", "Second room"] {
        jobs.make(name, "").await;
        phone.run("location.hash = '#/'", vec![]).await;
        phone.wait_for(".job-list").await;
    }
    phone.run("location.hash = '#/preferences'", vec![]).await;
    phone.tap(".backup").await;
    let file = phone.download(".jobs.json").await;
    assert_eq!(jobs_schema_faults(&file), [""; 0]);
    assert_eq!(names_in(&file), ["Second room", "First room"]);
    phone.run("location.hash = '#/'", vec![]).await;
    wait_for_reminder(&phone, "All work is exported.").await;
}

#[tokio::test]
async fn files_and_printed_letters_are_named_by_job_date_and_person() {
    let site = serve_release();
    let mut names = Vec::new();
    for person in ["R. Sample", "Ä. Muster", ""] {
        let phone = Browser::phone().await;
        Jobs::open(&phone, &site).await.make("Town hall", "").await;
        Handover(&phone).open().await;
        Handover(&phone).sign(person).await;
        phone.tap(".screen .reach .main").await;
        let file = phone.download(".job.json").await;
        names.push(file.file_name().unwrap().to_string_lossy().into_owned());
        // On the screen the title never names the job.
        Handover(&phone).letter("report").await;
        let shown = phone.title().await;
        assert!(!shown.contains("Town"), "{shown}");
        let printed = "dispatchEvent(new Event('beforeprint')); const title = document.title; dispatchEvent(new Event('afterprint')); return title";
        let printed = phone.run(printed, vec![]).await;
        let printed = printed.as_str().unwrap_or_default().to_owned();
        let of_file = names[names.len() - 1].trim_end_matches(".job.json");
        assert_eq!(printed, format!("regulation-report-{of_file}"));
        assert_eq!(phone.title().await, shown);
    }
    assert!(names[0].starts_with("town-hall-20"), "{names:?}");
    assert!(names[0].ends_with("-r-sample.job.json"), "{names:?}");
    assert!(names[1].ends_with("-ä-muster.job.json"), "{names:?}");
    assert!(names[2].contains("-phone-"), "{names:?}");
}

#[tokio::test]
async fn the_messages_about_a_file_name_it_and_are_folded_into_one() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let text = export(&job(10, "Edited"), NINE_MS);
    let text = text.replace("\"let_off_mm\": 1", "\"let_off_mm\": 9");
    let path = folder.path().join("edited.job.json");
    fs::write(&path, text).expect("the file is written");
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await.choose(&path).await;
    phone.wait_for(".order .step").await;
    assert_eq!(phone.count(".notice.trouble").await, 1);
    let told = notices(&phone).await;
    assert!(told[0].starts_with("edited.job.json: "), "{told:?}");
    assert!(phone.count(".notice details p").await > 5);
    phone.screenshot("notice-folded").await;
}

/// Takings-back from a file blank nothing before the user has seen them.
#[tokio::test]
async fn what_a_file_would_change_is_shown_before_it_is_taken() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await.make("Blanked", "").await;
    Order(&phone).begin("let_off").await;
    for _ in 0..3 {
        let before = Pass(&phone).note().await;
        Pass(&phone).on_target().await;
        let next = "return document.querySelector('.note-name').innerText !== arguments[0]";
        phone.wait_until(next, vec![json!(before)]).await;
    }
    Pass(&phone).wait_until_saved().await;
    phone.tap(".bar a.tool").await;
    let sent = Order(&phone).export().await;
    let opened = open(&fs::read(&sent).expect("the export")).expect("it opens");
    let mut job = Job::from_entries(opened.entries);
    for entry in job.log().entries().to_vec() {
        if matches!(entry.kind, EntryKind::Reading { .. }) {
            let undo = EntryKind::Undo { entry: entry.id };
            job.apply(job.draft(ReplicaId::new(9), NINE_MS, undo));
        }
    }
    let set = Box::new(Details {
        name: Some("Renamed".to_owned()),
        ..Details::default()
    });
    job.apply(job.draft(ReplicaId::new(9), NINE_MS, EntryKind::Details { set }));
    let path = folder.path().join("hostile.job.json");
    fs::write(&path, export(&job, NINE_MS)).expect("the file is written");
    phone.run("location.hash = '#/'", vec![]).await;
    phone.wait_for(".job-list").await;
    Jobs(&phone).choose(&path).await;
    let told = phone.text(".opened").await;
    assert!(told.contains("takes back 3 earlier records"), "{told}");
    assert!(told.contains("changes name"), "{told}");
    phone.screenshot("jobs-to-merge").await;
    // Put away, it has changed nothing.
    phone.tap(".sheet header .tool").await;
    assert_eq!(Jobs(&phone).names().await, ["Blanked"]);
    Jobs(&phone).open_first().await;
    Order(&phone).wait_for_line("let_off", "3 of 88").await;
    // Taken, it is taken back whole, and stays so.
    phone.run("location.hash = '#/'", vec![]).await;
    phone.wait_for(".job-list").await;
    Jobs(&phone).choose(&path).await;
    Jobs(&phone).confirm_merge().await;
    phone.wait_for(".order .step").await;
    let none = "return !document.querySelector('.order').innerText.includes('3 of 88')";
    phone.wait_until(none, vec![]).await;
    tap_named(&phone, ".notices", "Take this import back").await;
    Order(&phone).wait_for_line("let_off", "3 of 88").await;
    crate::pages::wait_until_saved(&phone).await;
    phone.reload().await;
    Order(&phone).wait_for_line("let_off", "3 of 88").await;
    let title = phone.text("header").await;
    assert!(!title.contains("Renamed"), "{title}");
    // And brought back, where the archive is.
    Typing(&phone).go("setup/archive").await;
    Typing(&phone).unfold("archive").await;
    tap_named(&phone, "#archive", "Bring this import back").await;
    let back = "return document.querySelector('header').innerText.includes('Renamed')";
    phone.wait_until(back, vec![]).await;
}

#[tokio::test]
async fn a_merge_that_could_not_be_opened_again_is_refused() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let half = |replica: u64| {
        let mut job = job(1, "Large");
        for _ in 0..3_100 {
            let remark = EntryKind::Remark {
                on: evenhand_core::job::Subject::Whole,
                step: None,
                fault: false,
                text: "long ".repeat(400),
            };
            job.apply(job.draft(ReplicaId::new(replica), NINE_MS, remark));
        }
        let path = folder.path().join(format!("half-{replica}.job.json"));
        let text = evenhand_core::job::write_file(&job, NINE_MS, Default::default());
        fs::write(&path, text).expect("the file is written");
        path
    };
    let phone = Browser::phone().await;
    let list = Jobs::open(&phone, &site).await;
    list.choose(&half(8)).await;
    phone.wait_for(".order .step").await;
    phone.run("location.hash = '#/'", vec![]).await;
    phone.wait_for(".job-list").await;
    list.choose(&half(9)).await;
    let told = wait_for_notice(&phone, "too large for a file").await;
    assert!(told.contains("Nothing stored here was changed"), "{told}");
}

#[tokio::test]
async fn names_from_a_file_turn_no_words_round_and_a_second_of_one_name_is_told() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let phone = Browser::phone().await;
    let list = Jobs::open(&phone, &site).await;
    list.make("Town hall", "").await;
    phone.run("location.hash = '#/'", vec![]).await;
    let files = [
        (11, "Town hall"),
        (12, "\u{202e}llah nwoT"),
        (13, &"x".repeat(200)),
    ];
    let files = files.map(|(id, name)| export(&job(id, name), NINE_MS));
    let file = file_of(&folder, &files);
    list.choose(&file).await;
    phone.wait_for(".open-list").await;
    let shown = "return [...document.querySelectorAll('.opened')].map(n => n.textContent)";
    let shown = phone.run(shown, vec![]).await;
    let shown: Vec<String> = serde_json::from_value(shown).expect("lines");
    assert!(
        shown[0].contains("Another job on this device has the same name"),
        "{shown:?}"
    );
    assert!(shown[1].contains("[U+202E]llah nwoT"), "{shown:?}");
    assert!(
        shown[2].contains(&format!("{}…", "x".repeat(60))),
        "{shown:?}"
    );
    assert!(!shown[2].contains(&"x".repeat(61)), "{shown:?}");
}
