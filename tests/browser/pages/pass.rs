//! One step through the notes.

use std::time::Duration;

use serde_json::{Value, json};

use super::tap_named;
use crate::browser::Browser;

/// A pass that is open.
pub struct Pass<'a>(pub &'a Browser);

impl Pass<'_> {
    /// Taps a key of the pad.
    pub async fn key(&self, key: &str) {
        self.0.tap(&format!(".pad [data-key='{key}']")).await;
    }

    /// Taps the digits of a reading, then Enter.
    pub async fn type_and_enter(&self, digits: &str) {
        for digit in digits.chars() {
            self.key(&digit.to_string()).await;
        }
        self.key("enter").await;
    }

    /// Taps the chip that repeats the target.
    pub async fn on_target(&self) {
        self.0.tap(".chips .target").await;
    }

    /// Taps the chip with this value, if there is one now.
    pub async fn repeat(&self, value: &str) -> bool {
        let place = "return [...document.querySelectorAll('.chips button')].findIndex(b => b.innerText === arguments[0]) + 1";
        let place = self.0.run(place, vec![json!(value)]).await;
        match place.as_u64() {
            Some(place) if place > 0 => {
                self.0.tap(&format!(".chips > :nth-child({place})")).await;
                true
            }
            _ => false,
        }
    }

    /// The name of the note in hand.
    pub async fn note(&self) -> String {
        self.0.text(".note-name").await
    }

    /// Waits until a note is in hand.
    pub async fn wait_for_note(&self, name: &str) {
        let there = "return document.querySelector('.note-name')?.innerText === arguments[0]";
        self.0.wait_until(there, vec![json!(name)]).await;
    }

    /// The large number: what is typed, or was read.
    pub async fn reading(&self) -> String {
        self.0.text(".value output").await
    }

    /// The verdict in words.
    pub async fn verdict(&self) -> String {
        self.0.text(".said").await
    }

    /// What the message below the reading says.
    pub async fn message(&self) -> String {
        self.0.text(".message").await
    }

    /// Waits until the message below the reading says so.
    pub async fn wait_for_message(&self, says: &str) {
        let said = "return document.querySelector('.message')?.innerText.includes(arguments[0])";
        self.0.wait_until(said, vec![json!(says)]).await;
    }

    /// Taps what says that the correction was made.
    pub async fn turned(&self) {
        self.0.tap(".message .turned").await;
    }

    /// What stands small beside the note's name.
    pub async fn beside(&self) -> String {
        self.0.text(".note small").await
    }

    /// Opens the sheet of the note in hand.
    pub async fn more(&self) {
        self.0.tap("[aria-label='More on this note']").await;
        self.0.wait_for("dialog[open]").await;
    }

    /// Taps the button of the sheet with these words.
    pub async fn on_sheet(&self, words: &str) {
        tap_named(self.0, "dialog[open]", words).await;
    }

    /// How the step stands, below the strip.
    pub async fn caption(&self) -> String {
        self.0.text(".caption").await
    }

    /// How many bars of the strip are drawn in a form.
    pub async fn bars(&self, form: &str) -> u64 {
        let outlines =
            "return document.querySelector(arguments[0]).getAttribute('d').split('M').length - 1";
        let selector = format!(".strip path.{form}");
        let count = self.0.run(outlines, vec![json!(selector)]).await;
        count.as_u64().expect("a count")
    }

    /// Taps the strip where a note stands.
    pub async fn travel_to(&self, note: u32) {
        let (x, y) = self.place_of(note).await;
        self.0.tap_at(x, y).await;
    }

    /// Touches the strip where a note stands, and holds it until it is marked.
    pub async fn hold(&self, note: u32) {
        let (x, y) = self.place_of(note).await;
        self.0.hold_at(x, y, Duration::from_millis(650)).await;
    }

    /// Swipes over the upper half, to the next note or the one before.
    pub async fn swipe(&self, forth: bool) {
        let (from, to) = if forth { (300.0, 80.0) } else { (80.0, 300.0) };
        let time = Duration::from_millis(120);
        self.0.swipe((from, 120.0), (to, 120.0), time).await;
    }

    /// Waits until all that was entered is shown as saved.
    pub async fn wait_until_saved(&self) {
        super::wait_until_saved(self.0).await;
    }

    /// Waits until the pass is through, and says what stands then.
    pub async fn through(&self) -> String {
        self.0.text(".through").await
    }

    /// Taps a button that stands after the last note.
    pub async fn on_through(&self, words: &str) {
        tap_named(self.0, ".through", words).await;
    }

    /// Goes through those out after the last note.
    pub async fn go_through_those_out(&self) {
        let named = "
            document.querySelectorAll('[data-named]').forEach(e => delete e.dataset.named);
            const found = [...document.querySelectorAll('.through button')].find(b => b.innerText.includes(' out: go through'));
            if (found) found.dataset.named = '';
            return found !== undefined;
        ";
        self.0.wait_until(named, vec![]).await;
        self.0.tap("[data-named]").await;
    }

    /// Where a note stands on the strip.
    pub async fn place_of(&self, note: u32) -> (f64, f64) {
        // The picture is 360 by 127, centered if its box has another ratio.
        let place = "
            const r = document.querySelector('.strip').getBoundingClientRect();
            const scale = Math.min(r.width / 360, r.height / 127);
            return [r.x + (r.width - 360 * scale) / 2 + scale * (arguments[0] * 4 + 2), r.y + r.height / 2];
        ";
        // A pass that was just opened is laid out again when its note is there: a touch is not to land beside the strip.
        let mut before = serde_json::Value::Null;
        loop {
            let place = self.0.run(place, vec![json!(note)]).await;
            if place == before {
                let at = |i: usize| place[i].as_f64().expect("a place");
                return (at(0), at(1));
            }
            before = place;
            tokio::time::sleep(Duration::from_millis(60)).await;
        }
    }

    /// Goes back to the order.
    pub async fn back(&self) {
        self.0.tap(".bar a.tool").await;
        self.0.wait_for(".order .step").await;
    }

    /// All that a glance at the pass takes in, in one question: once something has changed since an earlier
    /// glance, and so many are read, or the pass is through.
    pub async fn look(&self, since: Option<&Seen>, read: u64) -> Seen {
        let since = since.map(|seen| &seen.0["key"]);
        let seen = self.0.run(LOOK, vec![json!(since), json!(read)]).await;
        if seen.is_null() {
            let told = self.0.run(TOLD, vec![]).await;
            panic!("nothing changed since {since:?}; {told}");
        }
        Seen(seen)
    }

    /// Taps the button that tells that the correction was made, and looks. A notice that comes or goes above moves the
    /// button: where it moved away before the finger came down, it is tapped at its new place.
    pub async fn tap_offer(&self, seen: &Seen) -> Seen {
        let mut place = seen.place("offer").expect("a correction");
        for _ in 0..3 {
            self.tap_places(&[place]).await;
            let now = self
                .0
                .run(OFFER_MOVED, vec![json!(place.0), json!(place.1)]);
            let now = now.await;
            match now[0].as_f64().zip(now[1].as_f64()) {
                Some(moved) => place = moved,
                None => break,
            }
        }
        self.look(Some(seen), 0).await
    }

    /// Taps places one after the other, as a thumb that knows where the keys are.
    pub async fn tap_places(&self, places: &[(f64, f64)]) {
        self.0.tap_all_at(places).await;
    }

    /// Goes to an address of the app and waits for the pad.
    pub async fn reopen(&self, url: &str, place: &str) {
        self.0.go_to(&format!("{url}{place}")).await;
        self.0.wait_for(".pass .pad").await;
    }
}

/// What a glance at the pass takes in.
#[derive(Debug)]
pub struct Seen(Value);

impl Seen {
    /// Whether the pass is through.
    pub fn is_through(&self) -> bool {
        self.0["through"] == true
    }

    /// What stands in a part of the screen: `name`, `message`, `offer` (what the button says that tells that a
    /// correction was made).
    pub fn text(&self, part: &str) -> &str {
        self.0[part].as_str().unwrap_or_default()
    }

    /// How many are read, and of how many; where some are swept, how many are, and with those that are left.
    pub fn read(&self) -> (u64, u64) {
        let caption = self.text("caption");
        let number = |words: &str| -> Option<u64> { words.split_whitespace().next()?.parse().ok() };
        let read = number(caption).expect("a number");
        if let Some((_, of)) = caption.split_once(" of ") {
            return (read, number(of).expect("a number"));
        }
        let left = caption.split(", ").find(|words| words.ends_with(" left"));
        (read, read + left.and_then(number).unwrap_or(0))
    }

    /// Where a button stands: a key of the pad by its name, a chip by its words, or `target`, `offer`.
    pub fn place(&self, button: &str) -> Option<(f64, f64)> {
        let place = &self.0["places"][button];
        place[0].as_f64().zip(place[1].as_f64())
    }
}

/// Where the button of the correction stands, if it moved away from under this place without being tapped.
const OFFER_MOVED: &str = "
    const box = document.querySelector('.message button.turned')?.getBoundingClientRect();
    const [x, y] = arguments;
    const away = box && (x < box.left || x > box.right || y < box.top || y > box.bottom);
    const tapped = window.touched.at(-1)?.endsWith('click on turned');
    return away && !tapped ? [box.x + box.width / 2, box.y + box.height / 2] : null;
";

/// What a failure is told with: the touches before, and what stands above and under the finger.
const TOLD: &str = "
    const box = document.querySelector('.message button.turned')?.getBoundingClientRect();
    return { touched: window.touched, notices: document.querySelector('.notices')?.innerText, offer: box };
";

const LOOK: &str = "
    const [since, read] = arguments;
    // What a failure is told with: the latest touches and what the browser made of them.
    if (!window.touched) {
        window.touched = [];
        for (const kind of ['pointerdown', 'pointerup', 'pointercancel', 'contextmenu', 'click']) {
            addEventListener(kind, event => {
                const on = event.target.closest?.('.turned') ? 'turned' : event.target.textContent.slice(0, 20);
                window.touched.push(`at ${Math.round(event.timeStamp)} ms, ${event.clientX}, ${event.clientY}: ${kind} on ${on}`);
                window.touched.splice(0, window.touched.length - 12);
            }, { capture: true, passive: true });
        }
    }
    const text = selector => document.querySelector(selector)?.innerText ?? '';
    const look = () => {
        const [through, name] = [document.querySelector('.pass .through') !== null, text('.pass .note-name')];
        const [message, caption] = [text('.message'), text('.pass .caption')];
        if (!through && !name) return null;
        const key = JSON.stringify([through, name, message, caption]);
        if (key === since || !through && parseInt(caption) < read) return null;
        const places = {};
        const put = (name, button) => {
            const box = button?.getBoundingClientRect();
            if (box) places[name] = [box.x + box.width / 2, box.y + box.height / 2];
        };
        document.querySelectorAll('.pad [data-key]').forEach(key => put(key.dataset.key, key));
        document.querySelectorAll('.chips button').forEach(chip => put(chip.innerText, chip));
        put('target', document.querySelector('.chips .target'));
        put('offer', document.querySelector('.message button.turned'));
        return { key, through, name, message, caption, offer: text('.message button.turned'), places };
    };
    const started = performance.now();
    return new Promise(answer => {
        const again = () => {
            const seen = look();
            if (seen || performance.now() - started > 15000) answer(seen);
            else setTimeout(again, 2);
        };
        again();
    });
";

/// Where a note stands on the strip, if another is in hand; nothing if this one is. The arguments: number and name.
pub const WAY_TO: &str = "
    const [number, name] = arguments;
    if (document.querySelector('.note-name')?.innerText === name) return null;
    const r = document.querySelector('.strip').getBoundingClientRect();
    const scale = Math.min(r.width / 360, r.height / 127);
    return [r.x + (r.width - 360 * scale) / 2 + scale * (number * 4 + 2), r.y + r.height / 2];
";
