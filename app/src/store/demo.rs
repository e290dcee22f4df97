//! The demo job: everything in it is invented, and it says so.

use evenhand_core::job::JobId;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::desk::Desk;
use crate::device;

/// Makes the demo job and opens it. A slow phone takes a second for its two thousand entries.
pub fn open(desk: Desk) {
    if desk.busy.with_untracked(Option::is_some) {
        return;
    }
    spawn_local(async move {
        desk.is_busy("Making the demo job…", None).await;
        let id = JobId::new(device::random());
        let entries = evenhand_core::demo::entries(id, desk.device(), device::now_ms());
        desk.lay_in(id, entries);
        device::painted().await;
        desk.busy.set(None);
    });
}
