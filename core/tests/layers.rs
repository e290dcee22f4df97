//! The layers of core: no file names a layer above its own. And in core and in the app no two files import each
//! other.
//!
//! The source is read as text: each path in a `use` statement or in the code is followed through
//! re-exports to the file that has the item. Test code may look upward and is left out.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The layers from the ground up; each may use itself and those before it.
const LAYERS: [&[&str]; 5] = [
    &["note", "unit"],
    &["trade"],
    &["job"],
    &["analysis"],
    // The invented action and the demo play through all of them.
    &["demo", "simulation"],
];

/// A file: what its code names in this crate.
struct Module {
    /// What it imports or names by its path: paths from the root of the crate.
    imports: Vec<Vec<String>>,
    /// What it hands on under its own name: the name, and its path.
    exports: Vec<(String, Vec<String>)>,
}

/// Reads every file of a folder as a module, tests left out.
fn read(folder: &Path, path: &[String], all: &mut BTreeMap<Vec<String>, Module>) {
    for entry in fs::read_dir(folder).expect("the sources can be listed") {
        let entry = entry.expect("an entry of the folder").path();
        let stem = entry.file_stem().expect("a name").to_string_lossy();
        if stem == "tests" {
            continue;
        }
        let mut path = path.to_vec();
        if stem != "lib" && stem != "main" {
            path.push(stem.into_owned());
        }
        if entry.is_dir() {
            read(&entry, &path, all);
        } else {
            let source = fs::read_to_string(&entry).expect("a source can be read");
            all.insert(path.clone(), module(&source, &path));
        }
    }
}

/// Reads a file, from its text to the tests at its end.
fn module(source: &str, path: &[String]) -> Module {
    let code: Vec<&str> = source
        .lines()
        .take_while(|line| !line.starts_with("#[cfg(test)]"))
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect();
    let code = code.join("\n");
    let (mut used, mut body) = (Vec::new(), String::new());
    for statement in code.split_inclusive(';') {
        match after_use(statement) {
            Some((public, tree)) => used.extend(expanded(tree).into_iter().map(|u| (public, u))),
            None => body.push_str(statement),
        }
    }
    let words = || body.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'));
    let named = words().filter(|word| word.contains("::"));
    let mut module = Module {
        imports: named.filter_map(|n| absolute(n, path, &code)).collect(),
        exports: Vec::new(),
    };
    for (public, name) in used {
        let Some(absolute) = absolute(&name, path, &code) else {
            continue;
        };
        let last = absolute.last().cloned().unwrap_or_default();
        // What is only handed on is no import.
        if !public || words().any(|word| word.split("::").next() == Some(last.as_str())) {
            module.imports.push(absolute.clone());
        }
        if public {
            module.exports.push((last, absolute));
        }
    }
    module
}

/// The tree of a `use` statement, and whether it is public.
fn after_use(statement: &str) -> Option<(bool, &str)> {
    let start = statement
        .rfind("\nuse ")
        .or_else(|| statement.rfind("\npub use "));
    let start = start.or_else(|| statement.rfind("\npub(crate) use "));
    let start = start.or_else(|| statement.starts_with("use ").then_some(0))?;
    let (before, tree) = statement[start..].split_once("use ")?;
    Some((before.contains("pub"), tree.trim_end_matches(';')))
}

/// The single paths of `a::{b, c::{d, e}}`.
fn expanded(tree: &str) -> Vec<String> {
    let tree = tree.trim();
    let Some(open) = tree.find('{') else {
        let name = tree.split(" as ").next().unwrap_or_default();
        return vec![name.trim().to_owned()];
    };
    let inner = tree[open + 1..].trim_end();
    let inner = inner.strip_suffix('}').unwrap_or(inner);
    let (mut depth, mut from, mut parts) = (0, 0, Vec::new());
    for (at, c) in inner.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(&inner[from..at]);
                from = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&inner[from..]);
    let parts = parts.into_iter().filter(|part| !part.trim().is_empty());
    parts
        .flat_map(expanded)
        .map(|part| format!("{}{part}", &tree[..open]))
        .collect()
}

/// A path from the root of the crate, if it leads into this crate.
fn absolute(used: &str, module: &[String], code: &str) -> Option<Vec<String>> {
    let mut names: Vec<&str> = used.split("::").map(str::trim).collect();
    let mut from = module.to_vec();
    match names[0] {
        "crate" => {
            names.remove(0);
            from.clear();
        }
        "self" => {
            names.remove(0);
        }
        "super" => {
            while names.first() == Some(&"super") {
                names.remove(0);
                from.pop();
            }
        }
        child if code.contains(&format!("mod {child};")) => {}
        _ => return None,
    }
    from.extend(names.into_iter().map(str::to_owned));
    Some(from)
}

/// The file that has what a path names, followed through re-exports.
fn home(path: &[String], all: &BTreeMap<Vec<String>, Module>) -> Vec<String> {
    let mut at = path.len();
    while !all.contains_key(&path[..at]) {
        at -= 1;
    }
    let Some(name) = path.get(at) else {
        return path.to_vec();
    };
    let exports = &all[&path[..at]].exports;
    match exports.iter().find(|(exported, _)| exported == name) {
        Some((_, further)) => home(further, all),
        None => path[..at].to_vec(),
    }
}

fn sources(folder: &str) -> BTreeMap<Vec<String>, Module> {
    let mut all = BTreeMap::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    read(&folder, &[], &mut all);
    assert!(all.len() > 50, "{} files", all.len());
    all
}

fn layer(name: &str) -> Option<usize> {
    LAYERS.iter().position(|layer| layer.contains(&name))
}

#[test]
fn no_layer_names_one_above_it() {
    let all = sources("src");
    let mut upward = Vec::new();
    for (path, module) in &all {
        let Some(own) = path.first() else { continue };
        let own_layer = layer(own).unwrap_or_else(|| panic!("{own} is in no layer"));
        let handed_on = module.exports.iter().map(|(_, path)| path);
        let named = module.imports.iter().chain(handed_on);
        for other in named.filter_map(|path| path.first()) {
            if layer(other).is_some_and(|other| other > own_layer) {
                upward.push(format!("{} names {other}", path.join("/")));
            }
        }
    }
    assert_eq!(upward, Vec::<String>::new());
}

#[test]
fn no_two_files_import_each_other() {
    for folder in ["src", "../app/src"] {
        let all = sources(folder);
        let mut edges = BTreeSet::new();
        for (path, module) in &all {
            for used in &module.imports {
                let other = home(used, &all);
                if other != *path {
                    edges.insert((path.clone(), other));
                }
            }
        }
        assert!(edges.len() > 150, "{} imports in {folder}", edges.len());
        let mutual = edges
            .iter()
            .filter(|(a, b)| a < b && edges.contains(&(b.clone(), a.clone())));
        let mutual: Vec<String> = mutual
            .map(|(a, b)| format!("{} and {}", a.join("/"), b.join("/")))
            .collect();
        assert_eq!(mutual, Vec::<String>::new(), "{folder}");
    }
}
