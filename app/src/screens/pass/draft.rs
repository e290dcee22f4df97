//! What is typed in a pass and not entered yet: it is there again after a reload, or when the pass is opened again.

use leptos::prelude::*;

use super::state::PassState;
use crate::storage::local_storage;

/// Puts back what was typed for the current item and not entered, and stores from now on what is typed.
pub fn keep(pass: PassState) {
    let Some(job) = pass.session.app.job_untracked() else {
        return;
    };
    let key = pass
        .step
        .with_value(|s| format!("typed/{job}/pass/{}", s.id));
    // Which item it is for, then what is typed.
    let of_item = move || {
        pass.item_untracked()
            .map(|i| format!("{} {:?}", i.measure, i.on))
    };
    if let Some([item, typed]) = local_storage::draft(&key).as_deref()
        && of_item().as_ref() == Some(item)
    {
        pass.typed.set(typed.clone());
    }
    Effect::new(move |was_typed: Option<bool>| {
        let typed = pass.typed.get();
        match of_item().filter(|_| !typed.is_empty()) {
            Some(item) => {
                local_storage::set_draft(&key, &[item, typed]);
                true
            }
            None => {
                if was_typed != Some(false) {
                    local_storage::remove_draft(&key);
                }
                false
            }
        }
    });
}
