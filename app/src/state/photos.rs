//! Photos: taken or chosen, stored, and then recorded.

use std::collections::HashMap;

use evenhand_core::job::{
    EntryId, EntryKind, FileError, JobId, JobParts, MAX_BYTES, MAX_PHOTOS, Photo, PhotoError,
    PhotoHash, PhotosScan, State, Subject, Taken, missing_photos, read_photo_line,
};
use evenhand_core::trade::StepId;
use leptos::prelude::*;

use super::open_list::Source;
use super::session::Session;
use crate::device::{camera, files};
use crate::text;

const STORING: &str = "Storing the photo…";
const STORING_MANY: &str = "Storing the photos…";
const LOOKING: &str = "Reading the file…";
/// How many bytes of a file are looked through before the screen may be painted.
const SLICE: u64 = 1 << 20;

/// What a photo is of.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotoOf {
    /// The note, section or whole.
    pub on: Subject,
    /// The step, if any.
    pub step: Option<StepId>,
    /// The fault, if any.
    pub fault: Option<EntryId>,
}

impl PhotoOf {
    /// Returns whether a photo is of the same.
    pub fn is_of(&self, photo: &Photo) -> bool {
        photo.on == self.on && photo.step == self.step && photo.fault == self.fault
    }
}

impl Session {
    /// Stores photos and records them, one after the other. Each is on the disk before its entry is made.
    pub async fn add_photos(self, chosen: web_sys::FileList, of: PhotoOf) {
        let files = (0..chosen.length()).filter_map(|at| chosen.get(at));
        for file in files.collect::<Vec<_>>() {
            self.app.show_busy(STORING, None).await;
            let added = self.add_photo(&file, &of).await;
            self.app.busy.set(None);
            match added {
                Ok(sentence) => self.app.notify_undo(&sentence, None),
                Err(sentence) => return self.app.warn(&sentence),
            }
        }
    }

    /// Returns what to say once the photo is recorded.
    ///
    /// # Errors
    /// Returns a sentence if it was not recorded, or is not on the disk.
    async fn add_photo(self, file: &web_sys::File, of: &PhotoOf) -> Result<String, String> {
        let job = self.job_id().ok_or("No job is open. Nothing was stored.")?;
        let room = |s: &State| {
            (
                s.photos().count() < MAX_PHOTOS,
                s.photo_time(of.step.as_ref(), of.on),
            )
        };
        let (has_room, taken) = self
            .app
            .with_state_untracked(room)
            .unwrap_or((false, Taken::AsItIs));
        if !has_room {
            return Err(format!(
                "This job has {MAX_PHOTOS} photos, and no more fit. Remove one first. This one was not stored."
            ));
        }
        let bytes = camera::prepare(file).await?;
        let (sha256, size) = (PhotoHash::of(&bytes), bytes.len() as u32);
        let is_stored = self.photos.put(job, sha256, bytes).await;
        let recorded = self.record(EntryKind::Photographed {
            sha256,
            bytes: size,
            on: of.on,
            step: of.step.clone(),
            fault: of.fault,
            taken,
            caption: String::new(),
            instead_of: None,
        });
        if recorded.is_none() {
            return Err("The photo was not recorded: its job is not open any more.".to_owned());
        }
        if !is_stored {
            return Err("There is no room for the photo on this phone. It is noted, and shown while this page stays open. Export the job with its photos now, then make room and take the next one: this one is then stored too.".to_owned());
        }
        Ok(format!(
            "Photo kept: {}, {}.",
            taken.word(),
            text::subject(of.on)
        ))
    }

    /// Records another caption or time of a photo.
    pub fn change_photo(self, photo: &Photo, taken: Taken, caption: String) {
        if photo.taken == taken && photo.caption == caption {
            return;
        }
        self.record(EntryKind::Photographed {
            sha256: photo.sha256,
            bytes: photo.bytes,
            on: photo.on,
            step: photo.step.clone(),
            fault: photo.fault,
            taken,
            caption,
            instead_of: Some(photo.position.id),
        });
    }

    /// Takes a photo out of the job. Undo brings it back.
    pub fn remove_photo(self, photo: &Photo) {
        // What it was changed from goes with it: an undo of the latest alone would show the one before.
        let photos = |s: &State| s.photo_versions(photo.position.id);
        let versions = self.app.with_state_untracked(photos).unwrap_or_default();
        for entry in versions {
            self.record(EntryKind::Undo { entry });
        }
    }

    /// Reads a job file in slices, once. Returns the bytes of its job, and where its photos lie, from its beginning.
    ///
    /// # Errors
    /// Returns a sentence if the browser cannot read it, if the job is larger than any, or if the user stops it.
    pub async fn read_job(self, source: &Source) -> Result<(Vec<u8>, JobParts), String> {
        let (mut scan, mut job) = (PhotosScan::new(), Vec::new());
        let (begin, end) = (source.range.start, source.range.end);
        let mut at = begin;
        while at < end {
            let until = end.min(at + SLICE);
            let bytes = files::read(&source.file, at..until).await?;
            if !scan.is_past_job() && job.len() <= MAX_BYTES {
                job.extend_from_slice(&bytes);
            }
            scan.read_on(&bytes);
            at = until;
            if at < end {
                let percent = (at - begin) as f64 / (end - begin) as f64 * 100.0;
                self.app.set_busy(LOOKING, percent as usize).await;
                if self.app.stop.get_untracked() {
                    return Err("Stopped. Nothing was opened.".to_owned());
                }
            }
        }
        let parts = scan.finish();
        if parts.job > MAX_BYTES as u64 {
            return Err(FileError::TooLarge(parts.job as usize).to_string());
        }
        job.truncate(parts.job as usize);
        if parts.has_photos {
            job.extend_from_slice(b"\n}");
        }
        Ok((job, parts))
    }

    /// Stores the photos of a job file that its job names, one at a time. Returns how many this device lacked, and
    /// sentences on what is missing or was refused.
    pub async fn take_photos(
        self,
        id: JobId,
        named: Vec<PhotoHash>,
        source: &Source,
        parts: &JobParts,
    ) -> (usize, Vec<String>) {
        if named.is_empty() {
            return (0, Vec::new());
        }
        let stored = self.photos.sizes().await;
        let mut there: Vec<PhotoHash> = stored.into_keys().collect();
        let mut refused: HashMap<PhotoError, usize> = HashMap::new();
        let (mut added, mut found_no_room) = (0, 0);
        for (at, line) in parts.lines.iter().enumerate() {
            self.app
                .set_busy(STORING_MANY, at * 100 / parts.lines.len())
                .await;
            let begin = source.range.start;
            let range = begin + line.start..begin + line.end;
            let Ok(line) = files::read(&source.file, range).await else {
                *refused.entry(PhotoError::NotALine).or_default() += 1;
                continue;
            };
            match read_photo_line(&line) {
                // One that no entry names would never be shown, nor erased.
                Ok((hash, ..)) if !named.contains(&hash) => {}
                Ok((hash, _, bytes)) => {
                    // Stored again for this job, if another has it.
                    if !self.photos.put(id, hash, bytes).await {
                        found_no_room += 1;
                    }
                    added += usize::from(!there.contains(&hash));
                    there.push(hash);
                }
                Err(error) => *refused.entry(error).or_default() += 1,
            }
        }
        let mut sentences: Vec<String> = refused
            .into_iter()
            .map(|(error, count)| match count {
                1 => format!("A photo in the file was left out. {error}"),
                n => format!("{n} photos in the file were left out. {error}"),
            })
            .collect();
        if found_no_room > 0 {
            let photos = text::counted(found_no_room, "1 photo", "photos");
            sentences.push(format!("There is no room on this phone for {photos}. Make room, then open the file again: the rest of the job is here."));
        }
        let count = named.len();
        let missing = missing_photos(named, &there).len();
        if missing > 0 {
            let why = match (parts.has_photos, parts.is_torn) {
                (_, true) => "The file breaks off in its photos",
                (true, _) => "They are not in the file",
                (false, _) => "The file was exported without photos",
            };
            sentences.push(format!("{missing} of {count} photos are missing. {why}. Everything else is here. A file with the photos can be opened later."));
        }
        (added, sentences)
    }
}
