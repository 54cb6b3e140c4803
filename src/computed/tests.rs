//! What is reckoned from narrations.

use std::sync::LazyLock;

use super::growth::Standard;
use super::serial::{Examination, serial};
use super::*;
use crate::reading;
use crate::record::remarks::About;
use crate::record::{Moment, Origin, Person, Review, Sources, draft};
use crate::speech::Utterance;

static LEXICON: LazyLock<Lexicon> = LazyLock::new(|| Lexicon::load(None).unwrap());

fn review(text: &str) -> Review {
    let utterances: Vec<Utterance> = text.lines().map(|line| Utterance::from_text(line.trim())).collect();
    let origin = Origin { file_name: "a.txt".into(), sha256: "00".into(), length_ms: None };
    let sources = Sources { origin, model: None, other_models: Vec::new(), notices: Vec::new() };
    Review::new(draft(&LEXICON, &utterances, &reading::read(&LEXICON, &utterances), sources))
}

fn of(text: &str) -> Computed {
    computed(&LEXICON, &review(text), &Remarks::default())
}

/// The head of a narration whose infant is known.
const TERM_BOY: &str = "A boy, born at thirty-eight weeks and four days. He is two days old.\n";

fn prompts(text: &str) -> Vec<String> {
    of(text).prompts.iter().map(|prompt| format!("{}: {}", prompt.level.name(), prompt.said.join(", "))).collect()
}

#[test]
fn ages_come_from_what_was_said_and_from_nothing_else() {
    let ages = |text: &str| -> Vec<String> {
        let found = of(text);
        let ages = found.ages.iter().map(|age| format!("{} {}", age.kind.words(), age.words));
        ages.chain(found.no_ages.iter().map(|none| format!("none: {none}"))).collect()
    };
    assert_eq!(ages(TERM_BOY), ["postnatal age 2 days", "post-menstrual age 38+6 weeks"]);
    assert_eq!(ages("Thirty-six hours old."), ["postnatal age 36 hours (1 day)", "none: no gestational age was said"]);
    assert_eq!(
        ages("Born at thirty weeks and two days. She is ten weeks old."),
        ["postnatal age 10 weeks (70 days)", "post-menstrual age 40+2 weeks", "corrected age 2 days"]
    );
    assert_eq!(ages("Good morning."), ["none: no gestational age was said", "none: no age was said"]);
    let about = of("Born at about thirty-eight weeks. He is two days old.");
    assert!(about.ages[1].notes.iter().any(|note| note.contains("\"about\"")), "{:?}", about.ages);
    assert!(about.ages[1].notes.iter().any(|note| note.contains("38+0 weeks was taken")), "{:?}", about.ages);
    assert!(about.ages.iter().all(|age| !age.source.is_empty() && !age.from.is_empty()));
}

#[test]
fn sizes_name_standard_sex_and_age_or_say_why_there_is_none() {
    let size = |text: &str| {
        let found = of(text);
        let [size] = &found.sizes[..] else { panic!("{text}: {:?}", found.sizes) };
        match &size.outcome {
            Ok(score) => format!("{:.2} {:?} {} | {}", score.z, score.standard, size.used, size.why),
            Err(none) => format!("none: {none}"),
        }
    };
    let head = "The head circumference is 34.6 centimetres.";
    // WHO, boys on day 2: M 34.6622, S 0.03625; (34.6 / M - 1) / S = -0.05.
    assert_eq!(
        size(&format!("{TERM_BOY}{head}")),
        "-0.05 Who boy, 2 days old | born at 37+0 or later: by days since birth"
    );
    let girl = "A girl, born at thirty-four weeks. She is ten days old.";
    assert!(
        size(&format!("{girl} {head}"))
            .ends_with("Preterm girl, 35+3 weeks post-menstrual | born before 37+0: by post-menstrual age")
    );
    let birth = "A girl, born at thirty-four weeks. The birth weight was 2100 grams.";
    assert!(
        size(birth).ends_with("Newborn girl, 34+0 weeks of gestation | size at birth: by gestation"),
        "{}",
        size(birth)
    );
    assert_eq!(
        size(&format!("Born at thirty-eight weeks. Two days old. {head}")),
        "none: no sex was said, and standards differ by it"
    );
    assert_eq!(size(&format!("A boy. {head}")), "none: no gestational age was said");
    assert_eq!(
        size(&format!("{TERM_BOY}The head circumference is over 34 centimetres.")),
        "none: it is no single number"
    );
    let early = "A boy, born at twenty-five weeks. He is three days old.";
    assert_eq!(
        size(&format!("{early} {head}")),
        "none: INTERGROWTH-21st postnatal growth of preterm infants, 2015 begins at 27+0 weeks"
    );
}

#[test]
fn without_the_tables_of_a_standard_everything_else_goes_on() {
    let text = format!("{TERM_BOY}The head circumference is 34.6 centimetres. The suck is absent.");
    let held = held::held(&LEXICON, &review(&text));
    let found = by_tables(&LEXICON, &Tables::default(), &held, &Remarks::default());
    assert_eq!(
        found.sizes[0].outcome.as_ref().unwrap_err(),
        "the tables of WHO Child Growth Standards, 2006 are not there"
    );
    assert_eq!(found.prompts.len(), 1);
}

#[test]
fn a_finding_stands_beside_what_is_usual_at_that_age() {
    let usual = |text: &str| -> Vec<String> {
        let found = of(text);
        found.usual.iter().map(|it| format!("{} {:?} {} {}", it.expected, it.fits, it.at, it.cited.rule)).collect()
    };
    let angle = "The popliteal angle on the left is ninety degrees.";
    assert_eq!(usual(&format!("{TERM_BOY}{angle}")), ["70 to 110° Some(true) 38+6 weeks e034"]);
    assert_eq!(
        usual(&format!("A boy, born at thirty weeks. He is nine weeks old. {angle}")),
        ["80 to 130° Some(true) 39+0 weeks e035"],
        "born preterm, at term age"
    );
    assert_eq!(usual(angle), Vec::<String>::new(), "no age, nothing usual");
    assert_eq!(usual(&format!("{TERM_BOY}Popliteal angle on the left not tested.")).len(), 1);
    assert!(usual(&format!("{TERM_BOY}Popliteal angle on the left not tested."))[0].contains("None"));
}

#[test]
fn a_second_look_is_asked_for_by_the_rules_and_never_without_them() {
    let check = |findings: &str, expected: &[&str]| {
        assert_eq!(prompts(&format!("{TERM_BOY}{findings}")), expected, "{findings}")
    };
    check("The popliteal angle on the left is ninety degrees.", &[]);
    check(
        "The popliteal angle on the left is a hundred and fifty degrees, on the right a hundred and forty degrees.",
        &["recheck: popliteal angle left 150°, popliteal angle right 140°"],
    );
    check("Couldn't get the Moro.", &[]);
    check("The Moro is normal.", &[]);
    check("The Moro is absent on the left and present on the right.", &["soon: Moro left absent, Moro right present"]);
    // Marked head lag alone is none at term; with another finding of low tone it is.
    check("There is marked head lag.", &[]);
    check(
        "There is marked head lag. He slips through my hands in vertical suspension.",
        &["soon: head lag marked, vertical suspension slips through"],
    );
    check("The fontanelle is bulging.", &["now: anterior fontanelle bulging"]);
    let ageless = prompts("There is a hair tuft over the spine.");
    assert_eq!(ageless, ["soon: spine hair tuft"], "a rule that holds at every age needs none");
    assert_eq!(prompts("The popliteal angle on the left is a hundred and fifty degrees."), Vec::<String>::new());
}

#[test]
fn a_prompt_names_what_was_said_why_and_its_sources() {
    let found = of(&format!("{TERM_BOY}The arm recoil is absent on the left and brisk on the right. He is crying."));
    let [prompt] = &found.prompts[..] else { panic!("{:?}", found.prompts) };
    assert_eq!(
        prompt.words,
        "You said arm recoil left absent, arm recoil right brisk. Commonly reviewed by a senior promptly; follow local guidance."
    );
    assert_eq!(prompt.why, ["outside what is usual at 38+6 weeks (brisk); see local guidance", "the sides differ"]);
    assert_eq!(prompt.cited[0].status, Status::Derived);
    assert!(prompt.notes[0].starts_with("the state of the infant may explain it (crying"), "{:?}", prompt.notes);
}

#[test]
fn a_prompt_is_put_aside_until_the_finding_is_another() {
    let text = format!("{TERM_BOY}The fontanelle is bulging.");
    let id = of(&text).prompts[0].id.clone();
    let by = Person::new("A. Examiner", "registrar").unwrap();
    let remark = Remark::new(About::Prompt, &id, "seen by the consultant", &by, Moment(0)).unwrap();
    let remarks = Remarks(vec![remark.clone()]);
    let again = computed(&LEXICON, &review(&text), &remarks);
    assert_eq!(again.prompts[0].put_aside, Some(remark));
    let other = computed(&LEXICON, &review(&text.replace("bulging", "full")), &remarks);
    assert!(other.prompts[0].put_aside.is_none());
}

#[test]
fn sides_are_compared_and_what_was_done_on_one_side_is_told() {
    let found = of("The popliteal angle is ninety degrees on the left and a hundred and ten on the right.\n\
                    Palmar grasp is present on the left.\nThe scarf sign on the right not tested, on the left to the midline.");
    let [angle] = &found.differences[..] else { panic!("{:?}", found.differences) };
    assert_eq!((angle.left.1.as_str(), angle.right.1.as_str(), angle.by.as_deref()), ("90°", "110°", Some("20°")));
    let one: Vec<(&str, &str, &str)> =
        found.one_sided.iter().map(|it| (it.item.as_str(), it.side.name(), it.other.as_str())).collect();
    assert_eq!(one, [("scarf-sign", "left", "not tested"), ("palmar-grasp", "left", "not mentioned")]);
}

#[test]
fn the_state_at_a_finding_is_the_one_told_before_it() {
    let found = of(
        "Arm recoil is brisk on the left.\nHe's crying now.\nThe Moro is present.\nNow he is quiet and awake.\nPalmar grasp is present on the left.",
    );
    let states: Vec<(Option<&str>, bool)> = found.states.iter().map(|at| (at.state.as_deref(), at.poorly)).collect();
    // In the record's order: recoil before any state, the Moro (of no side) in crying, the grasp awake.
    assert_eq!(states, [(None, false), (Some("crying"), true), (Some("quiet awake"), false)]);
}

#[test]
fn examinations_stand_side_by_side_with_growth_by_the_ages_said() {
    let examination = |id: &str, text: &str| {
        let review = review(text);
        Examination {
            id: id.to_owned(),
            when: format!("on {id}"),
            held: held::held(&LEXICON, &review),
            computed: computed(&LEXICON, &review, &Remarks::default()),
        }
    };
    let first = examination(
        "1",
        &format!("{TERM_BOY}The birth weight was 3200 grams.\nHead circumference 34.6 centimetres. The suck is weak."),
    );
    // A birth weight that is told in both is no growth.
    let later = format!("{}The birth weight was 3200 grams.\n", TERM_BOY.replace("two days", "nine days"));
    let second = examination(
        "2",
        &format!("{later}Head circumference 35.4 centimetres. The suck is strong. The spine is straight and intact."),
    );
    let both = serial(&[first.clone(), second.clone()]);
    let row = |item: &str| both.rows.iter().find(|row| row.item == item).unwrap();
    assert_eq!(
        (row("suck").values.clone(), row("suck").changed),
        (vec![Some("weak".into()), Some("strong".into())], true)
    );
    assert_eq!((row("spine").values[0].clone(), row("spine").changed), (None, true));
    assert!(!row("sex").changed);
    let growth: Vec<&str> = both.growth.iter().map(|growth| growth.words.as_str()).collect();
    assert_eq!(growth, ["+0.80 cm a week"]);
    assert_eq!(both.examinations[1].2, "9 days, 39+6 weeks post-menstrual");
    // The other way round the ages cannot be of one infant in this order.
    assert!(serial(&[second, first.clone()]).growth[0].words.contains("do not tell"));
    assert_eq!(serial(&[first]), serial::Serial::default());
}

#[test]
fn every_figure_names_its_source() {
    let found = of(&format!("{TERM_BOY}The head circumference is 34.6 centimetres. The Moro is absent. He is awake."));
    assert!(found.rules.starts_with("rules 1, lexicon "));
    assert!(found.usual.iter().all(|usual| !usual.cited.source.is_empty()));
    assert!(
        found.prompts.iter().all(|prompt| !prompt.cited.is_empty() && prompt.words.contains("follow local guidance"))
    );
    assert!(found.states.iter().all(|state| !state.source.is_empty()));
    assert_eq!(found.sizes[0].outcome.as_ref().unwrap().standard, Standard::Who);
}
