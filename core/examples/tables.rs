//! Writes the job file and the tables of the demo job into a folder, to try other programs on:
//! `cargo run -p evenhand-core --example tables -- FOLDER`. Everything in them is invented.

use std::path::PathBuf;

use evenhand_core::analysis::job_file::{export, materials_csv};
use evenhand_core::job::{Job, JobId, ReplicaId, readings_csv};

fn main() -> std::io::Result<()> {
    let folder: PathBuf = std::env::args_os().nth(1).unwrap_or_default().into();
    let now_ms = 1_790_000_000_000;
    let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
    let job = Job::from_entries(entries);
    for (name, text) in [
        ("demo.job.json", export(&job, now_ms)),
        ("readings.csv", readings_csv(&job)),
        ("materials.csv", materials_csv(&job)),
    ] {
        std::fs::write(folder.join(name), text)?;
    }
    Ok(())
}
