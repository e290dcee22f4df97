//! The words of the product: all sentences that a person can see, on one page, and none of the words that the glossary
//! replaced. `./evenhand texts` writes the page to `target/texts.md`.

mod sources;

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use evenhand_core::trade::{Caution, Instrument, Measure, Step};

/// Words that a person must not meet, with the word that is used; in lower case, at the start of a word.
const REPLACED: &[(&str, &str)] = &[
    ("past it", "worn out"),
    ("may stay", "acceptable"),
    ("within aim", "on target"),
    ("in aim", "on target"),
    ("not as wanted", "out"),
    ("cure", "drying"),
    ("curing", "drying"),
    ("read again", "re-measure"),
    ("disturbed", "to re-measure"),
    ("floats", "is left to follow"),
    ("floated", "is left to follow"),
    ("greatest step", "biggest jump"),
    ("scatter", "SD"),
    ("hand out", "export"),
    ("handed out", "exported"),
    ("mended", "fixed"),
    ("make the job", "Create job"),
    ("journal", "what is stored"),
    ("the log", "the job"),
    ("entries", "what was recorded"),
    ("devices without a name", "without a name"),
    ("vertical", "upright"),
    ("harbour", "harbor"),
    ("millimetre", "millimeter"),
    ("colour", "color"),
    ("centre", "center"),
    ("levell", "level"),
    ("grey", "gray"),
    ("read this step", "Measure this step"),
    ("read it again", "re-measure"),
    ("measure it again", "re-measure"),
    ("was changed after", "to re-measure: … changed since"),
    ("looked along", "swept"),
    ("neighbour", "neighbor"),
    ("travell", "travel"),
    ("towards", "toward"),
    ("draught", "draft"),
    ("entry", "record"),
    ("who works here", "Technician"),
    ("as wear goes", "with wear"),
    ("on a stem where", "with a stem"),
    ("it is work on", "the work takes"),
    ("rests on:", "based on"),
    (
        "newer than its last export",
        "has work that is not exported",
    ),
    ("were taken in", "opened"),
    ("hand over", "export"),
    ("all that it needs is done", "Ready to start."),
    ("everything is in.", "All in."),
    ("may stay empty", "optional"),
    ("plausible", "in range"),
    ("look whether", "Check whether"),
    ("look the readings over", "Check the readings."),
    ("none to jumps", "firm rise"),
    ("a share", "a percentage"),
    ("trade flashcards", "the title and year of the source"),
    ("action-weighing blog", "the title and year of the source"),
    ("technicians’ list", "the title and year of the source"),
];

/// Phrases that hold a replaced word and mean something else.
const ALLOWED: &[&str] = &["secure", "procedure", "scattered"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Returns all texts: those of the trade as the program has them, then the literals of the source files.
fn page() -> String {
    let mut page = String::from("# The words of Evenhand\n");
    for instrument in [Instrument::Grand, Instrument::Upright] {
        let _ = writeln!(
            page,
            "\n## Steps of the {}\n",
            instrument.name().to_lowercase()
        );
        for step in instrument.steps() {
            page.push_str(&of_step(step));
        }
        let _ = writeln!(
            page,
            "\n## Measures of the {}\n",
            instrument.name().to_lowercase()
        );
        for measure in instrument.measures() {
            page.push_str(&of_measure(measure));
        }
    }
    page.push_str("\n## Cautions\n\n");
    for text in std::iter::once(Caution::FIRST).chain(Caution::ALL.iter().map(|c| c.text())) {
        let _ = writeln!(page, "- {text}");
    }
    for (part, folder) in [("Screens", "app/src"), ("What core says", "core/src")] {
        let _ = writeln!(page, "\n## {part}");
        for (file, texts) in sources::texts(&root().join(folder)) {
            // The steps and measures stand above.
            let is_above = file.starts_with("trade/grand/") || file.starts_with("trade/upright/");
            if is_above || file.starts_with("trade/measures/") || texts.is_empty() {
                continue;
            }
            let _ = writeln!(page, "\n### {file}\n");
            for text in texts {
                let _ = writeln!(page, "- {text}");
            }
        }
    }
    page
}

fn of_step(step: &Step) -> String {
    let texts = [&step.tools, &step.how, &step.wrong];
    format!(
        "**{}** {}\n\n",
        step.name,
        texts.map(|t| t.to_string()).join(" | ")
    )
}

fn of_measure(measure: &Measure) -> String {
    let (above, below) = measure.words;
    let source = measure.source.map(|s| s.to_string()).unwrap_or_default();
    let grades = measure.grades.join(", ");
    format!("- {}: {above}/{below}; {grades}; {source}\n", measure.name)
}

/// Returns a text without its `{places}`, which hold names of the program.
fn without_places(text: &str) -> String {
    let mut parts = text.split('{');
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |all, part| {
        all + "{}" + part.split_once('}').map_or(part, |(_, rest)| rest)
    })
}

#[test]
fn the_words_that_the_glossary_replaced_are_gone() {
    let page = page();
    let target = root().join("target");
    fs::create_dir_all(&target).expect("the target folder");
    fs::write(target.join("texts.md"), &page).expect("the page is written");
    // Few sentences would mean that they were not found.
    assert!(page.lines().filter(|l| !l.is_empty()).count() > 800);
    let mut found = Vec::new();
    // The headings name source files.
    for line in page.lines().filter(|line| !line.starts_with('#')) {
        let mut text = without_places(&line.to_lowercase());
        for allowed in ALLOWED {
            text = text.replace(allowed, "");
        }
        for (word, instead) in REPLACED {
            let begins = |at: usize| !text[..at].ends_with(char::is_alphanumeric);
            if text.match_indices(word).any(|(at, _)| begins(at)) {
                found.push(format!("“{word}” ({instead}): {line}"));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}
