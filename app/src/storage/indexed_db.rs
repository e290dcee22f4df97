//! What the databases of this app have in common: two stores each, made when the database is new, and transactions that
//! are complete only when they are on the disk.

use indexed_db_futures::OpenDbResult;
use indexed_db_futures::database::Database;
use indexed_db_futures::error::Error;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{
    Transaction, TransactionDurability, TransactionMode, TransactionOptions,
};

const VERSION: u8 = 1;

/// What the database answers.
pub type DbResult<T> = Result<T, Error>;

/// Opens a database, and makes its stores if it is new.
pub async fn open_database(name: &str, stores: [&'static str; 2]) -> OpenDbResult<Database> {
    Database::open(name)
        .with_version(VERSION)
        .with_on_upgrade_needed(move |event, database| {
            if event.old_version() < 1.0 {
                for store in stores {
                    database.create_object_store(store).build()?;
                }
            }
            Ok(())
        })
        .await
}

/// Returns a transaction of both stores that is complete only when it is on the disk.
pub fn strict_transaction<'a>(
    database: &'a Database,
    stores: [&'static str; 2],
) -> DbResult<Transaction<'a>> {
    let options = TransactionOptions::new().with_durability(TransactionDurability::Strict);
    database
        .transaction(stores)
        .with_mode(TransactionMode::Readwrite)
        .with_options(options)
        .build()
}
