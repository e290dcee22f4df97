//! What is typed into the form for a new job, kept until the job is created.

use evenhand_core::job::JobId;
use leptos::prelude::*;

use super::form::Form;
use crate::storage::local_storage;

/// What is typed into the form, stored until the job is created.
#[derive(Clone, Copy)]
pub struct Draft {
    form: Form,
    key: StoredValue<String>,
    /// The form as it was before anything was typed.
    initial: StoredValue<Vec<String>>,
    /// Whether what is shown was typed on an earlier visit to the form.
    pub is_restored: RwSignal<bool>,
    /// Whether the job was created.
    is_over: StoredValue<bool>,
}

impl Draft {
    /// Restores what was typed earlier for a new job, or for the next job after `earlier`, and stores what is typed
    /// from now on.
    pub fn new(form: Form, earlier: Option<JobId>) -> Draft {
        let key = match earlier {
            Some(job) => format!("typed/{job}/next-job"),
            None => "typed/new-job".to_owned(),
        };
        let initial = untrack(|| form.draft());
        let stored = local_storage::draft(&key).filter(|d| d.len() == initial.len());
        if let Some(stored) = &stored {
            form.fill(stored);
        }
        let draft = Draft {
            form,
            key: StoredValue::new(key),
            initial: StoredValue::new(initial),
            is_restored: RwSignal::new(stored.is_some()),
            is_over: StoredValue::new(false),
        };
        Effect::new(move |_| draft.store(form.draft()));
        draft
    }

    fn store(self, typed: Vec<String>) {
        if self.is_over.get_value() {
            return;
        }
        self.key.with_value(|key| {
            if self.initial.with_value(|initial| *initial == typed) {
                local_storage::remove_draft(key);
            } else {
                local_storage::set_draft(key, &typed);
            }
        });
    }

    /// Empties the form.
    pub fn start_over(self) {
        self.initial.with_value(|initial| self.form.fill(initial));
        self.is_restored.set(false);
    }

    /// Forgets what was typed, once the job is created.
    pub fn forget(self) {
        self.is_over.set_value(true);
        self.key.with_value(|key| local_storage::remove_draft(key));
    }
}
