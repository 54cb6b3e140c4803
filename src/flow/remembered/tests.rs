//! Tests of what is remembered: the same draft from the same answers, and doubt where nothing was asked.
//! Takes recognisers that say what they were told; fails where a draft differs, or is surer than it may be.

use super::*;
use crate::audio::SourceFormat;
use crate::reading::HeardBy;
use crate::speech::scripted::Scripted;

fn lexicon() -> &'static Lexicon {
    static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
    &LEXICON
}

/// The built-in lexicon with one more way to say something.
fn laid_over() -> Lexicon {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("newborn-neuro");
    std::fs::create_dir(&file).unwrap();
    let text = "# Own phrases.\n[ankle-clonus.values.absent]\nsay = [\"pure marmalade\"]\n";
    std::fs::write(file.join("own.toml"), text).unwrap();
    Lexicon::load(Some(folder.path())).unwrap()
}

fn recording(level: f32) -> Recording {
    let source =
        SourceFormat { container: "wave".into(), codec: "pcm_s16le".into(), sample_rate_hz: 16_000, channels: 1 };
    Recording {
        samples: vec![level; 16 * 30_000].into(),
        file_name: "a.wav".into(),
        sha256: "ab".into(),
        source,
        warnings: vec!["the file ends early".into()],
    }
}

/// Lines of three seconds each.
fn scripted(lines: &[&str], chances: &[(&str, f32)]) -> Scripted {
    let placed: Vec<(u64, u64, &str)> =
        (0u64..).zip(lines).map(|(at, line)| (4000 * at, 4000 * at + 3000, *line)).collect();
    Scripted::of_lines(&placed).with_chances(chances)
}

fn heard(lexicon: &Lexicon, mut hearings: [Scripted; 3]) -> (Narration, Remembered) {
    let [first, second, third] = &mut hearings;
    let hearers = Hearers { first, others: vec![second, third] };
    of_sound_remembered(lexicon, &recording(0.1), hearers, &mut |_| ()).unwrap()
}

const CLONUS: &str = "No ankle clonus on the left.";
const OTHER: &str = "No ankle clonus on the right.";

#[test]
fn what_was_remembered_gives_the_same_draft() {
    let chances = [(CLONUS, -10.0), (OTHER, -20.0), ("Ankle clonus on the left.", -20.0)];
    for lines in
        [&[CLONUS, "The Moro is symmetrical and complete."][..], &["Not an uncle bonus on the lift.", CLONUS], &[]]
    {
        let again = scripted(lines, &chances);
        let (narration, remembered) =
            heard(lexicon(), [scripted(lines, &chances), again.clone(), scripted(&[CLONUS], &[])]);
        let anew = of_remembered(lexicon(), &remembered, "a.wav").unwrap();
        assert_eq!(
            (&anew.draft, &anew.utterances, &anew.asked),
            (&narration.draft, &narration.utterances, &narration.asked)
        );
    }
}

#[test]
fn silence_is_remembered_too() {
    let (narration, remembered) = of_silence_remembered(lexicon(), &recording(0.0));
    assert!(remembered.silent && remembered.hearings.is_empty());
    assert_eq!(of_remembered(lexicon(), &remembered, "a.wav").unwrap(), narration);
}

#[test]
fn another_lexicon_reads_the_same_words_anew() {
    let said = "Ankle clonus on the left is pure marmalade.";
    let (before, remembered) = heard(lexicon(), [said; 3].map(|said| scripted(&[said], &[])));
    assert!(before.draft.findings.iter().all(|finding| finding.value != "absent"), "{:?}", before.draft.findings);
    let own = laid_over();
    let after = of_remembered(&own, &remembered, "a.wav").unwrap().draft;
    let found: Vec<(&str, &str)> = after.findings.iter().map(|one| (one.item.as_str(), one.value.as_str())).collect();
    assert_eq!(found, [("ankle-clonus", "absent")]);
    assert_eq!((after.lexicon, remembered.leaned_towards), (own.identity.clone(), lexicon().identity.clone()));
}

// The sound was asked about some texts when somebody listened. Of the others nothing is known, and nothing is believed.
#[test]
fn what_was_not_asked_then_is_not_believed_now() {
    let chances = [(CLONUS, -10.0), (OTHER, -40.0), ("Ankle clonus on the left.", -40.0)];
    let all = [(); 3].map(|()| scripted(&[CLONUS], &chances));
    let (narration, mut remembered) = heard(lexicon(), all);
    assert_eq!(narration.reading.findings[0].heard_by, HeardBy::All);
    let forget = |answer: &mut Answer, wanted: &str| {
        if let Some(at) = answer.contest.texts.iter().position(|text| text == wanted) {
            answer.contest.texts.remove(at);
            answer.chances.remove(at);
        }
    };
    remembered.hearings.iter_mut().flat_map(|hearing| &mut hearing.answers).for_each(|answer| forget(answer, OTHER));
    let anew = of_remembered(lexicon(), &remembered, "a.wav").unwrap();
    assert_eq!(anew.reading.findings[0].heard_by, HeardBy::Contested);
    assert!(narration.draft.findings[0].is_clear() && !anew.draft.findings[0].is_clear());
}
