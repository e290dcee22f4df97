//! What the screens are drawn with (`app/src/view.rs`, `app/src/kept.rs`), on the page of `tests/elements`: a picture
//! that hangs on one number, which is turned here.

use std::path::Path;

use evenhand_tests::{RunningSite, Site};
use serde_json::{Value, json};

use crate::browser::Browser;

struct Page {
    browser: Browser,
    _site: RunningSite,
}

impl Page {
    async fn open() -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("../evenhand/elements");
        assert!(
            folder.join("index.html").is_file(),
            "there is no page of the elements in {}; './evenhand test' makes it",
            folder.display()
        );
        let site = Site::of(folder).start().expect("the page is served");
        let browser = Browser::phone().await;
        browser.go_to(&site.url()).await;
        browser.wait_for("#next").await;
        Self {
            browser,
            _site: site,
        }
    }

    /// What a script says of the page, of which `the` finds an element by its id.
    async fn ask(&self, script: &str) -> Value {
        let the = format!("const the = id => document.getElementById(id); {script}");
        self.browser.run(&the, vec![]).await
    }

    async fn turn(&self) {
        let before = self.ask("return the('next').innerText").await;
        self.ask("the('next').click()").await;
        let turned = "return document.getElementById('next').innerText !== arguments[0]";
        self.browser.wait_until(turned, vec![before]).await;
    }

    async fn html(&self, id: &str) -> String {
        let html = self.ask(&format!("return the('{id}').outerHTML")).await;
        let html = html.as_str().expect("an element").to_owned();
        html.replace("<!---->", "")
    }

    async fn text(&self, id: &str) -> String {
        let text = self.ask(&format!("return the('{id}').textContent")).await;
        text.as_str().expect("an element").to_owned()
    }

    /// What was heard, once the program has gone through all of it without a stop.
    async fn heard(&self) -> String {
        assert_eq!(self.ask("return window.stopped ?? null").await, Value::Null);
        self.text("heard").await
    }
}

#[tokio::test]
async fn a_list_moves_its_rows_and_a_row_that_goes_ends_at_once() {
    let page = Page::open().await;
    page.ask("for (const row of the('list').children) row.was = row.innerText")
        .await;
    let rows = "return [...the('list').children].map(row => [row.innerText, row.was ?? null])";
    page.turn().await;
    let moved = json!([["3", "3"], ["1", "1"], ["2", "2"]]);
    assert_eq!(page.ask(rows).await, moved);
    page.ask("the('list').querySelector('button').click()")
        .await;
    assert_eq!(page.heard().await, "row-3");
    page.ask("window.gone = the('list').children[1].firstChild")
        .await;
    page.turn().await;
    let changed = json!([["3", "3"], ["4", null], ["2", "2"]]);
    assert_eq!(page.ask(rows).await, changed);
    page.ask("gone.click()").await;
    assert_eq!(page.heard().await, "row-3 ended-1");
}

#[tokio::test]
async fn what_is_heard_or_set_after_a_part_has_ended_stops_nothing() {
    let page = Page::open().await;
    page.ask("the('ending').focus()").await;
    page.turn().await;
    assert_eq!(page.ask("return the('ending')").await, Value::Null);
    page.ask("the('late').click()").await;
    assert_eq!(page.heard().await, "set-false");
    page.ask("the('again').click()").await;
    assert_eq!(page.heard().await, "set-false again");
}

#[tokio::test]
async fn a_field_that_is_drawn_again_keeps_focus_caret_and_text() {
    let page = Page::open().await;
    for (id, text) in [("plain", "typed"), ("bound", "firsttyped")] {
        page.ask(&format!("the('{id}').focus()")).await;
        page.browser.type_keys("typed").await;
        let caret = format!("the('{id}').setSelectionRange(2, 3); the('{id}').was = true");
        page.ask(&caret).await;
        page.turn().await;
        let kept = format!(
            "const f = the('{id}'); return [f.was, f === document.activeElement, f.selectionStart, f.selectionEnd, f.value]"
        );
        assert_eq!(page.ask(&kept).await, json!([true, true, 2, 3, text]));
    }
    assert_eq!(page.text("text").await, "firsttyped");
    page.ask("the('upper').focus()").await;
    page.browser.type_keys("!x").await;
    assert_eq!(page.text("text").await, "FIRSTTYPED!X");
    let values = "return [the('bound').value, the('upper').value]";
    assert_eq!(
        page.ask(values).await,
        json!(["FIRSTTYPED!X", "FIRSTTYPED!X"])
    );
}

#[tokio::test]
async fn another_element_of_the_same_tag_takes_nothing_over() {
    let page = Page::open().await;
    page.ask("window.one = the('branches').firstElementChild; one.focus()")
        .await;
    page.turn().await;
    let two = r#"<div id="branches"><button class="two">Two</button></div>"#;
    assert_eq!(page.html("branches").await, two);
    page.ask("one.click()").await;
    let has = "return document.activeElement === document.body";
    assert_eq!(page.ask(has).await, json!(true));
    page.ask("the('branches').firstElementChild.click()").await;
    assert_eq!(page.heard().await, "two");
    page.turn().await;
    let three = r#"<div id="branches"><p class="three">Three</p></div>"#;
    assert_eq!(page.html("branches").await, three);
}

#[tokio::test]
async fn attributes_classes_and_properties_come_and_go() {
    let page = Page::open().await;
    let drawn = [
        (
            r#"<p id="live" title="a title" data-turn="0"></p>"#,
            r#"<p id="drawn" title="a title" class="turn-0" data-turn="0"></p>"#,
            json!([false, ""]),
        ),
        (
            r#"<p id="live" data-turn="1" hidden="" class="odd"></p>"#,
            r#"<p id="drawn" class="turn-1 odd" data-turn="1" hidden=""></p>"#,
            json!([true, "there"]),
        ),
        (
            r#"<p id="live" data-turn="2" class=""></p>"#,
            r#"<p id="drawn" class="turn-2" data-turn="2"></p>"#,
            json!([false, ""]),
        ),
    ];
    for (at, (live, again, properties)) in drawn.into_iter().enumerate() {
        if at > 0 {
            page.turn().await;
        }
        assert_eq!(page.html("live").await, live);
        assert_eq!(page.html("drawn").await, again);
        let are = "return [the('ticked').checked, the('empty').value]";
        assert_eq!(page.ask(are).await, properties);
    }
    let fixed = r#"<p id="fixed" title="&quot;a&quot; &amp; &lt;b&gt;"><i>1 &lt; 2 &amp; 3 &gt; 2 &amp;amp;</i><br>{braces}</p>"#;
    assert_eq!(page.html("fixed").await, fixed);
    assert_eq!(page.html("html").await, r#"<p id="html"><b>bold</b></p>"#);
}

#[tokio::test]
async fn parts_come_and_go_in_their_places() {
    let page = Page::open().await;
    for (turn, among) in ["bcdef", "ab0cf", "b01ceghi"].into_iter().enumerate() {
        if turn > 0 {
            page.turn().await;
        }
        assert_eq!(page.text("among").await, among);
    }
    let spaces = "return [...document.querySelectorAll('#drawing, #drawing *')].map(e => e.localName + ' ' + e.namespaceURI)";
    let svg = |name| format!("{name} http://www.w3.org/2000/svg");
    assert_eq!(
        page.ask(spaces).await,
        json!(["svg", "g", "text", "line"].map(svg))
    );
    let line = r#"<line x1="0" x2="0.50"></line>"#;
    assert!(page.html("drawing").await.contains(line));
}

#[tokio::test]
async fn a_choice_follows_what_chooses_whoever_it_is() {
    let page = Page::open().await;
    let by_hand = "the('chosen').value = '2'; the('chosen').dispatchEvent(new Event('change'))";
    page.ask(by_hand).await;
    for (button, chosen) in [
        ("choose-next", "3"),
        ("choose-last", "2"),
        ("choose-last", "1"),
    ] {
        page.ask(&format!("the('{button}').click()")).await;
        let shown = page.ask("return the('chosen').value").await;
        assert_eq!(
            (shown, page.text("choice").await),
            (json!(chosen), format!("{chosen}0"))
        );
    }
}

#[tokio::test]
async fn what_follows_is_asked_again_only_when_it_has_changed() {
    let page = Page::open().await;
    assert_eq!(page.text("followed").await, "None true");
    assert_eq!(page.text("place").await, "");
    page.turn().await;
    assert_eq!(page.text("place").await, "placed");
    page.ask("the('asked').click()").await;
    page.turn().await;
    assert_eq!(page.text("followed").await, "Some(\"late\") true");
    page.ask("the('asked').click()").await;
    assert_eq!(page.heard().await, "asked-1 ended-1 asked-2");
}
