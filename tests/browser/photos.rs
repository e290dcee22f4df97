//! Photos, in the built app: taken, seen large, exported, opened elsewhere, printed, killed in the middle, and refused.
//! All pictures are drawn by the test.

use std::fs;
use std::path::Path;
use std::time::Duration;

use fantoccini::wd::PrintSize;
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::engine::Engine;
use crate::main_job::{read_json, schema};
use crate::many_jobs::open_all;
use crate::outside::{accessibility_faults, schema_faults};
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::office::pages_of;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_for_count, wait_until_saved};

/// The camera's button of the pass.
pub const CAMERA: &str = ".pass .bar .take-photo input";
/// What a camera writes beside the picture, in the tests: it must be gone.
pub const PLACE: &str = "50.1234 N 14.4321 E";

/// Draws a picture, writes it as a JPEG with what a camera adds (turned by EXIF, with a place), and chooses it in a
/// field, as the camera's app would. The arguments: the field, width and height as stored, the orientation, a color.
pub const TAKE: &str = r#"
const [selector, width, height, orientation, color, place] = arguments;
return (async () => {
    const canvas = document.createElement('canvas');
    canvas.width = width; canvas.height = height;
    const c = canvas.getContext('2d');
    c.fillStyle = color; c.fillRect(0, 0, width, height);
    c.fillStyle = '#fff'; c.font = `${height / 6}px sans-serif`; c.fillText('drawn by a test', width / 20, height / 2);
    for (let i = 0; i < 400; i++) { c.fillStyle = `hsl(${i * 37 % 360} 40% 50%)`; c.fillRect((i * 97) % width, (i * 61) % height, width / 60, height / 60); }
    const jpeg = new Uint8Array(await (await new Promise(done => canvas.toBlob(done, 'image/jpeg', 0.95))).arrayBuffer());
    const text = new TextEncoder().encode(place + '\0');
    const tiff = new Uint8Array(8 + 2 + 24 + 4 + text.length);
    const view = new DataView(tiff.buffer);
    tiff.set([0x49, 0x49, 0x2a, 0], 0); view.setUint32(4, 8, true); view.setUint16(8, 2, true);
    const field = (at, tag, type, count, value) => { view.setUint16(at, tag, true); view.setUint16(at + 2, type, true); view.setUint32(at + 4, count, true); view.setUint32(at + 8, value, true); };
    field(10, 0x010e, 2, text.length, 38); field(22, 0x0112, 3, 1, orientation);
    tiff.set(text, 38);
    const exif = new Uint8Array(10 + tiff.length);
    exif.set([0xff, 0xe1]); new DataView(exif.buffer).setUint16(2, exif.length - 2);
    exif.set(new TextEncoder().encode('Exif\0\0'), 4); exif.set(tiff, 10);
    const file = new File([jpeg.slice(0, 2), exif, jpeg.slice(2)], 'photo.jpg', { type: 'image/jpeg' });
    const input = document.querySelector(selector);
    const given = new DataTransfer(); given.items.add(file);
    input.files = given.files;
    input.dispatchEvent(new Event('change', { bubbles: true }));
    return file.size;
})();
"#;

/// Chooses bytes under a name in a field. The arguments: the field, the name, the bytes as numbers.
const CHOOSE_BYTES: &str = "
const [selector, name, bytes] = arguments;
const given = new DataTransfer();
given.items.add(new File([new Uint8Array(bytes)], name, { type: 'image/jpeg' }));
const input = document.querySelector(selector);
input.files = given.files;
input.dispatchEvent(new Event('change', { bubbles: true }));
";

/// The stored photos: hash, bytes, whether what the camera wrote is in them, width and height.
pub const STORED_PHOTOS: &str = "
const [place] = arguments;
return (async () => {
const all = await indexedDB.databases();
// Opened before the app does, it would be made without its stores.
if (!all.some(d => d.name === 'evenhand-photos')) return [];
return new Promise((done, failed) => {
    const opening = indexedDB.open('evenhand-photos');
    opening.onerror = () => failed(opening.error);
    opening.onsuccess = () => {
        const database = opening.result;
        if (!database.objectStoreNames.contains('photos')) { database.close(); return done([]); }
        const store = database.transaction('photos').objectStore('photos');
        const keys = store.getAllKeys(), all = store.getAll();
        all.onsuccess = async () => {
            database.close();
            const photos = [];
            for (const [at, bytes] of all.result.entries()) {
                const text = new TextDecoder('latin1').decode(bytes);
                const image = await createImageBitmap(new Blob([bytes], { type: 'image/jpeg' }));
                const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
                const hash = [...digest].map(b => b.toString(16).padStart(2, '0')).join('');
                photos.push({ named: keys.result[at], hash, bytes: bytes.length, camera: text.includes('Exif') || text.includes(place), width: image.width, height: image.height });
            }
            done(photos);
        };
    };
});
})();
";

/// The photos that the entries of the journal name.
const NAMED: &str = "
return new Promise((done, failed) => {
    const opening = indexedDB.open('evenhand');
    opening.onerror = () => failed(opening.error);
    opening.onsuccess = () => {
        if (!opening.result.objectStoreNames.contains('entries')) { opening.result.close(); return done([]); }
        const all = opening.result.transaction('entries').objectStore('entries').getAll();
        all.onsuccess = () => { opening.result.close(); done(all.result.map(JSON.parse).filter(e => e.act === 'photographed')); };
    };
});
";

async fn take(
    browser: &Browser,
    field: &str,
    (width, height, orientation): (u32, u32, u32),
    color: &str,
) {
    browser.wait_for(field).await;
    let given = vec![
        json!(field),
        json!(width),
        json!(height),
        json!(orientation),
        json!(color),
        json!(PLACE),
    ];
    browser.run(TAKE, given).await;
}

async fn stored(browser: &Browser) -> Vec<Value> {
    let stored = browser.run(STORED_PHOTOS, vec![json!(PLACE)]).await;
    serde_json::from_value(stored).expect("a list of photos")
}

async fn named(browser: &Browser) -> Vec<Value> {
    serde_json::from_value(browser.run(NAMED, vec![]).await).expect("a list of entries")
}

/// Waits until so many images are painted.
async fn wait_for_images(browser: &Browser, selector: &str, count: usize) {
    let painted = "return [...document.querySelectorAll(arguments[0])].filter(i => i.complete && i.naturalWidth > 0).length >= arguments[1]";
    browser
        .wait_until(
            painted,
            vec![json!(format!("{selector} img")), json!(count)],
        )
        .await;
}

/// Makes a job and opens a pass of it.
async fn begin(browser: &Browser, site: &evenhand_tests::RunningSite) {
    Jobs::open(browser, site).await.make("Hall grand", "").await;
    Order(browser).begin("let_off").await;
}

#[tokio::test]
async fn a_photo_is_turned_upright_and_rid_of_what_the_camera_wrote() {
    let site = serve_release();
    let browser = Browser::phone().await;
    begin(&browser, &site).await;
    // Held upright, a camera stores it lying and says so.
    take(&browser, CAMERA, (4000, 3000, 6), "#456").await;
    wait_for_notice(&browser, "Photo kept: before, A0.").await;
    wait_until_saved(&browser).await;
    let photos = stored(&browser).await;
    assert_eq!(photos.len(), 1);
    let photo = &photos[0];
    assert_eq!(
        (&photo["width"], &photo["height"]),
        (&json!(1200), &json!(1600))
    );
    assert_eq!(
        photo["camera"],
        json!(false),
        "what the camera wrote is gone"
    );
    assert_eq!(photo["named"], photo["hash"]);
    assert!(
        photo["bytes"].as_u64().expect("a size") < 260_000,
        "{photo}"
    );
    let entries = named(&browser).await;
    assert_eq!(entries.len(), 1);
    assert_eq!(entries[0]["sha256"], photo["hash"]);
    assert_eq!(entries[0]["on"], json!({ "note": 1 }));

    // The second one of the same is from after the work, and both are on the sheet of the note, after a reload too.
    take(&browser, CAMERA, (1600, 1200, 1), "#654").await;
    wait_for_notice(&browser, "Photo kept: after, A0.").await;
    wait_until_saved(&browser).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    browser.screenshot("photos-pass").await;
    Pass(&browser).more().await;
    wait_for_images(&browser, ".sheet .thumbnails", 2).await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser
        .run(
            "document.querySelector('.photos-of').scrollIntoView()",
            vec![],
        )
        .await;
    browser.screenshot("photos-sheet").await;
}

#[tokio::test]
async fn before_and_after_are_seen_large_and_beside_each_other() {
    for (dark, name) in [(false, "light"), (true, "dark")] {
        let site = serve_release();
        let device = Device {
            dark,
            ..Device::PHONE
        };
        let browser = Browser::open(device, Profile::fresh()).await;
        begin(&browser, &site).await;
        for color in ["#345", "#a86"] {
            take(&browser, CAMERA, (1600, 1200, 1), color).await;
            let count = if color == "#345" { "before" } else { "after" };
            wait_for_notice(&browser, &format!("Photo kept: {count}")).await;
        }
        Pass(&browser).more().await;
        wait_for_images(&browser, ".sheet .thumbnails", 2).await;
        browser.tap(".thumbnails li:first-child .thumbnail").await;
        wait_for_images(&browser, ".photo-large", 1).await;
        browser.screenshot(&format!("photo-large-{name}")).await;
        assert_eq!(accessibility_faults(&browser).await, [""; 0]);

        tap_named(&browser, ".photo-view", "Before and after").await;
        wait_for_images(&browser, ".photo-pair", 2).await;
        browser.screenshot(&format!("photo-slider-{name}")).await;
        tap_named(&browser, ".photo-view", "Side by side").await;
        browser.screenshot(&format!("photo-beside-{name}")).await;
        assert_eq!(accessibility_faults(&browser).await, [""; 0]);

        // A caption is one more entry, and the photo stays the same one.
        browser.tap(".photo-about input[type=text]").await;
        browser.type_keys("moth in the punchings\u{e007}").await;
        browser
            .wait_until("return document.querySelector('.photo-view header p')?.innerText.includes('moth in the punchings')", vec![])
            .await;
        let entries = named(&browser).await;
        assert_eq!(entries.len(), 3);
        assert_eq!(stored(&browser).await.len(), 2);

        // Removed, it is gone; nothing of the other is.
        tap_named(&browser, ".photo-view", "Remove the photo").await;
        wait_for_count(&browser, ".sheet .thumbnails li", 1).await;
        wait_until_saved(&browser).await;
        browser.reload().await;
        browser.wait_for(".pass .pad").await;
        Pass(&browser).more().await;
        wait_for_count(&browser, ".sheet .thumbnails li", 1).await;
    }
}

#[tokio::test]
async fn twelve_photos_go_from_the_phone_to_the_office_and_to_paper() {
    let site = serve_release();
    let phone = Browser::phone().await;
    begin(&phone, &site).await;
    for at in 0..12 {
        take(
            &phone,
            CAMERA,
            (1200, 900, 1),
            &format!("hsl({} 40% 40%)", at * 30),
        )
        .await;
        while named(&phone).await.len() <= at {
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        // Two of each note: before and after.
        if at % 2 == 1 {
            let note = Pass(&phone).note().await;
            Pass(&phone).on_target().await;
            let other = "return document.querySelector('.note-name')?.innerText !== arguments[0]";
            phone.wait_until(other, vec![json!(note)]).await;
        }
    }
    phone.tap(".bar a.tool").await;
    phone.tap("a[href$='/handover']").await;
    wait_for_images(&phone, ".thumbnails", 12).await;
    assert!(
        phone
            .text(".with-photos")
            .await
            .starts_with("With 12 photos, ")
    );
    phone
        .run(
            "document.querySelector('.thumbnails').scrollIntoView()",
            vec![],
        )
        .await;
    phone.screenshot("photos-handover").await;
    phone.tap(".screen .reach .main").await;
    let whole = phone.download(".job.json").await;
    let file = read_json(&whole);
    assert_eq!(file["photos"].as_array().map(Vec::len), Some(12));
    assert_eq!(schema_faults(&schema(), &whole), [""; 0]);

    // Without the photos, the office is told; with them, it takes them later.
    let without = whole.with_file_name("without.job.json");
    let mut bare = file.clone();
    bare.as_object_mut().expect("an object").remove("photos");
    fs::write(&without, serde_json::to_string_pretty(&bare).expect("JSON")).expect("written");
    let office = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&office, &site).await.choose(&without).await;
    office.wait_for(".order .step").await;
    wait_for_notice(&office, "12 of 12 photos are missing.").await;
    Jobs(&office).choose(&whole).await;
    wait_for_notice(&office, ": 12 photos added.").await;
    while stored(&office).await.len() < 12 {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    office.tap("a[href$='/handover']").await;
    wait_for_images(&office, ".thumbnails", 12).await;
    office.screenshot("photos-handover-desk").await;
    office.tap("a[href$='/report']").await;
    wait_for_images(&office, ".photos-before-after", 12).await;
    for (name, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
        let pages = pages_of(&office.print(&format!("photos-report-{name}"), size).await);
        let text = pages.join("\n");
        for note in ["A0", "A♯0", "D1"] {
            assert!(
                text.contains(&format!("Before, let-off, {note}")),
                "{name}: {text}"
            );
            assert!(
                text.contains(&format!("After, let-off, {note}")),
                "{name}: {text}"
            );
        }
        // A photo stands on the page of its caption, and before beside after.
        for page in &pages {
            assert_eq!(
                page.matches("before, ").count(),
                page.matches("after, ").count(),
                "{name}: {page}"
            );
        }
    }

    // The letter shows the last pair, and stays one page.
    let letter = "location.hash = location.hash.replace('/report', '/letter')";
    office.run(letter, vec![]).await;
    wait_for_images(&office, ".letter.client", 2).await;
    office.screenshot("photos-letter").await;
    for (name, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
        let pages = pages_of(&office.print(&format!("photos-client-{name}"), size).await);
        assert_eq!(pages.len(), 1, "{pages:?}");
        assert!(pages[0].contains("After, let-off, D1"), "{pages:?}");
    }
}

#[tokio::test]
async fn two_jobs_with_photos_leave_in_one_file() {
    let site = serve_release();
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await;
    for (name, color) in [("Hall", "#345"), ("Studio", "#a86")] {
        Jobs(&phone).show().await;
        Jobs(&phone).make(name, "").await;
        Order(&phone).begin("let_off").await;
        take(&phone, CAMERA, (800, 600, 1), color).await;
        wait_for_notice(&phone, "Photo kept: before, A0.").await;
        wait_until_saved(&phone).await;
    }
    Jobs(&phone).show().await;
    phone.tap(".reminder .button").await;
    phone.tap(".screen .reach .main").await;
    let file = phone.download(".jobs.json").await;
    let office = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&office, &site).await;
    open_all(&office, &file).await;
    while stored(&office).await.len() < 2 {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    assert_eq!(named(&office).await.len(), 2);
}

#[tokio::test]
async fn what_is_no_photo_is_refused_and_the_page_lives_on() {
    let site = serve_release();
    let browser = Browser::phone().await;
    begin(&browser, &site).await;
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' onload='window.hit = 1'><script>window.hit = 1</script></svg>";
    let html = "<!doctype html><script>window.hit = 1</script>";
    let mut bomb = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    bomb.extend(30_000u32.to_be_bytes());
    bomb.extend(30_000u32.to_be_bytes());
    bomb.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
    let torn = b"\xff\xd8\xff\xe0\0\x10JFIF\0\x01\x01\0\0\x01\0\x01\0\0\xff\xc0\0\x11\x08\0\x40\0\x40\x03\x01\x22".to_vec();
    for (name, bytes, says) in [
        (
            "drawing.jpg",
            svg.as_bytes().to_vec(),
            "This picture cannot be stored.",
        ),
        (
            "page.png",
            html.as_bytes().to_vec(),
            "This picture cannot be stored.",
        ),
        ("large.png", bomb, "more than 24 megapixels"),
        ("torn.jpg", torn, "was not stored. Take it again."),
        ("empty.jpg", Vec::new(), "This picture cannot be stored."),
    ] {
        browser
            .run(CHOOSE_BYTES, vec![json!(CAMERA), json!(name), json!(bytes)])
            .await;
        wait_for_notice(&browser, says).await;
        tap_named(&browser, ".notice", "Put this away").await;
    }
    assert_eq!(named(&browser).await.len(), 0);
    assert_eq!(stored(&browser).await.len(), 0);
    assert_eq!(
        browser.run("return window.hit ?? null", vec![]).await,
        Value::Null
    );
    // The page goes on.
    Pass(&browser).on_target().await;
    Pass(&browser).wait_for_note("A♯0").await;
}

/// Writes a job file with one photo whose line is changed.
fn tampered(whole: &Path, name: &str, change: impl FnOnce(&str) -> String) -> std::path::PathBuf {
    let text = fs::read_to_string(whole).expect("the file can be read");
    let (job, photos) = text.split_once(",\n  \"photos\": [\n").expect("photos");
    let path = whole.with_file_name(name);
    let photos = change(photos);
    fs::write(&path, format!("{job},\n  \"photos\": [\n{photos}")).expect("written");
    path
}

#[tokio::test]
async fn a_hostile_file_of_photos_loses_no_reading() {
    let site = serve_release();
    let phone = Browser::phone().await;
    begin(&phone, &site).await;
    Pass(&phone).on_target().await;
    Pass(&phone).wait_for_note("A♯0").await;
    take(&phone, CAMERA, (800, 600, 1), "#345").await;
    wait_for_notice(&phone, "Photo kept").await;
    phone.tap(".bar a.tool").await;
    let whole = Order(&phone).export().await;

    let base64 = |photos: &str| {
        let begin = photos.find("\"base64\":\"").expect("base64") + 10;
        let end = begin + photos[begin..].find('"').expect("its end");
        (begin, end)
    };
    let other_hash = tampered(&whole, "other.job.json", |photos| {
        let (begin, end) = base64(photos);
        format!("{}{}{}", &photos[..begin], "iVBORw0KGgo=", &photos[end..])
    });
    let bomb = tampered(&whole, "bomb.job.json", |photos| {
        let (begin, end) = base64(photos);
        format!(
            "{}{}{}",
            &photos[..begin],
            "A".repeat(8 << 20),
            &photos[end..]
        )
    });
    let many = tampered(&whole, "many.job.json", |photos| {
        let line = photos.lines().next().expect("a line").trim_end_matches(',');
        format!("{}\n  ]\n}}", vec![line; 500].join(",\n"))
    });
    let torn = tampered(&whole, "torn.job.json", |photos| {
        photos[..photos.len() / 2].to_owned()
    });
    for (file, says, has_photo) in [
        (&other_hash, "is not the one that the job names", false),
        (&bomb, "1 of 1 photos are missing.", false),
        (&many, "", true),
        (&torn, "The file breaks off in its photos", false),
    ] {
        let office = Browser::open(Device::DESK, Profile::fresh()).await;
        Jobs::open(&office, &site).await.choose(file).await;
        office.wait_for(".order .step").await;
        if says.is_empty() {
            assert_eq!(notices(&office).await, [""; 0], "{file:?}");
        } else {
            wait_for_notice(&office, says).await;
        }
        let line = Order(&office);
        line.wait_for_line("let_off", "1 of 88").await;
        assert_eq!(
            stored(&office).await.len(),
            usize::from(has_photo),
            "{file:?}"
        );
    }
}

#[tokio::test]
async fn a_photo_that_finds_no_room_is_noted_and_shown_while_the_page_is_open() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let refuse = "{ const real = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (...given) {
            if (this.name === 'photos' && !window.healed) throw new DOMException('put there by the test', 'QuotaExceededError');
            return real.apply(this, given);
        }; }";
    browser.before_load(refuse).await;
    begin(&browser, &site).await;
    take(&browser, CAMERA, (800, 600, 1), "#345").await;
    wait_for_notice(&browser, "There is no room for the photo on this phone.").await;
    assert_eq!(
        (named(&browser).await.len(), stored(&browser).await.len()),
        (1, 0)
    );
    Pass(&browser).more().await;
    wait_for_images(&browser, ".sheet .thumbnails", 1).await;
    browser.type_keys("\u{e00c}").await;
    // With room again, the next one brings it along.
    browser.run("window.healed = true", vec![]).await;
    take(&browser, CAMERA, (800, 600, 1), "#a86").await;
    wait_for_notice(&browser, "Photo kept: after").await;
    while stored(&browser).await.len() < 2 {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

#[tokio::test]
async fn a_kill_while_a_photo_is_stored_leaves_no_torn_one() {
    let site = serve_release();
    let mut browser = Browser::phone().await;
    begin(&browser, &site).await;
    wait_until_saved(&browser).await;
    let mut shown_as_saved = 0;
    for (at, delay_ms) in [0, 15, 40, 80, 150, 300].into_iter().enumerate() {
        take(
            &browser,
            CAMERA,
            (2400, 1800, 1),
            &format!("hsl({} 50% 40%)", at * 60),
        )
        .await;
        tokio::time::sleep(Duration::from_millis(delay_ms)).await;
        let saved = "return document.querySelector('.saved')?.innerText === 'saved' && [...document.querySelectorAll('.notice p')].some(n => n.innerText.startsWith('Photo kept'))";
        if browser.run(saved, vec![]).await == json!(true) {
            shown_as_saved += 1;
        }
        let url = browser.run("return location.href", vec![]).await;
        let profile = browser.kill();
        browser = Browser::open(Device::PHONE, profile).await;
        browser.go_to(url.as_str().expect("an address")).await;
        browser.wait_for(".pass .pad").await;
        let (photos, entries) = (stored(&browser).await, named(&browser).await);
        for photo in &photos {
            assert_eq!(photo["named"], photo["hash"], "none is torn");
        }
        for entry in &entries {
            let is_there = photos.iter().any(|p| p["hash"] == entry["sha256"]);
            assert!(is_there, "an entry is on the disk only after its photo");
        }
        assert!(
            entries.len() >= shown_as_saved,
            "what was shown as saved is there"
        );
    }
    // What is left goes out whole.
    let count = named(&browser).await.len();
    browser.tap(".bar a.tool").await;
    let file = read_json(&Order(&browser).export().await);
    let photos = file["photos"].as_array().map_or(0, Vec::len);
    assert_eq!(photos, count);
}

async fn in_engine(engine: Engine) {
    let site = serve_release();
    let browser = Browser::open_in(engine, Device::PHONE, Profile::fresh()).await;
    begin(&browser, &site).await;
    take(&browser, CAMERA, (2000, 1500, 6), "#456").await;
    wait_for_notice(&browser, "Photo kept: before, A0.").await;
    wait_until_saved(&browser).await;
    let photos = stored(&browser).await;
    assert_eq!(
        (&photos[0]["width"], &photos[0]["height"]),
        (&json!(1200), &json!(1600))
    );
    assert_eq!(photos[0]["camera"], json!(false));
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    Pass(&browser).more().await;
    wait_for_images(&browser, ".sheet .thumbnails", 1).await;
}

#[tokio::test]
async fn a_photo_is_taken_in_firefox() {
    in_engine(Engine::Firefox).await;
}

#[tokio::test]
async fn a_photo_is_taken_in_webkit() {
    in_engine(Engine::WebKit).await;
}
