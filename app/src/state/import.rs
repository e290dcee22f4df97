//! Opening job files and files of many jobs: a new job is stored, a known one is merged. Each job is judged by itself,
//! and one at a time is in memory.

use evenhand_core::analysis::conflicts::{Conflict, new_conflicts};
use evenhand_core::analysis::job_file::file_conclusions;
use evenhand_core::job::{
    Entry, EntryKind, FileError, Incoming, Job, JobId, JobParts, JobsScan, MAX_BYTES_WITH_PHOTOS,
    MAX_JOBS_BYTES, Opened, Opening, Run, leaves_room,
};
use leptos::prelude::*;
use send_wrapper::SendWrapper;

use super::open_list::{Judged, OpenLine, OpenList, Outcome, Source};
use super::session::{CLOCK_AHEAD, Session};
use crate::device::{self, files, local_time};
use crate::route::Route;
use crate::storage::local_storage;
use crate::text;

/// How many bytes of a file are read before the screen may be painted: a tenth of a second of a slow phone. A larger
/// file shows its progress.
const SLICE: u64 = 256 << 10;
const READING: &str = "Reading the file…";
const OPENING: &str = "Opening the jobs…";

impl Session {
    /// Does [`Session::open_files`].
    pub(super) async fn open_all(self, chosen: Vec<web_sys::File>) {
        if self.app.busy.with_untracked(Option::is_some) {
            let names: Vec<String> = chosen.iter().map(web_sys::File::name).collect();
            let names = text::names(&names);
            return self.app.warn(&format!(
                "Not opened: {names}. Evenhand is busy. Open it again when that is done."
            ));
        }
        self.app.stop.set(false);
        let mut list = OpenList::default();
        let mut sources = Vec::new();
        let is_one = chosen.len() == 1;
        for file in chosen {
            let name = text::name(&file.name());
            match self.sources(file).await {
                Ok(found) => {
                    list.notices
                        .extend(found.notice.map(|notice| format!("{name}: {notice}")));
                    sources.extend(found.sources);
                }
                Err(sentence) => list.lines.push(OpenLine::refused(&name, sentence)),
            }
        }
        match (&sources[..], &list.lines[..]) {
            ([one], []) if is_one && one.is_whole() => self.open_one(one).await,
            ([], [line]) => self.app.warn(&line.sentence()),
            _ => self.judge(sources, list).await,
        }
        self.app.busy.set(None);
    }

    /// Returns the job files in a file.
    ///
    /// # Errors
    /// Returns a sentence if there are none.
    async fn sources(self, file: web_sys::File) -> Result<Sources, String> {
        let size = file.size() as u64;
        let whole = Source {
            file: SendWrapper::new(file),
            range: 0..size,
        };
        let one = |whole: Source| match size {
            ..=MAX_BYTES_WITH_PHOTOS => Ok(Sources {
                sources: vec![whole],
                notice: None,
            }),
            size => {
                let size = usize::try_from(size).unwrap_or(usize::MAX);
                Err(FileError::TooLarge(size).to_string())
            }
        };
        let mut scan = JobsScan::new();
        let mut at = 0;
        while at < size {
            if at > 0 {
                let percent = at as f64 / size as f64 * 100.0;
                self.app.set_busy(READING, percent as usize).await;
            }
            let until = size.min(at + SLICE);
            let bytes = files::read(&whole.file, at..until).await?;
            if !scan.read_on(&bytes).map_err(|e| e.to_string())? {
                return one(whole);
            }
            if self.app.stop.get_untracked() {
                return Err("Stopped. Nothing was opened.".to_owned());
            }
            if size > MAX_JOBS_BYTES {
                let size = usize::try_from(size).unwrap_or(usize::MAX);
                return Err(FileError::TooLarge(size).to_string());
            }
            at = until;
        }
        match scan.finish() {
            Ok(index) => Ok(Sources {
                sources: index
                    .files
                    .into_iter()
                    .map(|range| Source {
                        file: whole.file.clone(),
                        range,
                    })
                    .collect(),
                notice: index.notice,
            }),
            // The reader of one job says best what is wrong.
            Err(FileError::Foreign) => one(whole),
            Err(error) => Err(error.to_string()),
        }
    }

    /// Opens a job file, and shows its job. What would change a job is shown first.
    async fn open_one(self, source: &Source) {
        let mut line = self.open_source(source, Take::UnlessMerged).await;
        let merges = |judged: &Judged| matches!(judged.outcome, Outcome::Merged(_));
        if line.judged.as_ref().is_ok_and(merges) {
            line.source = Some(source.clone());
            self.app.open_list.set(Some(OpenList {
                lines: vec![line],
                ..OpenList::default()
            }));
        } else {
            self.show_opened(&line);
        }
    }

    /// Says what became of the one file that was opened, and shows its job.
    fn show_opened(self, line: &OpenLine) {
        let Judged { id, outcome, .. } = match &line.judged {
            Ok(judged) => judged,
            Err(_) => return self.app.warn(&line.sentence()),
        };
        // What was changed or left out must be seen, so it is a warning.
        self.app.warn_folded(&line.file, &line.notices);
        match outcome {
            Outcome::New => {}
            Outcome::Merged(_) => self.app.notify_import(*id, &line.sentence()),
            Outcome::Same => self.app.notify(&line.sentence()),
        }
        Route::Order(*id).go();
    }

    /// Says of each job file what opening it would do, for the user to choose.
    async fn judge(self, sources: Vec<Source>, mut list: OpenList) {
        for (at, source) in sources.iter().enumerate() {
            self.app.set_busy(READING, at * 100 / sources.len()).await;
            if self.app.stop.get_untracked() {
                return self.app.notify("Stopped. Nothing was opened.");
            }
            let mut line = self.open_source(source, Take::No).await;
            line.source = line.judged.is_ok().then(|| source.clone());
            list.lines.push(line);
        }
        self.app.open_list.set(Some(list));
    }

    /// Does [`Session::open_chosen`].
    pub(super) async fn open_lines(self, list: OpenList, chosen: Vec<usize>) {
        self.app.stop.set(false);
        let mut done = OpenList {
            is_done: true,
            ..OpenList::default()
        };
        let count = chosen.len();
        for (at, line) in chosen.into_iter().enumerate() {
            self.app.set_busy(OPENING, at * 100 / count).await;
            if self.app.stop.get_untracked() {
                done.notices
                    .push(format!("Stopped: {at} of {count} were opened."));
                break;
            }
            let Some(source) = list.lines.get(line).and_then(|l| l.source.as_ref()) else {
                continue;
            };
            let line = self.open_source(source, Take::Yes).await;
            self.until_saved().await;
            if list.lines.len() == 1 && source.is_whole() {
                self.app.busy.set(None);
                return self.show_opened(&line);
            }
            done.lines.push(line);
        }
        let refused = list.lines.into_iter().filter(|l| l.judged.is_err());
        done.lines.extend(refused);
        self.app.busy.set(None);
        self.app.open_list.set(Some(done));
    }

    /// Waits until the journal has saved everything, or fails: so no more than one job waits in memory.
    async fn until_saved(self) {
        while self.journal.unsaved.get_untracked() > 0
            && self.journal.fault.with_untracked(Option::is_none)
        {
            device::pause(5).await;
        }
    }

    /// Parses a job file. Returns with it where its photos lie, from its beginning.
    async fn parse(self, source: &Source) -> Result<(Opened, JobParts), String> {
        let (bytes, parts) = self.read_job(source).await?;
        // A large file takes time, so the progress must be painted first.
        let shows_progress = parts.job > SLICE && source.is_whole();
        if shows_progress {
            self.app.show_busy(READING, Some(0)).await;
        }
        let mut opening = Opening::begin(&bytes).map_err(|e| e.to_string())?;
        while opening.read_on(SLICE as usize) {
            if shows_progress {
                self.app.set_busy(READING, opening.percent()).await;
                if self.app.stop.get_untracked() {
                    return Err("Stopped. Nothing was opened.".to_owned());
                }
            }
        }
        let opened = opening
            .finish(file_conclusions)
            .map_err(|e| e.to_string())?;
        Ok((opened, parts))
    }

    /// Judges a job file, and stores what is new in it. Returns what became of it, or would.
    async fn open_source(self, source: &Source, take: Take) -> OpenLine {
        let mut line = OpenLine::refused(&source.name(), String::new());
        let (opened, parts) = match self.parse(source).await {
            Ok(read) => read,
            Err(sentence) => return OpenLine::refused(&line.file, sentence),
        };
        line.notices = opened.notices;
        let Some(id) = opened.id else {
            let sentence =
                "The file holds no job that can be opened. Nothing stored here was changed.";
            return OpenLine::refused(&line.file, sentence.to_owned());
        };
        let read = self.journal.read(id).await;
        if read.failed {
            // Without the stored entries, those of the file could replace others.
            let sentence = "The file was not opened, since what is stored here could not be read. Open it again when the storage works.";
            return OpenLine::refused(&line.file, sentence.to_owned());
        }
        let before = self.merged_with_open(id, read);
        let mut job = before.clone();
        if !job.begins_with(&opened.entries) {
            return OpenLine::refused(&line.file, FileError::OtherJob.to_string());
        }
        let known = job.log().len();
        let mut new: Vec<Entry> = opened
            .entries
            .iter()
            .filter(|e| job.log().get(e.id).is_none())
            .cloned()
            .collect();
        let merged = job.merge(opened.entries.iter().cloned());
        let unread = job.set_aside(opened.set_aside);
        if known > 0 && merged.new + unread.len() > 0 && !leaves_room(&job) {
            let sentence = "With it, the job would be too large for a file. Nothing stored here was changed. Start a new job on the same instrument.";
            return OpenLine::refused(&line.file, sentence.to_owned());
        }
        // A batch of its own, so that it can be taken back whole. A new job is taken back by deleting it.
        let batch = EntryKind::opened(&new).filter(|_| known > 0);
        if let Some(EntryKind::Opened { entries }) = &batch
            && entries.len() > Run::MAX
        {
            let sentence = "The file holds this job in so many pieces that it could not be taken back again. Nothing stored here was changed. Ask for the whole job.";
            return OpenLine::refused(&line.file, sentence.to_owned());
        }
        if !job.ahead(local_time::now_ms()).is_empty() {
            line.notices.push(CLOCK_AHEAD.to_owned());
        }
        let name = job.state().details().name.clone().unwrap_or_default();
        if known > 0 {
            line.notices
                .extend(new_conflicts_words(&new_conflicts(&before, &job)));
        }
        line.notices.extend(differing_words(merged.differing.len()));
        if known == 0 && self.jobs.has_other_of_name(id, &name) {
            line.notices.push(
                "Another job on this device has the same name. This one was added as a separate job."
                    .to_owned(),
            );
        }
        // Batches of other devices alone are nothing new to a person.
        let outcome = match (known, &batch) {
            (0, _) => Outcome::New,
            (_, None) => {
                let last = job.last_opened(&local_storage::own_replicas());
                if last.is_some_and(|(_, undos)| !undos.is_empty()) {
                    line.notices.push(
                        "The last import into this job was taken back here. To bring it back, open Setup, Archive or delete."
                            .to_owned(),
                    );
                }
                Outcome::Same
            }
            _ => Outcome::Merged(Incoming::between(&before, &job)),
        };
        let is_taken = match take {
            Take::No => false,
            Take::UnlessMerged => !matches!(outcome, Outcome::Merged(_)),
            Take::Yes => true,
        };
        line.judged = Ok(Judged {
            id,
            name: text::name(&name),
            outcome,
        });
        if is_taken {
            let mut in_file = opened.entries;
            if let Some(batch) = batch {
                let batch = job.draft(self.replica(), local_time::now_ms(), batch);
                new.push(batch.clone());
                // By it alone the job has nothing that is in no file.
                in_file.push(batch.clone());
                job.apply(batch);
            }
            let named = job.state().photo_hashes();
            self.take(id, job, new, &in_file, known);
            let (photos, notices) = self.take_photos(id, named, source, &parts).await;
            line.photos = photos;
            line.notices.extend(notices);
            if !unread.is_empty() && !self.journal.keep_unread(id, &unread).await {
                line.notices.push(
                    "Part of the file could not be read and was not stored here: keep the file."
                        .to_owned(),
                );
            }
        }
        line
    }

    /// Stores the new entries of a file, and shows the job as it is now.
    fn take(self, id: JobId, job: Job, new: Vec<Entry>, in_file: &[Entry], known: usize) {
        if !new.is_empty() {
            self.journal.write(id, new);
        }
        self.jobs.add_file(id, &job, in_file, known);
        if self.app.is_open(id) {
            self.app.set_open_job(id, job);
        }
    }
}

/// Whether a judged job is stored.
#[derive(Clone, Copy)]
enum Take {
    /// It is not: its user is asked first.
    No,
    /// It is if it changes no job that is stored.
    UnlessMerged,
    /// It is.
    Yes,
}

/// The job files in a file, with a sentence on what is wrong with their list.
struct Sources {
    sources: Vec<Source>,
    notice: Option<String>,
}

/// Returns a sentence on entries of a file that differ from the stored ones of the same id. `None` if there are none.
fn differing_words(count: usize) -> Option<String> {
    Some(match count {
        0 => return None,
        1 => "1 record in the file differs from the one stored here. The stored one was kept."
            .to_owned(),
        n => format!(
            "{n} records in the file differ from those stored here. The stored ones were kept."
        ),
    })
}

/// Returns a sentence on what two technicians have said differently, by the conflicts that are new. `None` if there are
/// none.
fn new_conflicts_words(new: &[Conflict]) -> Option<String> {
    let first = new.first()?;
    let values = first.statements.iter().map(|s| text::name(&s.value));
    let values: Vec<String> = values.collect();
    let more = match new.len() - 1 {
        0 => String::new(),
        n => format!(
            " And {}.",
            text::counted(n, "one conflict more", "conflicts more")
        ),
    };
    Some(format!(
        "Two people differ. {}: {}.{more} Both are kept, and the later counts. Handover lists what is open; settle it there.",
        text::name(&first.about),
        values.join(", or "),
    ))
}
