//! The size of a picture, as its figure has room for it.

use leptos::html::Figure;
use leptos::prelude::*;

/// The size that is drawn on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlotSize {
    /// Its width in the units of the picture: CSS pixels where it is shown as large as it is.
    pub width: f32,
    /// The height of its letters, 16 unless the reader asked for more.
    pub em: f32,
}

/// A finished picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Its height in the units of [`PlotSize::width`].
    pub height: f32,
    /// What stands inside the `svg` element.
    pub svg: String,
}

/// Returns the letters' height that the reader asked for, in CSS pixels.
fn em() -> f32 {
    let root = document().document_element();
    let style = root.and_then(|r| window().get_computed_style(&r).ok().flatten());
    let size = style.and_then(|s| s.get_property_value("font-size").ok());
    // The browser's own reading of a number, which stops at the unit.
    let size = size.map(|s| js_sys::parse_float(&s) as f32);
    size.filter(|s| s.is_finite()).unwrap_or(16.0)
}

/// Returns the size that a figure has room for, followed when the window changes.
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
