//! The demo job: everything in it is made up, and it says so.

use evenhand_core::job::JobId;
use leptos::prelude::*;

use super::session::Session;
use crate::device::{self, local_time};

impl Session {
    /// Does [`Session::open_demo`].
    pub(super) async fn make_demo(self) {
        if self.app.busy.with_untracked(Option::is_some) {
            return;
        }
        self.app.show_busy("Making the demo job…", None).await;
        let id = JobId::new(device::random());
        let entries = evenhand_core::demo::entries(id, self.replica(), local_time::now_ms());
        self.add_job(id, entries);
        device::painted().await;
        self.app.busy.set(None);
    }
}
