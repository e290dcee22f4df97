//! Writes the text of an SVG: paths, texts and the hatching.

/// The fill of hatched marks.
pub const HATCH: &str = "<defs><pattern id=\"plot-hatch\" width=\"2.4\" height=\"2.4\" \
    patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
    <rect class=\"hatch-line\" width=\"1.2\" height=\"2.4\"/></pattern></defs>";

/// Text of SVG; numbers have one decimal.
#[derive(Default)]
pub struct Pen(pub String);

impl Pen {
    /// Appends a number.
    pub fn number(&mut self, x: f32) -> &mut Pen {
        self.word(&format!("{x:.1}"))
    }

    /// Appends a text as it is.
    pub fn word(&mut self, text: &str) -> &mut Pen {
        self.0.push_str(text);
        self
    }

    /// Appends a path command with a point.
    pub fn to(&mut self, command: char, x: f32, y: f32) -> &mut Pen {
        self.0.push(command);
        self.number(x).word(" ").number(y)
    }

    /// Appends a line to a path.
    pub fn line(&mut self, from: (f32, f32), to: (f32, f32)) -> &mut Pen {
        self.to('M', from.0, from.1).to('L', to.0, to.1)
    }

    /// Appends a circle to a path.
    pub fn circle(&mut self, (x, y): (f32, f32), r: f32) {
        self.to('M', x - r, y);
        for way in [2.0 * r, -2.0 * r] {
            self.to('a', r, r).word(" 0 1 0 ").number(way).word(" 0");
        }
        self.0.push('z');
    }

    /// Appends a square around a point to a path.
    pub fn square(&mut self, (x, y): (f32, f32), half: f32) {
        self.rect((x - half, y - half), (2.0 * half, 2.0 * half));
    }

    /// Appends a rectangle to a path, by its upper left corner.
    pub fn rect(&mut self, (x, y): (f32, f32), (width, height): (f32, f32)) {
        self.to('M', x, y).word("h").number(width);
        self.word("v").number(height).word("h").number(-width);
        self.0.push('z');
    }

    /// Appends a `path` element, unless the path is empty.
    pub fn path(&mut self, class: &str, d: &Pen) {
        if !d.0.is_empty() {
            self.word("<path class=\"").word(class).word("\" d=\"");
            self.word(&d.0).word("\"/>");
        }
    }

    /// Appends a `text` element.
    pub fn text(&mut self, class: &str, (x, y): (f32, f32), words: &str) {
        self.word("<text class=\"")
            .word(class)
            .word("\" x=\"")
            .number(x);
        self.word("\" y=\"").number(y).word("\">");
        self.word(&escaped(words)).word("</text>");
    }
}

/// Returns a text with the characters of markup escaped.
pub fn escaped(words: &str) -> String {
    words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;")
}
