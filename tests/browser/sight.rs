//! What a person sees of a page beside its words: what is cut off, and what moves.

use serde_json::{Value, json};

use crate::browser::Browser;

/// Text that is cut off sideways or below, where nothing scrolls to it. What ends in an ellipsis, or after a stated number
/// of lines, was meant to be short.
const CUT_OFF: &str = "
    const inside = document.querySelector('dialog[open]') ?? document.body, faults = new Set();
    const walker = document.createTreeWalker(inside, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
        const node = walker.currentNode, parent = node.parentElement;
        const isMeant = !parent.closest('.hidden, .skip, svg, select, script, style, noscript');
        if (!isMeant || !node.textContent.trim() || !parent.checkVisibility({ opacityProperty: true, visibilityProperty: true })) continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        const words = range.getBoundingClientRect();
        if (!words.width || !words.height) continue;
        let scrolls = false;
        for (let e = parent; e && e !== document.documentElement; e = e.parentElement) {
            const style = getComputedStyle(e), box = e.getBoundingClientRect();
            if (style.textOverflow === 'ellipsis' || style.webkitLineClamp !== 'none') { scrolls = true; break; }
            const across = style.overflowX !== 'visible' && style.overflowX !== 'auto' && style.overflowX !== 'scroll';
            const down = style.overflowY !== 'visible' && style.overflowY !== 'auto' && style.overflowY !== 'scroll';
            if (/auto|scroll/.test(style.overflowX + style.overflowY)) scrolls = true;
            const cut = across && (words.left < box.left - 1 || words.right > box.right + 1) ? 'sideways'
                : down && !scrolls && words.bottom > box.bottom + 2 ? 'below' : '';
            if (cut) faults.add(`cut off ${cut}: ${node.textContent.trim().slice(0, 60)} in ${e.localName}.${e.className}`);
            if (/auto|scroll/.test(style.overflowX) && e.scrollWidth > e.clientWidth) break;
        }
        if (!scrolls && (words.right > innerWidth + 1 || words.left < -1)) faults.add(`past the window: ${node.textContent.trim().slice(0, 60)}`);
    }
    // What scrolls sideways, other than a table or a row of filters.
    for (const e of inside.querySelectorAll('*')) {
        const across = /auto|scroll/.test(getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth + 1;
        if (across && !e.matches('input, textarea, select, .filters') && !e.querySelector('table') && e.checkVisibility())
            faults.add(`scrolls sideways: ${e.localName}.${e.className}`);
    }
    const dialog = document.querySelector('dialog[open]');
    if (dialog && dialog.scrollWidth > dialog.clientWidth) faults.add('the sheet scrolls sideways');
    if (document.documentElement.scrollWidth > innerWidth) faults.add('the page scrolls sideways');
    return [...faults];
";

/// What of the page is cut off; empty is well.
pub async fn cut_off(browser: &Browser) -> Vec<String> {
    let found = browser.run(CUT_OFF, vec![]).await;
    serde_json::from_value(found).expect("a list of sentences")
}

/// What moves although less motion was asked for: an animation that takes time.
pub async fn motion(browser: &Browser) -> Vec<String> {
    let moving =
        "return document.getAnimations().filter(a => a.effect.getComputedTiming().duration > 0)
        .map(a => `${a.animationName ?? a.transitionProperty} of ${a.effect.target.className}`)";
    let found = browser.run(moving, vec![]).await;
    serde_json::from_value(found).expect("a list of animations")
}

/// Asks for what the system's settings ask for, beside the theme of the device: `forced-colors`,
/// `prefers-reduced-motion`.
pub async fn ask_for(browser: &Browser, theme: &str, name: &str, value: &str) {
    let features: Value = json!({ "features": [
        { "name": "prefers-color-scheme", "value": theme },
        { "name": name, "value": value },
    ]});
    browser.cdp("Emulation.setEmulatedMedia", features).await;
    let is_on = format!("return matchMedia('({name}: {value})').matches");
    browser.wait_until(&is_on, vec![]).await;
}
