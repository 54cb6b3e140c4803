//! The JSON of a draft against its schema.
//! Takes drafts of whole narrations and of sound; fails where the schema does not hold, or holds for broken drafts.
//! Leaves alone what the findings are.

use serde_json::{Value, json};
use spoken_exam::audio::{Recording, SourceFormat};
use spoken_exam::export::{SCHEMA, to_json, to_table};
use spoken_exam::flow::{self, Hearers};
use spoken_exam::reading::HeardBy;
use spoken_exam::record::{Loss, Notice, Origin, Sources};
use spoken_exam::span::SoundSpan;
use spoken_exam::speech::ModelIdentity;
use spoken_exam::speech::scripted::Scripted;
use spoken_exam::speech::{Transcriber, Utterance};

use crate::corpus::LEXICON;

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(SCHEMA).expect("the schema is JSON");
    jsonschema::draft202012::new(&schema).expect("the schema is a schema")
}

fn json_of(text: &str) -> Value {
    let draft = flow::of_text(&LEXICON, text, "note.txt").draft;
    serde_json::from_str(&to_json(&draft).expect("it can be written")).expect("it is JSON")
}

#[track_caller]
fn check(validator: &jsonschema::Validator, draft: &Value) {
    let faults: Vec<String> =
        validator.iter_errors(draft).map(|fault| format!("{}: {fault}", fault.instance_path)).collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn drafts_of_every_narration_keep_to_the_schema() {
    let validator = validator();
    let pairs = spoken_exam::score::pairs(std::path::Path::new("tests/corpus")).expect("the corpus is there");
    for pair in pairs {
        let text = std::fs::read_to_string(pair.text.expect("a text")).expect("it can be read");
        check(&validator, &json_of(&text));
    }
    check(&validator, &json_of(""));
}

/// A draft of sound, with times, probabilities, a model and notices.
fn of_sound() -> Value {
    let lines = [(0, 2000, "No ankle clonus on the left."), (2500, 6000, "Right popliteal angle about ninety five.")];
    let mut heard: Vec<Utterance> =
        Scripted::of_lines(&lines).transcribe(&vec![0.1; 160_000], &mut |_| ()).expect("it is a script").utterances;
    for word in &mut heard[1].words {
        word.probability = Some(0.123_456);
    }
    let origin = Origin { file_name: "visit.wav".into(), sha256: "0".repeat(64), length_ms: Some(10_000) };
    let model = ModelIdentity { name: "own".into(), sha256: "f".repeat(64), precision: Some("q8_0".into()) };
    let sound = Some(SoundSpan { start_ms: 7000, end_ms: 8000 });
    let notices = vec![Notice { sound, words: "no words were made out".into(), loss: Loss::Sound }];
    let draft =
        flow::read(&LEXICON, heard, Sources { origin, model: Some(model), other_models: Vec::new(), notices }).draft;
    serde_json::from_str(&to_json(&draft).expect("it can be written")).expect("it is JSON")
}

#[test]
fn every_way_of_hearing_keeps_to_the_schema() {
    let validator = validator();
    let mut draft = flow::of_text(&LEXICON, "No ankle clonus on the left.", "note.txt").draft;
    for heard_by in HeardBy::ALL {
        draft.findings.iter_mut().for_each(|finding| finding.heard_by = heard_by);
        let written = to_json(&draft).expect("it can be written");
        check(&validator, &serde_json::from_str(&written).expect("it is JSON"));
    }
}

#[test]
fn a_draft_of_sound_keeps_to_the_schema_and_carries_its_times() {
    let draft = of_sound();
    check(&validator(), &draft);
    let findings = draft["findings"].as_array().expect("a list");
    assert_eq!(findings.len(), 2, "{findings:?}");
    let angle = findings.iter().find(|found| found["value"] == "95deg").expect("the angle");
    assert_eq!(angle["number"], json!({ "bound": "is", "from": "95", "to": null, "unit": "deg" }));
    assert_eq!(angle["evidence"]["least_probability"], json!(0.12));
    assert_eq!((&angle["clear"], &angle["reasons"]), (&json!(false), &json!(["heard unclearly"])));
    let sound = &angle["evidence"]["quote"]["sound"];
    assert!(sound["start_ms"].as_u64() >= Some(2500) && sound["end_ms"].as_u64() <= Some(6000), "{sound}");
    assert_eq!(draft["notices"][0]["loss"], "sound");
}

#[test]
fn several_hearings_stand_in_the_draft() {
    let source =
        SourceFormat { container: "wave".into(), codec: "pcm_s16le".into(), sample_rate_hz: 16_000, channels: 1 };
    let (file_name, sha256, warnings) = ("a.wav".into(), "ab".repeat(32), Vec::new());
    let recording = Recording { samples: vec![0.1; 160_000].into(), file_name, sha256, source, warnings };
    let moro = (4000, 7000, "The Moro is symmetrical and complete.");
    let mut first = Scripted::of_lines(&[(0, 3000, "Not an uncle bonus on the lift."), moro]);
    let mut second = Scripted::of_lines(&[(0, 3000, "No ankle clonus on the left."), moro]);
    let mut told = Vec::new();
    let hearers = Hearers { first: &mut first, others: vec![&mut second] };
    let narration = flow::of_sound(&LEXICON, &recording, hearers, &mut |progress| told.push(progress.done_ms)).unwrap();
    assert_eq!(told, [5000, 10_000]);
    let draft: Value = serde_json::from_str(&to_json(&narration.draft).unwrap()).unwrap();
    let heard_by = |item: &str| {
        let findings = draft["findings"].as_array().unwrap();
        let finding = findings.iter().find(|finding| finding["item"] == item).unwrap();
        (finding["evidence"]["heard_by"].clone(), finding["clear"].clone())
    };
    assert_eq!(heard_by("ankle-clonus"), (json!("another alone"), json!(false)));
    assert_eq!(heard_by("moro"), (json!("two"), json!(true)));
    assert_eq!(draft["transcript"][0]["at_first"], "Not an uncle bonus on the lift.");
    assert_eq!(draft["transcript"][1]["at_first"], Value::Null);
    assert_eq!(draft["other_models"][0]["name"], "scripted");
    let table = to_table(&narration.draft);
    assert!(table.contains("heard at first: \"Not an uncle bonus on the lift.\""), "{table}");
}

#[test]
fn the_schema_refuses_broken_drafts() {
    let validator = validator();
    let whole = of_sound();
    assert_eq!((&whole["findings"][0]["clear"], &whole["findings"][1]["clear"]), (&json!(false), &json!(true)));
    let breaks: [(&str, Value); 14] = [
        ("/version", json!(1)),
        ("/status", json!("FINAL")),
        ("/lexicon/sha256", json!("")),
        ("/source/length_ms", json!(-1)),
        ("/findings/0/side", json!("both")),
        ("/findings/0/value", json!("")),
        ("/findings/0/flags", json!(["sure"])),
        ("/findings/1/reasons", json!(["hedged"])),
        ("/findings/0/clear", json!(true)),
        ("/findings/0/evidence/quote/utterance", json!("0")),
        ("/findings/0/evidence/least_probability", json!(1.5)),
        ("/not_mentioned/0/spoken_of", json!(["normal"])),
        ("/findings/0/evidence/heard_by", json!("everybody")),
        ("/transcript/0/at_first", json!(0)),
    ];
    for (place, value) in breaks {
        let mut broken = whole.clone();
        *broken.pointer_mut(place).unwrap_or_else(|| panic!("{place} is there")) = value;
        assert!(!validator.is_valid(&broken), "{place} was broken and the schema let it pass");
    }
    for missing in ["status", "not_mentioned", "transcript", "source"] {
        let mut broken = whole.clone();
        broken.as_object_mut().expect("an object").remove(missing);
        assert!(!validator.is_valid(&broken), "{missing} was missing and the schema let it pass");
    }
    let mut broken = whole;
    broken["findings"][0]["comment"] = json!("looks normal");
    assert!(!validator.is_valid(&broken), "a key of nobody's was let pass");
}
