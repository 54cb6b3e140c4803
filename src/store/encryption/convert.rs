//! A store is encrypted, and gets another passphrase.
//! Takes a folder and passphrases; writes everything anew below `.encrypting/`, checks it, and gives it the name `encrypted/`:
//! by that one step the store is encrypted. Only then are the old files removed. Leaves alone stores that others use or
//! record into, and files among the recordings that it does not know.
//!
//! Killed before the step, the old store is there, and after it the new one; opening it removes the rest

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::Keys;
use crate::store::place::{self, ENCRYPTED, Place, REMAINS, UNFINISHED};
use crate::store::{Encrypted, Passphrase, Store, StoreError, Verified, folder, taking};

/// Encrypts the store in a folder, or makes one.
pub(in crate::store) fn encrypt(folder: &Path, passphrase: &Passphrase) -> Result<Encrypted, StoreError> {
    if !passphrase.is_long_enough() {
        return Err(StoreError::ShortPassphrase);
    }
    folder::make(folder)?;
    let lock = folder::lock(folder)?;
    if folder.join(ENCRYPTED).exists() {
        return Err(StoreError::EncryptedAlready(folder.to_owned()));
    }
    // It also removes what a killed program has left of such an attempt.
    let old = match Store::is_there(folder) {
        true => Some(Store::open_place(Place::plain(folder), lock.as_ref())?),
        false => None,
    };
    let unfinished = folder.join(UNFINISHED);
    let removed = match fs::symlink_metadata(&unfinished) {
        Ok(_) => fs::remove_dir_all(&unfinished),
        Err(_) => Ok(()),
    };
    removed.map_err(|error| StoreError::io("delete", &unfinished, error))?;
    let made = write_anew(old.as_ref(), folder, &unfinished, passphrase).and_then(|made| {
        let encrypted = folder.join(ENCRYPTED);
        fs::rename(&unfinished, &encrypted).map_err(|error| StoreError::io("write", &encrypted, error))?;
        folder::synchronise(folder);
        Ok(made)
    });
    let made = made.inspect_err(|_| {
        let _ = fs::remove_dir_all(&unfinished);
    })?;
    drop(old);
    // What cannot be removed now is removed or told when the store is opened next.
    let home = folder.join(ENCRYPTED);
    place::remove_plain(folder).map_err(|error| StoreError::io("delete the old files in", folder, error))?;
    fs::remove_file(home.join(REMAINS)).map_err(|error| StoreError::io("delete", &home.join(REMAINS), error))?;
    folder::synchronise(&home);
    Ok(made)
}

/// Gives an encrypted store another passphrase.
pub(in crate::store) fn change_passphrase(folder: &Path, old: &Passphrase, new: &Passphrase) -> Result<(), StoreError> {
    if !folder.join(ENCRYPTED).is_dir() {
        let there = Store::is_there(folder);
        return Err(if there { StoreError::NotEncrypted(folder.into()) } else { StoreError::NoStore(folder.into()) });
    }
    // Before the lock, whose file may have to be made: a wrong passphrase changes nothing.
    Place::find(folder, Some(old))?;
    if !new.is_long_enough() {
        return Err(StoreError::ShortPassphrase);
    }
    let _lock = folder::lock(folder)?;
    // Once more: somebody else may have changed it.
    let place = Place::find(folder, Some(old))?;
    match &place.keys {
        Some(keys) => keys.write(&place.home, new),
        None => Err(StoreError::NotEncrypted(folder.to_owned())),
    }
}

// The store below another folder, whole and checked, with everything on the disk.
fn write_anew(
    old: Option<&Store>,
    folder: &Path,
    home: &Path,
    passphrase: &Passphrase,
) -> Result<Encrypted, StoreError> {
    if let Some(old) = old {
        hold(old)?;
        refuse_foreign(old)?;
    }
    folder::make(home)?;
    folder::make_file(&home.join(REMAINS))?;
    let keys = Keys::new();
    keys.write(home, passphrase)?;
    let place = Place { folder: folder.to_owned(), home: home.to_owned(), keys: Some(keys) };
    folder::make(&place.recordings())?;
    let Some(old) = old else {
        drop(Store::open_place(place, None)?);
        return Ok(Encrypted { records: 0, sounds: 0, takings: 0 });
    };
    copy_database(old, &place)?;
    let sounds = copy_sounds(old, &place)?;
    let takings = taking::copy_all(&old.place, &place)?;
    folder::synchronise(home);
    let (before, after) = (old.verify_locked()?, Store::read_place(place)?.verify_locked()?);
    // What is faulty stays so: of a damaged store, what is whole should not lie open for ever.
    let counts = |of: &Verified| (of.records, of.signatures, of.sounds, of.takings, of.takings_ms, of.faults.len());
    if counts(&before) != counts(&after) {
        return Err(StoreError::UnlikeCopy(folder.to_owned()));
    }
    Ok(Encrypted { records: after.records, sounds, takings })
}

// Nobody else has it open, and nobody writes until this connection is closed.
fn hold(old: &Store) -> Result<(), StoreError> {
    let folder = &old.place.folder;
    let held = |connection: &Connection| {
        connection.flush_prepared_statement_cache();
        let mode: String = connection.pragma_update_and_check(None, "journal_mode", "delete", |row| row.get(0))?;
        connection.query_row("PRAGMA locking_mode = exclusive", [], |_| Ok(()))?;
        connection.execute_batch("BEGIN EXCLUSIVE; COMMIT")?;
        Ok(mode)
    };
    match held(&old.connection) {
        Ok(mode) if mode == "delete" => Ok(()),
        Ok(_) => Err(StoreError::Busy(folder.clone())),
        Err(error) => Err(StoreError::of_sqlite(folder, &error)),
    }
}

// What is not known to be a recording would be lost or stay open.
fn refuse_foreign(old: &Store) -> Result<(), StoreError> {
    let known = old.rows().all("SELECT sha256, ending FROM recordings", [], |row| {
        Ok(old.place.sound_path(&row.get::<_, String>(0)?, &row.get::<_, String>(1)?))
    })?;
    let is_ours = |path: &PathBuf| path.is_file() && (known.contains(path) || old.place.is_named_by_content(path));
    let takings = folder::entries(&old.place.takings()).into_iter();
    let foreign = takings.filter(|path| taking::id_of(&old.place, path).is_none());
    match old.place.sounds().into_iter().filter(|path| !is_ours(path)).chain(foreign).next() {
        Some(path) => Err(StoreError::Foreign(path)),
        None => Ok(()),
    }
}

fn copy_database(old: &Store, place: &Place) -> Result<(), StoreError> {
    let path = place.database();
    let wrong = |error| StoreError::io("write", &path, error);
    let Some(name) = path.to_str() else {
        return Err(wrong(io::Error::new(io::ErrorKind::InvalidInput, "the folder's name is not UTF-8")));
    };
    drop(folder::make_file(&path)?);
    let key = place.keys.as_ref().map(Keys::of_database).unwrap_or_default();
    let copied = |connection: &Connection| {
        connection.execute("ATTACH DATABASE ?1 AS encrypted KEY ?2", (name, key.as_str()))?;
        connection.query_row("SELECT sqlcipher_export('encrypted')", [], |_| Ok(()))?;
        for pragma in ["application_id", "user_version"] {
            let number: i64 = connection.pragma_query_value(None, pragma, |row| row.get(0))?;
            connection.pragma_update(Some("encrypted"), pragma, number)?;
        }
        connection.execute_batch("DETACH DATABASE encrypted")
    };
    copied(&old.connection).map_err(|error| StoreError::of_sqlite(&old.place.folder, &error))?;
    File::open(&path).and_then(|file| file.sync_all()).map_err(wrong)
}

// Every recording, also one that belongs to no record: it may be the only copy.
fn copy_sounds(old: &Store, place: &Place) -> Result<usize, StoreError> {
    let sounds = old.place.sounds();
    for sound in &sounds {
        let sha256 = sound.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        place.put_as_it_is(sound, &sha256, "")?;
    }
    Ok(sounds.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Moment;
    use crate::store::tests::draft_of;

    fn passphrase() -> Passphrase {
        Passphrase::new("seven grey geese fly".to_owned())
    }

    fn with_a_record(folder: &Path) -> String {
        Store::open(folder).unwrap().keep(&draft_of("A boy.", "a.txt"), None, Moment(1)).unwrap()
    }

    /// A record's store as it is when everything is written anew and the step is still to come; the record's id, and where
    /// the new store lies.
    fn before_the_step(folder: &Path) -> (String, PathBuf) {
        let id = with_a_record(folder);
        let unfinished = folder.join(UNFINISHED);
        let old = Store::open(folder).unwrap();
        write_anew(Some(&old), folder, &unfinished, &passphrase()).unwrap();
        (id, unfinished)
    }

    #[test]
    fn what_was_killed_before_the_step_leaves_the_old_store() {
        let folder = tempfile::tempdir().unwrap();
        let (id, unfinished) = before_the_step(folder.path());
        assert!(unfinished.join(folder::DATABASE).is_file() && unfinished.join(REMAINS).is_file());
        let store = Store::open(folder.path()).unwrap();
        assert!(store.record(&id).is_ok() && !unfinished.exists());
        assert_eq!(store.verify().unwrap().faults, []);
    }

    #[test]
    fn what_was_killed_behind_the_step_leaves_the_new_store_and_the_rest_is_removed() {
        let folder = tempfile::tempdir().unwrap();
        let (id, unfinished) = before_the_step(folder.path());
        fs::rename(&unfinished, folder.path().join(ENCRYPTED)).unwrap();
        let reader = Store::open_to_read_with(folder.path(), Some(&passphrase())).unwrap();
        let verified = reader.verify().unwrap();
        let told = |verified: &Verified| verified.notes.iter().filter(|note| note.contains("is not encrypted")).count();
        assert_eq!((verified.faults.len(), told(&verified)), (0, 2), "database and recordings: {verified:?}");
        drop(reader);
        let store = Store::open_with(folder.path(), Some(&passphrase())).unwrap();
        assert!(store.record(&id).is_ok() && place::plain_files(folder.path()).is_empty());
        assert!(!folder.path().join(ENCRYPTED).join(REMAINS).exists());
        let verified = store.verify().unwrap();
        assert_eq!((verified.faults.len(), told(&verified)), (0, 0));
    }

    #[test]
    fn another_store_beside_an_encrypted_one_is_told_and_never_removed() {
        let folder = tempfile::tempdir().unwrap();
        encrypt(folder.path(), &passphrase()).unwrap();
        let foreign = folder.path().join(folder::DATABASE);
        fs::write(&foreign, b"made by an older program").unwrap();
        let store = Store::open_with(folder.path(), Some(&passphrase())).unwrap();
        let faults = store.verify().unwrap().faults;
        let told = format!("{} lies beside the encrypted store and is not encrypted", foreign.display());
        assert_eq!(faults.iter().map(ToString::to_string).collect::<Vec<_>>(), [told]);
        assert!(foreign.is_file());
    }

    #[test]
    fn a_store_that_another_has_open_is_not_encrypted() {
        let folder = tempfile::tempdir().unwrap();
        let id = with_a_record(folder.path());
        let mut other = Store::open(folder.path()).unwrap();
        let refused = encrypt(folder.path(), &passphrase());
        assert!(matches!(refused, Err(StoreError::Busy(_))), "{refused:?}");
        assert!(!folder.path().join(ENCRYPTED).exists() && !folder.path().join(UNFINISHED).exists());
        other.keep(&draft_of("A girl.", "b.txt"), None, Moment(2)).unwrap();
        drop(other);
        assert_eq!(encrypt(folder.path(), &passphrase()).unwrap(), Encrypted { records: 2, sounds: 0, takings: 0 });
        assert!(Store::open_with(folder.path(), Some(&passphrase())).unwrap().record(&id).is_ok());
        let again = encrypt(folder.path(), &passphrase());
        assert!(matches!(again, Err(StoreError::EncryptedAlready(_))), "{again:?}");
    }

    #[test]
    fn a_short_passphrase_is_refused_before_anything_is_made() {
        let folder = tempfile::tempdir().unwrap();
        let short = Passphrase::new("geese".to_owned());
        assert!(matches!(encrypt(folder.path(), &short), Err(StoreError::ShortPassphrase)));
        assert_eq!(folder::entries(folder.path()), Vec::<PathBuf>::new());
        encrypt(folder.path(), &passphrase()).unwrap();
        let refused = change_passphrase(folder.path(), &passphrase(), &short);
        assert!(matches!(refused, Err(StoreError::ShortPassphrase)), "{refused:?}");
        assert!(Store::open_with(folder.path(), Some(&passphrase())).is_ok());
    }
}
