//! What is done with files, and the demo job: a part of the program of its own, since no first screen needs it.
//!
//! As in `screens/in_parts.rs`, what `wasm_split` writes links to another file of the program, which is unsafe code.
#![allow(unsafe_code)]

use std::pin::Pin;

use leptos::prelude::*;
use leptos::task::spawn_local;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use evenhand_core::job::JobId;

use super::open_list::OpenList;
use super::session::Session;
use crate::text::NOT_LOADED;

type Work = Pin<Box<dyn Future<Output = ()>>>;
type Loaded = Result<Work, SplitLoaderError>;

/// Loads the part, so that nobody waits for it later. What fails is tried again when it is needed.
pub async fn load() {
    let _ = load_files().await;
}

impl Session {
    /// Opens files. One job file is opened at once; of more jobs a list is shown first, from which they are chosen.
    pub fn open_files(self, chosen: Option<web_sys::FileList>) {
        let chosen = chosen.into_iter();
        let chosen: Vec<web_sys::File> = chosen
            .flat_map(|list| (0..list.length()).filter_map(move |i| list.get(i)))
            .collect();
        if !chosen.is_empty() {
            spawn_local(async move { self.run(open_files(self, chosen).await).await });
        }
    }

    /// Opens the chosen lines of a list, one after the other, and then shows what became of each.
    pub fn open_chosen(self, list: OpenList, chosen: Vec<usize>) {
        self.app.open_list.set(None);
        spawn_local(async move { self.run(open_chosen(self, list, chosen).await).await });
    }

    /// Makes the demo job and opens it. A slow phone takes a second for its two thousand entries.
    pub fn open_demo(self) {
        spawn_local(async move { self.run(open_demo(self).await).await });
    }

    /// Exports jobs as one file, as a download or by the share sheet. A job is marked as exported once its file went
    /// out: not if it could not be read, the user stops, or the browser refuses the file.
    pub async fn export_jobs(self, ids: Vec<JobId>, shared: bool) {
        self.run(export_jobs(self, ids, shared).await).await;
    }

    /// Exports the open job at once, whatever screen is shown. Does not mark it as exported.
    pub fn download_open_job(self) {
        spawn_local(async move { self.run(download_open_job(self).await).await });
    }

    /// Exports the parts to order of jobs, as one table.
    pub async fn download_parts(self, ids: Vec<JobId>) {
        self.run(download_parts(self, ids).await).await;
    }

    async fn run(self, work: Loaded) {
        match work {
            Ok(work) => work.await,
            Err(_) => self.app.warn(NOT_LOADED),
        }
    }
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, preload(load_files), fallible)]
fn open_files(session: Session, chosen: Vec<web_sys::File>) -> Loaded {
    Ok(Box::pin(session.open_all(chosen)))
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, fallible)]
fn open_chosen(session: Session, list: OpenList, chosen: Vec<usize>) -> Loaded {
    Ok(Box::pin(session.open_lines(list, chosen)))
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, fallible)]
fn open_demo(session: Session) -> Loaded {
    Ok(Box::pin(session.make_demo()))
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, fallible)]
fn export_jobs(session: Session, ids: Vec<JobId>, shared: bool) -> Loaded {
    Ok(Box::pin(session.write_and_hand_out(ids, shared)))
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, fallible)]
fn download_open_job(session: Session) -> Loaded {
    Ok(Box::pin(async move { session.write_open_job() }))
}

#[wasm_split(files, wasm_split_path = ::leptos::wasm_split, fallible)]
fn download_parts(session: Session, ids: Vec<JobId>) -> Loaded {
    Ok(Box::pin(session.write_parts(ids)))
}
