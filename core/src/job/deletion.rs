//! When a job that was deleted on a device is erased there.

/// The mark of a job that was deleted on this device, dated by a clock that never runs back.
///
/// A deletion is no entry: it stays on the device, and no job file contains one. It has no default.
///
/// ```
/// use evenhand_core::job::Deletion;
///
/// const DAY_MS: i64 = 24 * 60 * 60 * 1_000;
/// let now_ms = 1_790_000_000_000;
/// let deletion = Deletion::made(now_ms, 0);
/// assert_eq!(deletion.erased_from_ms(), now_ms + 30 * DAY_MS);
/// assert!(!deletion.is_due(now_ms + 29 * DAY_MS, false));
/// assert!(deletion.is_due(now_ms + 30 * DAY_MS, false));
/// // Work that was not exported is never erased.
/// assert!(!deletion.is_due(now_ms + 300 * DAY_MS, true));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Deletion {
    /// When the job was deleted, in milliseconds since 1970 (UTC).
    pub at_ms: i64,
}

impl Deletion {
    /// How long a deleted job can be brought back, in days.
    pub const DAYS: i64 = 30;

    /// Returns the mark of a job that is deleted now.
    ///
    /// It is dated by the wall time, or by the latest wall time that this device has seen if its clock was set
    /// back since: a phone that lost its date must not date a mark decades ago. Both are in milliseconds since
    /// 1970 (UTC).
    pub fn made(wall_ms: i64, latest_seen_ms: i64) -> Deletion {
        Deletion {
            at_ms: wall_ms.max(latest_seen_ms),
        }
    }

    /// Returns the wall time from which the job may be erased, in milliseconds since 1970 (UTC).
    pub const fn erased_from_ms(self) -> i64 {
        self.at_ms
            .saturating_add(Deletion::DAYS * 24 * 60 * 60 * 1_000)
    }

    /// Returns `true` if the job is to be erased at a wall time in milliseconds since 1970 (UTC). Never
    /// while it has work that was not exported.
    pub const fn is_due(self, wall_ms: i64, has_unexported_work: bool) -> bool {
        !has_unexported_work && wall_ms >= self.erased_from_ms()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW_MS: i64 = 1_790_000_000_000;
    const DAY_MS: i64 = 24 * 60 * 60 * 1_000;

    #[test]
    fn nothing_is_erased_before_thirty_days_whatever_the_clock_shows() {
        // The phone has lost its date when the job is deleted, and has it again a minute later.
        let lost = Deletion::made(0, NOW_MS);
        assert!(!lost.is_due(NOW_MS + 60_000, false));
        // It has lost its date since.
        let deletion = Deletion::made(NOW_MS, NOW_MS - 1);
        assert_eq!(deletion.at_ms, NOW_MS);
        assert!(!deletion.is_due(0, false));
        for day in 0..30 {
            assert!(!deletion.is_due(NOW_MS + day * DAY_MS, false), "day {day}");
        }
        assert!(!deletion.is_due(NOW_MS + 30 * DAY_MS - 1, false));
        assert!(deletion.is_due(NOW_MS + 30 * DAY_MS, false));
    }

    #[test]
    fn work_that_was_not_exported_is_never_erased() {
        let deletion = Deletion::made(NOW_MS, 0);
        assert!(!deletion.is_due(i64::MAX, true));
        assert!(!Deletion::made(i64::MAX, 0).is_due(NOW_MS, false));
    }
}
