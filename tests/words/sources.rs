//! The string literals of source files that a person can see.

use std::fs;
use std::path::Path;

use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};

/// Returns for each file under a folder, by its path there, the texts in it, in their order. Tests are left out.
pub fn texts(folder: &Path) -> Vec<(String, Vec<String>)> {
    let mut files = Vec::new();
    collect(folder, folder, &mut files);
    files.sort_unstable();
    files
}

fn collect(root: &Path, folder: &Path, files: &mut Vec<(String, Vec<String>)>) {
    let entries = fs::read_dir(folder).expect("a folder of sources");
    for entry in entries {
        let path = entry.expect("an entry").path();
        let name = path.strip_prefix(root).expect("below it");
        let name = name.to_string_lossy().into_owned();
        if path.is_dir() {
            if !name.ends_with("tests") {
                collect(root, &path, files);
            }
        } else if name.ends_with(".rs") && !name.ends_with("tests.rs") {
            let source = fs::read_to_string(&path).expect("a source file");
            let parsed = syn::parse_file(&source).unwrap_or_else(|e| panic!("{name}: {e}"));
            let mut found = Found(Vec::new());
            found.visit_file(&parsed);
            files.push((name, found.0));
        }
    }
}

/// The texts found so far.
struct Found(Vec<String>);

impl Found {
    fn add(&mut self, text: &str) {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if is_seen(&text) && !self.0.contains(&text) {
            self.0.push(text);
        }
    }

    /// Adds the literals among tokens, but for those of attributes that are no words: classes, paths, roles.
    fn tokens(&mut self, tokens: TokenStream) {
        let mut before: [String; 2] = Default::default();
        for token in tokens {
            match &token {
                TokenTree::Group(group) => self.tokens(group.stream()),
                TokenTree::Literal(literal) => {
                    let is_words = before[1] != "=" || SPOKEN.contains(&before[0].as_str());
                    if let Ok(text) = syn::parse_str::<syn::LitStr>(&literal.to_string())
                        && is_words
                    {
                        self.add(&text.value());
                    }
                }
                _ => {}
            }
            before = [std::mem::take(&mut before[1]), token.to_string()];
        }
    }
}

/// Attributes and names whose text a person sees or hears.
const SPOKEN: &[&str] = &[
    "label",
    "title",
    "placeholder",
    "alt",
    "words",
    "summary",
    "small",
];

/// Returns `true` if a literal is more than a name for the program: a sentence, or a word with a capital.
fn is_seen(text: &str) -> bool {
    let letters = text.chars().filter(|c| c.is_alphabetic()).count();
    let has_capital = text.starts_with(char::is_uppercase);
    let is_code = text.contains("::")
        || text.contains("=>")
        || text.contains("</")
        || text.contains("return ");
    letters > 1 && !is_code && (text.contains(' ') || has_capital)
}

impl<'ast> Visit<'ast> for Found {
    fn visit_attribute(&mut self, _: &'ast syn::Attribute) {}

    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        let is_test = item.attrs.iter().any(|a| a.path().is_ident("cfg"));
        if !is_test {
            visit::visit_item_mod(self, item);
        }
    }

    fn visit_lit_str(&mut self, literal: &'ast syn::LitStr) {
        self.add(&literal.value());
    }

    fn visit_macro(&mut self, call: &'ast syn::Macro) {
        let name = call.path.segments.last().map(|s| s.ident.to_string());
        let is_for_developers = matches!(
            name.as_deref(),
            Some("assert" | "assert_eq" | "debug_assert" | "panic" | "unreachable" | "expect")
        );
        if !is_for_developers {
            self.tokens(call.tokens.clone());
        }
    }
}
