//! A keyboard, and no finger: Tab goes to a control, Enter presses it, arrows travel. The focus is looked at wherever it
//! goes: never lost, in sight, covered by nothing, and drawn.

use std::cell::RefCell;
use std::collections::BTreeSet;

use evenhand_core::note::Note;
use serde_json::{Value, json};

use crate::browser::Browser;

/// The keys after the WebDriver standard.
pub const TAB: &str = "\u{e004}";
pub const ENTER: &str = "\u{e007}";
const LEFT: &str = "\u{e012}";
const RIGHT: &str = "\u{e014}";
const DOWN: &str = "\u{e015}";

/// More stops than any screen has.
const MAX_STOPS: usize = 400;

/// Where the focus is: the words of the element, whether it is the one that is looked for, and what is wrong with how it
/// is shown.
const FOCUS: &str = "
    const e = document.activeElement;
    if (!e || e === document.body) return { words: 'nothing', lost: true };
    const words = e.localName + ' ' + (e.ariaLabel ?? e.labels?.[0]?.innerText ?? e.innerText ?? '').trim().replace(/\\s+/g, ' ').slice(0, 60);
    const box = e.getBoundingClientRect();
    const wrong = [];
    // What is focused by a script, as a title is, says where the reader stands; what a key can press is drawn.
    const isStop = e.tabIndex >= 0;
    // A file input lies unseen over its label, which shows its focus.
    const drawn = e.type === 'file' ? e.closest('label, .file, .take-photo') ?? e : e;
    const style = [getComputedStyle(drawn), getComputedStyle(drawn, '::after'), getComputedStyle(drawn, '::before')];
    const isDrawn = style.some(s => s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2);
    if (isStop && !isDrawn) wrong.push('not drawn');
    if (isStop && (box.width < 1 || box.height < 1)) wrong.push('no size');
    // Its middle as far as it is in sight, or any of its edges, is not covered: WCAG 2.2, 2.4.11.
    const xs = [box.left + 4, box.left + box.width / 2, box.right - 4], ys = [box.top + 4, box.top + box.height / 2, box.bottom - 4];
    const seen = xs.some(x => ys.some(y => {
        const hit = document.elementFromPoint(x, y);
        return hit && (e.contains(hit) || hit.contains(e) && hit.localName === 'label');
    }));
    if (isStop && !seen) wrong.push(`out of sight at ${Math.round(box.left)}, ${Math.round(box.top)}`);
    return { words, lost: false, there: arguments[0] ? e.matches(arguments[0]) : false, wrong: wrong.join(', ') };
";

/// The keyboard.
pub struct Keys<'a> {
    browser: &'a Browser,
    /// The stops that were shown as they should not be.
    faults: RefCell<BTreeSet<String>>,
}

impl<'a> Keys<'a> {
    pub fn new(browser: &'a Browser) -> Self {
        Self {
            browser,
            faults: RefCell::default(),
        }
    }

    async fn focus(&self, looked_for: &str) -> Value {
        let focus = self.browser.run(FOCUS, vec![json!(looked_for)]).await;
        if let Some(wrong) = focus["wrong"].as_str().filter(|w| !w.is_empty()) {
            let place = self
                .browser
                .run("return location.hash.replace(/#.[0-9a-f]{16}/, '')", vec![])
                .await;
            self.faults
                .borrow_mut()
                .insert(format!("{} at {place}: {wrong}", focus["words"]));
        }
        focus
    }

    /// What was wrong with how the focus was shown so far.
    pub fn faults(&self) -> Vec<String> {
        self.faults.borrow().iter().cloned().collect()
    }

    /// Goes on with Tab until a control has the focus.
    pub async fn go_to(&self, selector: &str) {
        self.browser.wait_for(selector).await;
        let mut stops = Vec::new();
        for _ in 0..MAX_STOPS {
            let focus = self.focus(selector).await;
            if focus["there"] == true {
                return;
            }
            stops.push(focus["words"].as_str().unwrap_or_default().to_owned());
            self.browser.type_keys(TAB).await;
        }
        stops.truncate(60);
        panic!("no key reaches {selector}: {stops:?}");
    }

    /// Goes to a control, and presses it.
    pub async fn press(&self, selector: &str) {
        self.go_to(selector).await;
        self.browser.type_keys(ENTER).await;
    }

    /// Goes to a group of choices, and from one to the next until this one is chosen.
    pub async fn choose(&self, group: &str, choice: &str) {
        self.go_to(&format!("{group} input")).await;
        let chosen = format!("return document.querySelector(\"{choice}\").checked");
        for _ in 0..12 {
            if self.browser.run(&chosen, vec![]).await == json!(true) {
                return;
            }
            self.browser.type_keys(DOWN).await;
        }
        panic!("the arrows do not reach {choice}");
    }

    /// Waits until something has the focus; it is a fault if nothing has.
    pub async fn check_focus(&self, before: &str) {
        // The focus comes with the next picture.
        for _ in 0..50 {
            if self.focus("").await["lost"] == false {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
        let lost = format!("the focus is lost after {before}");
        self.faults.borrow_mut().insert(lost);
    }

    /// Goes to a note of the pass with the arrows.
    pub async fn travel_to(&self, note: u32) {
        let name = "return document.querySelector('.pass .note-name')?.innerText ?? ''";
        for _ in 0..200 {
            let at = self.browser.run(name, vec![]).await;
            let at = Note::all()
                .find(|n| at == n.name().as_str())
                .expect("a note");
            let at = u32::from(at.number());
            if at == note {
                return;
            }
            // One at a time: a sample has few notes, and past its last comes the next measure.
            let key = if at < note { RIGHT } else { LEFT };
            self.browser.type_keys(key).await;
        }
        panic!("the arrows do not reach note {note}");
    }

    /// Goes to a note, and marks it as out.
    pub async fn mark(&self, note: u32) {
        self.travel_to(note).await;
        self.browser.type_keys("o").await;
    }
}
