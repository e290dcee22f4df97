//! Writes the job files of an invented workshop into a folder, to measure what an office asks of them:
//! `cargo run --release -p evenhand-core --features simulation --example workshop -- FOLDER 2000`.

use std::path::Path;

use evenhand_core::analysis::job_file::export;
use evenhand_core::simulation::workshop_job;

/// 21 September 2026.
const NOW_MS: i64 = 1_790_000_000_000;

fn main() -> std::io::Result<()> {
    let mut asked = std::env::args().skip(1);
    let (folder, count) = (asked.next(), asked.next().and_then(|n| n.parse().ok()));
    let Some((folder, count)) = folder.zip(count) else {
        eprintln!("Say into which folder, and how many jobs.");
        std::process::exit(2);
    };
    std::fs::create_dir_all(&folder)?;
    for number in 0..count {
        let file = Path::new(&folder).join(format!("piano-{number}.job.json"));
        std::fs::write(file, export(&workshop_job(number, NOW_MS), NOW_MS))?;
    }
    Ok(())
}
