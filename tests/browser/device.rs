//! What a test holds in its hand: the screen, the theme, the size of text.

use serde_json::{Value, json};

/// A screen with its habits.
#[derive(Clone, Copy, Debug)]
pub struct Device {
    /// Width of the viewport in CSS pixels.
    pub width: u32,
    /// Height of the viewport in CSS pixels.
    pub height: u32,
    /// Touched like a phone, or used with a mouse.
    pub touch: bool,
    /// The platform asks for the dark theme.
    pub dark: bool,
    /// The user's text size, in percent of the usual one.
    pub text_percent: u32,
}

impl Device {
    /// A phone of 360 × 740 CSS pixels.
    pub const PHONE: Self = Self {
        width: 360,
        height: 740,
        touch: true,
        dark: false,
        text_percent: 100,
    };

    /// The office's screen.
    pub const DESK: Self = Self {
        width: 1280,
        height: 800,
        touch: false,
        ..Self::PHONE
    };

    /// The same device with the dark theme.
    pub const fn dark(self) -> Self {
        Self { dark: true, ..self }
    }

    /// The same device with another text size.
    pub const fn text_percent(self, text_percent: u32) -> Self {
        Self {
            text_percent,
            ..self
        }
    }

    /// The same device with a narrower or wider screen.
    pub const fn width(self, width: u32) -> Self {
        Self { width, ..self }
    }

    pub(crate) fn emulation(&self) -> Value {
        json!({ "deviceMetrics": {
            "width": self.width,
            "height": self.height,
            "pixelRatio": if self.touch { 2.0 } else { 1.0 },
            "touch": self.touch,
            "mobile": self.touch,
        }})
    }

    /// Chromium's usual text is 16 px high.
    pub(crate) fn text_pixels(&self) -> u32 {
        16 * self.text_percent / 100
    }

    pub(crate) fn color_scheme(&self) -> &'static str {
        if self.dark { "dark" } else { "light" }
    }
}
