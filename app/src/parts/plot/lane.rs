//! The readings of the keys of one color, with their bands: the ground and the marks.

use evenhand_core::analysis::profile::{Mark, Profile, ProfileLine};
use evenhand_core::job::Subject;
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, Verdict};
use evenhand_core::unit::Length;

use super::axes::{NoteAxis, ValueAxis, last_below_breaks};
use super::pen::Pen;

/// The index of the readings as found.
const FOUND: usize = 0;
/// The index of the readings of the work.
const NOW: usize = 1;
/// The index of the readings as left.
pub const LEFT: usize = 2;
/// The class of each occasion's marks.
pub const OCCASION_CLASSES: [&str; 3] = ["found", "now", "left"];

/// The state of a reading, as its mark shows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum MarkState {
    In,
    Out,
    Again,
}

impl MarkState {
    fn of(mark: &Mark) -> MarkState {
        match mark.verdict() {
            _ if mark.remeasure => MarkState::Again,
            Some(Verdict::Out) => MarkState::Out,
            _ => MarkState::In,
        }
    }

    const fn class(self) -> &'static str {
        match self {
            MarkState::In => "in",
            MarkState::Out => "out",
            MarkState::Again => "again",
        }
    }
}

/// The lines of the naturals or of the sharps, with their axes.
pub struct Lane<'a> {
    /// The lines, from the bass.
    pub lines: &'a [ProfileLine],
    /// The sections of the instrument.
    pub sections: &'a Sections,
    /// The axis of notes.
    pub across: NoteAxis,
    /// The axis of values.
    pub along: ValueAxis,
    /// How much wider a band is drawn on each side: half a place for values that are words.
    pub half: f64,
}

impl Lane<'_> {
    /// Returns the note number at which a line's marks are drawn; the middle of a section.
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

    /// Draws the bands, the grid and the breaks.
    pub fn ground(&self, pen: &mut Pen, marks: &[(i64, String)]) {
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
        for note in last_below_breaks(self.sections) {
            let x = self.across.x(f32::from(note.number()) + 0.5);
            breaks.line((x, self.along.top), (x, self.along.bottom()));
        }
        pen.path("break", &breaks);
    }

    /// Returns the note numbers between which a line's band is drawn: half way to its neighbors, but no further than a
    /// break.
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
        let neighbor = |at: Option<usize>, end: Note, edge: f32| {
            let note = at.and_then(|at| self.lines.get(at)?.on.note());
            match note {
                Some(n) if self.sections.of(n) == section => (own + f32::from(n.number())) / 2.0,
                _ => f32::from(end.number()) + edge,
            }
        };
        (
            neighbor(at.checked_sub(1), ends.0, -0.5),
            neighbor(Some(at + 1), ends.1, 0.5),
        )
    }

    /// Returns the outline of the aim or accept bands; neighbors with the same band are drawn together.
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

    /// Draws the marks of the occasions shown, the earliest below, with a line through the latest.
    pub fn series(&self, pen: &mut Pen, profile: &Profile, shown: [bool; 3]) {
        let Some(latest) = (0..3).rev().find(|i| shown[*i]) else {
            return;
        };
        pen.path("run", &self.run(latest));
        if let Some(figures) = &profile.figures[latest]
            && let Some(step) = figures.all.shown_jump(&profile.measure)
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

    fn place(&self, line: &ProfileLine, mark: &Mark) -> (f32, f32) {
        let x = self.across.x(self.number(line.on));
        (x, self.along.y(mark.value.base() as f64))
    }

    /// Returns a line from reading to reading, broken where a neighbor was not read.
    fn run(&self, occasion: usize) -> Pen {
        let mut d = Pen::default();
        let mut goes_on = false;
        for line in self.lines {
            let mark = line.marks[occasion].filter(|_| occasion != NOW || line.swept.is_none());
            if let Some(mark) = &mark {
                let (x, y) = self.place(line, mark);
                d.to(if goes_on { 'L' } else { 'M' }, x, y);
            }
            goes_on = mark.is_some();
        }
        d
    }

    fn marks(&self, pen: &mut Pen, occasion: usize) {
        let r = (self.across.note * 0.72).clamp(2.4, 4.6);
        let mut by_state =
            [MarkState::In, MarkState::Out, MarkState::Again].map(|state| (state, Pen::default()));
        let [mut stems, mut notches, mut rings, mut swept] = [(); 4].map(|()| Pen::default());
        for line in self.lines {
            if let Some(sweep) = line.swept.filter(|_| occasion == NOW) {
                self.settled(&mut swept, line, sweep.expected, r);
                continue;
            }
            let Some(mark) = &line.marks[occasion] else {
                continue;
            };
            let state = MarkState::of(mark);
            let at = self.place(line, mark);
            if state == MarkState::Out {
                self.stem(&mut stems, line, mark);
            }
            let d = by_state.iter_mut().find(|(f, _)| *f == state);
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
            if state == MarkState::Out && occasion != FOUND && self.along.holds(mark.value.base()) {
                notches.line((at.0 - r, at.1), (at.0 + r, at.1));
            }
        }
        let name = OCCASION_CLASSES[occasion];
        pen.path(&format!("stem {name}"), &stems);
        pen.path(&format!("ring {name}"), &rings);
        for (state, d) in &by_state {
            pen.path(&format!("dots {name} {}", state.class()), d);
        }
        pen.path("notch", &notches);
        pen.path("swept", &swept);
    }

    /// Draws what was settled without a number: a diamond where a note that was not measured again should read, a cross on the
    /// aim of one that was looked along.
    fn settled(&self, d: &mut Pen, line: &ProfileLine, expected: Option<Length>, r: f32) {
        let Some(base) = expected.map(Length::nm).or(line.band.map(|b| b.aim)) else {
            return;
        };
        let (x, y) = (
            self.across.x(self.number(line.on)),
            self.along.y(base as f64),
        );
        if expected.is_some() {
            d.to('M', x - r, y).to('L', x, y - r).to('L', x + r, y);
            d.to('L', x, y + r).word("z");
        } else {
            d.line((x - r, y), (x + r, y)).line((x, y - r), (x, y + r));
        }
    }

    /// Draws a stem from the edge of the accept band to a mark outside it.
    fn stem(&self, d: &mut Pen, line: &ProfileLine, mark: &Mark) {
        let Some(judged) = mark.judged else { return };
        let (low, high) = judged.band.accept;
        let edge = if judged.off > 0 { high } else { low };
        let Some(edge) = edge else { return };
        let (x, y) = self.place(line, mark);
        d.line((x, self.along.y(edge as f64)), (x, y));
    }

    /// Draws an arrow for a mark beyond the lane.
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
