//! What the system asks for: its own few colors, and less motion.

use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::serve_release;
use crate::screens::{SCREENS, open_demo, show};
use crate::sight::{ask_for, cut_off, motion};

/// The colors of an element of the page as they are drawn.
async fn drawn(browser: &Browser, selector: &str) -> Value {
    let drawn = "const s = getComputedStyle(document.querySelector(arguments[0])); return { fill: s.fill, stroke: s.stroke, \
        border: parseFloat(s.borderTopWidth), borderColor: s.borderTopColor, outline: s.outlineStyle, outlineColor: s.outlineColor }";
    browser.run(drawn, vec![json!(selector)]).await
}

/// The colors of the system, by which a page is drawn that has its own taken away.
async fn system_color(browser: &Browser, name: &str) -> Value {
    let color = "const e = document.createElement('i'); e.style.color = arguments[0]; document.body.append(e); \
        const color = getComputedStyle(e).color; e.remove(); return color";
    browser.run(color, vec![json!(name)]).await
}

async fn check_forced_colors(device: Device, name: &str) {
    let site = serve_release();
    let browser = Browser::open(device, Profile::fresh()).await;
    ask_for(&browser, device.color_scheme(), "forced-colors", "active").await;
    let job = open_demo(&browser, &site).await;
    let mut faults = Vec::new();
    for (screen, address, at) in SCREENS {
        show(&browser, &job, address, at).await;
        browser.screenshot(&format!("{screen}-{name}")).await;
        let found = [
            accessibility_faults(&browser).await,
            cut_off(&browser).await,
        ]
        .concat();
        faults.extend(found.iter().map(|fault| format!("{screen}: {fault}")));
    }
    assert_eq!(faults, [""; 0], "{name}");

    // The bars of the strip are told by their form: full, empty, cut out, hatched, all in the color of text.
    show(&browser, &job, "/pass/let_off/3", ".pad").await;
    let [text, paper] = [
        system_color(&browser, "CanvasText").await,
        system_color(&browser, "Canvas").await,
    ];
    assert_ne!(text, paper);
    for (form, fill, stroke) in [
        ("solid", &text, None),
        ("swept", &text, None),
        ("notched", &text, None),
        ("notch", &paper, None),
        ("hollow", &json!("none"), Some(&text)),
        ("marked", &json!("none"), Some(&text)),
    ] {
        let bar = drawn(&browser, &format!(".strip path.{form}")).await;
        assert_eq!(&bar["fill"], fill, "{form}");
        if let Some(stroke) = stroke {
            assert_eq!(&bar["stroke"], stroke, "{form}");
        }
    }
    let hatched = drawn(&browser, ".strip path.hatched").await;
    assert!(
        hatched["fill"]
            .as_str()
            .is_some_and(|f| f.contains("hatch")),
        "{hatched}"
    );
    assert_eq!(drawn(&browser, ".strip .hatch-line").await["fill"], text);
    // A key has an edge, and Enter a wider one.
    let key = drawn(&browser, ".pad [data-key='7']").await;
    let enter = drawn(&browser, ".pad [data-key='enter']").await;
    assert!(key["border"].as_f64() >= Some(1.0), "{key}");
    assert!(enter["border"].as_f64() > key["border"].as_f64(), "{enter}");
    assert_ne!(key["borderColor"], paper);
    // The focus is drawn.
    browser.type_keys("\u{e004}").await;
    let focus = drawn(&browser, ":focus").await;
    assert_ne!(focus["outline"], json!("none"));
    assert_ne!(focus["outlineColor"], paper);
}

#[tokio::test]
async fn every_screen_is_told_by_form_in_forced_colors() {
    check_forced_colors(Device::PHONE, "forced-light").await;
}

#[tokio::test]
async fn every_screen_is_told_by_form_in_dark_forced_colors() {
    check_forced_colors(Device::PHONE.dark(), "forced-dark").await;
}

#[tokio::test]
async fn nothing_moves_where_less_motion_is_asked_for() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let job = open_demo(&browser, &site).await;
    // The bars of something that takes its time, in a page and above it.
    let busy = "for (const at of ['.page', 'body']) { const bar = document.createElement('div'); bar.className = 'busy'; \
        bar.append(document.createElement('progress')); document.querySelector(at).append(bar); }";
    for (asked, moves) in [("no-preference", true), ("reduce", false)] {
        ask_for(&browser, "light", "prefers-reduced-motion", asked).await;
        for (screen, address, drawn) in SCREENS {
            show(&browser, &job, address, drawn).await;
            if !moves {
                assert_eq!(motion(&browser).await, [""; 0], "{screen}");
            }
        }
        show(&browser, &job, "/plan", ".days path").await;
        browser.run(busy, vec![]).await;
        // The bars are seen to move where nobody asks for less, or this would prove nothing.
        assert_eq!(motion(&browser).await.is_empty(), !moves, "{asked}");
    }
}
