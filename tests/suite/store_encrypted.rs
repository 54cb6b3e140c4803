//! The store encrypted: nothing can be read without the passphrase, nothing is lost on the way, killed or not.
//! Takes the built program with passphrases in files; fails where a phrase or a sound stands open in any file, a byte was
//! changed by a wrong passphrase, or a store is neither the old one nor the new one. Leaves alone single steps
//! (`src/store/encryption/`).

use std::path::Path;

use spoken_exam::store::{Passphrase, Store};

const WORDS: &str = "seven grey geese fly";

fn passphrase(words: &str) -> Passphrase {
    Passphrase::new(words.to_owned())
}

/// Opens a store of these tests, whether it is encrypted or not.
pub(crate) fn open(folder: &Path) -> Store {
    Store::open_with(folder, Some(&passphrase(WORDS))).expect("it opens")
}

#[cfg(not(feature = "encrypted"))]
#[test]
fn a_program_without_encryption_says_so_and_changes_nothing() {
    use spoken_exam::store::StoreError;
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    std::fs::create_dir_all(place.join("encrypted")).expect("a folder");
    for opened in
        [Store::open_with(&place, Some(&passphrase(WORDS))), Store::open(&place), Store::open_existing(&place)]
    {
        assert!(matches!(opened, Err(StoreError::BuiltWithoutEncryption)), "{opened:?}");
    }
    for command in [&["store", "list"][..], &["store", "change-passphrase"], &["draft", "x.txt", "--keep"]] {
        let output = crate::store::run(command, &place);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains("this program was built without encryption and can neither open nor make"), "{said}");
    }
    let output = crate::store::run(&["store", "encrypt"], &folder.path().join("other"));
    assert!(String::from_utf8_lossy(&output.stderr).contains("build it with `cargo build --release`"));
    let there: Vec<_> = std::fs::read_dir(&place).expect("a folder").collect();
    assert_eq!(there.len(), 1, "{there:?}");
}

#[cfg(feature = "encrypted")]
mod encrypted {
    use std::collections::BTreeMap;
    use std::fs;
    use std::io::{Read, Write};
    use std::path::PathBuf;
    use std::process::{Command, Output, Stdio};
    use std::time::{Duration, Instant};

    use aho_corasick::AhoCorasick;
    use spoken_exam::record::{FindingId, Moment, Wish};
    use spoken_exam::store::{KeepSound, Kept, Sound, StoreError};

    use super::*;
    use crate::corpus::LEXICON;
    use crate::store::{
        Chance, NOTE, author, check_sound, child, draft, killed_after, printed, recording, run, sha256,
    };

    const OTHER: &str = "eight white swans";

    /// Bytes that stand nowhere by chance, and are no letters.
    fn some_sound(length: usize) -> Vec<u8> {
        let mut chance = Chance(length as u64);
        (0..length).map(|_| chance.next(256) as u8).collect()
    }

    /// Everything about a store that must be the same afterwards.
    #[derive(Debug, PartialEq)]
    struct Content(Vec<(Kept, Option<Vec<u8>>)>);

    impl Content {
        fn of(store: &Store, ids: &[String]) -> Self {
            Self(ids.iter().map(|id| Self::of_record(store, id)).collect())
        }

        fn of_record(store: &Store, id: &str) -> (Kept, Option<Vec<u8>>) {
            let mut kept = store.record(id).expect("it is there");
            if let Sound::Kept(_) = kept.sound {
                kept.sound = Sound::Kept(PathBuf::new());
            }
            let sound = matches!(kept.sound, Sound::Kept(_)).then(|| store.sound_bytes(id).expect("it is whole"));
            (kept, sound)
        }
    }

    /// A store with a record signed twice whose sound is kept, a second sound, and a record in review.
    fn filled(place: &Path, sounds: [usize; 2]) -> (Vec<String>, Content) {
        let beside = tempfile::tempdir().expect("a folder");
        let mut store = Store::open(place).expect("it opens");
        store.set_keep_sound(KeepSound::ForEver, Moment(1)).expect("it is set");
        let mut ids = Vec::new();
        for length in sounds {
            let (file, of_sound) = recording(beside.path(), &some_sound(length));
            ids.push(store.keep(&of_sound, Some(&file), Moment(1)).expect("it is kept"));
        }
        let on = store.record(&ids[0]).expect("it is there").draft_id();
        let confirm: Vec<Wish> = (1..=3).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
        store.decide(&on, &LEXICON, &author(0), &confirm).expect("decided");
        store.sign(&on, &LEXICON, &author(3)).expect("signed");
        ids.push(store.keep(&draft(NOTE), None, Moment(2)).expect("it is kept"));
        let on = store.record(&ids[2]).expect("it is there").draft_id();
        store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).expect("decided");
        check_sound(&store);
        let content = Content::of(&store, &ids);
        (ids, content)
    }

    /// Every file below a folder with what it holds.
    fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut all = BTreeMap::new();
        for path in fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path()) {
            if path.is_dir() {
                all.extend(files(&path));
            } else {
                let content = fs::read(&path).expect("it can be read");
                all.insert(path, content);
            }
        }
        all
    }

    /// What would give away a draft or a recording: words, names, hashes, and pieces of sound.
    fn open_secrets(lengths: &[usize]) -> Vec<Vec<u8>> {
        let words =
            ["ankle", "clonus", "Scarf", "scarf", "female", "visit.wav", "note.txt", "Examiner", "registrar", "CREATE"];
        let mut secrets: Vec<Vec<u8>> = words.iter().map(|words| words.as_bytes().to_vec()).collect();
        for length in lengths {
            let sound = some_sound(*length);
            secrets.push(sha256(&sound).into_bytes());
            secrets.extend(sound.chunks_exact(16).step_by(997).take(40).map(<[u8]>::to_vec));
        }
        secrets
    }

    #[track_caller]
    fn check_nothing_stands_open(folder: &Path, secrets: &[Vec<u8>]) {
        let all = AhoCorasick::new(secrets).expect("they can be looked for");
        for (path, content) in files(folder) {
            let name = path.strip_prefix(folder).expect("below").to_string_lossy().into_owned();
            let found = all.find(name.as_bytes()).or_else(|| all.find(&content));
            let found = found.map(|found| String::from_utf8_lossy(&secrets[found.pattern()]).into_owned());
            assert_eq!(found, None, "{} gives it away", path.display());
        }
    }

    /// The files with passphrases: the right one and another.
    fn passphrase_files(folder: &Path) -> [String; 2] {
        [("right", WORDS), ("other", OTHER)].map(|(name, words)| {
            let file = folder.join(name);
            fs::write(&file, format!("{words}\n")).expect("it can be written");
            file.to_string_lossy().into_owned()
        })
    }

    fn with(arguments: &[&str], file: &str, place: &Path) -> Output {
        run(&[arguments, &["--passphrase-file", file]].concat(), place)
    }

    fn said(output: &Output) -> String {
        String::from_utf8_lossy(&output.stderr).into_owned()
    }

    const LENGTHS: [usize; 2] = [150_000, 65_536];

    #[test]
    fn an_encrypted_store_has_everything_and_shows_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let (ids, before) = filled(&place, LENGTHS);
        let secrets = open_secrets(&LENGTHS);
        for secret in &secrets {
            let one = AhoCorasick::new([secret]).expect("it can be looked for");
            let there = |(path, content): (&PathBuf, &Vec<u8>)| {
                one.is_match(content) || one.is_match(path.to_string_lossy().as_bytes())
            };
            assert!(files(&place).iter().any(there), "what is looked for is there at first: {secret:?}");
        }
        let [right, _] = passphrase_files(folder.path());
        let output = with(&["store", "encrypt"], &right, &place);
        assert_eq!(printed(&output), "encrypted: 3 records, 2 recordings\n", "{}", said(&output));
        check_nothing_stands_open(&place, &secrets);
        assert_eq!(
            files(&place).keys().filter(|path| !path.starts_with(place.join("encrypted"))).count(),
            1,
            "the lock"
        );
        let mut store = open(&place);
        assert_eq!(Content::of(&store, &ids), before);
        assert_eq!(
            store.verify().expect("it can be checked"),
            spoken_exam::store::Verified { records: 3, signatures: 1, sounds: 2, ..Default::default() }
        );
        // It goes on from there.
        let sound = some_sound(70_000);
        let (file, of_sound) = recording(folder.path(), &sound);
        let third = store.keep(&of_sound, Some(&file), Moment(3)).expect("it is kept");
        assert_eq!(store.sound_bytes(&third).expect("it is whole"), sound);
        check_nothing_stands_open(&place, &open_secrets(&[LENGTHS[0], LENGTHS[1], 70_000]));
        store.delete_sound(&third, Moment(4)).expect("it is deleted");
        check_sound(&store);
        drop(store);
        let checked = with(&["store", "check"], &right, &place);
        assert_eq!(printed(&checked), "records: 4, signatures: 1, recordings: 2\nfaults: 0\n");
        let shown = printed(&with(&["store", "show"], &right, &place));
        assert!(shown.contains("\nencrypted: yes\n"), "{shown}");
    }

    #[test]
    fn a_wrong_passphrase_is_told_and_changes_not_one_byte() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let (ids, _) = filled(&place, LENGTHS);
        let [right, wrong] = passphrase_files(folder.path());
        assert_eq!(with(&["store", "encrypt"], &right, &place).status.code(), Some(0));
        let before = files(&place);
        let new = ["--new-passphrase-file", &right];
        let commands: [&[&str]; 7] = [
            &["store", "list"],
            &["store", "show", &ids[0]],
            &["store", "check"],
            &["store", "keep-sound", "not-kept", "--delete-kept"],
            &["store", "delete-sound", &ids[0]],
            &["draft", "tests/cli/narrations/short.txt", "--keep"],
            &[&["store", "change-passphrase"], &new[..]].concat(),
        ];
        for command in commands {
            let output = with(command, &wrong, &place);
            let told = format!("that is not the passphrase of the store in {}; nothing was changed", place.display());
            assert!(said(&output).contains(&told) && printed(&output).is_empty(), "{command:?}: {}", said(&output));
            assert_eq!(output.status.code(), Some(2), "{command:?}");
            assert!(files(&place) == before, "{command:?} changed something");
        }
        for opened in [Store::open(&place), Store::open_existing(&place), Store::open_to_read(&place)] {
            let error = opened.expect_err("it needs a passphrase");
            assert!(matches!(error, StoreError::Encrypted(_)), "{error:?}");
            assert!(error.to_string().contains("is encrypted; give its passphrase"), "{error}");
        }
        let missing = with(&["store", "list"], "no-such-file", &place);
        assert!(said(&missing).starts_with("error: cannot take the passphrase: cannot read no-such-file: "));
        assert!(files(&place) == before);
    }

    #[test]
    fn what_was_altered_is_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let (ids, _) = filled(&place, LENGTHS);
        let [right, _] = passphrase_files(folder.path());
        assert_eq!(with(&["store", "encrypt"], &right, &place).status.code(), Some(0));
        let paths = [0, 1].map(|at| open(&place).sound(&ids[at]).expect("it is kept"));
        let whole = paths.clone().map(|path| fs::read(path).expect("it is there"));
        let check = |faults: &str| {
            let output = with(&["store", "check"], &right, &place);
            assert_eq!(output.status.code(), Some(1));
            assert!(printed(&output).contains(faults), "{faults} is not in {}", printed(&output));
            assert!(open(&place).sound_bytes(&ids[0]).is_err());
        };
        let told = format!("record {}: its recording was altered: {}\n", ids[0], paths[0].display());
        for at in [5, 30, 70_000, whole[0].len() - 1] {
            let mut other = whole[0].clone();
            other[at] ^= 1;
            fs::write(&paths[0], other).expect("it can be written");
            check(&told);
        }
        for other in [&whole[0][..39 + 65_552], &[][..], &whole[1][..]] {
            fs::write(&paths[0], other).expect("it can be written");
            check(&told);
        }
        fs::remove_file(&paths[0]).expect("it was there");
        check(&format!("record {}: its recording is missing: {}\n", ids[0], paths[0].display()));
        fs::write(&paths[0], &whole[0]).expect("it can be written");
        fs::write(paths[0].with_file_name("foreign"), &whole[0]).expect("it can be written");
        let output = printed(&with(&["store", "check"], &right, &place));
        assert!(
            output.contains("foreign was not put there by this program\n") && output.ends_with("faults: 1\n"),
            "{output}"
        );
    }

    #[test]
    fn an_altered_database_or_key_is_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        filled(&place, LENGTHS);
        let [right, _] = passphrase_files(folder.path());
        assert_eq!(with(&["store", "encrypt"], &right, &place).status.code(), Some(0));
        let check = |name: &str, at: usize, told: &str| {
            let file = place.join("encrypted").join(name);
            let whole = fs::read(&file).expect("it is there");
            let mut other = whole.clone();
            // A digit becomes another digit: the key's file is still one, and of another key.
            other[at] = match (name, other[at]) {
                ("key", b'7') => b'8',
                ("key", digit) if digit.is_ascii_hexdigit() => b'7',
                (_, byte) => byte ^ 1,
            };
            fs::write(&file, other).expect("it can be written");
            let output = with(&["store", "check"], &right, &place);
            assert_ne!(output.status.code(), Some(0));
            let both = said(&output) + &printed(&output);
            assert!(both.contains(told) && !both.contains("sqlcipher"), "{name} {at}: {both}");
            fs::write(&file, whole).expect("it can be written");
        };
        check("store.sqlite", 100, "its database was altered or is not the one of its key; keep a copy as it is");
        check("store.sqlite", 3 * 4096 + 100, "is damaged: ");
        check("key", 3, "encrypted/key is damaged, and without it nothing in the store can be read");
        check("key", 190, "that is not the passphrase of the store");
        assert_eq!(with(&["store", "check"], &right, &place).status.code(), Some(0), "put back, all is well");
    }

    fn copy(from: &Path, to: &Path) {
        for (path, content) in files(from) {
            let path = to.join(path.strip_prefix(from).expect("below"));
            fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
            fs::write(path, content).expect("it can be written");
        }
    }

    #[test]
    fn killed_at_any_moment_the_store_is_the_old_one_or_the_new_one() {
        let folder = tempfile::tempdir().expect("a folder");
        let lengths = [6_000_000, 3_000_000];
        let first = folder.path().join("first");
        let (ids, before) = filled(&first, lengths);
        let [right, _] = passphrase_files(folder.path());
        let secrets = open_secrets(&lengths);
        let mut chance = Chance(11);
        let (mut old, mut new, mut within, mut longest) = (0, 0, 0, Duration::ZERO);
        for round in 0..24 {
            let place = folder.path().join(format!("{round}"));
            copy(&first, &place);
            let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
            command.args(["store", "encrypt", "--passphrase-file", &right, "--store"]).arg(&place);
            let begun = Instant::now();
            let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it starts");
            // Once it is let go to its end, which tells how long it takes; mostly it is killed while it writes.
            let writing = || place.join(".encrypting").exists() || place.join("encrypted").exists();
            while round % 4 != 1 && !writing() {
                assert!(child.try_wait().expect("it runs").is_none_or(|ended| ended.success()), "it failed");
            }
            if round == 0 {
                assert!(child.wait().expect("it ends").success());
                longest = begun.elapsed();
            } else {
                // Up to half as long again: else hardly one would be killed behind the step.
                std::thread::sleep(longest.mul_f64(chance.next(1500) as f64 / 1000.0));
                child.kill().expect("it is killed");
                child.wait().expect("it ended");
            }
            if Store::is_encrypted(&place) {
                check_nothing_stands_open(&place.join("encrypted"), &secrets);
                new += 1;
            } else {
                if place.join(".encrypting").exists() {
                    check_nothing_stands_open(&place.join(".encrypting"), &secrets);
                    within += 1;
                }
                old += 1;
            }
            let store = open(&place);
            assert_eq!(Content::of(&store, &ids), before, "round {round}");
            let verified = store.verify().expect("it can be checked");
            assert_eq!(
                (verified.faults.len(), verified.notes.len()),
                (0, usize::from(!is_private(&place))),
                "{verified:?}"
            );
            assert!(!place.join(".encrypting").exists());
            if Store::is_encrypted(&place) {
                check_nothing_stands_open(&place, &secrets);
            }
            drop(store);
            fs::remove_dir_all(&place).expect("it can be removed");
        }
        println!(
            "24 times in up to {longest:?}: the old store {old} times, {within} half written beside it; the new one {new}"
        );
        assert!(old >= 2 && new >= 2 && within >= 2, "{old} {new} {within}");
    }

    fn is_private(folder: &Path) -> bool {
        use std::os::unix::fs::PermissionsExt;
        fs::metadata(folder).expect("it is there").permissions().mode() & 0o077 == 0
    }

    #[test]
    fn killed_while_the_passphrase_changes_the_old_or_the_new_one_opens() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let [right, other] = passphrase_files(folder.path());
        assert_eq!(with(&["store", "encrypt"], &right, &place).status.code(), Some(0));
        let id = open(&place).keep(&draft(NOTE), None, Moment(1)).expect("it is kept");
        let mut chance = Chance(5);
        let change = |now: &str, next: &str| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
            command.args(["store", "change-passphrase", "--passphrase-file", now, "--new-passphrase-file", next]);
            command.env("SPOKEN_EXAM_STORE", &place).stdout(Stdio::null()).spawn().expect("it starts")
        };
        let undisturbed = |now: &str, next: &str| {
            let begun = Instant::now();
            assert!(change(now, next).wait().expect("it ends").success());
            begun.elapsed()
        };
        // There and back, more than once: other tests may be in the way of one, and then each kill would come behind the end.
        let turns = (0..3).flat_map(|_| [undisturbed(&right, &other), undisturbed(&other, &right)]);
        let shortest = turns.min().expect("six turns");
        let (mut now, mut next, mut changed) = ((WORDS, &right), (OTHER, &other), 0);
        for round in 0..20 {
            if round == 0 {
                undisturbed(now.1, next.1);
            } else {
                let mut child = change(now.1, next.1);
                std::thread::sleep(shortest.mul_f64(0.5 + chance.next(1000) as f64 / 1500.0));
                child.kill().expect("it is killed");
                child.wait().expect("it ended");
            }
            let opens = |words: &str| Store::open_with(&place, Some(&passphrase(words))).ok();
            match (opens(now.0), opens(next.0)) {
                (Some(store), None) => assert!(store.record(&id).is_ok()),
                (None, Some(store)) => {
                    assert!(store.record(&id).is_ok());
                    (now, next, changed) = (next, now, changed + 1);
                }
                both => panic!("round {round}: {both:?}"),
            }
        }
        println!("20 times in {shortest:?} at least, changed {changed} times");
        assert!((1..20).contains(&changed), "{changed}");
        let left = files(&place).keys().filter(|path| path.to_string_lossy().contains(".part-")).count();
        assert_eq!(left, 0, "what was half written is removed");
    }

    #[test]
    fn killed_while_it_is_written_to_nothing_stands_open_and_nothing_is_lost() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        Store::encrypt(&place, &passphrase(WORDS)).expect("it is made");
        let json = spoken_exam::export::to_json(&draft(NOTE)).expect("a draft");
        fs::write(place.with_extension("json"), json).expect("it can be written");
        let mut chance = Chance(3);
        let mut kept = 0;
        let mut secrets = open_secrets(&[]);
        for _ in 0..20 {
            let child = child(&["whole", &place.to_string_lossy()]);
            // The child's sounds are its own number over and over.
            secrets.push(format!("{0} 0{0} 0{0} 0", child.id()).into_bytes());
            let lines = killed_after(child, true, Duration::from_micros(chance.next(50_000)));
            check_nothing_stands_open(&place, &secrets);
            let store = open(&place);
            for id in lines.iter().filter_map(|line| line.strip_prefix("kept ")) {
                assert_eq!(store.record(id).expect("what was told is there").review.draft().findings.len(), 2);
                kept += 1;
            }
            check_sound(&store);
        }
        println!("20 kills, {kept} records kept");
        assert!(kept >= 20, "{kept}");
    }

    #[test]
    fn what_would_be_lost_is_refused_and_what_is_faulty_stays_so() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let (ids, _) = filled(&place, LENGTHS);
        let [right, _] = passphrase_files(folder.path());
        let foreign = place.join("recordings/own notes.txt");
        fs::write(&foreign, "no sound").expect("it can be written");
        let output = with(&["store", "encrypt"], &right, &place);
        let told = format!("{} was not put there by this program and would be lost", foreign.display());
        assert!(said(&output).contains(&told), "{}", said(&output));
        assert!(!place.join("encrypted").exists() && !place.join(".encrypting").exists());
        fs::remove_file(&foreign).expect("it was there");
        // A recording whose record was never written may be the only copy; another was altered.
        let orphan = some_sound(1000);
        let hash = sha256(&orphan);
        fs::create_dir_all(place.join("recordings").join(&hash[..2])).expect("a folder");
        fs::write(place.join("recordings").join(&hash[..2]).join(format!("{hash}.wav")), &orphan).expect("written");
        let altered = open(&place).sound(&ids[1]).expect("it is kept");
        fs::write(altered, "altered").expect("it can be written");
        let output = with(&["store", "encrypt"], &right, &place);
        assert_eq!(printed(&output), "encrypted: 3 records, 3 recordings\n", "{}", said(&output));
        let verified = open(&place).verify().expect("it can be checked");
        let faults: Vec<String> = verified.faults.iter().map(ToString::to_string).collect();
        assert!(
            faults.len() == 1 && faults[0].starts_with(&format!("record {}: its recording was altered", ids[1])),
            "{faults:?}"
        );
        assert!(
            verified.notes.len() == 1 && verified.notes[0].contains("belongs to no record"),
            "{:?}",
            verified.notes
        );
        check_nothing_stands_open(&place, &open_secrets(&[LENGTHS[0], 1000]));
    }

    #[test]
    fn a_new_store_is_encrypted_where_a_passphrase_is_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let [right, _] = passphrase_files(folder.path());
        let kept = with(&["draft", "samples/silent.flac", "--keep"], &right, &place);
        assert_eq!(kept.status.code(), Some(1), "{}", said(&kept));
        assert!(place.join("encrypted/store.sqlite").is_file() && !place.join("store.sqlite").exists());
        let id = printed(&kept).trim().to_owned();
        let sound = open(&place).sound_bytes(&id).expect("it is whole");
        assert_eq!(sound, fs::read("samples/silent.flac").expect("it is there"));
        let plain = folder.path().join("plain");
        drop(Store::open(&plain).expect("it opens"));
        let listed = with(&["store", "list"], &right, &plain);
        assert!(
            said(&listed).starts_with("note: the store is not encrypted and needs no passphrase"),
            "{}",
            said(&listed)
        );
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_leaves_the_old_store() {
        let Some(disk) = crate::store::Disk::new("size=1m") else { return };
        let place = disk.0.path().join("store");
        let (ids, before) = filled(&place, [400_000, 200_000]);
        let error = Store::encrypt(&place, &passphrase(WORDS)).expect_err("there is no room");
        assert!(matches!(error, StoreError::Full(_)), "{error:?}");
        assert!(!Store::is_encrypted(&place) && !place.join(".encrypting").exists());
        let store = Store::open(&place).expect("it opens");
        assert_eq!(Content::of(&store, &ids), before);
        check_sound(&store);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_passphrase_is_asked_for_without_showing_it() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("store");
        let answer = |arguments: &str, typed: &[(&str, &str)]| -> Option<String> {
            let program = env!("CARGO_BIN_EXE_spoken-exam");
            let line = format!("'{program}' {arguments}");
            let mut command = Command::new("script");
            command.args(["-qefc", &line, "/dev/null"]).env("SPOKEN_EXAM_STORE", &place);
            let Ok(mut child) = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn() else {
                println!("left out: no terminal can be made here");
                return None;
            };
            let (mut input, mut output) = (child.stdin.take().expect("a pipe"), child.stdout.take().expect("a pipe"));
            let mut shown = Vec::new();
            for (prompt, words) in typed {
                while !shown.ends_with(prompt.as_bytes()) {
                    let mut byte = [0];
                    assert_eq!(output.read(&mut byte).expect("it speaks"), 1, "{}", String::from_utf8_lossy(&shown));
                    shown.push(byte[0]);
                }
                // The prompt stands there a moment before the terminal stops showing what is typed.
                std::thread::sleep(Duration::from_millis(500));
                writeln!(input, "{words}").expect("it listens");
            }
            output.read_to_end(&mut shown).expect("it speaks");
            child.wait().expect("it ends");
            Some(String::from_utf8_lossy(&shown).into_owned())
        };
        let (new, again, known) = ("New passphrase: ", "The same again: ", "Passphrase of the store: ");
        let Some(shown) = answer("store encrypt", &[(new, WORDS), (again, OTHER)]) else { return };
        assert!(shown.contains("the two are not alike; nothing was changed") && !place.exists(), "{shown}");
        let shown = answer("store encrypt", &[(new, WORDS), (again, WORDS)]).expect("a terminal");
        assert!(shown.contains("loses everything") && shown.contains("encrypted: 0 records"), "{shown}");
        assert!(!shown.contains("geese"), "{shown}");
        let shown = answer("store check", &[(known, WORDS)]).expect("a terminal");
        assert!(shown.contains("faults: 0") && !shown.contains("geese"), "{shown}");
        let shown = answer("store list", &[(known, OTHER)]).expect("a terminal");
        assert!(shown.contains("that is not the passphrase of the store"), "{shown}");
        let shown =
            answer("store change-passphrase", &[(known, WORDS), (new, OTHER), (again, OTHER)]).expect("a terminal");
        assert!(shown.contains("the passphrase was changed") && !shown.contains("swans"), "{shown}");
        assert!(Store::open_with(&place, Some(&passphrase(OTHER))).is_ok());
    }
}
