//! The photos of a job.

use std::collections::{BTreeMap, HashSet};

use super::{Photo, State};
use crate::job::{EntryId, MAX_PHOTOS, PhotoHash, Subject, Taken};
use crate::trade::{Stage, StepId};

impl State {
    /// Returns the photos that are neither taken back nor replaced, in log order; at most [`MAX_PHOTOS`].
    pub fn photos(&self) -> impl DoubleEndedIterator<Item = &Photo> {
        let alive = || self.photos.iter().filter(|p| p.alive);
        let replaced: HashSet<EntryId> = alive().filter_map(|p| p.instead_of).collect();
        let shown: Vec<&Photo> = alive()
            .filter(|p| !replaced.contains(&p.position.id))
            .take(MAX_PHOTOS)
            .collect();
        shown.into_iter()
    }

    /// Returns the hashes of all photos that the job ever named, also of those that were taken back, since an undo may
    /// bring them back; each once, in order.
    pub fn photo_hashes(&self) -> Vec<PhotoHash> {
        let mut hashes: Vec<PhotoHash> = self.photos.iter().map(|p| p.sha256).collect();
        hashes.sort_unstable();
        hashes.dedup();
        hashes
    }

    /// Returns the photo that an entry recorded; `None` if it recorded none, or was taken back.
    pub fn photo(&self, id: EntryId) -> Option<&Photo> {
        let mut photos = self.photos.iter();
        photos.find(|p| p.position.id == id && p.alive)
    }

    /// Returns the photos that go with a job file, each once, and about how many bytes they take there.
    pub fn photos_in_file(&self) -> (Vec<PhotoHash>, usize) {
        let photos = self.photos().map(|p| (p.sha256, p.bytes as usize));
        let each: BTreeMap<PhotoHash, usize> = photos.collect();
        let bytes: usize = each.values().sum();
        // Base64 takes four characters for three bytes.
        (each.into_keys().collect(), bytes / 3 * 4)
    }

    /// Returns the entries that recorded a photo: its own, and those that it took the place of, the latest first.
    pub fn photo_versions(&self, id: EntryId) -> Vec<EntryId> {
        let mut versions = Vec::new();
        let mut next = Some(id);
        // Each is earlier than the one before, so this ends.
        while let Some(photo) = next.and_then(|id| self.photo(id)) {
            versions.push(photo.position.id);
            next = photo.instead_of;
        }
        versions
    }

    /// Returns what a new photo most likely shows: what was before the work, unless the step is of the final check, or a
    /// photo of the same from before is there.
    pub fn photo_time(&self, step: Option<&StepId>, on: Subject) -> Taken {
        let is_before =
            |p: &Photo| p.on == on && p.step.as_ref() == step && p.taken == Taken::Before;
        let is_last = step.and_then(|id| self.step(id.as_str()));
        let is_last = is_last.is_some_and(|step| step.stage == Stage::FinalCheck);
        match is_last || self.photos().any(is_before) {
            true => Taken::After,
            false => Taken::Before,
        }
    }

    /// Returns the pairs of a photo from before and one from after, of the same step, subject and fault, in the order of
    /// the log; the latest of each is taken.
    pub fn photo_pairs(&self) -> Vec<(&Photo, &Photo)> {
        let all: Vec<&Photo> = self.photos().collect();
        let of = |p: &Photo| (p.on, p.step.clone(), p.fault);
        let latest = |of_photo: &Photo, taken| {
            all.iter()
                .rfind(|p| p.taken == taken && of(p) == of(of_photo))
                .copied()
        };
        let before = all.iter().filter(|p| p.taken == Taken::Before);
        before
            .filter_map(|p| {
                let is_latest = latest(p, Taken::Before)?.position == p.position;
                Some((*p, latest(p, Taken::After).filter(|_| is_latest)?))
            })
            .collect()
    }
}
