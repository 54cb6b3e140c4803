//! A record as PDF, read again.
//! Takes hand-made notes; fails where a line of a note is not in the text of its PDF, where DRAFT is missing or too much, where a long
//! examination does not fit its page, or where some text is refused. Leaves alone what a note says.

use pdf_extract::extract_text_from_mem_by_pages;
use proptest::prelude::*;
use spoken_exam::computed::growth::Standard;
use spoken_exam::export::chart::Chart;
use spoken_exam::export::note::{Note, NoteLine, Section};
use spoken_exam::export::pdf::{BodyMark, MarkKind, Paper, Sheet, to_pdf};
use spoken_exam::reading::Side;
use spoken_exam::record::person::Moment;

use crate::chart::{of_heads, point};

const WATERMARK: &str = "DRAFT - not confirmed";

fn line(lead: &str, words: &str, small: &str) -> NoteLine {
    NoteLine { lead: lead.to_owned(), words: words.to_owned(), small: small.to_owned() }
}

/// "popliteal angle left = 150° = usual: 70 to 110°", line by line.
fn section(title: &str, lines: &[&str]) -> Section {
    let lines = lines.iter().map(|text| {
        let mut parts = text.split(" = ");
        let mut next = || parts.next().unwrap_or_default();
        line(next(), next(), next())
    });
    Section { title: title.to_owned(), lines: lines.collect() }
}

/// An examination of 52 findings, as long as thorough ones are.
fn whole_examination(draft: bool) -> Note {
    let status = if draft {
        "Not signed: 7 of 52 findings need a clinician’s eye."
    } else {
        "Signed by A. Examiner, registrar, 2026-11-29 14:05 UTC, version 1"
    };
    let heading = [
        ("infant", "cot 7"),
        ("examined", "2026-11-29, 10:40"),
        ("examiner", "A. Examiner, registrar"),
        ("gestational age", "38+4 weeks"),
        ("postnatal age", "2 days"),
        ("sex", "male"),
    ];
    let foot = [
        "Text made by software from speech. Prompts are reminders from published ranges and common practice. They may be wrong for this \
         infant; local guidance and the examiner decide.",
        "The rules are not complete: a finding without a prompt is not thereby harmless.",
        "Record 0198-77ab-3c41, SHA-256 7c9e…41d2",
    ];
    Note {
        title: "Newborn neurological examination".to_owned(),
        draft,
        status: status.to_owned(),
        heading: heading.iter().map(|(name, words)| ((*name).to_owned(), (*words).to_owned())).collect(),
        sections: findings(),
        foot: foot.iter().map(|line| (*line).to_owned()).collect(),
    }
}

fn findings() -> Vec<Section> {
    vec![
        section(
            "Positive and abnormal",
            &[
                "popliteal angle left = about 150° = usual at 38+6 weeks: 70 to 110°; Utah notes; inferred",
                "ankle clonus right = at least 10 beats, sustained = commonly reviewed by a senior promptly; Bates",
                "cry = high-pitched = common practice, no source",
                "head lag = marked",
                "scarf sign both = past midline = usual: before midline",
                "tone of the trunk = slips through when held under the arms",
            ],
        ),
        section(
            "Prompts",
            &[
                "now = You said “cry high-pitched”. Commonly reviewed by a senior promptly; follow local guidance. = common practice",
                "soon = You said “popliteal angle left 150°” and “head lag marked”. Commonly reviewed by a senior promptly; follow local \
                 guidance. = outside what is usual at 38+6 weeks: 70 to 110°",
            ],
        ),
        section(
            "Measurements",
            &[
                "head circumference = 36 cm; z 0.99, 83.9th centile = WHO Child Growth Standards, 2006; boy, 2 days old",
                "weight = 3.12 kg; z −0.33 = WHO Child Growth Standards, 2006; boy, 2 days old; a newborn loses weight first",
            ],
        ),
        section(
            "Behaviour",
            &[
                "behavioural state = quiet awake",
                "irritability = none",
                "consolability = consoled by holding",
                "visual following = horizontal and vertical",
                "response to sound = brightens and turns",
                "habituation to light = after 3 stimuli",
            ],
        ),
        section(
            "Posture and movement",
            &[
                "resting posture = flexed",
                "spontaneous movement = varied and fluent",
                "arm movement both = normal",
                "leg movement left = reduced",
                "tremor = none when awake",
                "fisting = intermittent",
            ],
        ),
        section(
            "Arms and legs",
            &[
                "arm recoil left = brisk",
                "arm recoil right = brisk",
                "arm traction both = elbows flexed",
                "leg recoil left = slow",
                "leg recoil right = complete",
                "popliteal angle right = 120°",
                "ankle dorsiflexion left = 30°",
                "ankle dorsiflexion right = 30°",
                "hip abduction both = full",
                "heel to ear both = 80°",
            ],
        ),
        section(
            "Reflexes",
            &[
                "knee jerk left = brisk",
                "biceps reflex both = present",
                "ankle clonus left = absent",
                "palmar grasp both = strong",
                "plantar grasp both = present",
                "rooting = present",
                "gag = present",
                "tonic neck reflex = intermittent",
                "stepping = present",
                "Galant both = present",
                "plantar response both = extensor",
            ],
        ),
        section(
            "Head, spine and face",
            &[
                "anterior fontanelle = soft and flat, 2 × 2 cm",
                "sutures = normal",
                "scalp = caput",
                "pupils both = equal, reactive",
                "eye movements both = full",
                "facial movement = symmetrical",
                "tongue = no fasciculations",
                "palate = intact",
                "spine = straight and intact",
            ],
        ),
        section(
            "Not mentioned",
            &[" = red reflex, fundi, sacral dimple, sensation, jaw jerk, glabellar tap, doll’s eyes"],
        ),
    ]
}

fn marks() -> Vec<BodyMark> {
    let mark = |place: &str, side, kind| BodyMark { place: place.to_owned(), side, kind };
    vec![
        mark("legs", Side::Left, MarkKind::Positive),
        mark("legs", Side::Both, MarkKind::Differs),
        mark("behaviour", Side::None, MarkKind::Positive),
    ]
}

fn charts() -> Vec<Chart> {
    vec![of_heads(Standard::Who, &[point(2, 36.0, "this examination", true)])]
}

pub(crate) fn pdf(note: &Note, charts: &[Chart], marks: &[BodyMark], paper: Paper) -> Vec<u8> {
    let made = Moment(1_795_000_000_000);
    to_pdf(&Sheet { note, charts, marks, paper, language: "en-GB", made }).expect("there is a PDF")
}

/// What is written on each page, without the blanks that a reader guesses from distances.
pub(crate) fn pages(bytes: &[u8]) -> Vec<String> {
    let pages = extract_text_from_mem_by_pages(bytes).expect("its text can be read");
    pages.iter().map(|page| dense(page)).collect()
}

fn dense(text: &str) -> String {
    text.split_whitespace().collect()
}

/// Every text of a note.
fn texts(note: &Note) -> Vec<String> {
    let mut texts = vec![note.title.clone(), note.status.clone()];
    texts.extend(note.heading.iter().map(|(name, words)| format!("{name} {words}")));
    for section in &note.sections {
        texts.push(section.title.clone());
        texts.extend(section.lines.iter().map(|line| format!("{} {} {}", line.lead, line.words, line.small)));
    }
    texts.extend(note.foot.iter().cloned());
    texts
}

#[track_caller]
pub(crate) fn check_all_is_there(note: &Note, pages: &[String]) {
    let all = pages.concat();
    for text in texts(note) {
        assert!(all.contains(&dense(&text)), "{text}: {all}");
    }
}

#[test]
fn every_line_of_a_note_can_be_read_again_in_order() {
    let note = whole_examination(false);
    let pages = pages(&pdf(&note, &charts(), &marks(), Paper::A4));
    check_all_is_there(&note, &pages);
    let all = pages.concat();
    let titles: Vec<usize> = note.sections.iter().map(|section| all.find(&dense(&section.title)).unwrap()).collect();
    assert!(titles.is_sorted(), "sections follow each other as in the note: {titles:?}");
    for told in ["Headcircumference", "thisexamination:36cm", "97th", "infant’sRIGHT", "Notinthedrawing:behaviour."] {
        assert!(all.contains(told), "{told}: {all}");
    }
    assert!(all.contains("WHOChildGrowthStandards,2006;boys;agesincebirth."));
}

#[test]
fn a_thorough_examination_is_one_page_of_text() {
    for paper in [Paper::A4, Paper::Letter] {
        for draft in [true, false] {
            let note = whole_examination(draft);
            let alone = pages(&pdf(&note, &[], &[], paper));
            assert_eq!(alone.len(), 1, "{paper:?}");
            assert!(alone[0].contains("page1of1"));
            let with_drawings = pages(&pdf(&note, &charts(), &marks(), paper));
            assert_eq!(with_drawings.len(), 2, "{paper:?}");
            let last = &note.sections.last().unwrap().lines[0].words;
            assert!(with_drawings[0].contains(&dense(last)) && with_drawings[1].contains("page2of2"));
            // Whose it is stands on every page.
            assert!(with_drawings.iter().all(|page| page.contains("infantcot7")), "{with_drawings:?}");
        }
    }
}

#[test]
fn what_is_short_has_its_drawings_on_the_same_page() {
    let mut note = whole_examination(true);
    note.sections.truncate(3);
    assert_eq!(pages(&pdf(&note, &charts(), &marks(), Paper::A4)).len(), 1);
}

#[test]
fn what_is_long_goes_on_and_nothing_is_cut() {
    let mut note = whole_examination(true);
    note.sections = (0..6).flat_map(|_| findings()).collect();
    note.foot = (0..40).map(|at| format!("Remark {at} at the foot, which is longer than a foot can be.")).collect();
    note.heading = (0..40).map(|at| (format!("name {at}"), "words ".repeat(at))).collect();
    note.title = "Title ".repeat(120);
    note.status = "Status ".repeat(200);
    let pages = pages(&pdf(&note, &charts(), &marks(), Paper::Letter));
    assert!((4..12).contains(&pages.len()), "{}", pages.len());
    check_all_is_there(&note, &pages);
    let many = pages.len();
    assert!(pages.iter().enumerate().all(|(at, page)| page.contains(&format!("page{}of{many}", at + 1))));
}

#[test]
fn draft_stands_across_every_page_of_a_draft_and_nowhere_else() {
    for (draft, charts, marks) in [(true, charts(), marks()), (false, charts(), marks()), (true, vec![], vec![])] {
        let pages = pages(&pdf(&whole_examination(draft), &charts, &marks, Paper::A4));
        assert!(!pages.is_empty() && pages.iter().all(|page| page.contains(&dense(WATERMARK)) == draft), "{pages:?}");
    }
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    let note = whole_examination(true);
    let one = pdf(&note, &charts(), &marks(), Paper::A4);
    assert!(one == pdf(&note, &charts(), &marks(), Paper::A4));
    let text = String::from_utf8_lossy(&one);
    for told in ["(en-GB)", "D:20261118110640", "/Title", "/StructTreeRoot", "pdfaid:part", "pdfuaid:part"] {
        assert!(text.contains(told), "{told}");
    }
    assert!(one.len() < 100_000, "{} bytes", one.len());
}

#[test]
fn what_the_fonts_lack_is_seen_to_be_missing() {
    let mut note = whole_examination(false);
    let hostile =
        "a\u{0}b\u{1b}c \u{1f476}\u{1f3fd} \u{5d0}\u{5d1} \u{202e}x \u{feff}\u{fffe}\u{e000} é Ω ≥ ° “q” → end";
    note.sections = vec![Section { title: hostile.to_owned(), lines: vec![line(hostile, hostile, hostile)] }];
    note.title = hostile.to_owned();
    note.status = hostile.to_owned();
    note.heading = vec![(hostile.to_owned(), hostile.to_owned())];
    note.foot = vec![hostile.to_owned()];
    let seen = "a\u{fffd}b\u{fffd}c\u{fffd}\u{fffd}\u{fffd}\u{fffd}\u{fffd}x\u{fffd}\u{fffd}\u{fffd}éΩ≥°“q”→end";
    let all = pages(&pdf(&note, &[], &[], Paper::A4)).concat();
    assert!(all.matches(seen).count() >= 9, "{all}");
}

#[test]
fn nothing_at_all_is_a_page() {
    let note = Note {
        sections: vec![],
        title: String::new(),
        draft: true,
        status: String::new(),
        heading: vec![],
        foot: vec![],
    };
    assert_eq!(pages(&pdf(&note, &[], &[], Paper::A4)).len(), 1);
    let empty = Section { title: String::new(), lines: vec![line("", "", "")] };
    let note = Note { sections: vec![empty.clone(), empty], foot: vec![String::new()], ..note };
    assert_eq!(pages(&pdf(&note, &charts(), &marks(), Paper::Letter)).len(), 1);
}

#[test]
fn ten_thousand_characters_without_a_blank_are_all_there() {
    let mut note = whole_examination(false);
    let long = "Wi9°".repeat(2_500);
    note.sections = vec![Section { title: "Long".to_owned(), lines: vec![line("", &long, "")] }];
    let pages = pages(&pdf(&note, &[], &[], Paper::A4));
    assert!(pages.len() > 1);
    // Between two columns nothing stands; between two pages their foot and head do.
    assert_eq!(pages.concat().matches("Wi9°").count() + broken_at_pages(&pages), 2_500);
}

// Of a word that is repeated, those that a page's end broke.
fn broken_at_pages(pages: &[String]) -> usize {
    let signs: usize = pages.iter().map(|page| page.matches(['W', '°']).count()).sum();
    let whole: usize = pages.iter().map(|page| page.matches("Wi9°").count()).sum();
    // Each page's own words have no "W" and no "°" but in what is repeated.
    (signs - 2 * whole) / 2
}

fn any_line() -> impl Strategy<Value = NoteLine> {
    let text = prop_oneof![".{0,60}", "[a-z ]{0,300}", "[^ ]{0,200}"];
    (".{0,20}", text, ".{0,80}").prop_map(|(lead, words, small)| line(&lead, &words, &small))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn no_text_is_refused(
        title in ".{0,200}",
        status in ".{0,400}",
        heading in prop::collection::vec((".{0,20}", ".{0,200}"), 0..20),
        sections in prop::collection::vec((".{0,40}", prop::collection::vec(any_line(), 0..12)), 0..8),
        foot in prop::collection::vec(".{0,200}", 0..12),
        places in prop::collection::vec(".{0,30}", 0..3),
        draft in any::<bool>(),
        is_letter in any::<bool>(),
        made in any::<i64>(),
    ) {
        let sections = sections.into_iter().map(|(title, lines)| Section { title, lines }).collect();
        let note = Note { title, draft, status, heading, sections, foot };
        let mark = |place: String| BodyMark { place, side: Side::Unstated, kind: MarkKind::Positive };
        let marks: Vec<BodyMark> = places.into_iter().map(mark).collect();
        let paper = if is_letter { Paper::Letter } else { Paper::A4 };
        let sheet = Sheet { note: &note, charts: &[], marks: &marks, paper, language: "en", made: Moment(made) };
        let found = to_pdf(&sheet);
        prop_assert!(found.is_ok(), "{:?}", found.err());
        prop_assert!(found.unwrap().starts_with(b"%PDF-1.7"));
    }
}
