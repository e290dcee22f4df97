//! The user's preferences on this device, for every job.

use std::collections::BTreeMap;

use evenhand_core::analysis::kept_kind::{acts, kind_of, lines};
use evenhand_core::job::{Details, EntryKind, Setup};

use super::local_storage::{get, set};

/// Which colors the screens have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// As the device is set.
    #[default]
    Device,
    /// Paper.
    Light,
    /// Ebony.
    Dark,
}

/// The order in which a pass goes through the notes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NoteOrder {
    /// From the bass up.
    #[default]
    Up,
    /// From the treble down.
    Down,
    /// The naturals, then the sharps.
    NaturalsFirst,
    /// The sample notes.
    Samples,
    /// Those that were out when it was chosen.
    OnlyOut,
    /// Those that were disturbed when it was chosen.
    OnlyAgain,
}

/// The user's preferences on this device, for every job.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Preferences {
    /// New jobs begin with inches.
    pub inches: bool,
    /// The pad is mirrored for the left hand.
    pub left_hand: bool,
    /// The colors.
    pub theme: Theme,
    /// Readings are said aloud.
    pub speech: bool,
    /// The phone does not vibrate.
    pub still: bool,
    /// How a pass begins.
    pub order: NoteOrder,
    /// How many times the note strip is drawn wider than the screen, less one.
    pub zoom: u8,
}

impl Preferences {
    /// Returns the preferences stored on this device.
    pub fn load() -> Preferences {
        let words: String = get("preferences").unwrap_or_default();
        let mut preferences = Preferences::default();
        for word in words.split(' ') {
            match word {
                "inches" => preferences.inches = true,
                "left" => preferences.left_hand = true,
                "light" => preferences.theme = Theme::Light,
                "dark" => preferences.theme = Theme::Dark,
                "speech" => preferences.speech = true,
                "still" => preferences.still = true,
                "down" => preferences.order = NoteOrder::Down,
                "naturals" => preferences.order = NoteOrder::NaturalsFirst,
                "wide" => preferences.zoom = 1,
                "widest" => preferences.zoom = 2,
                _ => {}
            }
        }
        preferences
    }

    /// Stores them: a word for each that differs from its default.
    pub fn save(&self) {
        let theme = match self.theme {
            Theme::Device => "",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let order = match self.order {
            NoteOrder::Down => "down",
            NoteOrder::NaturalsFirst => "naturals",
            _ => "",
        };
        let on = |on: bool, word| if on { word } else { "" };
        let words = [
            on(self.inches, "inches"),
            on(self.left_hand, "left"),
            theme,
            on(self.speech, "speech"),
            on(self.still, "still"),
            order,
            ["", "wide", "widest"][usize::from(self.zoom.min(2))],
        ];
        set("preferences", &words.join(" "));
    }

    /// Applies the theme and the hand to the page's styles.
    pub fn apply(&self) {
        let Some(page) = leptos::prelude::document().document_element() else {
            return;
        };
        let theme = match self.theme {
            Theme::Device => "device",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let hand = if self.left_hand { "left" } else { "right" };
        // Both names are valid, so neither can be refused.
        let _ = page.set_attribute("data-theme", theme);
        let _ = page.set_attribute("data-hand", hand);
    }
}

/// Returns the two keys of a pedal or remote: for good or on target and on, and for out and on.
pub fn pedal_keys() -> [String; 2] {
    get("pedal-keys").unwrap_or_else(|| ["PageDown", "PageUp"].map(str::to_owned))
}

/// Stores the two keys of a pedal or remote.
pub fn set_pedal_keys(keys: &[String; 2]) {
    set("pedal-keys", keys);
}

/// Returns whether job files are exported without their photos.
pub fn leaves_photos_out() -> bool {
    get("without-photos").unwrap_or(false)
}

/// Stores whether job files are exported without their photos.
pub fn set_leaves_photos_out(without: bool) {
    set("without-photos", &without);
}

/// Returns when the working day begins and ends, in minutes after midnight. `None` if it was not set.
pub fn working_day() -> Option<(i64, i64)> {
    get("working-day")
}

/// Stores the working day, in minutes after midnight.
pub fn set_working_day(hours: (i64, i64)) {
    set("working-day", &hours);
}

/// Returns the days off, a bit for each day of the week from Sunday; Sunday if none was set.
pub fn days_off() -> u8 {
    get("days-off").unwrap_or(1)
}

/// Stores the days off, a bit for each day of the week from Sunday.
pub fn set_days_off(days: u8) {
    set("days-off", &days);
}

/// Returns whether the plan of a job begins after the other jobs in work; it begins now if it was not set.
pub fn plans_after_others() -> bool {
    get("after-others").unwrap_or(false)
}

/// Stores whether the plan of a job begins after the other jobs in work.
pub fn set_plans_after_others(after: bool) {
    set("after-others", &after);
}

/// Returns whether tables begin with the mark by which a spreadsheet knows their letters; they do at first.
pub fn tables_have_mark() -> bool {
    get("table-mark").unwrap_or(true)
}

/// Stores whether tables begin with the mark.
pub fn set_tables_have_mark(have: bool) {
    set("table-mark", &have);
}

/// Returns whether a hint was shown and put away on this device.
pub fn is_hint_seen(hint: &str) -> bool {
    seen_hints().iter().any(|seen| seen == hint)
}

/// Stores that a hint was put away.
pub fn set_hint_seen(hint: &str) {
    let mut seen = seen_hints();
    seen.push(hint.to_owned());
    set("hints", &seen);
}

fn seen_hints() -> Vec<String> {
    get("hints").unwrap_or_default()
}

/// Returns the technician who works on this device. `None` if it was not said.
pub fn technician() -> Option<String> {
    get("technician").filter(|name: &String| !name.is_empty())
}

/// Stores the technician who works on this device.
pub fn set_technician(name: &str) {
    set("technician", name);
}

/// Returns the head of the letters: the workshop's name and address, in lines.
pub fn letterhead() -> String {
    get("letterhead").unwrap_or_default()
}

/// Stores the head of the letters.
pub fn set_letterhead(lines: &str) {
    set("letterhead", lines);
}

/// Returns the acts that give a new job this technician's usual prices; none if no prices were typed yet.
pub fn usual_prices() -> Vec<EntryKind> {
    let lines: Vec<String> = get("prices").unwrap_or_default();
    acts(&lines)
}

/// Stores the prices of a job as the usual ones; parts that it does not have keep theirs.
pub fn keep_prices(details: &Details, prices: BTreeMap<String, u32>) {
    let mut all = BTreeMap::new();
    for act in usual_prices() {
        if let EntryKind::Setup { set } = act {
            all.extend(set.part_prices_cents.into_iter().flatten());
        }
    }
    all.extend(prices);
    let details = Details {
        travel_cents: details.travel_cents,
        tax_percent_hundredths: details.tax_percent_hundredths,
        valid_days: details.valid_days,
        ..Details::default()
    };
    let setup = Setup {
        part_prices_cents: Some(all),
        ..Setup::default()
    };
    let kept = vec![
        EntryKind::Details {
            set: Box::new(details),
        },
        EntryKind::Setup {
            set: Box::new(setup),
        },
    ];
    set("prices", &lines(kept));
}

/// Returns the user's own kinds of job, each as the lines of what a job of it begins with.
pub fn own_kinds() -> Vec<Vec<String>> {
    get("kinds").unwrap_or_default()
}

/// Stores a kind of job in place of the one with its name.
pub fn keep_kind(kept: Vec<String>) {
    let name = kind_of(&acts(&kept)).map(|kind| kind.name.clone());
    let mut kinds = without_kind(&name.unwrap_or_default());
    kinds.push(kept);
    set("kinds", &kinds);
}

/// Forgets a kind of job by its name. Jobs of it stay as they are.
pub fn forget_kind(name: &str) {
    set("kinds", &without_kind(name));
}

fn without_kind(name: &str) -> Vec<Vec<String>> {
    let mut kinds = own_kinds();
    kinds.retain(|lines| kind_of(&acts(lines)).is_none_or(|kind| kind.name != name));
    kinds
}
