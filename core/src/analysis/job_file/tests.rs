//! What a job file must hold, and what opening somebody else's bytes must survive. All data are invented.

mod file;
mod hostile;
mod kept_files;
mod properties;

use super::{conclusions, export, materials_csv, open};
use crate::analysis::suggestion::suggest_next;
use crate::job::tests::{BENCH, NINE_MS, PIANO, Phone, n, on, sample, step_id};
use crate::job::{
    Act, Cause, Correction, Details, DeviceId, Entry, EntryId, FileError, Job, JobId, MOST_BYTES,
    MOST_ENTRIES, Opened, Opening, OwnStep, Scope, Setup, State, Subject, readings_csv,
};
use crate::trade::{Instrument, MeasureId, Occasion, Place, StepId};
use crate::unit::{Kind, Value};
