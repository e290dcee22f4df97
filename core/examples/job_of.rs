//! Prints the job file of an invented job of so many entries, for the benchmarks:
//! `cargo run -p evenhand-core --example job_of -- 5000`.

use evenhand_core::analysis::job_file::export;

#[path = "../benches/worked/mod.rs"]
mod worked;

fn main() {
    let entries = std::env::args().nth(1).and_then(|n| n.parse().ok());
    let job = worked::a_job(entries.unwrap_or(100));
    print!("{}", export(&job, worked::NINE_MS));
}
