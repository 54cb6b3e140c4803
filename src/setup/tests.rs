//! Tests of the set-up as a whole that need no network: folders, files that are there, sources that fail.
//! Takes made-up folders; a real download is no test (it would fail for reasons of the network).
//! Leaves alone: real models (`tests/suite/model.rs`).
//! "A file of the right size with other contents is not taken for the model."

use super::*;

#[test]
fn the_folder_is_the_users_choice_then_the_usual_place() {
    let check = |set: &[(&str, &str)], folder: Option<&str>| {
        let variable = |name: &str| set.iter().find(|(key, _)| *key == name).map(|(_, value)| OsString::from(value));
        assert_eq!(default_folder(&variable), folder.map(PathBuf::from), "{set:?}");
    };
    check(&[("SPOKEN_EXAM_MODELS", "/m"), ("XDG_DATA_HOME", "/d"), ("HOME", "/h")], Some("/m"));
    check(&[("XDG_DATA_HOME", "/d"), ("HOME", "/h")], Some("/d/spoken-exam/models"));
    check(&[("XDG_DATA_HOME", "d"), ("HOME", "/h")], Some("/h/.local/share/spoken-exam/models"));
    check(&[("SPOKEN_EXAM_MODELS", ""), ("HOME", "/h")], Some("/h/.local/share/spoken-exam/models"));
    check(&[], None);
}

#[test]
fn names_are_read_and_written_alike() {
    for model in Model::ALL {
        assert_eq!(model.to_string().parse(), Ok(model));
    }
    for precision in Precision::ALL {
        assert_eq!(precision.to_string().parse(), Ok(precision));
    }
    assert_eq!("large".parse::<Model>(), Err("`large` is not a model; there are base and tiny.en".into()));
    let path = model_path(Path::new("/m"), &Model::TinyEn, Precision::F16);
    assert_eq!(path, Path::new("/m/ggml-tiny.en-f16.bin"));
}

#[test]
fn a_file_of_the_right_size_with_other_contents_is_not_taken_for_the_model() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = Wanted { model: Model::TinyEn, precision: Precision::Q8, folder: folder.path().into() };
    assert!(!is_there(folder.path(), &wanted.model, wanted.precision));
    let file = File::create(model_path(folder.path(), &wanted.model, wanted.precision)).unwrap();
    file.set_len(sources::outcome(wanted.model, wanted.precision).bytes).unwrap();
    assert!(is_there(folder.path(), &wanted.model, wanted.precision));
    let (stop, mut steps) = (AtomicBool::new(false), Vec::new());
    let mut note = |step| steps.push(step);
    let ready = model_already(&wanted, &mut Watch { stop: &stop, progress: &mut note }).unwrap();
    assert_eq!(ready, None);
    assert_eq!(steps, [Step::Checking { file: "the model that is there" }]);
}

#[test]
fn voice_activity_is_known_by_its_contents_too() {
    let folder = tempfile::tempdir().unwrap();
    let (stop, mut ignore) = (AtomicBool::new(false), |_| ());
    let mut already = || voice_already(folder.path(), &mut Watch { stop: &stop, progress: &mut ignore }).unwrap();
    assert_eq!(already(), None);
    File::create(voice_path(folder.path())).unwrap().set_len(sources::VOICE_OUTCOME.bytes).unwrap();
    assert!(voice_is_there(folder.path()));
    assert_eq!(already(), None);
}

#[test]
fn room_is_asked_for_what_is_missing_alone() {
    let wanted = Wanted { model: Model::TinyEn, precision: Precision::Q8, folder: PathBuf::new() };
    assert_eq!(room_for_all(&wanted, false, false), 0);
    assert_eq!(room_for_all(&wanted, false, true), 2 * 11_317_527 + 885_098);
    assert_eq!(room_for_all(&wanted, true, false), 2 * 70_653_446);
}

#[test]
fn a_stop_before_anything_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (stop, mut steps) = (AtomicBool::new(true), 0);
    let mut note = |_| steps += 1;
    let told = Watch { stop: &stop, progress: &mut note }.tell(Step::OtherSource);
    assert!(matches!(told, Err(SetupError::Stopped)));
    assert_eq!(steps, 0);
    assert!(fs::read_dir(folder.path()).unwrap().next().is_none());
}

#[test]
fn a_full_disk_while_converting_is_said_as_such() {
    struct Full;
    impl Write for Full {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::StorageFull.into())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let error = Hashing { inner: Full, digest: Sha256::new() }.write_all(b"x").unwrap_err();
    let error = with_room(SetupError::io("write", Path::new("/m/part"), error), Path::new("/"), 5_000_000);
    assert!(error.to_string().starts_with("no space left in /: 5 MB are needed and "), "{error}");
}

#[test]
fn every_source_is_whole_and_its_figures_agree() {
    for model in Model::ALL {
        for source in sources::of(model) {
            let hashes = source.packages.iter().map(|package| package.sha256).chain([source.sha256]);
            assert!(hashes.into_iter().all(|hash| hash.len() == 64 && hash.bytes().all(|c| c.is_ascii_hexdigit())));
            let entries = source.parts.iter().chain([&source.vocabulary]);
            assert!(entries.into_iter().all(|entry| entry.package < source.packages.len() && entry.bytes > 0));
            for package in source.packages {
                let start = format!("{}-{}-", package.name.replace('-', "_"), package.version);
                assert!(package.wheel.starts_with(&start), "{}", package.wheel);
            }
        }
        for precision in Precision::ALL {
            assert_eq!(sources::outcome(model, precision).sha256.len(), 64, "{model} {precision}");
        }
    }
}
