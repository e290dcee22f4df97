//! What the screens are drawn with, on a page of its own: a picture that hangs on one number, which
//! `tests/browser/elements.rs` turns, and a list of what was heard.
#![forbid(unsafe_code)]

// The app's own; it uses more of it than this page.
#[allow(dead_code)]
#[path = "../../../app/src/view.rs"]
mod view;

use leptos::html;
use leptos::prelude::*;
use view::view;
use wasm_bindgen::{JsCast, JsValue};

/// What the test turns and reads.
#[derive(Clone, Copy)]
struct Page {
    turn: RwSignal<u32>,
    heard: RwSignal<Vec<String>>,
    /// A signal of a part that may have ended.
    left: StoredValue<Option<RwSignal<String>>>,
}

impl Page {
    fn hear(self, words: impl Into<String>) {
        self.heard.update(|heard| heard.push(words.into()));
    }
    fn is(self, turn: u32) -> bool {
        self.turn.get() == turn
    }
}

fn main() {
    std::panic::set_hook(Box::new(|panic| {
        let words = JsValue::from_str(&panic.to_string());
        let _ = js_sys::Reflect::set(&window(), &"stopped".into(), &words);
    }));
    leptos::mount::mount_to_body(|| {
        let page = Page {
            turn: RwSignal::new(0),
            heard: RwSignal::new(Vec::new()),
            left: StoredValue::new(None),
        };
        provide_context(page);
        let next = move |_| page.turn.update(|turn| *turn += 1);
        view! {
            <button id="next" on:click=next>{page.turn}</button>
            <output id="heard">{move || page.heard.with(|heard| heard.join(" "))}</output>
            <List/> <Ending/> <Typed/> <Branches/> <Given/> <Among/> <Drawing/> <Chosen/> <Followed/> <Again/> <Placed/>
        }
    });
}

/// A keyed list: each row is a part of its own.
#[component]
fn List() -> AnyView {
    let page = expect_context::<Page>();
    let rows = move || match page.turn.get() {
        0 => vec![1, 2, 3],
        1 => vec![3, 1, 2],
        _ => vec![3, 4, 2],
    };
    let row = move |n: u32| {
        let place = NodeRef::<html::Li>::new();
        on_cleanup(move || page.hear(format!("ended-{n}")));
        view! { <li node_ref=place><button on:click=move |_| page.hear(format!("row-{n}"))>{n}</button></li> }
    };
    view! { <ul id="list"><For each=rows key=|n| *n children=row/></ul> }
}

/// A field that is taken away while somebody types in it.
#[component]
fn Ending() -> AnyView {
    let page = expect_context::<Page>();
    let field = move || {
        let own = RwSignal::new("own".to_owned());
        page.left.set_value(Some(own));
        view! { <input id="ending" on:blur=move |_| page.hear(own.get_untracked())/> }
    };
    let late = move |_| {
        if let Some(own) = page.left.get_value() {
            own.set("late".to_owned());
            own.update(|own| own.push('r'));
            page.hear(format!("set-{}", own.try_set("latest".to_owned())));
        }
    };
    view! {
        {move || page.is(0).then(field)}
        <button id="late" on:click=late>"Late"</button>
    }
}

/// Fields that are drawn again while somebody types.
#[component]
fn Typed() -> AnyView {
    let page = expect_context::<Page>();
    let text = RwSignal::new("first".to_owned());
    let upper = move |event| text.set(event_target_value(&event).to_uppercase());
    view! {
        {move || {
            let turn = page.turn.get();
            view! { <input id="plain" class="field" data-turn=turn/> }
        }}
        {move || {
            page.turn.get();
            view! { <input id="bound" bind:value=text/> }
        }}
        <input id="upper" prop:value=text on:input=upper/>
        <output id="text">{text}</output>
    }
}

/// One of two, of the same tag.
#[component]
fn Branches() -> AnyView {
    let page = expect_context::<Page>();
    let pressed = move |words: &'static str| move |_| page.hear(words);
    view! {
        <div id="branches">{move || match page.turn.get() {
            0 => view! { <button class="one" title="kept by mistake" on:click=pressed("one")>"One"</button> },
            1 => view! { <button class="two" on:click=pressed("two")>"Two"</button> },
            _ => view! { <p class="three">"Three"</p> },
        }}</div>
    }
}

/// What attributes, classes and properties become.
#[component]
fn Given() -> AnyView {
    let page = expect_context::<Page>();
    let title = move || page.is(0).then_some("a title");
    let odd = move || page.turn.get() % 2 == 1;
    view! {
        <p id="live" title=title hidden=odd class:odd=odd data-turn=move || page.turn.get()></p>
        {move || {
            let (odd, turn) = (odd(), page.turn.get());
            view! { <p id="drawn" title=title() hidden=odd class:odd=odd class=format!("turn-{turn}") data-turn=turn></p> }
        }}
        <input id="ticked" type="checkbox" prop:checked=odd/>
        <input id="empty" prop:value=move || page.is(1).then_some("there")/>
        <p id="fixed" title="\"a\" & <b>"><i>"1 < 2 & 3 > 2 &amp;"</i><br/>{"{braces}"}</p>
        <p id="html" inner_html="<b>bold</b>"></p>
    }
}

/// Parts that are there or not, among others.
#[component]
fn Among() -> AnyView {
    let page = expect_context::<Page>();
    let maybe = move |turn, words: &'static str| move || page.is(turn).then_some(words);
    let more = move || {
        (0..page.turn.get())
            .map(|n| view! { <i>{n}</i> })
            .collect_view()
    };
    view! {
        <p id="among">
            {maybe(1, "a")} "b" {more} "c" {maybe(0, "d")}
            {move || if page.is(1) { String::new() } else { "e".to_owned() }}
            <Show when=move || page.is(2) fallback=|| view! { "f" }>"g" <b>"h"</b></Show>
            <></> {maybe(2, "i")}
        </p>
    }
}

/// A drawing, and what was put into one.
#[component]
fn Drawing() -> AnyView {
    let page = expect_context::<Page>();
    let line = move || view! { <line x1="0" x2=page.turn.get() as f32 / 4.0/> };
    view! { <svg id="drawing" viewBox="0 0 9 9"><g><text x="1" y="2">"x"</text></g>{line}</svg> }
}

/// A choice that is made by hand and from elsewhere.
#[component]
fn Chosen() -> AnyView {
    let page = expect_context::<Page>();
    let chosen = RwSignal::new(1u32);
    let choose = move |event| chosen.set(event_target_value(&event).parse().unwrap_or_default());
    let option = move |n: u32| view! { <option value=n prop:selected=move || chosen.get() == n>{n}</option> };
    view! {
        <select id="chosen" on:change=choose>{[0, 1, 2, 3].map(option).collect_view()}</select>
        <button id="choose-next" on:click=move |_| chosen.update(|n| *n += 1)>"Next"</button>
        <button id="choose-last" on:click=move |_| chosen.update(|n| *n -= 1)>"Last"</button>
        <output id="choice">{chosen} {move || page.turn.get()}</output>
    }
}

/// What follows from the number, and how often that was asked.
#[component]
fn Followed() -> AnyView {
    let page = expect_context::<Page>();
    let asked = StoredValue::new(0);
    let late = Memo::new(move |_| (page.turn.get() > 1).then_some("late"));
    let from: Signal<Option<&str>> = late.into();
    let shown = move || {
        asked.update_value(|n| *n += 1);
        format!("{:?} {}", late.get(), from.get() == late.get())
    };
    view! {
        <output id="followed">{shown}</output>
        <button id="asked" on:click=move |_| page.hear(format!("asked-{}", asked.get_value()))>"Asked"</button>
    }
}

/// A handler that is called while it is at work.
#[component]
fn Again() -> AnyView {
    let page = expect_context::<Page>();
    let again = move |event: web_sys::Event| {
        page.hear("again");
        if let Some(own) = event.current_target() {
            own.unchecked_into::<web_sys::HtmlElement>().click();
        }
    };
    view! { <button id="again" on:click=move |event| again(event.into())>"Again"</button> }
}

/// An element that is known by a name.
#[component]
fn Placed() -> AnyView {
    let page = expect_context::<Page>();
    let place = NodeRef::<html::P>::new();
    let words = move || place.get().map(|p| p.id());
    view! {
        {move || page.is(1).then(|| view! { <p id="placed" node_ref=place></p> })}
        <output id="place">{words}</output>
    }
}
