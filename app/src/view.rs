//! What the screens are drawn with: one kind of element, which `view!` (`app/view-macro`) fills. The framework's
//! own elements are types, each with its own code to build, change and remove it; on a phone that was half of the
//! program. Here every element, attribute, handler and reactive text is of one type, so that the code is there once.
//! Signals, effects, components, lists and mounting are the framework's.

use std::borrow::Cow;
use std::cell::RefCell;

use evenhand_core::table::Table;
pub use evenhand_view::view;
use leptos::ev::EventDescriptor;
use leptos::html::ElementType;
use leptos::prelude::*;
use leptos::tachys::html::InertElement;
use leptos::tachys::html::attribute::Attribute;
use leptos::tachys::html::attribute::any_attribute::AnyAttribute;
use leptos::tachys::html::node_ref::NodeRefContainer;
use leptos::tachys::hydration::Cursor;
use leptos::tachys::view::add_attr::AddAnyAttr;
use leptos::tachys::view::any_view::AnyViewState;
use leptos::tachys::view::{Mountable, Position, PositionState, Render, RenderHtml};
use send_wrapper::SendWrapper;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use wasm_bindgen::prelude::JsValue;
use web_sys::{Event, Node};

/// As `view!` has it, between the tag and its fixed attributes.
const APART: char = '\u{1f}';
const DRAWINGS: &str = "http://www.w3.org/2000/svg";

// ---------------------------------------------------------------- what an attribute can be

/// What an attribute, a class or a property is at a time.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Worth {
    /// It is not there.
    Absent,
    /// It is there, or not, and has no words.
    Flag(bool),
    Text(Cow<'static, str>),
}

/// What can be the worth of an attribute.
pub trait Worthy {
    fn worth(self) -> Worth;
}

impl Worthy for Worth {
    fn worth(self) -> Worth {
        self
    }
}
impl Worthy for bool {
    fn worth(self) -> Worth {
        Worth::Flag(self)
    }
}
impl Worthy for String {
    fn worth(self) -> Worth {
        Worth::Text(Cow::Owned(self))
    }
}
impl Worthy for &str {
    fn worth(self) -> Worth {
        Worth::Text(Cow::Owned(self.to_owned()))
    }
}
impl Worthy for &String {
    fn worth(self) -> Worth {
        self.as_str().worth()
    }
}
impl Worthy for Cow<'static, str> {
    fn worth(self) -> Worth {
        Worth::Text(self)
    }
}
impl<T: Worthy> Worthy for Option<T> {
    fn worth(self) -> Worth {
        self.map_or(Worth::Absent, Worthy::worth)
    }
}

/// A number of a drawing, without the standard library's printer of floats.
pub fn decimal(x: f32, decimals: usize) -> String {
    let scale = 10i32.pow(decimals as u32);
    let units = (x * scale as f32).round() as i32;
    let sign = if units < 0 { "-" } else { "" };
    match (units.abs() / scale, units.abs() % scale) {
        (whole, 0) => format!("{sign}{whole}"),
        (whole, rest) => format!("{sign}{whole}.{rest:0decimals$}"),
    }
}

/// A place in a drawing, to a hundredth of its unit.
pub fn place(x: f32) -> String {
    decimal(x, 2)
}
impl Worthy for f32 {
    fn worth(self) -> Worth {
        place(self).worth()
    }
}

/// A worth for good, or one that is asked again whenever its signals change.
pub enum Given {
    Fixed(Worth),
    Live(Box<dyn FnMut() -> Worth + Send>),
}

/// What can be given to an attribute: a worth, a signal, or a closure.
pub trait Giving {
    fn given(self) -> Given;
}

macro_rules! fixed_giving {
    ($($kind:ty),*) => { $(
        impl Giving for $kind {
            fn given(self) -> Given {
                Given::Fixed(self.worth())
            }
        }
    )* };
}
fixed_giving!(Worth, bool, String, &str, &String, Cow<'static, str>, f32);
fixed_giving!(char, u8, u16, u32, i32, u64, i64, usize);

impl<T: Worthy> Giving for Option<T> {
    fn given(self) -> Given {
        Given::Fixed(self.worth())
    }
}
impl<F, T> Giving for F
where
    F: FnMut() -> T + Send + 'static,
    T: Worthy,
{
    fn given(mut self) -> Given {
        Given::Live(Box::new(move || self().worth()))
    }
}

macro_rules! signals {
    ($($signal:ident),*) => { $(
        impl<T: Worthy + Clone + Send + Sync + 'static> Giving for $signal<T> {
            fn given(self) -> Given {
                Given::Live(Box::new(move || self.get().worth()))
            }
        }
        impl<T: Drawn + Clone + Send + Sync + 'static> Drawn for $signal<T> {
            fn drawn(self) -> AnyView {
                live(Box::new(move || self.get().drawn()))
            }
        }
    )* };
}
signals!(RwSignal, Memo, Signal);

/// Where in an element a worth goes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Attribute,
    Class,
    Property,
}

fn put(node: &web_sys::Element, kind: Kind, name: &str, worth: &Worth) {
    // None of these is refused: names come from the source, and a property that is not there is made.
    match (kind, worth) {
        (Kind::Class, worth) => {
            let _ = node
                .class_list()
                .toggle_with_force(name, *worth == Worth::Flag(true));
        }
        (Kind::Property, worth) => {
            let value = match worth {
                // What is not there is empty: `undefined` would be read as a word.
                Worth::Absent => JsValue::from_str(""),
                Worth::Flag(flag) => JsValue::from_bool(*flag),
                Worth::Text(text) => JsValue::from_str(text),
            };
            let _ = js_sys::Reflect::set(node, &JsValue::from_str(name), &value);
        }
        (Kind::Attribute, Worth::Absent | Worth::Flag(false)) => {
            let _ = node.remove_attribute(name);
        }
        (Kind::Attribute, Worth::Flag(true)) => {
            let _ = node.set_attribute(name, "");
        }
        (Kind::Attribute, Worth::Text(text)) => {
            let _ = node.set_attribute(name, text);
        }
    }
}

// ---------------------------------------------------------------- elements

/// What is done to an element beside its fixed attributes.
enum Deed {
    Set(Kind, &'static str, Given),
    On(Cow<'static, str>, JsValue),
    Reference(Box<dyn FnOnce(&web_sys::Element) + Send>),
}

/// What is kept of a deed, so that it can be changed or taken back.
enum Done {
    Fixed(Kind, &'static str, Worth),
    /// The effect that changes it; it ends with this.
    Live(Kind, &'static str, #[allow(dead_code)] RenderEffect<Worth>),
    On(Cow<'static, str>, JsValue),
    Nothing,
}

impl Deed {
    fn apply(self, node: &web_sys::Element) -> Done {
        match self {
            Deed::Set(kind, name, Given::Fixed(worth)) => {
                put(node, kind, name, &worth);
                Done::Fixed(kind, name, worth)
            }
            Deed::Set(kind, name, Given::Live(mut ask)) => {
                let node = node.clone();
                Done::Live(
                    kind,
                    name,
                    RenderEffect::new(move |before: Option<Worth>| {
                        let worth = ask();
                        if before.as_ref() != Some(&worth) {
                            put(&node, kind, name, &worth);
                        }
                        worth
                    }),
                )
            }
            Deed::On(event, handler) => {
                let _ = node.add_event_listener_with_callback(&event, handler.unchecked_ref());
                Done::On(event, handler)
            }
            Deed::Reference(fill) => {
                fill(node);
                Done::Nothing
            }
        }
    }
}

/// An element of the page, before it is in the page.
pub struct Element {
    /// The tag, with `~` before it for a drawing's, then the names and values of what never changes.
    spec: &'static str,
    /// Handlers are values of the page's one thread, which all this never leaves.
    deeds: SendWrapper<Vec<Deed>>,
    children: Vec<AnyView>,
}

impl Element {
    pub fn new(spec: &'static str) -> Self {
        let deeds = SendWrapper::new(Vec::new());
        Self {
            spec,
            deeds,
            children: Vec::new(),
        }
    }

    fn set(&mut self, kind: Kind, name: &'static str, given: Given) {
        self.deeds.push(Deed::Set(kind, name, given));
    }
    pub fn attribute(&mut self, name: &'static str, value: impl Giving) {
        self.set(Kind::Attribute, name, value.given());
    }
    pub fn class(&mut self, name: &'static str, value: impl Giving) {
        self.set(Kind::Class, name, value.given());
    }
    pub fn property(&mut self, name: &'static str, value: impl Giving) {
        self.set(Kind::Property, name, value.given());
    }

    /// Two ways: the field shows the signal, and what is typed goes into the signal.
    pub fn bind_value(&mut self, text: RwSignal<String>) {
        self.property("value", text);
        self.on(leptos::ev::input, move |event| {
            text.set(event_target_value(&event))
        });
    }

    pub fn on<E>(&mut self, event: E, mut handle: impl FnMut(E::EventType) + 'static)
    where
        E: EventDescriptor,
        E::EventType: JsCast,
    {
        self.handle(
            event.name(),
            Box::new(move |event| handle(event.unchecked_into())),
        );
    }

    fn handle(&mut self, event: Cow<'static, str>, handle: Box<dyn FnMut(Event)>) {
        // What a handler makes ends with the part of the screen that it belongs to. It must not hold that part:
        // the browser frees it only when it likes, with the element.
        let part = Owner::current().unwrap_or_default().downgrade();
        let here = StoredValue::new(());
        let handle = RefCell::new(handle);
        let handle: Box<dyn Fn(Event)> = Box::new(move |event| {
            // A field that is taken out of the page tells that it lost the focus: when its part has ended, and
            // with it all that the handler would look at, or while the handler is at work still. Both have been
            // seen to.
            if let (Some(part), Ok(mut handle)) = (part.upgrade(), handle.try_borrow_mut())
                && !here.is_disposed()
            {
                part.with(|| handle(event));
            }
        });
        let handle = Closure::wrap(handle).into_js_value();
        self.deeds.push(Deed::On(event, handle));
    }

    pub fn reference<E>(&mut self, reference: NodeRef<E>)
    where
        E: ElementType + 'static,
        E::Output: JsCast + Clone + 'static,
        NodeRef<E>: NodeRefContainer<E>,
    {
        self.deeds
            .push(Deed::Reference(Box::new(move |node| reference.load(node))));
    }

    pub fn text(&mut self, words: &'static str) {
        self.children.push(text(words));
    }
    pub fn child(&mut self, child: AnyView) {
        self.children.push(child);
    }
    pub fn done(self) -> AnyView {
        self.into_any()
    }

    /// A new node with the fixed attributes.
    fn node(spec: &'static str) -> web_sys::Element {
        thread_local! {
            /// One of each, to be cloned: that is one call of the browser instead of one an attribute.
            static MADE: RefCell<Table<(usize, usize), Option<web_sys::Element>>> = RefCell::default();
        }
        let make = || {
            let mut parts = spec.split(APART);
            let tag = parts.next().unwrap_or_default();
            let made = match tag.strip_prefix('~') {
                Some(tag) => document().create_element_ns(Some(DRAWINGS), tag),
                None => document().create_element(tag),
            };
            let made = made.expect("tags come from the source");
            while let (Some(name), Some(value)) = (parts.next(), parts.next()) {
                let worth = Worth::Text(Cow::Borrowed(value));
                put(&made, Kind::Attribute, name, &worth);
            }
            made
        };
        MADE.with_borrow_mut(|all| {
            let made = all
                .of((spec.as_ptr() as usize, spec.len()))
                .get_or_insert_with(make);
            made.clone_node()
                .map(JsCast::unchecked_into)
                .expect("an element can be cloned")
        })
    }
}

/// An element in the page.
pub struct ElementState {
    spec: &'static str,
    node: web_sys::Element,
    done: Vec<Done>,
    children: Vec<AnyViewState>,
}

impl Render for Element {
    type State = ElementState;

    fn build(self) -> ElementState {
        let node = Self::node(self.spec);
        let done = self
            .deeds
            .take()
            .into_iter()
            .map(|deed| deed.apply(&node))
            .collect();
        let mut state = ElementState {
            spec: self.spec,
            node,
            done,
            children: Vec::new(),
        };
        for child in self.children {
            state.add(child);
        }
        state
    }

    /// Changes what stands in the page as little as can be, so that the focus stays where it is. Another element,
    /// though of the same tag, is another: it takes over neither focus nor typed text nor a press that has begun.
    fn rebuild(self, state: &mut ElementState) {
        if self.spec != state.spec {
            let mut new = self.build();
            state.insert_before_this(&mut new);
            state.unmount();
            *state = new;
            return;
        }
        let deeds = self.deeds.take();
        let before = std::mem::take(&mut state.done);
        for done in &before {
            match done {
                Done::On(event, handler) => {
                    let _ = state
                        .node
                        .remove_event_listener_with_callback(event, handler.unchecked_ref());
                }
                Done::Fixed(kind, name, _) | Done::Live(kind, name, _) => {
                    if !deeds
                        .iter()
                        .any(|deed| matches!(deed, Deed::Set(k, n, _) if k == kind && n == name))
                    {
                        put(&state.node, *kind, name, &Worth::Absent);
                    }
                }
                Done::Nothing => {}
            }
        }
        for deed in deeds {
            state.done.push(match deed {
                // What is so already is not set again; a class may have gone with the attribute of that name.
                Deed::Set(kind, name, Given::Fixed(worth))
                    if kind != Kind::Class && before.iter().any(|done| matches!(done, Done::Fixed(k, n, w) if *k == kind && *n == name && *w == worth)) =>
                {
                    Done::Fixed(kind, name, worth)
                }
                deed => deed.apply(&state.node),
            });
        }
        let mut children = self.children.into_iter();
        let mut left = 0;
        for (old, child) in state.children.iter_mut().zip(children.by_ref()) {
            child.rebuild(old);
            left += 1;
        }
        for mut gone in state.children.drain(left..) {
            gone.unmount();
        }
        for child in children {
            state.add(child);
        }
    }
}

impl ElementState {
    fn add(&mut self, child: AnyView) {
        let mut child = child.build();
        child.mount(&self.node, None);
        self.children.push(child);
    }
}

impl Mountable for ElementState {
    fn unmount(&mut self) {
        self.node.remove();
    }
    fn mount(&mut self, parent: &web_sys::Element, marker: Option<&Node>) {
        self.node.mount(parent, marker);
    }
    fn insert_before_this(&self, child: &mut dyn Mountable) -> bool {
        self.node.insert_before_this(child)
    }
    fn elements(&self) -> Vec<web_sys::Element> {
        vec![self.node.clone()]
    }
}

impl AddAnyAttr for Element {
    type Output<SomeNewAttr: Attribute> = Self;
    /// `view!` spreads nothing.
    fn add_any_attr<NewAttr: Attribute>(self, _: NewAttr) -> Self {
        self
    }
}

/// The framework wants this of every view. Evenhand is drawn in the browser alone, so none of it is ever asked.
impl RenderHtml for Element {
    type AsyncOutput = Self;
    type Owned = Self;
    const MIN_LENGTH: usize = 0;
    fn dry_resolve(&mut self) {}
    async fn resolve(self) -> Self {
        self
    }
    fn to_html_with_buf(
        self,
        _: &mut String,
        _: &mut Position,
        _: bool,
        _: bool,
        _: Vec<AnyAttribute>,
    ) {
    }
    fn hydrate<const FROM_SERVER: bool>(self, _: &Cursor, _: &PositionState) -> ElementState {
        self.build()
    }
    fn into_owned(self) -> Self {
        self
    }
}

// ---------------------------------------------------------------- what stands in an element

/// What can stand between the tags of an element.
pub trait Drawn {
    fn drawn(self) -> AnyView;
}

/// Words that never change.
pub fn text(words: &'static str) -> AnyView {
    Cow::Borrowed(words).into_any()
}

/// HTML in which nothing changes; it comes from the source, never from a file.
pub fn fixed(html: &'static str) -> AnyView {
    InertElement::new(html).into_any()
}

pub fn nothing() -> AnyView {
    ().into_any()
}

pub fn several(views: Vec<AnyView>) -> AnyView {
    views.into_any()
}

/// A view that is drawn again whenever its signals change.
pub fn live(draw: Box<dyn FnMut() -> AnyView + Send>) -> AnyView {
    draw.into_any()
}

type Part = Box<dyn Fn() -> AnyView + Send>;

/// `<Show>`: what is drawn while the condition holds, else the fallback. It is drawn again only when that turns.
pub fn show(
    when: Box<dyn Fn() -> bool + Send + Sync>,
    then: Part,
    fallback: Option<Part>,
) -> AnyView {
    let when = Memo::new(move |_| when());
    live(Box::new(move || match (when.get(), &fallback) {
        (true, _) => then(),
        (false, Some(fallback)) => fallback(),
        (false, None) => nothing(),
    }))
}

/// A view of the framework's, which is mostly one of these already.
pub fn any<T: IntoView + 'static>(view: T) -> AnyView {
    let mut view = Some(view);
    let same: &mut dyn std::any::Any = &mut view;
    match same.downcast_mut::<Option<AnyView>>() {
        Some(view) => view.take().expect("it was just put there"),
        None => view.expect("it was just put there").into_any(),
    }
}

impl Drawn for AnyView {
    fn drawn(self) -> AnyView {
        self
    }
}
impl<T: IntoView + 'static> Drawn for View<T> {
    fn drawn(self) -> AnyView {
        any(self.into_inner())
    }
}
impl Drawn for () {
    fn drawn(self) -> AnyView {
        nothing()
    }
}
impl Drawn for String {
    fn drawn(self) -> AnyView {
        Cow::<'static, str>::Owned(self).into_any()
    }
}
impl Drawn for &str {
    fn drawn(self) -> AnyView {
        self.to_owned().drawn()
    }
}
impl Drawn for &String {
    fn drawn(self) -> AnyView {
        self.to_owned().drawn()
    }
}
impl Drawn for Cow<'static, str> {
    fn drawn(self) -> AnyView {
        self.into_any()
    }
}
macro_rules! numbers {
    ($($kind:ty),*) => { $(
        impl Worthy for $kind {
            fn worth(self) -> Worth {
                self.to_string().worth()
            }
        }
        impl Drawn for $kind {
            fn drawn(self) -> AnyView {
                self.to_string().drawn()
            }
        }
    )* };
}
numbers!(char, u8, u16, u32, i32, u64, i64, usize);

impl<T: Drawn> Drawn for Option<T> {
    fn drawn(self) -> AnyView {
        self.map_or_else(nothing, Drawn::drawn)
    }
}
impl<T: Drawn> Drawn for Vec<T> {
    fn drawn(self) -> AnyView {
        several(self.into_iter().map(Drawn::drawn).collect())
    }
}
impl<T: Drawn, const N: usize> Drawn for [T; N] {
    fn drawn(self) -> AnyView {
        several(self.into_iter().map(Drawn::drawn).collect())
    }
}
impl<F, T> Drawn for F
where
    F: FnMut() -> T + Send + 'static,
    T: Drawn,
{
    fn drawn(mut self) -> AnyView {
        live(Box::new(move || self().drawn()))
    }
}
