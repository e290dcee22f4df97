//! What can be done when.

use serde_json::json;

use crate::browser::Browser;

/// The plan of the job.
pub struct Plan<'a>(pub &'a Browser);

/// The day and minute at which each block begins, its place held against the hours below the picture.
const BEGINS: &str = "
    const plot = document.querySelector('.days');
    const days = [...plot.querySelectorAll('.lane')].map(t => [+t.getAttribute('y'), t.textContent]);
    const hours = [...plot.querySelectorAll('.name')].map(t => [+t.getAttribute('x'), +t.textContent * 60]);
    const [[a, from], [b, until]] = [hours[0], hours[hours.length - 1]];
    const blocks = plot.querySelector('.work').getAttribute('d').split('M').filter(Boolean);
    return blocks.map(block => {
        const [, x, y] = block.match(/^([\\d.]+) ([\\d.]+)/).map(Number);
        return [days.find(d => d[0] > y)[1], from + (x - a) / (b - a) * (until - from)];
    });
";

impl Plan<'_> {
    /// Goes to the plan of the open job.
    pub async fn go(&self, job: &str) {
        let go = "location.hash = arguments[0]";
        self.0.run(go, vec![json!(format!("{job}/plan"))]).await;
        self.0.wait_for(".days .work").await;
    }

    /// The day and minute at which each block of the picture begins.
    pub async fn drawn(&self) -> Vec<(String, f64)> {
        let begins = self.0.run(BEGINS, vec![]).await;
        serde_json::from_value(begins).expect("days and minutes")
    }

    /// The day and minute at which each step of the table begins.
    pub async fn told(&self) -> Vec<(String, f64)> {
        let begins = "
            return [...document.querySelectorAll('.steps tbody td:last-child')].map(c => {
                const [, day, h, m, half] = c.innerText.match(/(\\w+) (\\d+):(\\d+)(?: (AM|PM))?/);
                return [day, (half ? h % 12 + 12 * (half === 'PM') : +h) * 60 + +m];
            });";
        let begins = self.0.run(begins, vec![]).await;
        serde_json::from_value(begins).expect("days and minutes")
    }

    /// Opens the pass of the first step that can be done now, and returns its name.
    pub async fn begin_first(&self) -> String {
        let name = self.0.text(".lines .to-step").await;
        self.0.tap(".lines .to-step").await;
        self.0.wait_for(".pass").await;
        name
    }
}
