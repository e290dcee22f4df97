//! Draws the days of a plan, with the work and the drying in them.

use super::pen::{HATCH, Pen};
use super::size::{Drawing, PlotSize};

/// One day of a plan, as it is drawn.
pub struct CalendarDay {
    /// Its name.
    pub name: String,
    /// When work can begin and when it ends, on the same clock as all other times.
    pub open: (i64, i64),
    /// The number, from and to of each piece of work.
    pub works: Vec<(usize, i64, i64)>,
    /// From and to of each drying.
    pub drying: Vec<(i64, i64)>,
}

/// Draws days below each other: numbered blocks of work, hatched drying below them, and a line at `now`. `hour` is the
/// length of an hour on the clock of the times, `first` the hour of the day at which work begins.
pub fn draw(days: &[CalendarDay], now: i64, hour: i64, first: i64, size: PlotSize) -> Drawing {
    let left = size.em * 2.2;
    let row = size.em * 1.3 + 18.0;
    let width = size.width - left - 2.0;
    let mut pen = Pen::default();
    pen.word(HATCH);
    let mut top = 2.0;
    let bottom = row * days.len() as f32 + 2.0;
    let length = days.first().map_or(1, |d| (d.open.1 - d.open.0).max(1));
    let x = |time: i64, day: &CalendarDay| {
        let part = (time.clamp(day.open.0, day.open.1) - day.open.0) as f32 / length as f32;
        left + part * width
    };
    let mut hours = Pen::default();
    for n in 0..=length / hour {
        let at = left + (n * hour) as f32 / length as f32 * width;
        hours.line((at, 0.0), (at, bottom));
        let narrow = width / (length / hour).max(1) as f32 <= size.em * 1.6;
        if !narrow || n % 2 == 0 {
            let class = if n * hour == length {
                "name last"
            } else {
                "name"
            };
            pen.text(
                class,
                (at, bottom + size.em * 0.9),
                &(first + n).to_string(),
            );
        }
    }
    pen.path("grid", &hours);
    let [mut works, mut drying, mut line] = [(); 3].map(|()| Pen::default());
    let mut numbers = Pen::default();
    for day in days {
        let height = row - 16.0;
        pen.text("lane", (0.0, top + height * 0.7), &day.name);
        for (number, from, to) in &day.works {
            let (a, b) = (x(*from, day), x(*to, day));
            works.rect((a + 0.5, top), ((b - a - 1.0).max(1.0), height));
            let words = number.to_string();
            if b - a > size.em * 0.5 * words.len() as f32 + 3.0 {
                numbers.text("number", ((a + b) / 2.0, top + height / 2.0), &words);
            }
        }
        for (from, to) in &day.drying {
            let (a, b) = (x(*from, day), x(*to, day));
            if b > a {
                drying.rect((a, top + height + 2.0), (b - a, 7.0));
            }
        }
        if (day.open.0..=day.open.1).contains(&now) {
            let at = x(now, day);
            line.line((at, top - 2.0), (at, top + row - 4.0));
        }
        top += row;
    }
    pen.path("work", &works);
    pen.path("drying", &drying);
    pen.path("at", &line);
    pen.word(&numbers.0);
    Drawing {
        height: bottom + size.em * 1.2,
        svg: pen.0,
    }
}
