//! FHIR documents of signed records.
//! Takes narrations, signs all that was read in them, and writes the documents; fails where one breaks a rule that
//! validators do not see, tells what nobody said, or loses what somebody did. Leaves the documents in the folder `fhir`
//! of cargo's folder for tests, where `tests/fhir/run` puts them before two validators. Leaves alone whether the
//! findings are right.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use serde_json::{Value, json};
use spoken_exam::computed::growth::{Measure, Score, Standard};
use spoken_exam::computed::{Age, AgeKind, Cited, Computed, Level, Prompt, Size, Status, Usual};
use spoken_exam::export::{Whole, to_fhir};
use spoken_exam::flow;
use spoken_exam::reading::Side;
use spoken_exam::record::remarks::{About, Remark, Remarks};
use spoken_exam::record::{
    Author, DraftRecord, Loss, Moment, Notice, Origin, Person, Review, SignedFinding, SignedRecord, Sources, Wish,
    amend, sign,
};
use spoken_exam::span::SoundSpan;
use spoken_exam::speech::scripted::Scripted;
use spoken_exam::speech::{ModelIdentity, Transcriber};

use crate::corpus::LEXICON;
use crate::fhir_checker::faults;

const ID: &str = "018bcfe5-6800-7000-8000-000000000001";
const SHA256: &str = "0f1e2d3c4b5a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1f0";
const AT: Moment = Moment(1_700_000_000_000);

fn person(name: &str, role: &str) -> Person {
    Person::new(name, role).expect("a person")
}

fn examiner() -> Person {
    person("A. Examiner", "registrar")
}

/// A record with everything that an export takes.
struct Made {
    signed: SignedRecord,
    remarks: Remarks,
    computed: Computed,
}

impl Made {
    fn text(&self) -> String {
        let (signed, remarks, computed) = (&self.signed, &self.remarks, &self.computed);
        to_fhir(&Whole { id: ID, signed, sha256: SHA256, remarks, computed, lexicon: &LEXICON })
            .expect("it can be written")
    }

    fn bundle(&self) -> Value {
        serde_json::from_str(&self.text()).expect("it is JSON")
    }
}

fn decide(review: &mut Review, by: &Person, wishes: &[Wish]) {
    for wish in wishes {
        let author = Author { by: by.clone(), at: AT, seen: review.last() };
        review.decide(&LEXICON, &author, wish).expect("it can be decided");
    }
}

fn confirm_the_rest(review: &mut Review) {
    let rest: Vec<Wish> = review.undecided().iter().map(|standing| Wish::Confirm(standing.finding)).collect();
    decide(review, &examiner(), &rest);
}

fn signed(draft: DraftRecord, by: &Person, wishes: &[Wish]) -> SignedRecord {
    let mut review = Review::new(draft);
    decide(&mut review, &examiner(), wishes);
    confirm_the_rest(&mut review);
    sign(&LEXICON, &review, by, AT).expect("everything is decided")
}

fn remark(about: About, words: &str) -> Remark {
    Remark::new(about, "", words, &examiner(), AT).expect("a remark")
}

/// Everything confirmed, with the sizes and ages that its measurements allow.
fn made(text: &str) -> Made {
    made_of(signed(flow::of_text(&LEXICON, text, "note.txt").draft, &person("B. Senior", "consultant"), &[]))
}

fn made_of(signed: SignedRecord) -> Made {
    let remarks = Remarks(vec![remark(About::Infant, "cot 7"), remark(About::Examined, "2026-11-29T14:05")]);
    let computed = computed(&signed);
    Made { signed, remarks, computed }
}

/// Sizes, ages, a prompt and what is usual: by hand, for what is written is looked at here, not what is reckoned.
fn computed(signed: &SignedRecord) -> Computed {
    let of = |item: &str| signed.findings().iter().find(|found| found.item == item);
    let items = ["head-circumference", "weight", "length"];
    let measures = Measure::ALL.into_iter().zip(items).filter_map(|(measure, item)| Some((of(item)?, measure)));
    let sizes = measures.enumerate().map(|(at, (found, measure))| size(found, measure, at));
    let aged = |found: &SignedFinding| Age {
        kind: AgeKind::PostMenstrual,
        days: 272,
        words: "38+6 weeks".into(),
        notes: vec!["about was said".into()],
        from: vec![found.finding],
        source: "the sum of gestation at birth and age".into(),
    };
    Computed {
        rules: "1, lexicon 00".into(),
        sizes: sizes.collect(),
        ages: of("gestational-age").map(aged).into_iter().collect(),
        no_ages: if of("age").is_none() { vec!["no age was said".into()] } else { Vec::new() },
        prompts: vec![Prompt {
            id: "p1".into(),
            level: Level::Now,
            findings: Vec::new(),
            said: vec!["PROMPT SAID".into()],
            words: "PROMPT WORDS".into(),
            why: vec!["PROMPT WHY".into()],
            notes: Vec::new(),
            cited: Vec::new(),
            put_aside: None,
        }],
        usual: signed.findings().first().map(usual).into_iter().collect(),
        ..Computed::default()
    }
}

fn usual(found: &SignedFinding) -> Usual {
    let cited = Cited { rule: "e001".into(), source: "USUAL SOURCE".into(), status: Status::FromMemory };
    let (finding, expected) = (found.finding, "USUAL".to_owned());
    Usual { finding, expected, at: "38+6 weeks".into(), fits: Some(true), note: String::new(), cited }
}

/// Of three measurements the first two have figures, one of them far out.
fn size(found: &SignedFinding, measure: Measure, at: usize) -> Size {
    let score = |z: f64, centile: f64| Ok(Score { z, centile, standard: Standard::Who, at: 2 });
    Size {
        finding: found.finding,
        item: found.item.clone(),
        name: found.name.clone(),
        value: found.value.clone(),
        measure,
        amount: Some(34.6),
        at_birth: false,
        sex: None,
        outcome: match at {
            0 => score(-0.314_159, 37.668),
            1 => score(4.2, 99.998_7),
            _ => Err("no sex was said".into()),
        },
        used: "boy, 2 days old".into(),
        why: "born at 37+0 or later: days since birth".into(),
        notes: vec!["about was said".into()],
        known: Vec::new(),
    }
}

fn resources<'a>(bundle: &'a Value, kind: &str) -> Vec<&'a Value> {
    let entries = bundle["entry"].as_array().expect("entries").iter().map(|entry| &entry["resource"]);
    entries.filter(|resource| resource["resourceType"] == kind).collect()
}

fn observations<'a>(bundle: &'a Value, item: &str) -> Vec<&'a Value> {
    let is_it = |code: &Value| code["system"] == "urn:spoken-exam:item" && code["code"] == item;
    let all = resources(bundle, "Observation").into_iter();
    all.filter(|found| found["code"]["coding"].as_array().is_some_and(|all| all.iter().any(is_it))).collect()
}

#[track_caller]
fn one<'a>(bundle: &'a Value, item: &str) -> &'a Value {
    let found = observations(bundle, item);
    assert_eq!(found.len(), 1, "{item}: {found:?}");
    found[0]
}

fn notes(observation: &Value) -> Vec<&str> {
    observation["note"].as_array().into_iter().flatten().filter_map(|note| note["text"].as_str()).collect()
}

/// What holds for the document of any record.
fn broken(made: &Made) -> Vec<String> {
    let bundle = made.bundle();
    let mut broken = faults(&bundle);
    let mut expect = |holds: bool, what: &str| broken.extend((!holds).then(|| what.to_owned()));
    let findings = made.signed.findings();
    let (reckoned, found): (Vec<&Value>, Vec<&Value>) =
        resources(&bundle, "Observation").into_iter().partition(|observation| observation["status"] == "preliminary");
    let scores = made.computed.sizes.iter().filter(|size| size.outcome.is_ok()).count();
    expect(reckoned.len() == made.computed.ages.len() + 2 * scores, "a figure is missing, or nobody reckoned it");
    expect(found.len() == findings.len(), "not one Observation for each finding");
    for (finding, observation) in findings.iter().zip(&found) {
        let own = observation["code"]["coding"].as_array().and_then(|all| all.last());
        expect(own.is_some_and(|own| own["code"] == *finding.item), &format!("{}: not in its order", finding.item));
        let side = observation["bodySite"]["coding"][0]["code"].as_str();
        let expected = matches!(finding.side, Side::Left | Side::Right).then(|| finding.side.name());
        expect(side == expected, &format!("{}: on another side", finding.item));
        let value = observation["valueCodeableConcept"]["coding"][0]["code"].as_str();
        let is_word = finding.figures.is_none() && finding.value != "not-tested";
        expect(value == is_word.then_some(finding.value.as_str()), &format!("{}: another value", finding.item));
        let absent = observation["dataAbsentReason"]["coding"][0]["code"].as_str();
        let not_tested = (finding.value == "not-tested").then_some("not-performed");
        expect(absent == not_tested, &format!("{}: tested or not", finding.item));
        let quote = finding.drafted.as_ref().map_or("", |drafted| drafted.proof.quote.text.as_str());
        let word = quote.split(|sign: char| !sign.is_alphanumeric()).find(|word| !word.is_empty()).unwrap_or_default();
        let has_words = notes(observation).iter().any(|note| note.contains(word));
        expect(has_words, &format!("{}: without its words", finding.item));
    }
    for silent in &made.signed.draft().not_mentioned {
        let stands = findings.iter().any(|found| found.item == silent.item);
        expect(stands || observations(&bundle, &silent.item).is_empty(), &format!("{}: not mentioned", silent.item));
    }
    let text = made.text();
    expect(!text.contains("PROMPT") && !text.contains("USUAL"), "a prompt, or what is usual, is exported");
    expect(text == made.text(), "not the same twice");
    broken
}

#[track_caller]
fn check(name: &str, made: &Made) {
    let broken = broken(made);
    assert!(broken.is_empty(), "{name}:\n{}", broken.join("\n"));
}

/// The narrations of samples and corpora, each by its folder and name.
fn narrations() -> Vec<(String, String)> {
    let mut all = Vec::new();
    for folder in ["samples", "tests/corpus", "tests/corpus-extra"] {
        for pair in spoken_exam::score::pairs(Path::new(folder)).expect("the folder is there") {
            let Some(text) = pair.text else { continue };
            let text = fs::read_to_string(text).expect("it can be read");
            all.push((format!("{}-{}", folder.replace('/', "-"), pair.name), text));
        }
    }
    all
}

const NOTE: &str = "This is a girl born at thirty-eight plus four.\nShe weighs about three point two kilos.\n\
    The head is thirty-four point six centimetres.\nNo ankle clonus on the left.\n\
    Ankle clonus on the right, at least ten beats.\n\
    Scarf sign on the right to the midline, I think.\nPopliteal angle on the left eighty to ninety degrees.\n\
    Knee jerk on the left two plus.\nI did not test the stepping.\nI could not get the suck.";

/// Records that no narration of the corpora gives.
fn others() -> Vec<(&'static str, Made)> {
    let silent = Made { remarks: Remarks::default(), computed: Computed::default(), ..made("Good morning.") };
    let unknown = Made { remarks: Remarks::default(), computed: Computed::default(), ..made(NOTE) };
    vec![
        ("nothing-said", silent),
        ("nothing-known-of-the-infant", unknown),
        ("every-kind-of-value", made(NOTE)),
        ("amended", amended()),
        ("of-sound", of_sound()),
        ("hostile", hostile("</div><script>alert('\u{1}')</script> & \"\u{0}\u{202e}頭囲 👶\u{feff}]]>")),
    ]
}

fn amended() -> Made {
    let draft = flow::of_text(&LEXICON, NOTE, "note.txt").draft;
    let finding = |item: &str, side: Side| {
        let at = draft.all_findings().position(|found| found.item == item && found.side == side);
        let at = at.unwrap_or_else(|| panic!("{item} was not read"));
        spoken_exam::record::FindingId::Drafted(at as u64 + 1)
    };
    let scarf = finding("scarf-sign", Side::Right);
    let clonus = finding("ankle-clonus", Side::Left);
    let change = Wish::Change { finding: scarf, side: None, value: Some("past-midline".into()), approx: None };
    let mut review = Review::new(draft);
    decide(&mut review, &examiner(), &[change, Wish::Reject(clonus)]);
    confirm_the_rest(&mut review);
    let first = sign(&LEXICON, &review, &examiner(), AT).expect("everything is decided");
    let add =
        |item: &str, side: Side, value: &str| Wish::Add { item: item.into(), side, value: value.into(), approx: false };
    let added = [add("moro", Side::Left, "not-tested"), add("head-lag", Side::None, "slight")];
    decide(&mut review, &person("C. Third", "fellow"), &added);
    let by = person("B. Senior", "consultant");
    let second = amend(&LEXICON, &first, &review, (&by, Moment(AT.0 + 60_000)), "a reflex was forgotten");
    made_of(second.expect("it can be amended"))
}

fn of_sound() -> Made {
    let lines = [
        (0, 2000, "No ankle clonus on the left."),
        (62_500, 66_000, "Now she is crying."),
        (70_000, 72_000, "Quiet awake now."),
    ];
    let heard =
        Scripted::of_lines(&lines).transcribe(&vec![0.1; 1_600_000], &mut |_| ()).expect("it is a script").utterances;
    let origin = Origin { file_name: "a-name-that-tells.wav".into(), sha256: "a".repeat(64), length_ms: Some(100_000) };
    let model =
        |name: &str| ModelIdentity { name: name.into(), sha256: "f".repeat(64), precision: Some("q8_0".into()) };
    let sound = Some(SoundSpan { start_ms: 7000, end_ms: 8000 });
    let notices = vec![
        Notice { sound, words: "no words were made out".into(), loss: Loss::Sound },
        Notice { sound: None, words: "marked by the examiner".into(), loss: Loss::None },
    ];
    let sources = Sources { origin, model: Some(model("base")), other_models: vec![model("tiny")], notices };
    made_of(signed(flow::read(&LEXICON, heard, sources).draft, &examiner(), &[]))
}

/// A record in which every text that people give is this one, as far as they may give it.
fn hostile(text: &str) -> Made {
    let line: String = text.chars().filter(|sign| !sign.is_control()).collect();
    let line = if line.trim().is_empty() { "x".to_owned() } else { line };
    let mut draft = flow::of_text(&LEXICON, NOTE, text).draft;
    draft.program = text.to_owned();
    for found in draft.context.iter_mut().chain(&mut draft.findings) {
        found.proof.quote.text = text.to_owned();
    }
    draft.notices.push(Notice { sound: None, words: text.to_owned(), loss: Loss::Sound });
    draft.not_mentioned.iter_mut().for_each(|item| item.region = text.to_owned());
    let mut made = made_of(signed(draft, &person(&line, &line), &[]));
    let short: String = line.chars().take(200).collect();
    made.remarks.0.extend(Remark::new(About::Infant, "", &short, &examiner(), AT));
    made.computed.no_ages.push(text.to_owned());
    made.computed.rules = text.to_owned();
    for size in &mut made.computed.sizes {
        (size.used, size.why, size.notes) = (text.to_owned(), text.to_owned(), vec![text.to_owned()]);
    }
    made
}

#[test]
fn documents_of_every_narration_keep_the_rules_and_are_put_down_for_the_validators() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("fhir");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("it can be made");
    let narrations = narrations().into_iter().map(|(name, text)| (name, made(&text)));
    let others = others().into_iter().map(|(name, made)| (format!("own-{name}"), made));
    for (name, made) in narrations.chain(others) {
        check(&name, &made);
        fs::write(folder.join(format!("{name}.json")), made.text()).expect("it can be written");
    }
}

#[test]
fn values_are_sent_as_what_they_are() {
    let bundle = made(NOTE).bundle();
    let quantity = |value: Value, unit: &str| json!({ "value": value, "unit": unit, "system": "http://unitsofmeasure.org", "code": unit });
    assert_eq!(one(&bundle, "gestational-age")["valueQuantity"], quantity(json!(270), "d"));
    assert_eq!(one(&bundle, "gestational-age")["extension"][0]["valueString"], "38+4wk");
    assert_eq!(one(&bundle, "gestational-age")["effectiveDateTime"], Value::Null, "it is of the birth");
    let head = one(&bundle, "head-circumference");
    assert_eq!(head["valueQuantity"], quantity(json!(34.6), "cm"));
    assert_eq!(head["code"]["coding"][0]["code"], "9843-4");
    assert_eq!(
        (&head["category"][0]["coding"][0]["code"], &head["effectiveDateTime"]),
        (&json!("vital-signs"), &json!("2026-11-29"))
    );
    let weight = one(&bundle, "weight");
    assert_eq!(weight["valueQuantity"], quantity(json!(3.2), "kg"));
    assert!(notes(weight).contains(&"Recorded: weight: about 3.2 kg"), "{:?}", notes(weight));
    assert_eq!(weight["extension"][1], json!({ "url": "urn:spoken-exam:approximate", "valueBoolean": true }));
    let clonus = observations(&bundle, "ankle-clonus");
    assert_eq!(
        (&clonus[0]["bodySite"]["text"], &clonus[0]["valueCodeableConcept"]["text"]),
        (&json!("left ankle"), &json!("absent"))
    );
    assert_eq!(
        (
            &clonus[1]["bodySite"]["text"],
            &clonus[1]["valueQuantity"]["comparator"],
            &clonus[1]["valueQuantity"]["value"]
        ),
        (&json!("right ankle"), &json!(">="), &json!(10))
    );
    let scarf = one(&bundle, "scarf-sign");
    assert_eq!(scarf["extension"], json!([{ "url": "urn:spoken-exam:examiner-was-not-sure", "valueBoolean": true }]));
    assert_eq!(one(&bundle, "popliteal-angle")["valueRange"]["low"], quantity(json!(80), "deg"));
    assert_eq!(one(&bundle, "knee-jerk")["valueInteger"], 2);
    assert_eq!(one(&bundle, "stepping")["dataAbsentReason"]["coding"][0]["code"], "not-performed");
    assert_eq!(one(&bundle, "suck")["valueCodeableConcept"]["coding"][0]["code"], "not-elicited");
}

#[test]
fn figures_say_that_they_are_reckoned_and_from_what() {
    let bundle = made(NOTE).bundle();
    let head = one(&bundle, "head-circumference");
    let reckoned: Vec<&Value> =
        resources(&bundle, "Observation").into_iter().filter(|found| found["status"] == "preliminary").collect();
    let named = |name: &str| *reckoned.iter().find(|found| found["code"]["text"] == name).expect("it is there");
    let z = named("head circumference z-score");
    assert_eq!(z["valueQuantity"]["value"], -0.31);
    assert_eq!(z["method"]["text"], "WHO Child Growth Standards, 2006");
    assert_eq!(z["derivedFrom"][0]["reference"], format!("urn:uuid:{}", head["id"].as_str().unwrap()));
    assert!(notes(z).contains(&"Sex and age used: boy, 2 days old"), "{:?}", notes(z));
    assert!(z["performer"].is_null() && !z["device"].is_null());
    assert_eq!(named("head circumference centile")["code"]["coding"][0]["code"], "8289-1");
    let far = &named("weight centile")["valueQuantity"];
    assert_eq!((&far["comparator"], &far["value"]), (&json!(">"), &json!(99.9)));
    let age = named("post-menstrual age");
    assert_eq!((&age["valueQuantity"]["value"], &age["effectiveDateTime"]), (&json!(272), &json!("2026-11-29")));
}

#[test]
fn whose_it_is_is_told_as_far_as_it_is_known() {
    let bundle = made(NOTE).bundle();
    let infant = resources(&bundle, "Patient")[0];
    assert_eq!((&infant["identifier"][0]["value"], &infant["gender"]), (&json!("cot 7"), &json!("female")));
    let unknown = json!({ "extension": [{ "url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": "unknown" }] });
    assert_eq!((&infant["birthDate"], &infant["_birthDate"]), (&Value::Null, &unknown));
    let bundle = Made { remarks: Remarks::default(), ..made("Good morning.") }.bundle();
    let infant = resources(&bundle, "Patient")[0];
    assert_eq!((&infant["identifier"], &infant["gender"]), (&json!([unknown]), &Value::Null));
}

fn section<'a>(bundle: &'a Value, title: &str) -> &'a str {
    let sections = bundle["entry"][0]["resource"]["section"].as_array().expect("sections");
    let section = sections.iter().find(|section| section["title"] == title).unwrap_or_else(|| panic!("no {title}"));
    section["text"]["div"].as_str().expect("words")
}

#[test]
fn what_was_not_said_is_words_only_and_what_was_rejected_is_told() {
    let bundle = amended().bundle();
    let silent = section(&bundle, "not mentioned");
    assert!(silent.contains("not the same as normal") && silent.contains("Galant"), "{silent}");
    assert!(!silent.contains("scarf sign") && !silent.contains("head lag") && !silent.contains("Moro"), "{silent}");
    // The left side was rejected; the right one stands.
    assert_eq!(observations(&bundle, "ankle-clonus").len(), 1);
    let composition = &bundle["entry"][0]["resource"];
    assert_eq!((&composition["status"], &composition["relatesTo"][0]["code"]), (&json!("amended"), &json!("replaces")));
    assert_eq!(composition["relatesTo"][0]["targetIdentifier"]["value"], format!("{ID}/1"));
    assert_eq!(notes(one(&bundle, "head-lag")), ["Added by hand by C. Third, fellow"]);
    assert!(
        notes(one(&bundle, "scarf-sign"))
            .contains(&"Changed by A. Examiner, registrar; the draft said: scarf sign right: to midline")
    );
    let made = resources(&bundle, "Provenance")[0];
    let agents: Vec<&Value> =
        made["agent"].as_array().unwrap().iter().map(|agent| &agent["type"]["coding"][0]["code"]).collect();
    assert_eq!(agents, ["author", "verifier", "verifier", "assembler"]);
    assert_eq!(made["reason"][0]["text"], "a reflex was forgotten");
}

#[test]
fn lost_sound_and_what_heard_it_are_told_but_no_file_name() {
    let made = of_sound();
    let (text, bundle) = (made.text(), made.bundle());
    assert!(!text.contains("a-name-that-tells"), "a file's name may say whose it is");
    let notices = section(&bundle, "notices");
    assert!(
        notices.contains("may be missing") && notices.contains("0:07 to 0:08: no words were made out"),
        "{notices}"
    );
    let states = observations(&bundle, "behavioural-state");
    assert_eq!(states.len(), 2, "each state is an Observation of its own");
    assert!(
        notes(states[0])[0].ends_with("(at 1:02)") || notes(states[0])[0].ends_with("(at 1:03)"),
        "{:?}",
        notes(states[0])
    );
    assert!(text.contains("base q8_0, SHA-256 ffff") && text.contains(&"a".repeat(64)));
}

#[test]
fn what_cannot_be_written_is_an_error_that_says_so() {
    let made = made(NOTE);
    let (signed, remarks, computed) = (&made.signed, &made.remarks, &made.computed);
    let whole = Whole { id: ID, signed, sha256: "00", remarks, computed, lexicon: &LEXICON };
    assert_eq!(
        to_fhir(&whole).unwrap_err().to_string(),
        "`00` is not what a signature covers: 64 hexadecimal digits; take the SHA-256 that the store gives"
    );
    let mut review = Review::new(signed.draft().clone());
    confirm_the_rest(&mut review);
    let late = sign(&LEXICON, &review, &examiner(), Moment(i64::MAX)).expect("everything is decided");
    let error = to_fhir(&Whole { signed: &late, sha256: SHA256, ..whole }).unwrap_err().to_string();
    assert!(error.starts_with("the time 9223372036854775807 ms of the signature cannot be written"), "{error}");
}

/// Each of these must be a fault: what is changed in a right document, and what is then said.
#[test]
fn the_checker_sees_what_is_wrong() {
    let right = made(NOTE).bundle();
    assert_eq!(faults(&right), [""; 0]);
    let wrong = |change: &dyn Fn(&mut Value), said: &str| {
        let mut bundle = right.clone();
        change(&mut bundle);
        let faults = faults(&bundle);
        assert!(faults.iter().any(|fault| fault.contains(said)), "{said}: {faults:?}");
    };
    let observation =
        right["entry"].as_array().unwrap().iter().position(|e| e["resource"]["resourceType"] == "Observation").unwrap();
    wrong(&|b| b["type"] = json!("collection"), "no document");
    wrong(&|b| drop(b.as_object_mut().unwrap().remove("timestamp")), "needs timestamp");
    wrong(&|b| b["entry"].as_array_mut().unwrap().reverse(), "does not come first");
    wrong(&|b| b["entry"][2]["fullUrl"] = b["entry"][1]["fullUrl"].clone(), "stands twice");
    wrong(&|b| b["entry"][1]["resource"]["id"] = json!("x"), "is not the id");
    wrong(&|b| b["entry"][0]["resource"]["subject"]["reference"] = json!("urn:uuid:nobody"), "leads nowhere");
    wrong(
        &|b| b["entry"][0]["resource"]["subject"] = b["entry"][0]["resource"]["author"][0].clone(),
        "a reference to a Practitioner",
    );
    wrong(&|b| b["entry"][0]["resource"]["subject"]["type"] = json!("Group"), "is a Patient");
    wrong(
        &|b| b["entry"][0]["resource"]["text"]["div"] = json!("<div xmlns=\"http://www.w3.org/1999/xhtml\"><p>x</div>"),
        "no XML",
    );
    wrong(&|b| b["entry"][0]["resource"]["text"]["div"] = json!("<div>x</div>"), "no div of XHTML");
    for odd in ["<script>x</script>", "<p onclick=\"x\">x</p>", "<!-- x -->"] {
        let div = format!("<div xmlns=\"http://www.w3.org/1999/xhtml\">{odd}</div>");
        wrong(&|b| b["entry"][0]["resource"]["section"][0]["text"]["div"] = json!(div), "the narrative has");
    }
    wrong(
        &|b| {
            b["entry"][0]["resource"]["text"]["div"] =
                json!("<div xmlns=\"http://www.w3.org/1999/xhtml\"><p> </p></div>")
        },
        "says nothing",
    );
    wrong(&|b| b["entry"][1]["resource"]["name"] = json!([]), "null or empty");
    wrong(&|b| b["entry"][2]["resource"]["name"][0]["text"] = json!("a\u{a0}b"), "not clean");
    wrong(&|b| b["entry"][observation]["resource"]["valueString"] = json!("x"), "with 2 values");
    wrong(&|b| b["entry"][observation]["resource"]["performer"] = Value::Null, "by nobody");
    wrong(&|b| b["entry"][0]["resource"]["section"][0]["entry"] = json!([{}]), "stands in 0 sections");
    let alone = json!({ "fullUrl": "urn:uuid:1", "resource": { "resourceType": "Device", "id": "1" } });
    wrong(&|b| b["entry"].as_array_mut().unwrap().push(alone.clone()), "nothing leads to");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_that_people_give_gives_a_right_document(
        text in r#"(.|\u{202e}|\n|\t|\u{0}|\u{1b}|\u{feff}|\u{ffff}|\u{85}|\u{a0}|<script>|</div>|&#0;|]]>|"|'|👶){0,40}"#
    ) {
        let broken = broken(&hostile(&text));
        prop_assert!(broken.is_empty(), "{:?}: {}", text, broken.join("\n"));
    }
}
