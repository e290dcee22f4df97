//! The readings of a step, drawn and in a table.

use serde_json::json;

use crate::browser::Browser;

/// The profile of a step.
pub struct Profile<'a>(pub &'a Browser);

/// The values of the full marks as the picture has them: each mark's place, held against the scale beside it.
const DRAWN: &str = "
    const lanes = [], plot = document.querySelector('.picture-of .plot');
    const scale = [...plot.querySelectorAll('.mark')].map(t => [+t.getAttribute('y'), +t.textContent.replace('−', '-')]);
    for (let i = 1; i < scale.length; i++) if (scale[i][0] < scale[i - 1][0]) lanes.push([scale[i - 1], scale[i]]);
    const value = y => { const [[a, va], [b, vb]] = lanes.reduce((l, m) => Math.abs(m[0][0] - y) < Math.abs(l[0][0] - y) ? m : l); return va + (y - a) / (b - a) * (vb - va); };
    const marks = [...plot.querySelectorAll(arguments[0])].flatMap(p => p.getAttribute('d').split('M').filter(Boolean));
    return marks.map(m => { const [, y, rest] = m.match(/^\\S+ (-?[\\d.]+)(.*)/); return value(+y + (rest[0] === 'h' ? +rest.match(/^h([\\d.]+)/)[1] / 2 : 0)); });
";

impl Profile<'_> {
    /// Goes to the profile of a step of the open job.
    pub async fn go(&self, job: &str, step: &str) {
        let place = format!("{job}/profile/{step}");
        let go = "location.hash = arguments[0]";
        self.0.run(go, vec![json!(place)]).await;
        self.0.wait_for(".picture-of .plot path").await;
    }

    /// The values of the marks of a form, read off the picture.
    pub async fn drawn(&self, marks: &str) -> Vec<f64> {
        let drawn = self.0.run(DRAWN, vec![json!(marks)]).await;
        serde_json::from_value(drawn).expect("a list of values")
    }

    /// A column of the table of readings as numbers, of rows of a class or, with an empty one, of all.
    pub async fn column(&self, name: &str, class: &str) -> Vec<f64> {
        let column = "
            const table = document.querySelector('.readings table');
            const at = [...table.tHead.rows[0].cells].findIndex(c => c.innerText === arguments[0]);
            const rows = [...table.tBodies[0].rows].filter(r => !arguments[1] || r.className === arguments[1]);
            return rows.map(r => parseFloat(r.cells[at].innerText.replace('−', '-'))).filter(n => !isNaN(n));";
        let arguments = vec![json!(name), json!(class)];
        let column = self.0.run(column, arguments).await;
        serde_json::from_value(column).expect("a list of numbers")
    }

    /// Taps the picture where a note stands, at its height.
    pub async fn tap_note(&self, note: u32) {
        let place = "
            const r = document.querySelector('.picture-of .plot').getBoundingClientRect();
            const left = +document.querySelector('.picture-of .lane').getAttribute('x');
            return [r.x + left + (r.width - left - 3) / 88 * (arguments[0] - 0.5), r.y + r.height / 4]";
        let place = self.0.run(place, vec![json!(note)]).await;
        let at = |i: usize| place[i].as_f64().expect("a place");
        self.0.tap_at(at(0), at(1)).await;
    }

    /// What is said of the note that was tapped.
    pub async fn said(&self) -> String {
        self.0.text(".read-out").await
    }
}
