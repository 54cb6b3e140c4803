//! Tests of whole batches that need to look behind the door: recognisers that count, wait, give up or take files away meanwhile.
//! Takes made-up sound; fails where a file is lost, heard twice, or told wrongly. Leaves alone programs that are killed (`tests/suite`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::*;
use crate::audio::{Sound, wave_file};
use crate::batch::preparing::What;
use crate::batch::source::At;
use crate::batch::{Ears, Line, Place, Shard};
use crate::lexicon::Lexicon;
use crate::live::Hearer;
use crate::speech::scripted::Scripted;
use crate::speech::{Heard, ModelIdentity, Progress, SpeechError, Transcriber};

fn lexicon() -> &'static Lexicon {
    static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
    &LEXICON
}

/// What happens while a recording of so many samples is heard.
type Meanwhile = Arc<dyn Fn(usize) + Send + Sync>;

/// Hears the same line in every recording, and counts.
struct Same {
    heard: Arc<AtomicU64>,
    meanwhile: Meanwhile,
}

impl Same {
    fn new(meanwhile: impl Fn(usize) + Send + Sync + 'static) -> Self {
        Self { heard: Arc::default(), meanwhile: Arc::new(meanwhile) }
    }

    fn heard(&self) -> u64 {
        self.heard.load(Ordering::Relaxed)
    }
}

struct One {
    scripted: Scripted,
    heard: Arc<AtomicU64>,
    meanwhile: Meanwhile,
}

impl Transcriber for One {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        self.heard.fetch_add(1, Ordering::Relaxed);
        (self.meanwhile)(sound.len());
        self.scripted.transcribe(sound, progress)
    }

    fn identity(&self) -> ModelIdentity {
        self.scripted.identity()
    }
}

impl Ears for Same {
    fn identity(&self) -> Result<String, String> {
        Ok("0123456789abcdef".to_owned())
    }

    fn rounds(&self, rounds: usize) -> Result<Vec<Vec<Hearer>>, String> {
        let one = || -> Hearer {
            let scripted = Scripted::of_lines(&[(0, 900, "No ankle clonus on the left.")]);
            Box::new(One { scripted, heard: Arc::clone(&self.heard), meanwhile: Arc::clone(&self.meanwhile) })
        };
        Ok((0..rounds).map(|_| vec![one()]).collect())
    }
}

/// A folder of sources and one for what is made of them.
struct Folders(tempfile::TempDir);

impl Folders {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("from")).unwrap();
        Self(folder)
    }

    fn from(&self, name: &str) -> PathBuf {
        self.0.path().join("from").join(name)
    }

    fn to(&self, name: &str) -> PathBuf {
        self.0.path().join("to").join(name)
    }

    /// A recording of so many tenths of a second, ten at least.
    fn sound(&self, name: &str, tenths: usize) {
        let samples: Vec<i16> = (0..1600 * tenths).map(|at| if at % 40 < 20 { 4000 } else { -4000 }).collect();
        std::fs::write(self.from(name), wave_file(&samples)).unwrap();
    }

    fn text(&self, name: &str, text: &str) {
        std::fs::write(self.from(name), text).unwrap();
    }

    fn batch<'a>(&self, ears: &'a Same) -> Batch<'a> {
        Batch {
            from: Place::Folder(self.from("")),
            to: Some(Place::Folder(self.to(""))),
            beside: Vec::new(),
            shard: Shard::WHOLE,
            jobs: 2,
            listen_again: false,
            lexicon: lexicon(),
            ears,
            stop: Arc::default(),
        }
    }

    /// Runs it; gives the sums and each file's outcome and reason in order of name.
    fn run(&self, batch: &Batch<'_>) -> (Summary, Vec<(String, String)>) {
        let mut ended = BTreeMap::new();
        let summary = run(batch, None, &mut |event| {
            if let Event::Ended(line, already) = event {
                let reason = line.reason.clone().unwrap_or_else(|| if already { "already" } else { "now" }.to_owned());
                assert_eq!(ended.insert(line.file.clone(), reason), None, "{} ended twice", line.file);
            }
        });
        (summary.unwrap(), ended.into_iter().collect())
    }
}

fn told(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(file, what)| ((*file).to_owned(), (*what).to_owned())).collect()
}

#[test]
fn what_is_done_is_not_done_again_and_changes_are() {
    let folders = Folders::new();
    let ears = Same::new(|_| ());
    folders.sound("a.wav", 10);
    folders.text("b.txt", "The Moro is symmetrical and complete.");
    let all = |what: &str| told(&[("a.wav", what), ("b.txt", what)]);
    assert_eq!(folders.run(&folders.batch(&ears)).1, all("now"));
    let (summary, ended) = folders.run(&folders.batch(&ears));
    assert_eq!((ended, summary.already, summary.drafted, ears.heard()), (all("already"), 2, 2, 1));
    folders.text("b.txt", "The Moro is absent.");
    assert_eq!(folders.run(&folders.batch(&ears)).1, told(&[("a.wav", "already"), ("b.txt", "now")]));
    // A draft that somebody took away is made again from the words, and one of another length too.
    std::fs::remove_file(folders.to("drafts/a.wav.json")).unwrap();
    std::fs::write(folders.to("drafts/b.txt.json"), "").unwrap();
    assert_eq!(folders.run(&folders.batch(&ears)).1, all("now"));
    assert_eq!(ears.heard(), 1);
    let again = Batch { listen_again: true, ..folders.batch(&ears) };
    assert_eq!(folders.run(&again).1, told(&[("a.wav", "now"), ("b.txt", "already")]));
    assert_eq!(ears.heard(), 2);
}

#[test]
fn another_lexicon_reads_and_does_not_listen() {
    let folders = Folders::new();
    let ears = Same::new(|_| ());
    folders.sound("a.wav", 10);
    folders.text("b.txt", "The Moro is absent.");
    folders.run(&folders.batch(&ears));
    let other = Lexicon::load(None).unwrap().with_attention("computer").unwrap();
    assert_ne!(other.identity, lexicon().identity);
    let (_, ended) = folders.run(&Batch { lexicon: &other, ..folders.batch(&ears) });
    assert_eq!((ended, ears.heard()), (told(&[("a.wav", "now"), ("b.txt", "now")]), 1));
    let manifest = std::fs::read_to_string(folders.to("manifest.jsonl")).unwrap();
    let [sound, text] = &Line::all_of(&manifest).map(|line| line.draft.unwrap()).collect::<Vec<_>>()[..] else {
        panic!()
    };
    assert_eq!((&sound.lexicon, &sound.heard_with), (&other.identity, &Some(lexicon().identity.clone())));
    assert_eq!((&text.lexicon, &text.heard_with), (&other.identity, &None));
    // Words that are damaged are heard again.
    let words = std::fs::read_dir(folders.to("words")).unwrap().next().unwrap().unwrap().path();
    let words = std::fs::read_dir(words).unwrap().next().unwrap().unwrap().path();
    std::fs::write(words, "{").unwrap();
    folders.run(&folders.batch(&ears));
    assert_eq!(ears.heard(), 2);
}

#[test]
fn the_same_recording_under_two_names_is_heard_once() {
    let folders = Folders::new();
    let ears = Same::new(|_| std::thread::sleep(Duration::from_millis(50)));
    folders.sound("a.wav", 10);
    folders.sound("b.wav", 10);
    folders.sound("c.wav", 11);
    assert_eq!(folders.run(&folders.batch(&ears)).1, told(&[("a.wav", "now"), ("b.wav", "now"), ("c.wav", "now")]));
    assert_eq!(ears.heard(), 2);
    let [a, b] =
        ["a.wav", "b.wav"].map(|name| std::fs::read_to_string(folders.to(&format!("drafts/{name}.json"))).unwrap());
    assert_eq!(a.replace("a.wav", "b.wav"), b);
}

#[test]
fn files_that_change_or_vanish_meanwhile_are_told_and_the_rest_goes_on() {
    let folders = Folders::new();
    for (name, tenths) in [("1.wav", 40), ("2.wav", 30), ("3.wav", 20), ("4.wav", 15), ("5.wav", 10)] {
        folders.sound(name, tenths);
    }
    let at = |name: &str| folders.from(name);
    let (gone, emptied) = (at("4.wav"), at("5.wav"));
    // While the longest, the first, is heard: the next is prepared, and no other was looked at yet.
    let ears = Same::new(move |samples| {
        if samples == 64_000 {
            std::fs::remove_file(&gone).unwrap();
            std::fs::write(&emptied, b"").unwrap();
            std::thread::sleep(Duration::from_millis(100));
        }
    });
    let batch = Batch { jobs: 1, ..folders.batch(&ears) };
    let (summary, ended) = folders.run(&batch);
    let gone = "it is gone: it was there when the batch began";
    let all =
        [("1.wav", "now"), ("2.wav", "now"), ("3.wav", "now"), ("4.wav", gone), ("5.wav", "it is empty (0 bytes)")];
    assert_eq!((ended, summary.failed), (told(&all), 2));
}

#[test]
fn a_fault_of_the_program_at_one_file_is_that_files_alone() {
    let folders = Folders::new();
    for (name, tenths) in [("1.wav", 40), ("2.wav", 30), ("3.wav", 20)] {
        folders.sound(name, tenths);
    }
    let ears = Same::new(|samples| assert_ne!(samples, 48_000, "a recogniser gave up"));
    let (_, ended) = folders.run(&folders.batch(&ears));
    assert_eq!(
        ended,
        told(&[("1.wav", "now"), ("2.wav", "the program failed at it; please report that"), ("3.wav", "now")])
    );
}

#[test]
fn what_took_the_program_down_comes_last() {
    let folders = Folders::new();
    for (name, tenths) in [("1.wav", 40), ("2.wav", 30), ("3.wav", 20)] {
        folders.sound(name, tenths);
    }
    let order = Arc::new(Mutex::new(Vec::new()));
    let noted = Arc::clone(&order);
    let ears = Same::new(move |samples| noted.lock().unwrap().push(samples / 16_000));
    let sha256 = crate::audio::read(&folders.from("1.wav")).unwrap().sha256;
    std::fs::create_dir_all(folders.to("trying")).unwrap();
    std::fs::write(folders.to("trying").join(sha256), b"").unwrap();
    folders.run(&Batch { jobs: 1, ..folders.batch(&ears) });
    assert_eq!(*order.lock().unwrap(), [3, 2, 4]);
    assert_eq!(std::fs::read_dir(folders.to("trying")).unwrap().count(), 0);
}

#[test]
fn silence_needs_no_recogniser_and_says_so() {
    let folders = Folders::new();
    std::fs::write(folders.from("a.wav"), wave_file(&[0; 16_000])).unwrap();
    let ears = Same::new(|_| ());
    for what in ["now", "already"] {
        let (summary, ended) = folders.run(&folders.batch(&ears));
        assert_eq!((ended, summary.sound_lost, ears.heard()), (told(&[("a.wav", what)]), 1, 0));
    }
}

#[test]
fn a_batch_that_is_stopped_keeps_what_is_done() {
    let folders = Folders::new();
    for (name, tenths) in [("1.wav", 40), ("2.wav", 30), ("3.wav", 20)] {
        folders.sound(name, tenths);
    }
    let stop = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&stop);
    let ears = Same::new(move |samples| set.store(samples == 48_000, Ordering::Relaxed));
    let stopped = Batch { jobs: 1, stop, ..folders.batch(&ears) };
    assert!(matches!(run(&stopped, None, &mut |_| ()), Err(BatchError::Stopped)));
    assert!(folders.to("drafts/1.wav.json").is_file() && !folders.to("drafts/3.wav.json").exists());
    let (_, ended) = folders.run(&Batch { jobs: 1, ..folders.batch(&Same::new(|_| ())) });
    assert_eq!(
        ended.iter().filter(|(_, what)| what == "now").count()
            + ended.iter().filter(|(_, what)| what == "already").count(),
        3
    );
    assert_eq!(ended[2], ("3.wav".to_owned(), "now".to_owned()));
}

/// The thread that prepares may have begun to give tasks just before the batch stopped.
#[test]
fn whoever_gives_tasks_to_a_batch_that_stops_is_not_left_waiting() {
    let folders = Folders::new();
    folders.text("1.txt", "The Moro is symmetrical and complete.");
    let ears = Same::new(|_| ());
    let batch = Batch { stop: Arc::new(AtomicBool::new(true)), ..folders.batch(&ears) };
    let source = Source::open(&batch.from).unwrap();
    let (underway, known) = (Mutex::default(), Known::default());
    let (tasks, ready) = mpsc::sync_channel(1);
    let working = Working {
        batch: &batch,
        storage: None,
        known: &known,
        tasks: Mutex::new(ready),
        rounds: Mutex::new(None),
        underway: &underway,
        heard: Vec::new(),
    };
    let task = || Task {
        told: String::new(),
        file_name: String::new(),
        size: 0,
        sha256: String::new(),
        what: What::Text(String::new()),
        heard_by: None,
        record: None,
        fetched: source.fetched(&At::Path(folders.from("1.txt"))).unwrap(),
    };
    let (ended, endings) = mpsc::channel();
    let taken = std::thread::scope(|scope| {
        (0..2).for_each(|own| {
            let (working, ended) = (&working, ended.clone());
            scope.spawn(move || working.work(own, &ended));
        });
        let (until, mut taken) = (Instant::now() + Duration::from_secs(10), 0);
        while taken < 8 && Instant::now() < until {
            match tasks.try_send(task()) {
                Ok(()) => taken += 1,
                Err(_) => std::thread::sleep(Duration::from_millis(1)),
            }
        }
        drop(tasks);
        taken
    });
    drop(ended);
    assert_eq!((taken, endings.iter().count()), (8, 0), "all are taken, none is worked on");
}

#[test]
fn parts_share_the_work_and_are_gathered() {
    let folders = Folders::new();
    for number in 0..40 {
        folders.text(&format!("{number}.txt"), &format!("Head circumference {number} cm."));
    }
    folders.text("broken.txt", "");
    let ears = Same::new(|_| ());
    let part = |part: u32| Batch { shard: Shard { part, of: 3 }, ..folders.batch(&ears) };
    let (from, to) = (Place::Folder(folders.from("")), Place::Folder(folders.to("")));
    let mut all: Vec<(String, String)> = [1, 2].into_iter().flat_map(|one| folders.run(&part(one)).1).collect();
    let gathered = super::super::gather(&from, &to, &mut |_| ()).unwrap();
    assert_eq!((gathered.missing.len(), gathered.unended), (41 - all.len(), vec![Shard { part: 3, of: 3 }]));
    assert!(!gathered.missing.is_empty() && gathered.missing.len() < 30, "{:?}", gathered.missing);
    all.extend(folders.run(&part(3)).1);
    assert_eq!(all.len(), 41);
    let gathered = super::super::gather(&from, &to, &mut |_| ()).unwrap();
    assert_eq!((gathered.missing.len(), gathered.failed.len(), gathered.summary.drafted), (0, 1, 40));
    // Nothing is left to do for whoever does the whole.
    assert_eq!(folders.run(&folders.batch(&ears)).0.already, 40);
}

#[test]
fn two_never_work_on_the_same_part() {
    let folders = Folders::new();
    folders.sound("1.wav", 40);
    let (from, to) = (folders.from(""), folders.to(""));
    let refusals = Arc::new(Mutex::new(Vec::new()));
    let noted = Arc::clone(&refusals);
    let ears = Same::new(move |_| {
        for shard in [Shard::WHOLE, Shard { part: 1, of: 2 }] {
            let quiet = Same::new(|_| ());
            let second = other(&from, &to, shard, &quiet);
            noted.lock().unwrap().push(run(&second, None, &mut |_| ()).unwrap_err().to_string());
        }
    });
    folders.run(&folders.batch(&ears));
    let refusals = refusals.lock().unwrap();
    assert!(refusals[0].starts_with("part 1/1 of this target is being worked on"), "{refusals:?}");
    assert!(refusals[1].starts_with("part 1/2 cannot be done while another program works on 1/1"), "{refusals:?}");
}

fn other<'a>(from: &Path, to: &Path, shard: Shard, ears: &'a Same) -> Batch<'a> {
    Batch {
        from: Place::Folder(from.to_owned()),
        to: Some(Place::Folder(to.to_owned())),
        beside: Vec::new(),
        shard,
        jobs: 1,
        listen_again: false,
        lexicon: lexicon(),
        ears,
        stop: Arc::default(),
    }
}

#[test]
fn records_of_the_store_are_made_once() {
    let folders = Folders::new();
    let place = folders.0.path().join("store");
    folders.sound("a.wav", 10);
    // Two infants with the same note.
    for name in ["x", "y"] {
        std::fs::create_dir(folders.from(name)).unwrap();
        folders.text(&format!("{name}/note.txt"), "The Moro is symmetrical and complete.");
    }
    let ears = Same::new(|_| ());
    for to in [None, Some(Place::Folder(folders.to("")))] {
        let place = if to.is_some() { place.clone() } else { place.with_extension("alone") };
        let mut store = Store::open(&place).unwrap();
        for turn in 0..3 {
            // Killed between a record and its line: the manifest knows nothing of it.
            if turn == 2 && to.is_some() {
                std::fs::remove_file(folders.to("manifest.jsonl")).unwrap();
            }
            let summary =
                run(&Batch { to: to.clone(), ..folders.batch(&ears) }, Some(&mut store), &mut |_| ()).unwrap();
            // The manifest tells of drafts that are there; without it they are made anew, and put beside the record.
            let already = if turn == 0 || turn == 2 && to.is_some() { 0 } else { 3 };
            assert_eq!((summary.drafted, summary.already), (3, already), "turn {turn}");
            let query = crate::store::Query { words: Vec::new(), state: None, from: 0, most: 10 };
            assert_eq!(store.list(&query).unwrap().found, 3, "turn {turn}");
        }
        assert_eq!(store.verify().unwrap().records, 3);
    }
}
