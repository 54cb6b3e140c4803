//! Dictation without a recogniser: sound that comes in, is kept, heard, ordered about and ended.
//! A line of a narration is a tone whose loudness is the line's number; who hears it looks the line up. Everything else is
//! the program's own. Leaves alone how well real speech is heard (`hearing`).

use std::path::Path;
use std::process::{Command as Program, Stdio};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

use spoken_exam::audio::{Recording, Sound, SourceFormat};
use spoken_exam::flow::{self, Hearers};
use spoken_exam::live::{Crew, Event, Keep, Order, Picture, Session};
use spoken_exam::record::DraftRecord;
use spoken_exam::span::SoundSpan;
use spoken_exam::speech::{Heard, ModelIdentity, Progress, SpeechError, Transcriber, Utterance};
use spoken_exam::store::{Store, now};

use crate::corpus::LEXICON;

const SECOND: usize = 16_000;
const BLOCK: usize = SECOND / 10;

/// Loudness of line 0, and what each further one adds.
const FIRST: i16 = 2000;
const STEP: i16 = 40;

/// A tone for each line, a second and a half long, with a second of quiet behind it.
fn sound_of(lines: std::ops::Range<usize>) -> Vec<i16> {
    lines.flat_map(|line| tone(line, SECOND * 3 / 2).into_iter().chain(vec![0; SECOND])).collect()
}

fn tone(line: usize, samples: usize) -> Vec<i16> {
    let loud = FIRST + STEP * i16::try_from(line % 700).unwrap();
    (0..samples).map(|at| if at / 8 % 2 == 0 { loud } else { -loud }).collect()
}

/// Hears tones.
#[derive(Clone, Default)]
struct Tones {
    lines: Vec<&'static str>,
    /// How long hearing takes, for each second of sound.
    takes: Duration,
}

impl Tones {
    fn of(lines: &[&'static str]) -> Self {
        Self { lines: lines.to_vec(), takes: Duration::ZERO }
    }

    fn utterance(&self, samples: &[f32], (start, end): (usize, usize)) -> Option<Utterance> {
        let loud = samples[start..end].iter().fold(0.0f32, |most, sample| most.max(sample.abs())) * 32_768.0;
        let line = ((loud - f32::from(FIRST)) / f32::from(STEP)).round() as usize;
        let mut said = Utterance::from_text(self.lines.get(line % self.lines.len().max(1))?);
        let ms = |at: usize| (at / 16) as u64;
        said.sound = Some(SoundSpan { start_ms: ms(start), end_ms: ms(end) });
        said.words.iter_mut().for_each(|word| (word.sound, word.probability) = (said.sound, Some(0.99)));
        Some(said)
    }
}

/// Runs of tone, parted by a tenth of a second of quiet at least.
fn runs(samples: &[f32]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, _) in samples.iter().enumerate().filter(|(_, sample)| sample.abs() > 0.03) {
        match runs.last_mut().filter(|run| at < run.1 + SECOND / 10) {
            Some(run) => run.1 = at + 1,
            None => runs.push((at, at + 1)),
        }
    }
    runs
}

impl Transcriber for Tones {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        let samples = &*sound.piece(0..sound.len())?;
        std::thread::sleep(self.takes.mul_f64(samples.len() as f64 / SECOND as f64));
        let total_ms = (samples.len() / 16) as u64;
        progress(Progress { done_ms: total_ms, total_ms });
        let utterances = runs(samples).into_iter().filter_map(|run| self.utterance(samples, run)).collect();
        Ok(Heard { utterances, notices: Vec::new() })
    }

    fn identity(&self) -> ModelIdentity {
        ModelIdentity { name: "tones".to_owned(), sha256: String::new(), precision: None }
    }
}

fn crew(quick: &Tones, again: &Tones) -> Crew {
    let round = || -> Vec<Box<dyn Transcriber + Send>> { (0..3).map(|_| Box::new(again.clone()) as _).collect() };
    Crew {
        quick: Box::new(quick.clone()),
        guesser: Some(Box::new(quick.clone())),
        stop_guess: Arc::default(),
        again: round(),
        stop_again: Arc::default(),
        last: round(),
        voice: None,
    }
}

/// Keeps sound in memory, and can be full for a while.
#[derive(Clone, Default)]
struct Memory {
    kept: Arc<Mutex<Vec<i16>>>,
    full: Arc<Mutex<bool>>,
}

impl Keep for Memory {
    fn add(&mut self, samples: &[i16]) -> Result<(), String> {
        if *self.full.lock().unwrap() {
            return Err("no space is left".to_owned());
        }
        self.kept.lock().unwrap().extend_from_slice(samples);
        Ok(())
    }

    fn synchronise(&mut self) -> Result<(), String> {
        Ok(())
    }

    fn recording(&mut self) -> Result<Recording, String> {
        Ok(recording(&self.kept.lock().unwrap()))
    }
}

fn recording(samples: &[i16]) -> Recording {
    let source =
        SourceFormat { container: "wave".into(), codec: "pcm_s16le".into(), sample_rate_hz: 16_000, channels: 1 };
    let samples = samples.iter().map(|sample| f32::from(*sample) / 32_768.0).collect::<Vec<f32>>().into();
    Recording { samples, file_name: "a.wav".into(), sha256: "ab".into(), source, warnings: Vec::new() }
}

/// What was told.
#[derive(Default)]
struct Told {
    events: Mutex<Vec<Event>>,
    more: Condvar,
}

impl Told {
    fn take(&self, event: Event) {
        self.events.lock().unwrap().push(event);
        self.more.notify_all();
    }

    /// Waits until what was told is like that.
    #[track_caller]
    fn wait<T>(&self, what: &str, is: impl Fn(&[Event]) -> Option<T>) -> T {
        let until = Instant::now() + Duration::from_secs(60);
        let mut events = self.events.lock().unwrap();
        loop {
            if let Some(found) = is(&events) {
                return found;
            }
            let left = until.saturating_duration_since(Instant::now());
            assert!(!left.is_zero(), "{what} was not told within a minute; said: {:?}", Self::said(&events));
            events = self.more.wait_timeout(events, left).unwrap().0;
        }
    }

    /// All that was said, however it was heard together.
    fn said(events: &[Event]) -> String {
        let text = |event: &Event| match event {
            Event::Said { text, .. } => Some(text.clone()),
            _ => None,
        };
        events.iter().filter_map(text).collect::<Vec<_>>().join(" ")
    }

    fn picture(events: &[Event]) -> Option<Arc<Picture>> {
        events.iter().rev().find_map(|event| match event {
            Event::Draft(picture) => Some(Arc::clone(picture)),
            _ => None,
        })
    }
}

fn begin<K: Keep + 'static>(crew: Crew, keep: K) -> (Session<K>, Arc<Told>) {
    let told = Arc::new(Told::default());
    let tell = Arc::clone(&told);
    let lexicon = Arc::new(spoken_exam::lexicon::Lexicon::load(None).unwrap());
    (Session::begin(lexicon, crew, keep, "full", move |event| tell.take(event)), told)
}

fn hear<K: Keep + 'static>(session: &Session<K>, samples: &[i16]) {
    samples.chunks(BLOCK).for_each(|block| session.hear(block));
}

/// Findings of a draft: item, side, value.
fn findings(draft: &DraftRecord) -> Vec<(String, &'static str, String)> {
    draft.findings.iter().map(|found| (found.item.clone(), found.side.name(), found.value.clone())).collect()
}

fn found(item: &str, side: &'static str, value: &str) -> (String, &'static str, String) {
    (item.to_owned(), side, value.to_owned())
}

const LINES: [&str; 4] = [
    "Scarf sign on the left to the midline.",
    "On the right the same.",
    "No ankle clonus on the left.",
    "Popliteal angle on the left, ninety degrees.",
];

#[test]
fn what_is_said_is_found_settled_and_drafted_as_a_recorded_note_is() {
    let tones = Tones::of(&LINES);
    let keep = Memory::default();
    let (session, told) = begin(crew(&tones, &tones), keep.clone());
    hear(&session, &sound_of(0..4));
    told.wait("the last line", |events| (Told::said(events) == LINES.join(" ")).then_some(()));
    hear(&session, &vec![0; 4 * SECOND]);
    // Heard once, something needs the eye; heard again alike, nothing does.
    let is_clear =
        |picture: &Picture| picture.draft.findings.len() == 4 && picture.draft.findings.iter().all(|f| f.is_clear());
    let picture = told.wait("that all is clear", |events| Told::picture(events).filter(|picture| is_clear(picture)));
    let left: Vec<&String> = picture.left.iter().flat_map(|left| &left.items).collect();
    assert!(left.iter().any(|item| *item == "ankle clonus, right") && !left.iter().any(|item| item.contains("scarf")));
    let draft = session.end().unwrap().draft;
    let (mut first, mut second, mut third) = (tones.clone(), tones.clone(), tones);
    let hearers = Hearers { first: &mut first, others: vec![&mut second, &mut third] };
    let batch = flow::of_sound(&LEXICON, &recording(&keep.kept.lock().unwrap()), hearers, &mut |_| ()).unwrap().draft;
    assert_eq!(draft, batch);
    assert_eq!(findings(&draft), findings(&picture.draft));
}

#[test]
fn a_recogniser_that_is_too_slow_loses_nothing_and_no_order() {
    let lines: Vec<&str> = LINES.repeat(5).into_iter().chain(["Notebook, end."]).collect();
    let tones = Tones::of(&lines);
    // Sound comes in ten times as fast as it is spoken; hearing takes half of what it would then have.
    let slow = Tones { takes: Duration::from_millis(500), ..tones.clone() };
    let (session, told) = begin(crew(&slow, &tones), Memory::default());
    for block in sound_of(0..21).chunks(BLOCK) {
        session.hear(block);
        std::thread::sleep(Duration::from_millis(10));
    }
    told.wait("that it is behind", |events| events.iter().any(|e| matches!(e, Event::Behind(3000..))).then_some(()));
    hear(&session, &vec![0; SECOND]);
    told.wait("that it caught up", |events| {
        let last = events.iter().rev().find_map(|event| if let Event::Behind(ms) = event { Some(*ms) } else { None });
        (last == Some(0)).then_some(())
    });
    let said = told.wait("every line", |events| {
        let all = Told::said(events);
        (all.matches(LINES[3]).count() == 5).then_some(all)
    });
    assert!(said.starts_with(&LINES.repeat(5).join(" ")), "{said}");
    // However late it is understood, whoever gives it waits for it.
    told.wait("the order to end", |events| events.iter().any(|event| matches!(event, Event::EndAsked)).then_some(()));
    session.leave();
}

#[test]
fn a_full_disk_is_told_and_nothing_is_lost_when_there_is_room_again() {
    let tones = Tones::of(&LINES);
    let keep = Memory::default();
    let (session, told) = begin(crew(&tones, &tones), keep.clone());
    let sound = sound_of(0..4);
    hear(&session, &sound[..SECOND]);
    *keep.full.lock().unwrap() = true;
    hear(&session, &sound[SECOND..3 * SECOND]);
    let troubles = |events: &[Event]| events.iter().filter(|event| matches!(event, Event::Trouble(_))).count();
    told.wait("that the disk is full", |events| (troubles(events) == 1).then_some(()));
    *keep.full.lock().unwrap() = false;
    std::thread::sleep(Duration::from_millis(1100));
    hear(&session, &sound[3 * SECOND..]);
    told.wait("that it is written again", |events| (troubles(events) == 2).then_some(()));
    let draft = session.end().unwrap().draft;
    assert!(*keep.kept.lock().unwrap() == sound, "every sample is kept, in order");
    assert_eq!(findings(&draft).len(), 4);
}

// In a process of its own: other tests take memory at the same time.
#[test]
fn two_hours_do_not_grow() {
    let output = Program::new(std::env::current_exe().unwrap())
        .args(["--ignored", "--exact", "live::two_hours_of_dictation", "--nocapture"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(String::from_utf8_lossy(&output.stdout).contains("1 passed"), "it was run");
}

#[test]
#[ignore = "run by the test that looks at its memory"]
fn two_hours_of_dictation() {
    let tones = Tones::of(&LINES);
    struct Nowhere;
    impl Keep for Nowhere {
        fn add(&mut self, _: &[i16]) -> Result<(), String> {
            Ok(())
        }
        fn synchronise(&mut self) -> Result<(), String> {
            Ok(())
        }
        fn recording(&mut self) -> Result<Recording, String> {
            Err("it was not kept".to_owned())
        }
    }
    let count = Arc::new((Mutex::new(0), Condvar::new()));
    let tell = Arc::clone(&count);
    let lexicon = Arc::new(spoken_exam::lexicon::Lexicon::load(None).unwrap());
    let session = Session::begin(lexicon, crew(&tones, &tones), Nowhere, "full", move |event| {
        if matches!(event, Event::Said { .. }) {
            *tell.0.lock().unwrap() += 1;
            tell.1.notify_all();
        }
    });
    let minute = |minute: usize| {
        for half in 0..2 {
            hear(&session, &sound_of(half..half + 1));
            hear(&session, &vec![0; 55 * SECOND / 2]);
        }
        // No faster than it is heard: what waits would be counted too.
        let said = count.0.lock().unwrap();
        drop(count.1.wait_timeout_while(said, Duration::from_secs(60), |said| *said < 2 * (minute + 1)).unwrap());
        assert!(*count.0.lock().unwrap() >= 2 * (minute + 1), "minute {minute} was not heard");
        memory_mb()
    };
    let memory: Vec<f64> = (0..120).map(minute).collect();
    let (early, late) = (memory[20..40].iter().fold(0.0, |a: f64, b| a.max(*b)), memory[119]);
    assert!(late < early + 24.0, "{early:.0} MB in the first half hour, {late:.0} MB after two hours");
    session.leave();
}

/// Memory of this process in use, in megabytes.
fn memory_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/statm").unwrap();
    status.split(' ').nth(1).unwrap().parse::<f64>().unwrap() * 4096.0 / 1e6
}

/// A test that is the child of another: it dictates into the store of the folder until it is killed.
#[test]
#[ignore = "run by the test that kills it"]
fn dictates_until_it_is_killed() {
    let Some(folder) = std::env::var_os("SPOKEN_EXAM_TEST_STORE") else { return };
    let store = Store::open(Path::new(&folder)).unwrap();
    let tones = Tones::of(&LINES);
    let (session, _told) = begin(crew(&tones, &tones), store.begin_taking(now()).unwrap());
    let begun = Instant::now();
    for (block, at) in sound_of(0..40).chunks(BLOCK / 2).zip(1u32..) {
        std::thread::sleep((Duration::from_millis(50) * at).saturating_sub(begun.elapsed()));
        session.hear(block);
        println!("given {}", at as usize * BLOCK / 2);
    }
}

#[test]
fn killed_at_any_moment_it_loses_the_last_second_at_most() {
    let expected = sound_of(0..40);
    let mut chance = 12345u64;
    let mut one = || {
        chance = chance.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (chance >> 33) % 1500
    };
    let rounds: Vec<Vec<u64>> = (0..5).map(|_| (0..10).map(|_| one()).collect()).collect();
    let worst = Mutex::new(0);
    for round in rounds {
        std::thread::scope(|scope| {
            for after in round {
                let (worst, expected) = (&worst, &expected);
                scope.spawn(move || {
                    let lost = lost_when_killed(Duration::from_millis(300 + after), expected);
                    let mut worst = worst.lock().unwrap();
                    *worst = lost.max(*worst);
                });
            }
        });
    }
    let worst = *worst.lock().unwrap();
    assert!(worst <= SECOND, "{worst} samples were lost");
}

/// How many of the samples that were given are missing, of a dictation that is killed some time after it began.
fn lost_when_killed(after: Duration, expected: &[i16]) -> usize {
    use std::io::{BufRead, BufReader};
    let folder = tempfile::tempdir().unwrap();
    let mut child = Program::new(std::env::current_exe().unwrap())
        .args(["--ignored", "--exact", "live::dictates_until_it_is_killed", "--nocapture"])
        .env("SPOKEN_EXAM_TEST_STORE", folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let given = |line: &str| line.strip_prefix("given ").map(|count| count.parse::<usize>().unwrap());
    // It has begun when it has given something.
    let first = lines.by_ref().map_while(Result::ok).find_map(|line| given(&line)).unwrap();
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    let given = lines.map_while(Result::ok).filter_map(|line| given(&line)).last().unwrap_or(first);
    let store = Store::open(folder.path()).unwrap();
    let [one] = &store.unfinished().unwrap()[..] else { panic!("one recording waits") };
    let kept = store.take_up(&one.id).unwrap().recording().unwrap().samples.all().unwrap();
    assert!(kept.iter().zip(expected).all(|(kept, given)| (kept * 32_768.0).round() as i16 == *given));
    given.saturating_sub(kept.len())
}

#[test]
fn nothing_is_kept_while_it_is_paused_and_the_programs_own_voice_is_silence() {
    let tones = Tones::of(&LINES);
    let keep = Memory::default();
    let (session, told) = begin(crew(&tones, &tones), keep.clone());
    hear(&session, &sound_of(0..1));
    session.order(Order::Pause);
    hear(&session, &sound_of(1..2));
    session.order(Order::Resume);
    session.order(Order::SpeakingBegins);
    hear(&session, &sound_of(2..3));
    session.order(Order::SpeakingEnds);
    hear(&session, &sound_of(3..4));
    told.wait("two lines", |events| (Told::said(events) == format!("{} {}", LINES[0], LINES[3])).then_some(()));
    let draft = session.end().unwrap().draft;
    let silence = vec![0; sound_of(2..3).len()];
    let expected = [sound_of(0..1), silence, sound_of(3..4)].concat();
    assert!(*keep.kept.lock().unwrap() == expected, "what was paused is not there, what was spoken is silence");
    let texts: Vec<&str> = draft.transcript.iter().map(|line| line.text.as_str()).collect();
    assert_eq!(texts, [LINES[0], LINES[3]]);
    let paused: Vec<&str> =
        draft.notices.iter().map(|n| n.words.as_str()).filter(|words| words.starts_with("paused here")).collect();
    assert_eq!(paused.len(), 1, "{:?}", draft.notices);
}

#[test]
fn what_was_shown_otherwise_needs_the_eye() {
    // The final pass hears "ninety" where "nineteen" was shown.
    let shown = Tones::of(&["Popliteal angle on the left, a hundred degrees.", LINES[2]]);
    let mut crew = crew(&shown, &shown);
    let last = Tones::of(&["Popliteal angle on the left, ninety degrees.", LINES[2]]);
    crew.last = (0..3).map(|_| Box::new(last.clone()) as Box<dyn Transcriber + Send>).collect();
    let (session, told) = begin(crew, Memory::default());
    hear(&session, &sound_of(0..2));
    told.wait("two lines", |events| Told::said(events).ends_with(LINES[2]).then_some(()));
    let draft = session.end().unwrap().draft;
    assert_eq!(findings(&draft), [found("popliteal-angle", "left", "90deg"), found("ankle-clonus", "left", "absent")]);
    assert!(!draft.findings[0].is_clear() && draft.findings[1].is_clear());
    assert!(draft.notices[0].words.contains("was shown as 100°"), "{:?}", draft.notices);
}

#[test]
fn orders_are_done_once_and_are_no_findings() {
    const SAID: [&str; 10] = [
        "Scarf sign on the left to the midline.",
        "Scarf sign on the right past the midline.",
        "Notebook, take that back.",
        "Ankle clonus on the left, six beats.",
        "Notebook, what did I say for the left ankle?",
        "Notebook, what is left?",
        "Notebook, mark this moment.",
        "Notebook, pause.",
        "Moro complete.",
        "Notebook, go on.",
    ];
    let tones = Tones::of(&SAID);
    let (session, told) = begin(crew(&tones, &tones), Memory::default());
    let paused = |events: &[Event]| {
        events
            .iter()
            .filter_map(|event| if let Event::Paused(on) = event { Some(*on) } else { None })
            .collect::<Vec<_>>()
    };
    for (line, said) in SAID.into_iter().enumerate().take(8) {
        hear(&session, &sound_of(line..line + 1));
        told.wait(said, |events| Told::said(events).ends_with(said).then_some(()));
    }
    told.wait("the pause", |events| (paused(events) == [true]).then_some(()));
    hear(&session, &sound_of(8..10));
    told.wait("the end of the pause", |events| (paused(events) == [true, false]).then_some(()));
    session.order(Order::Mark);
    told.wait("the second mark", |events| {
        (events.iter().filter(|event| matches!(event, Event::Marked(_))).count() == 2).then_some(())
    });
    {
        let events = told.events.lock().unwrap();
        let taken: Vec<&String> =
            events.iter().filter_map(|e| if let Event::TakenBack(words) = e { Some(words) } else { None }).collect();
        assert_eq!(taken, ["scarf sign right: past midline"]);
        let answers: Vec<&spoken_exam::live::Answer> =
            events.iter().filter_map(|e| if let Event::Answer(answer) = e { Some(answer) } else { None }).collect();
        assert_eq!(answers[0].lines, ["ankle clonus left: 6 beats"]);
        assert!(answers[1].lines.iter().any(|line| line.contains("scarf sign, right")), "{:?}", answers[1]);
        assert_eq!(answers.len(), 2);
    }
    let draft = session.end().unwrap().draft;
    let expected = [found("scarf-sign", "left", "to-midline"), found("ankle-clonus", "left", "6beats")];
    assert_eq!(findings(&draft), expected);
    let marks = draft.notices.iter().filter(|notice| notice.words.starts_with("marked")).count();
    assert_eq!(marks, 2, "{:?}", draft.notices);
}

#[test]
fn what_is_taken_back_by_hand_is_gone_in_the_final_pass_too() {
    let tones = Tones::of(&LINES);
    let (session, told) = begin(crew(&tones, &tones), Memory::default());
    hear(&session, &sound_of(0..1));
    hear(&session, &sound_of(2..3));
    told.wait("two lines", |events| Told::said(events).ends_with(LINES[2]).then_some(()));
    session.order(Order::TakeBack);
    told.wait("it is gone", |events| {
        events
            .iter()
            .any(|e| matches!(e, Event::TakenBack(words) if words == "ankle clonus left: absent"))
            .then_some(())
    });
    hear(&session, &vec![0; 4 * SECOND]);
    hear(&session, &sound_of(3..4));
    told.wait("the last line", |events| Told::said(events).ends_with(LINES[3]).then_some(()));
    let expected = [found("scarf-sign", "left", "to-midline"), found("popliteal-angle", "left", "90deg")];
    told.wait("the draft without it", |events| {
        Told::picture(events).filter(|picture| findings(&picture.draft) == expected).map(drop)
    });
    assert_eq!(findings(&session.end().unwrap().draft), expected);
}
