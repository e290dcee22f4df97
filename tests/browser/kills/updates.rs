//! A newer release that is being fetched, or taken, when the program is killed: the app starts, with a network or
//! without, as one release and the whole of it.

use std::collections::BTreeMap;
use std::fs;

use evenhand_core::job::PhotoHash;
use evenhand_tests::{RunningSite, Site};
use serde_json::Value;
use tempfile::TempDir;

use super::life::Life;
use super::{Kind, Tally, Variant};
use crate::browser::Browser;
use crate::draw::Draw;
use crate::offline::{copy_of_release, copy_release_to, release_anew, wait_until_kept};

/// A phone whose host has a newer release before each death.
pub struct Updates {
    folder: TempDir,
    site: Option<RunningSite>,
    life: Life,
    /// The files of each release by the number that its page says: the hash of each by its name.
    releases: BTreeMap<String, BTreeMap<String, String>>,
    number: u64,
}

/// The number of the release that is shown; empty for the one that the build left.
const NUMBER: &str = "return document.body.dataset.newer ?? ''";

/// Each file that is kept of the release in use, with the hash of what is kept.
const KEPT: &str = "
    return (async () => {
        const names = await caches.keys();
        const choice = await caches.open(names.find(name => name.endsWith(' choice')));
        const [note] = await choice.keys();
        const cache = await caches.open(await (await choice.match(note)).text());
        const kept = {};
        for (const request of await cache.keys()) {
            const bytes = await (await cache.match(request)).arrayBuffer();
            const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
            const name = request.url.replace(/.*\\//, '') || 'index.html';
            kept[name] = [...digest].map(b => b.toString(16).padStart(2, '0')).join('');
        }
        return kept;
    })();
";

impl Updates {
    pub fn new() -> Self {
        let folder = copy_of_release();
        let site = Site::of(folder.path()).start();
        let site = site.expect("the release is served");
        Self {
            life: Life::new(site.url()),
            releases: BTreeMap::from([(String::new(), hashes(&folder))]),
            folder,
            site: Some(site),
            number: 90_000_000_000,
        }
    }

    pub async fn kill_once(&mut self, draw: &mut Draw, tally: &mut Tally, what: &str) {
        wait_until_kept(self.life.browser().await).await;
        let began = self.life.begin(Kind::Update).await;
        let before = number(self.life.browser().await).await;
        self.number += 1;
        copy_release_to(self.folder.path());
        release_anew(self.folder.path(), &self.number.to_string());
        let newest = self.number.to_string();
        self.releases.insert(newest.clone(), hashes(&self.folder));

        let plain = Variant::Plain;
        let shown = self.life.work(Kind::Update, plain, draw, what).await;

        let offline = draw.below(2) == 0;
        let url = self.life.url.clone();
        let port = self.site.as_ref().expect("a site").port();
        if offline {
            self.site = None;
        }
        let what = &format!("{what}, started without a network: {offline}");
        self.life.restart(&url).await;
        let stored = self.life.look(Kind::Update, &shown, what).await;
        let browser = self.life.browser().await;
        let now = number(browser).await;
        // The one before it may have been waiting since an earlier death, and have been taken.
        assert!(
            before <= now && now <= newest,
            "{what}: from release {before} to {now}, where the newest is {newest}"
        );
        // Each file of the one that runs is its own, and none is missing.
        let kept = browser.run(KEPT, vec![]).await;
        let kept: BTreeMap<String, String> = serde_json::from_value(kept).expect("hashes by name");
        let own = self.releases.get(&now).expect("a release of this host");
        for (name, hash) in &kept {
            assert_eq!(Some(hash), own.get(name), "{what}: {name} of release {now}");
        }
        let missing: Vec<&String> = own.keys().filter(|n| !kept.contains_key(*n)).collect();
        assert_eq!(missing, Vec::<&String>::new(), "{what}: release {now}");
        tally.count(shown.count - began, stored - shown.count);
        tally.taken += usize::from(now != before);
        if offline {
            let site = Site::of(self.folder.path()).port(port).start();
            self.site = Some(site.expect("the release is served"));
        }
    }
}

async fn number(browser: &Browser) -> String {
    let number: Value = browser.run(NUMBER, vec![]).await;
    number.as_str().unwrap_or_default().to_owned()
}

/// The hash of each file that a release keeps on the phone.
fn hashes(folder: &TempDir) -> BTreeMap<String, String> {
    let mut hashes = BTreeMap::new();
    for file in fs::read_dir(folder.path()).expect("the release") {
        let path = file.expect("a file").path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name != "sw.js" && !name.ends_with(".png") && !name.ends_with(".schema.json") {
            let bytes = fs::read(&path).expect("a file");
            hashes.insert(name.into_owned(), PhotoHash::of(&bytes).to_string());
        }
    }
    hashes
}
