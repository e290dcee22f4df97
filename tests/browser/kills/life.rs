//! One phone with its jobs, that lives through any number of deaths in a pass.

use std::collections::BTreeMap;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use evenhand_core::job::PhotoHash;
use serde_json::{Value, json};

use super::acts::{self, Act, How};
use super::rows::{ROWS, Row, assert_kept, rows_again, rows_in, work_in};
use super::{Kind, Tally, Variant, name_of};
use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::draw::Draw;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::{Pass, WAY_TO};
use crate::photos::{CAMERA, PLACE, STORED_PHOTOS, TAKE};

const CLOCK_BACK: &str = "const now = Date.now; Date.now = () => now() - 3600000;";

/// Holds the store for a quarter of a second again and again.
const HOLD: &str = "
    const hold = () => {
        const open = indexedDB.open('evenhand');
        open.onsuccess = () => {
            const until = performance.now() + 250;
            const store = open.result.transaction('entries', 'readwrite').objectStore('entries');
            const again = () => { if (performance.now() < until) store.get('').onsuccess = again; };
            again();
            store.transaction.oncomplete = () => { open.result.close(); setTimeout(hold, 50); };
        };
    };
    hold();
";

/// What a script may speak of when it says what the screen shows.
const SEEN: &str = "
    const caption = document.querySelector('.caption')?.innerText ?? '';
    const saved = document.querySelector('.saved')?.innerText === 'saved';
";

/// Asks for a newer release, and waits for nothing.
const LOOK_FOR_NEWER: &str =
    "navigator.serviceWorker.getRegistration().then(r => r.update()).catch(() => {});";

/// A job that is worked on, and all that the journal holds of the work.
#[derive(Default)]
struct Track {
    place: String,
    done: Vec<Value>,
}

impl Track {
    fn job(&self) -> &str {
        self.place.split('/').nth(1).expect("a job's place")
    }
}

/// When the program is killed.
pub struct Death {
    at: Instant,
    killer: JoinHandle<()>,
}

impl Death {
    /// After a while, at a random moment of it; of a tab first if it is discarded.
    pub fn within(browser: &Browser, most: Duration, discards: bool, draw: &mut Draw) -> Self {
        let time = Duration::from_micros(draw.below(most.as_micros() as u64));
        let killer = match discards {
            true => browser.kill_tab_after(time),
            false => browser.kill_after(time),
        };
        Self {
            at: Instant::now() + time,
            killer,
        }
    }

    /// Waits for it. `gone`: the browser does not answer any more.
    ///
    /// # Panics
    /// The browser is gone and was not killed.
    pub fn wait(self, gone: bool, what: &str) {
        let early = gone && Instant::now() < self.at;
        assert!(!early, "{what}: the browser failed before it was killed");
        self.killer.join().expect("the killer has done its work");
    }
}

/// What the screen had shown before a death.
pub struct Shown {
    /// How many acts of the job were shown as saved.
    pub count: usize,
    /// The records of the job at such a moment.
    rows: Vec<Row>,
    /// What was done, shown or not.
    done: Vec<Value>,
}

/// A phone with its jobs, one for each kind of work.
pub struct Life {
    pub url: String,
    browser: Option<Browser>,
    tracks: BTreeMap<Kind, Track>,
    /// All records that were found after the last death.
    rows: Vec<Row>,
}

impl Life {
    pub fn new(url: String) -> Self {
        Self {
            url,
            browser: None,
            tracks: BTreeMap::new(),
            rows: Vec::new(),
        }
    }

    /// The browser, opened if none is.
    pub async fn browser(&mut self) -> &Browser {
        if self.browser.is_none() {
            let browser = Browser::open(Device::PHONE, Profile::fresh()).await;
            browser.go_to(&self.url).await;
            browser.wait_for("a[href='#/new']").await;
            self.browser = Some(browser);
        }
        self.browser.as_ref().expect("a browser")
    }

    /// Works until the program is killed, and looks at what is there when it is started again.
    pub async fn kill_once(
        &mut self,
        kind: Kind,
        variant: Variant,
        draw: &mut Draw,
        tally: &mut Tally,
        what: &str,
    ) {
        let began = self.begin(kind).await;
        let shown = self.work(kind, variant, draw, what).await;
        self.restart(&self.url.clone()).await;
        let stored = self.look(kind, &shown, what).await;
        tally.count(shown.count - began, stored - shown.count);
    }

    /// Opens the pass of a kind of work, in a new job if there is none or it is used up. Returns how much was done in
    /// it.
    pub async fn begin(&mut self, kind: Kind) -> usize {
        self.browser().await;
        let browser = self.browser.as_ref().expect("a browser");
        let track = self.tracks.entry(kind).or_default();
        if track.place.is_empty() || !acts::has_room(kind, &track.done) {
            Jobs(browser).show().await;
            Jobs(browser).make("Battery", acts::BREAKS).await;
            Order(browser).begin(acts::step(kind)).await;
            let place = browser.run("return location.hash", vec![]).await;
            track.place = place.as_str().unwrap_or_default().to_owned();
            track.done.clear();
        } else {
            Pass(browser).reopen(&self.url, &track.place).await;
        }
        Pass(browser).wait_until_saved().await;
        track.done.len()
    }

    /// Does one act after the other until the browser is gone.
    pub async fn work(
        &mut self,
        kind: Kind,
        variant: Variant,
        draw: &mut Draw,
        what: &str,
    ) -> Shown {
        let track = &self.tracks[&kind];
        let browser = self.browser.as_ref().expect("a browser");
        match variant {
            Variant::ClockBack => drop(browser.run(CLOCK_BACK, vec![]).await),
            Variant::Delayed => drop(browser.run(HOLD, vec![]).await),
            _ => {}
        }
        if kind == Kind::Update {
            browser.run(LOOK_FOR_NEWER, vec![]).await;
        }
        let most = match kind {
            Kind::Photo | Kind::Update => Duration::from_millis(2_500),
            _ => Duration::from_millis(1_500),
        };
        let reload = (variant == Variant::Reloaded).then(|| draw.below(4) as usize);
        // A newer release is taken after so many acts, if it is announced by then.
        let takes = (kind == Kind::Update).then(|| draw.below(8) as usize);
        let death = Death::within(browser, most, variant == Variant::Discarded, draw);
        let mut shown = Shown {
            count: track.done.len(),
            rows: Vec::new(),
            done: track.done.clone(),
        };
        // How much was done before the page was loaded.
        let mut began = track.done.len();
        let mut gone = false;
        for at in 0..acts::OF_A_VISIT {
            let again = match (reload == Some(at), takes.is_some_and(|after| at >= after)) {
                (true, _) => browser.try_run(RELOAD).await.map(|_| true),
                (_, true) => take_newer(browser).await,
                _ => Some(false),
            };
            let went_on = match again {
                Some(true) => {
                    let back = self.come_back(kind, &mut shown, what).await;
                    began = shown.done.len();
                    back
                }
                again => again.map(drop),
            };
            gone = went_on.is_none();
            let Some(act) = acts::next(kind, &shown.done, began, draw).filter(|_| !gone) else {
                break;
            };
            let did = self.act(&act, &mut shown, kind, track.job(), draw).await;
            gone = did.is_none();
            if gone {
                break;
            }
        }
        death.wait(gone, what);
        shown
    }

    /// After the page was loaded again: what was not shown as saved may be lost, and the work goes on from what is there.
    async fn come_back(&self, kind: Kind, shown: &mut Shown, what: &str) -> Option<()> {
        let browser = self.browser.as_ref().expect("a browser");
        let back = format!(
            "{SEEN} return !window.before && saved && document.querySelector('.pass .pad') !== null"
        );
        while browser.try_run(&back).await? != json!(true) {}
        let job = json!(self.tracks[&kind].job());
        let there = rows_in(browser.try_ask(ROWS, vec![job]).await?);
        assert_kept(&shown.rows, &there, what);
        let there = work_in(&there, what);
        assert!(there.len() >= shown.count, "{what}: lost by a reload");
        assert_eq!(shown.done[..there.len()], there[..], "{what}");
        shown.done = there;
        Some(())
    }

    /// Does one act, and glances at the screen; `None` once the browser is gone.
    async fn act(
        &self,
        act: &Act,
        shown: &mut Shown,
        kind: Kind,
        job: &str,
        draw: &mut Draw,
    ) -> Option<()> {
        let browser = self.browser.as_ref().expect("a browser");
        if let Some(note) = act.note {
            let to = vec![json!(note), json!(name_of(note))];
            // A tap may miss where something above the strip comes or goes; what is typed must go to that note.
            // A slow page gets some looks before the next tap.
            const LOOKS: usize = 20;
            for look in 0.. {
                let way = browser.try_ask(WAY_TO, to.clone()).await?;
                let Some((x, y)) = way[0].as_f64().zip(way[1].as_f64()) else {
                    break;
                };
                if look % LOOKS == 0 {
                    browser.try_tap_at(x, y).await?;
                    let taps = look / LOOKS + 1;
                    assert!(taps < 12, "{} cannot be reached", name_of(note));
                }
            }
        }
        // From here on it may have been taken.
        shown.done.push(act.stored.clone());
        match &act.how {
            How::Keys(keys) => browser.try_type_keys(keys).await?,
            How::Tap(selector) => browser.try_tap(selector).await?,
            How::Photo(color) => {
                let (size, place) = ([json!(1600), json!(1200), json!(1)], json!(PLACE));
                let mut given = vec![json!(CAMERA)];
                given.extend(size);
                given.extend([json!(color), place]);
                browser.try_ask(TAKE, given).await?;
            }
        }
        // With the screen, the records at that moment are looked at now and then.
        let looks_deep = draw.below(3) == 0;
        let glance = format!(
            "{SEEN} if (!(saved && {})) return null; if (!{looks_deep}) return []; {ROWS}",
            act.shown_by
        );
        // Sometimes a glance, sometimes a longer look, so that death comes at any moment of a write. The next photo waits
        // for the one before.
        let patience = draw.below(6);
        let mut looks = 0;
        while looks <= patience || kind == Kind::Photo {
            let seen = browser.try_ask(&glance, vec![json!(job)]).await?;
            if !seen.is_null() {
                shown.count = shown.done.len();
                if looks_deep {
                    shown.rows = rows_in(seen);
                }
                break;
            }
            looks += 1;
        }
        Some(())
    }

    /// Ends what is left of the dead browser, and opens the app again.
    pub async fn restart(&mut self, url: &str) {
        let dead = self.browser.take().expect("a browser");
        let browser = Browser::open(Device::PHONE, dead.kill()).await;
        browser.go_to(url).await;
        self.browser = Some(browser);
    }

    /// Looks at what is there after a death. Returns how many acts of the job are.
    pub async fn look(&mut self, kind: Kind, shown: &Shown, what: &str) -> usize {
        let browser = self.browser.as_ref().expect("a browser");
        let track = self.tracks.get_mut(&kind).expect("a track");
        Pass(browser).reopen(&self.url, &track.place).await;
        let all = rows_again(browser, &self.rows).await;
        assert_kept(&self.rows, &all, what);
        let of_job = format!("{}/", track.job());
        let own = all.iter().filter(|(key, _)| key.starts_with(&of_job));
        let own: Vec<Row> = own.cloned().collect();
        assert!(
            own.starts_with(&shown.rows),
            "{what}: what was there when the screen said saved is not what the journal begins with"
        );
        let there = work_in(&own, what);
        assert!(
            there.len() >= shown.count,
            "{what}: {} acts were shown as saved, {} are there: {there:?} of {:?}",
            shown.count,
            there.len(),
            shown.done
        );
        assert!(shown.done.len() >= there.len(), "{what}: {there:?}");
        assert_eq!(shown.done[..there.len()], there[..], "{what}");
        // The program says of them what is stored.
        let says = format!("{SEEN} return saved && {}", acts::shown(kind, &there));
        browser.wait_until(&says, vec![]).await;
        assert_eq!(browser.count(".notice.trouble").await, 0, "{what}");
        if kind == Kind::Photo {
            photos_are_whole(browser, &own, what).await;
        }
        (track.done, self.rows) = (there, all);
        track.done.len()
    }
}

const RELOAD: &str = "window.before = true; location.reload()";

/// Takes the newer release if it is announced; the page is loaded again then. Returns whether it is.
async fn take_newer(browser: &Browser) -> Option<bool> {
    let announced = "const there = document.querySelector('.newer button') !== null; \
        if (there) window.before = true; return there";
    let announced = browser.try_run(announced).await? == json!(true);
    if announced {
        browser.try_tap(".newer button").await?;
    }
    Some(announced)
}

/// Each photo that an entry names is stored, under the hash of its bytes.
async fn photos_are_whole(browser: &Browser, rows: &[Row], what: &str) {
    let photos = browser.run(STORED_PHOTOS, vec![json!(PLACE)]).await;
    let photos: Vec<Value> = serde_json::from_value(photos).expect("a list of photos");
    for photo in &photos {
        assert_eq!(photo["named"], photo["hash"], "{what}: a photo is torn");
    }
    for (_, line) in rows {
        let entry: Value = serde_json::from_str(line).expect("an entry");
        if entry["act"] == "photographed" {
            let hash: PhotoHash = serde_json::from_value(entry["sha256"].clone()).expect("a hash");
            let hash = json!(hash.to_string());
            let is_there = photos.iter().any(|photo| photo["hash"] == hash);
            assert!(is_there, "{what}: the photo of {line} is not there");
        }
    }
}
