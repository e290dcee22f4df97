//! Judges from outside the project: axe for accessibility, ajv for JSON Schema.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::browser::Browser;

/// What axe finds on the page: one sentence for each rule and element. Empty is well.
pub async fn accessibility_faults(browser: &Browser) -> Vec<String> {
    let axe = npm("axe-core/axe.min.js");
    let source = fs::read_to_string(&axe).expect("axe-core, which './evenhand test' installs");
    browser.run(&source, vec![]).await;
    let violations = browser
        .run("return axe.run().then(found => found.violations)", vec![])
        .await;
    let violations = violations.as_array().expect("a list of violations");
    violations.iter().flat_map(sentences).collect()
}

fn sentences(violation: &Value) -> Vec<String> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let (rule, help) = (text(&violation["id"]), text(&violation["help"]));
    let nodes = violation["nodes"].as_array().cloned().unwrap_or_default();
    nodes
        .iter()
        .map(|node| format!("{rule}: {help}: {}", text(&node["html"])))
        .collect()
}

/// What ajv finds wrong with a JSON file after a JSON Schema (draft 2020-12). Empty is valid.
pub fn schema_faults(schema: &Path, file: &Path) -> Vec<String> {
    faults_after(&[schema, file])
}

/// What ajv finds wrong with a file of many jobs, each of them included. Empty is valid.
pub fn jobs_schema_faults(file: &Path) -> Vec<String> {
    let public = tests().join("../public");
    let [jobs, job] = ["jobs", "job"].map(|of| public.join(format!("evenhand-{of}.schema.json")));
    faults_after(&[&jobs, file, &job])
}

fn faults_after(paths: &[&Path]) -> Vec<String> {
    let output = Command::new("node")
        .arg(tests().join("browser/validate.mjs"))
        .args(paths)
        .output()
        .expect("node, which './evenhand test' installs");
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "ajv could not judge: {complaint}");
    let faults = String::from_utf8_lossy(&output.stdout);
    faults.lines().map(str::to_owned).collect()
}

fn tests() -> PathBuf {
    env!("CARGO_MANIFEST_DIR").into()
}

fn npm(file: &str) -> PathBuf {
    tests().join("node_modules").join(file)
}
