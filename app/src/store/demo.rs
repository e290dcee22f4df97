//! The demo job: everything in it is invented, and it says so.

use evenhand_core::job::JobId;

use crate::desk::Desk;
use crate::device;

/// Makes the demo job and opens it.
pub fn open(desk: Desk) {
    let id = JobId::new(device::random());
    let entries = evenhand_core::demo::entries(id, desk.device(), device::now_ms());
    desk.lay_in(id, entries);
}
