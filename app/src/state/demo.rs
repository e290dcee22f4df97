//! The demo job: everything in it is made up, and it says so.

use evenhand_core::job::JobId;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::session::Session;
use crate::device::{self, local_time};

impl Session {
    /// Makes the demo job and opens it. A slow phone takes a second for its two thousand entries.
    pub fn open_demo(self) {
        if self.app.busy.with_untracked(Option::is_some) {
            return;
        }
        spawn_local(async move {
            self.app.show_busy("Making the demo job…", None).await;
            let id = JobId::new(device::random());
            let entries = evenhand_core::demo::entries(id, self.replica(), local_time::now_ms());
            self.add_job(id, entries);
            device::painted().await;
            self.app.busy.set(None);
        });
    }
}
