//! The size of a picture, and the finished picture.

use leptos::html::Figure;
use leptos::prelude::*;

/// The size of a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlotSize {
    /// Its width in the units of the picture, which are CSS pixels on the screen.
    pub width: f32,
    /// The font size, 16 unless the reader has set another.
    pub em: f32,
}

/// A finished picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Its height in the units of [`PlotSize::width`].
    pub height: f32,
    /// The content of the `svg` element.
    pub svg: String,
}

/// Returns the root font size, in CSS pixels.
fn em() -> f32 {
    let root = document().document_element();
    let style = root.and_then(|r| window().get_computed_style(&r).ok().flatten());
    let size = style.and_then(|s| s.get_property_value("font-size").ok());
    // `parseFloat` stops at the unit.
    let size = size.map(|s| js_sys::parse_float(&s) as f32);
    size.filter(|s| s.is_finite()).unwrap_or(16.0)
}

/// Returns the size that a figure has room for, renewed when the window is resized.
pub fn plot_size(place: NodeRef<Figure>) -> RwSignal<PlotSize> {
    let size = RwSignal::new(PlotSize {
        width: 328.0,
        em: em(),
    });
    let measure = move || {
        if let Some(figure) = place.get_untracked() {
            let width = (figure.client_width() as f32).max(200.0);
            size.set(PlotSize { width, em: em() });
        }
    };
    Effect::new(move |_| {
        place.track();
        measure();
    });
    let resized = window_event_listener(leptos::ev::resize, move |_| measure());
    on_cleanup(move || resized.remove());
    size
}
