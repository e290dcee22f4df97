//! Draws the readings of a profile against their band, as the text of an SVG: marks where
//! the keys stand, naturals and sharps each in their own lane.
//!
//! Form tells what a mark is before colour does: round on a natural and square on a sharp;
//! hollow as found, full as it is now, ringed as left; notched and on a stem when it is out,
//! hatched when it was disturbed. The same text serves the screen and a printed page.

use evenhand_core::job::Subject;
use evenhand_core::note::{Note, Sections};
use evenhand_core::reckon::profile::{Line, Mark, Profile};
use evenhand_core::trade::{Band, Verdict};
use evenhand_core::unit::{Kind, LengthUnit, Value};
use leptos::html::Figure;
use leptos::prelude::*;

/// The sheet that is drawn on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Its width in the units of the picture: CSS pixels where it is shown as large as it is.
    pub width: f32,
    /// The height of its letters, 16 unless the reader asked for more.
    pub em: f32,
}

/// A picture drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// Its height in the units of the sheet's width.
    pub height: f32,
    /// What stands inside the `svg` element.
    pub inside: String,
    across: Across,
}

impl Drawn {
    /// The note at a place across the picture, the nearest where none stands.
    pub fn note_at(&self, x: f32) -> Note {
        let number = (x - self.across.left) / self.across.note + 1.0;
        Note::new((number as i64).clamp(1, 88)).unwrap_or(Note::FIRST)
    }

    /// Where a note stands across the picture.
    pub fn x(&self, note: Note) -> f32 {
        self.across.x(f32::from(note.number()))
    }
}

/// How the notes stand across the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Across {
    left: f32,
    /// The width of one note.
    note: f32,
}

impl Across {
    /// The middle of a note; halves lie between two.
    fn x(self, number: f32) -> f32 {
        self.left + (number - 0.5) * self.note
    }
}

/// What values stand where in a lane.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Along {
    low: f64,
    high: f64,
    top: f32,
    height: f32,
}

impl Along {
    /// Where a value stands; past the ends, at the end.
    fn y(self, base: f64) -> f32 {
        let part = (self.high - base) / (self.high - self.low);
        self.top + (part as f32).clamp(0.0, 1.0) * self.height
    }

    fn bottom(self) -> f32 {
        self.top + self.height
    }

    fn holds(self, base: i64) -> bool {
        (self.low..=self.high).contains(&(base as f64))
    }
}

/// Text of SVG, written with one decimal of the picture’s unit.
#[derive(Default)]
struct Pen(String);

impl Pen {
    fn number(&mut self, x: f32) -> &mut Pen {
        self.word(&format!("{x:.1}"))
    }

    fn word(&mut self, text: &str) -> &mut Pen {
        self.0.push_str(text);
        self
    }

    /// A path's command with its place.
    fn to(&mut self, command: char, x: f32, y: f32) -> &mut Pen {
        self.0.push(command);
        self.number(x).word(" ").number(y)
    }

    fn line(&mut self, from: (f32, f32), to: (f32, f32)) -> &mut Pen {
        self.to('M', from.0, from.1).to('L', to.0, to.1)
    }

    fn circle(&mut self, (x, y): (f32, f32), r: f32) {
        self.to('M', x - r, y);
        for way in [2.0 * r, -2.0 * r] {
            self.to('a', r, r).word(" 0 1 0 ").number(way).word(" 0");
        }
        self.0.push('z');
    }

    fn square(&mut self, (x, y): (f32, f32), half: f32) {
        self.rect((x - half, y - half), (2.0 * half, 2.0 * half));
    }

    fn rect(&mut self, (x, y): (f32, f32), (width, height): (f32, f32)) {
        self.to('M', x, y).word("h").number(width);
        self.word("v").number(height).word("h").number(-width);
        self.0.push('z');
    }

    /// An element of one path, left out where nothing was drawn.
    fn path(&mut self, class: &str, d: &Pen) {
        if !d.0.is_empty() {
            self.word("<path class=\"").word(class).word("\" d=\"");
            self.word(&d.0).word("\"/>");
        }
    }

    fn text(&mut self, class: &str, (x, y): (f32, f32), words: &str) {
        self.word("<text class=\"")
            .word(class)
            .word("\" x=\"")
            .number(x);
        self.word("\" y=\"").number(y).word("\">");
        self.word(&escaped(words)).word("</text>");
    }
}

/// Words as they may stand in markup.
pub fn escaped(words: &str) -> String {
    words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;")
}

/// Draws the occasions of a profile that are `shown`.
pub fn draw(
    profile: &Profile,
    shown: [bool; 3],
    sections: &Sections,
    length: LengthUnit,
    sheet: Sheet,
) -> Drawn {
    let (low, high) = ends(profile, shown);
    let marks = scale(profile, low, high, length);
    let longest = marks.iter().map(|(_, words)| words.chars().count()).max();
    let letter = sheet.em * 0.42;
    let left = longest.unwrap_or(0) as f32 * letter + 0.6 * sheet.em;
    let across = Across {
        left,
        note: (sheet.width - left - 3.0) / 88.0,
    };
    let lanes = lanes(profile);
    let head = if lanes.len() > 1 {
        sheet.em * 1.2
    } else {
        sheet.em * 0.4
    };
    let height = (sheet.width * if lanes.len() > 1 { 0.3 } else { 0.42 }).clamp(104.0, 220.0);
    let mut pen = Pen::default();
    pen.word(HATCH);
    let mut top = 0.0;
    for (name, lines) in &lanes {
        let along = Along {
            low,
            high,
            top: top + head,
            height,
        };
        if lanes.len() > 1 {
            pen.text("lane", (left, top + sheet.em * 0.85), name);
        }
        let half = if is_graded(profile.measure.kind) {
            0.5
        } else {
            0.0
        };
        let lane = Lane {
            lines,
            sections,
            across,
            along,
            half,
        };
        lane.ground(&mut pen, &marks);
        lane.series(&mut pen, profile, shown);
        top += head + height;
    }
    names(&mut pen, across, top, sheet.em);
    Drawn {
        height: top + sheet.em * 1.1,
        inside: pen.0,
        across,
    }
}

/// The lines of naturals and of sharps, or of all where they are not of notes.
fn lanes(profile: &Profile) -> Vec<(&'static str, Vec<Line>)> {
    let of = |keep: fn(&Line) -> bool| -> Vec<Line> {
        profile.lines.iter().copied().filter(keep).collect()
    };
    let is_sharp = |l: &Line| l.on.note().is_some_and(Note::is_sharp);
    let lanes = [
        ("Naturals", of(|l| !l.on.note().is_some_and(Note::is_sharp))),
        ("Sharps", of(is_sharp)),
    ];
    lanes
        .into_iter()
        .filter(|(_, lines)| !lines.is_empty())
        .collect()
}

/// Lowest and highest value that the picture holds: the bands and the readings, but no further
/// past the band than it is wide, so that one wild reading does not flatten the rest.
fn ends(profile: &Profile, shown: [bool; 3]) -> (f64, f64) {
    if is_graded(profile.measure.kind) {
        return (-0.6, profile.measure.grades.len().max(2) as f64 - 0.4);
    }
    let bands = || profile.lines.iter().filter_map(|l| l.band);
    let low_of = |b: Band| b.accept.0.or(b.within.0).unwrap_or(b.aim);
    let high_of = |b: Band| b.accept.1.or(b.within.1).unwrap_or(b.aim);
    let read = || {
        let marks = profile.lines.iter().flat_map(|l| l.marks.iter().zip(shown));
        marks.filter_map(|(mark, shown)| Some(mark.filter(|_| shown)?.value.base()))
    };
    let band = bands().map(low_of).min().zip(bands().map(high_of).max());
    let (low, high) = match (band, read().min().zip(read().max())) {
        (Some((low, high)), Some((least, most))) if high > low => {
            let past = high - low;
            let lowest = least.max(low.saturating_sub(past));
            let highest = most.min(high.saturating_add(past));
            (low.min(lowest), high.max(highest))
        }
        (Some((low, high)), Some((least, most))) => (low.min(least), high.max(most)),
        (Some(ends), None) | (None, Some(ends)) => ends,
        (None, None) => (0, 1),
    };
    let least = profile.measure.kind.per_shown() as f64 / 20.0;
    let (low, high) = (low as f64, high as f64);
    let margin = ((high - low) / 12.0).max(least);
    (low - margin, high + margin)
}

/// Whether it is told in words: then half a place stands above and below each.
fn is_graded(kind: Kind) -> bool {
    matches!(kind, Kind::Grade | Kind::Good)
}

/// The marks of the scale: some four even steps, in words.
fn scale(profile: &Profile, low: f64, high: f64, length: LengthUnit) -> Vec<(i64, String)> {
    let measure = &profile.measure;
    let least = ((high - low) / 4.0) as i64;
    let (step, decimals) = match (measure.kind, length) {
        (kind, _) if is_graded(kind) => (1, 0),
        (Kind::Length, LengthUnit::Inch) => (inch_step(least), 3),
        (kind, _) => decimal_step(least, kind.per_shown()),
    };
    let whole = |end: f64| (end / step as f64) as i64;
    let (first, last) = (whole(low) - 1, whole(high) + 1);
    (first..=last)
        .filter(|n| (low..=high).contains(&((n * step) as f64)))
        .take(12)
        .map(|n| {
            let base = n * step;
            let words = match measure.kind {
                kind if is_graded(kind) => {
                    measure.shown(Value::from_base(measure.kind, base), length)
                }
                kind => kind.shown(base, length, decimals),
            };
            (base, words)
        })
        .collect()
}

/// The smallest of 1, 2, 5, 10 … hundredths of the shown unit that is not below `least`, and its decimals.
fn decimal_step(least: i64, per_shown: i64) -> (i64, u32) {
    let mut ten = (per_shown / 100).max(1);
    loop {
        for times in [1, 2, 5] {
            let step = ten * times;
            if step >= least {
                let decimals = (0..3).find(|d| step * 10i64.pow(*d) % per_shown == 0);
                return (step, decimals.unwrap_or(2));
            }
        }
        ten = ten.saturating_mul(10);
    }
}

/// As [`decimal_step`] in 64ths of an inch, doubled.
fn inch_step(least: i64) -> i64 {
    let mut step = 396_875;
    while step < least {
        step *= 2;
    }
    step
}

/// The names of the Cs below the last lane, every second one where they would touch.
fn names(pen: &mut Pen, across: Across, top: f32, em: f32) {
    let every = if across.note * 12.0 < em * 1.7 {
        24
    } else {
        12
    };
    for note in Note::all().filter(|n| n.number() % every == 4) {
        let x = across.x(f32::from(note.number()));
        // C8 stands at the very edge.
        let (class, x) = match note {
            Note::LAST => ("name last", across.x(88.5)),
            _ => ("name", x),
        };
        pen.text(class, (x, top + em * 0.9), &note.name());
    }
}

/// What the hatched marks are filled with.
const HATCH: &str = "<defs><pattern id=\"plot-hatch\" width=\"2.4\" height=\"2.4\" \
    patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
    <rect class=\"hatch-line\" width=\"1.2\" height=\"2.4\"/></pattern></defs>";

/// The keys of one colour.
struct Lane<'a> {
    lines: &'a [Line],
    sections: &'a Sections,
    across: Across,
    along: Along,
    /// What a band is drawn wider by on each side: half a place, where it is told in words.
    half: f64,
}

impl Lane<'_> {
    /// The number at whose place a line's marks stand: a section's in its middle.
    fn number(&self, on: Subject) -> f32 {
        match on {
            Subject::Whole => 44.5,
            Subject::Note(note) => f32::from(note.number()),
            Subject::Section(section) => match self.sections.ends(usize::from(section)) {
                Some((a, b)) => (f32::from(a.number()) + f32::from(b.number())) / 2.0,
                None => 44.5,
            },
        }
    }

    /// The bands, the scale and the breaks.
    fn ground(&self, pen: &mut Pen, marks: &[(i64, String)]) {
        pen.path("accept", &self.band(|b| b.accept));
        pen.path("aim", &self.band(|b| b.within));
        let (left, right) = (self.across.left, self.across.x(88.5));
        let mut grid = Pen::default();
        for (base, words) in marks {
            let y = self.along.y(*base as f64);
            grid.line((left, y), (right, y));
            pen.text("mark", (left - 4.0, y), words);
        }
        pen.path("grid", &grid);
        let mut breaks = Pen::default();
        for note in last_of(self.sections) {
            let x = self.across.x(f32::from(note.number()) + 0.5);
            breaks.line((x, self.along.top), (x, self.along.bottom()));
        }
        pen.path("break", &breaks);
    }

    /// Where a line begins and ends across: half way to its neighbours, but no further than a break.
    fn reach(&self, at: usize) -> (f32, f32) {
        let line = &self.lines[at];
        let Some(note) = line.on.note() else {
            let ends = match line.on {
                Subject::Section(s) => self.sections.ends(usize::from(s)),
                _ => None,
            };
            let (a, b) = ends.unwrap_or((Note::FIRST, Note::LAST));
            return (f32::from(a.number()) - 0.5, f32::from(b.number()) + 0.5);
        };
        let own = f32::from(note.number());
        let section = self.sections.of(note);
        let ends = self
            .sections
            .ends(section)
            .unwrap_or((Note::FIRST, Note::LAST));
        let neighbour = |at: Option<usize>, end: Note, edge: f32| {
            let note = at.and_then(|at| self.lines.get(at)?.on.note());
            match note {
                Some(n) if self.sections.of(n) == section => (own + f32::from(n.number())) / 2.0,
                _ => f32::from(end.number()) + edge,
            }
        };
        (
            neighbour(at.checked_sub(1), ends.0, -0.5),
            neighbour(Some(at + 1), ends.1, 0.5),
        )
    }

    /// The outline of the aim or accept bands, neighbours with one band drawn together.
    fn band(&self, side: fn(&Band) -> (Option<i64>, Option<i64>)) -> Pen {
        let mut d = Pen::default();
        let mut open: Option<((f32, f32), (f32, f32))> = None;
        let flush = |d: &mut Pen, ((from, to), (top, bottom)): ((f32, f32), (f32, f32))| {
            let (from, to) = (self.across.x(from), self.across.x(to));
            d.to('M', from, top).word("H").number(to);
            d.word("V").number(bottom).word("H").number(from);
            d.0.push('z');
        };
        for at in 0..self.lines.len() {
            let Some(band) = &self.lines[at].band else {
                continue;
            };
            let (low, high) = side(band);
            let top = high.map_or(self.along.top, |h| self.along.y(h as f64 + self.half));
            let bottom = low.map_or(self.along.bottom(), |l| self.along.y(l as f64 - self.half));
            let (from, to) = self.reach(at);
            match &mut open {
                Some(((_, until), ys)) if *ys == (top, bottom) && (*until - from).abs() < 0.01 => {
                    *until = to
                }
                _ => {
                    if let Some(done) = open.replace(((from, to), (top, bottom))) {
                        flush(&mut d, done);
                    }
                }
            }
        }
        if let Some(done) = open {
            flush(&mut d, done);
        }
        d
    }

    /// The marks of the occasions shown, the earliest below, with a line through the latest.
    fn series(&self, pen: &mut Pen, profile: &Profile, shown: [bool; 3]) {
        let Some(latest) = (0..3).rev().find(|i| shown[*i]) else {
            return;
        };
        pen.path("run", &self.run(latest));
        if let Some(figures) = &profile.figures[latest]
            && let Some(step) = figures.all.greatest_step
        {
            let at = |note: Note| {
                let line = self.lines.iter().find(|l| l.on == Subject::Note(note))?;
                Some(self.place(line, line.marks[latest].as_ref()?))
            };
            if let Some((from, to)) = at(step.from).zip(at(step.to)) {
                let mut d = Pen::default();
                d.line(from, to);
                pen.path("greatest", &d);
            }
        }
        for occasion in (0..3).filter(|i| shown[*i]) {
            self.marks(pen, occasion);
        }
    }

    fn place(&self, line: &Line, mark: &Mark) -> (f32, f32) {
        let x = self.across.x(self.number(line.on));
        (x, self.along.y(mark.value.base() as f64))
    }

    /// A line from reading to reading, broken where a neighbour was not read.
    fn run(&self, occasion: usize) -> Pen {
        let mut d = Pen::default();
        let mut goes_on = false;
        for line in self.lines {
            if let Some(mark) = &line.marks[occasion] {
                let (x, y) = self.place(line, mark);
                d.to(if goes_on { 'L' } else { 'M' }, x, y);
            }
            goes_on = line.marks[occasion].is_some();
        }
        d
    }

    fn marks(&self, pen: &mut Pen, occasion: usize) {
        let r = (self.across.note * 0.72).clamp(2.4, 4.6);
        let mut by_form = [Form::In, Form::Out, Form::Again].map(|form| (form, Pen::default()));
        let [mut stems, mut notches, mut rings] = [(); 3].map(|()| Pen::default());
        for line in self.lines {
            let Some(mark) = &line.marks[occasion] else {
                continue;
            };
            let form = Form::of(mark);
            let at = self.place(line, mark);
            if form == Form::Out {
                self.stem(&mut stems, line, mark);
            }
            let d = by_form.iter_mut().find(|(f, _)| *f == form);
            let Some((_, d)) = d else { continue };
            let is_sharp = line.on.note().is_some_and(Note::is_sharp);
            let outline = |d: &mut Pen, r: f32| match is_sharp {
                _ if !self.along.holds(mark.value.base()) => {
                    self.arrow(d, at, r, mark.value.base())
                }
                true => d.square(at, r * 0.9),
                false => d.circle(at, r),
            };
            outline(d, r);
            if occasion == LEFT {
                outline(&mut rings, r + 2.0);
            }
            if form == Form::Out && occasion != FOUND && self.along.holds(mark.value.base()) {
                notches.line((at.0 - r, at.1), (at.0 + r, at.1));
            }
        }
        let name = NAMES[occasion];
        pen.path(&format!("stem {name}"), &stems);
        pen.path(&format!("ring {name}"), &rings);
        for (form, d) in &by_form {
            pen.path(&format!("dots {name} {}", form.class()), d);
        }
        pen.path("notch", &notches);
    }

    /// From the edge of the accept band to a mark that lies outside it.
    fn stem(&self, d: &mut Pen, line: &Line, mark: &Mark) {
        let Some(judged) = mark.judged else { return };
        let (low, high) = judged.band.accept;
        let edge = if judged.off > 0 { high } else { low };
        let Some(edge) = edge else { return };
        let (x, y) = self.place(line, mark);
        d.line((x, self.along.y(edge as f64)), (x, y));
    }

    /// A mark past the end of the picture points on.
    fn arrow(&self, d: &mut Pen, (x, y): (f32, f32), r: f32, base: i64) {
        let way = if base as f64 > self.along.high {
            1.0
        } else {
            -1.0
        };
        d.to('M', x, y)
            .to('L', x - r, y + 2.0 * r * way)
            .to('L', x + r, y + 2.0 * r * way);
        d.0.push('z');
    }
}

const FOUND: usize = 0;
const LEFT: usize = 2;
/// The class of each occasion's marks.
pub const NAMES: [&str; 3] = ["found", "now", "left"];

/// What a mark's form tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    In,
    Out,
    Again,
}

impl Form {
    fn of(mark: &Mark) -> Form {
        match mark.verdict() {
            _ if mark.again => Form::Again,
            Some(Verdict::Out) => Form::Out,
            _ => Form::In,
        }
    }

    const fn class(self) -> &'static str {
        match self {
            Form::In => "in",
            Form::Out => "out",
            Form::Again => "again",
        }
    }
}

/// A sample of an occasion's mark, 14 units square.
pub fn key(occasion: usize) -> String {
    let mut pen = Pen::default();
    let circle = |r: f32| {
        let mut d = Pen::default();
        d.circle((7.0, 7.0), r);
        d
    };
    let name = NAMES[occasion];
    if occasion == LEFT {
        pen.path(&format!("ring {name}"), &circle(6.0));
    }
    pen.path(
        &format!("dots {name} in"),
        &circle(if occasion == LEFT { 3.4 } else { 4.4 }),
    );
    pen.0
}

/// Draws which notes are to be moved and which way the reading goes: a bar up where it
/// must grow and down where it must shrink, as long as it is far, hollow once it was done.
/// 360 units wide and 44 high.
pub fn movements(bars: &[(Note, i64, bool)], sections: &Sections) -> String {
    const MIDDLE: f32 = 22.0;
    let across = Across {
        left: 4.0,
        note: 4.0,
    };
    let mut pen = Pen::default();
    let mut ground = Pen::default();
    ground.line((4.0, MIDDLE), (356.0, MIDDLE));
    pen.path("grid", &ground);
    let mut breaks = Pen::default();
    for note in last_of(sections) {
        let x = across.x(f32::from(note.number()) + 0.5);
        breaks.line((x, 2.0), (x, 42.0));
    }
    pen.path("break", &breaks);
    let most = bars.iter().map(|(_, way, _)| way.unsigned_abs()).max();
    let most = most.unwrap_or(1).max(1) as f32;
    let [mut stems, mut open, mut done] = [(); 3].map(|()| Pen::default());
    for (note, way, is_done) in bars {
        let x = across.x(f32::from(note.number()));
        let far = *way as f32 / most * 14.0;
        let y = MIDDLE - far - 3.0 * far.signum();
        stems.line((x, MIDDLE), (x, y));
        let d = if *is_done { &mut done } else { &mut open };
        match note.is_sharp() {
            true => d.square((x, y), 2.7),
            false => d.circle((x, y), 3.0),
        }
    }
    pen.path("stem found", &stems);
    pen.path("dots now in", &open);
    pen.path("dots found", &done);
    pen.0
}

/// The last notes below the breaks.
fn last_of(sections: &Sections) -> impl Iterator<Item = Note> {
    let ends = (0..sections.count()).filter_map(|s| sections.ends(s));
    ends.map(|(_, last)| last).filter(|last| *last < Note::LAST)
}

/// One day to draw: its name, when it opens and closes, and what is in it.
pub struct DrawnDay {
    /// Its name.
    pub name: &'static str,
    /// When work can begin and when it ends, in one clock with all else.
    pub open: (i64, i64),
    /// The number, from and to of each piece of work.
    pub works: Vec<(usize, i64, i64)>,
    /// From and to of each cure.
    pub cures: Vec<(i64, i64)>,
}

/// Draws days below each other as they are worked: blocks with their numbers, below them, hatched,
/// what cures, and a line where `now` is. `hour` is an hour of the clock, `first` that in which
/// the day opens.
pub fn days(days: &[DrawnDay], now: i64, hour: i64, first: i64, sheet: Sheet) -> Drawn {
    let left = sheet.em * 2.2;
    let row = sheet.em * 1.3 + 18.0;
    let width = sheet.width - left - 2.0;
    let mut pen = Pen::default();
    pen.word(HATCH);
    let mut top = 2.0;
    let bottom = row * days.len() as f32 + 2.0;
    let length = days.first().map_or(1, |d| (d.open.1 - d.open.0).max(1));
    let x = |time: i64, day: &DrawnDay| {
        let part = (time.clamp(day.open.0, day.open.1) - day.open.0) as f32 / length as f32;
        left + part * width
    };
    let mut hours = Pen::default();
    for n in 0..=length / hour {
        let at = left + (n * hour) as f32 / length as f32 * width;
        hours.line((at, 0.0), (at, bottom));
        let narrow = width / (length / hour).max(1) as f32 <= sheet.em * 1.6;
        if !narrow || n % 2 == 0 {
            let class = if n * hour == length {
                "name last"
            } else {
                "name"
            };
            pen.text(
                class,
                (at, bottom + sheet.em * 0.9),
                &(first + n).to_string(),
            );
        }
    }
    pen.path("grid", &hours);
    let [mut works, mut cures, mut line] = [(); 3].map(|()| Pen::default());
    let mut numbers = Pen::default();
    for day in days {
        let height = row - 16.0;
        pen.text("lane", (0.0, top + height * 0.7), day.name);
        for (number, from, to) in &day.works {
            let (a, b) = (x(*from, day), x(*to, day));
            works.rect((a + 0.5, top), ((b - a - 1.0).max(1.0), height));
            let words = number.to_string();
            if b - a > sheet.em * 0.5 * words.len() as f32 + 3.0 {
                numbers.text("number", ((a + b) / 2.0, top + height / 2.0), &words);
            }
        }
        for (from, to) in &day.cures {
            let (a, b) = (x(*from, day), x(*to, day));
            if b > a {
                cures.rect((a, top + height + 2.0), (b - a, 7.0));
            }
        }
        if (day.open.0..=day.open.1).contains(&now) {
            let at = x(now, day);
            line.line((at, top - 2.0), (at, top + row - 4.0));
        }
        top += row;
    }
    pen.path("work", &works);
    pen.path("cure", &cures);
    pen.path("at", &line);
    pen.word(&numbers.0);
    Drawn {
        height: bottom + sheet.em * 1.2,
        inside: pen.0,
        across: Across { left, note: width },
    }
}

/// The letters' height that the reader asked for, in CSS pixels.
fn em() -> f32 {
    let root = document().document_element();
    let style = root.and_then(|r| window().get_computed_style(&r).ok().flatten());
    let size = style.and_then(|s| s.get_property_value("font-size").ok());
    // The browser's own reading of a number, which stops at the unit.
    let size = size.map(|s| js_sys::parse_float(&s) as f32);
    size.filter(|s| s.is_finite()).unwrap_or(16.0)
}

/// The sheet that a figure has room for, followed when the window changes.
pub fn sheet_of(place: NodeRef<Figure>) -> RwSignal<Sheet> {
    let sheet = RwSignal::new(Sheet {
        width: 328.0,
        em: em(),
    });
    let measure = move || {
        if let Some(figure) = place.get_untracked() {
            let width = (figure.client_width() as f32).max(200.0);
            sheet.set(Sheet { width, em: em() });
        }
    };
    Effect::new(move |_| {
        place.track();
        measure();
    });
    let resized = window_event_listener(leptos::ev::resize, move |_| measure());
    on_cleanup(move || resized.remove());
    sheet
}
