//! Signed records, exported; what people say of a record; and examinations side by side.
//! Takes the samples' narrations and some of the corpus, signed in a store of their own; fails where a note or a table says something
//! else than the record. Leaves alone FHIR (`fhir`) and PDF (`pdf`).

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use proptest::prelude::*;
use spoken_exam::computed::growth::Measure;
use spoken_exam::export::csv::{COLUMNS, Secret, to_csv};
use spoken_exam::export::form::Form;
use spoken_exam::export::growth_chart::growth_charts;
use spoken_exam::export::note::{Subject, note, to_markdown, to_text};
use spoken_exam::export::pdf::Paper;
use spoken_exam::export::svg::to_svg;
use spoken_exam::flow;
use spoken_exam::record::remarks::{About, NoRemark, Remark};
use spoken_exam::record::{Author, Moment, Wish};
use spoken_exam::store::{SignedWhole, Store, StoreError};

use crate::corpus::LEXICON;
use crate::pdf::{check_all_is_there, pages, pdf};
use crate::store::{author, check_sound};

/// Puts a narration into a store, with whose it is and when it was.
pub(crate) fn keep(store: &mut Store, text: &str, infant: &str, examined: &str) -> String {
    let draft = flow::of_text(&LEXICON, text, "visit.txt").draft;
    let id = store.keep(&draft, None, Moment(1_700_000_000_000)).expect("it is kept");
    let said = [(About::Infant, infant), (About::Examined, examined)];
    let remarks: Vec<Remark> = said.into_iter().map(|(about, words)| remark(about, words)).collect();
    store.remark(&id, &remarks).expect("it is taken");
    id
}

fn remark(about: About, words: &str) -> Remark {
    let Author { by, at, .. } = author(0);
    Remark::new(about, "", words, &by, at).expect("a remark")
}

/// Confirms everything and signs.
pub(crate) fn sign(store: &mut Store, id: &str) {
    let kept = store.record(id).expect("it is there");
    let wishes: Vec<Wish> = kept.review.undecided().iter().map(|open| Wish::Confirm(open.finding)).collect();
    store.decide(&kept.draft_id(), &LEXICON, &author(0), &wishes).expect("decided");
    store.sign(&kept.draft_id(), &LEXICON, &author(wishes.len() as u64)).expect("signed");
}

/// A narration, signed in a store of its own.
pub(crate) fn signed(text: &str) -> SignedWhole {
    signed_in_a_store(text, |store, id| store.whole(&LEXICON, id).expect("it is signed"))
}

fn signed_in_a_store<T>(text: &str, give: impl FnOnce(&Store, &str) -> T) -> T {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let id = keep(&mut store, text, "cot 7", "2026-11-29T10:05");
    sign(&mut store, &id);
    give(&store, &id)
}

/// Narrations of the samples and of the corpus, by name.
pub(crate) fn narrations() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for folder in ["samples", "tests/corpus"] {
        let files = fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("it can be read").path());
        for file in files.filter(|file| file.extension().is_some_and(|ending| ending == "txt")) {
            let name = file.file_stem().expect("a name").to_string_lossy().into_owned();
            found.push((name, fs::read_to_string(&file).expect("text")));
        }
    }
    found.sort();
    assert!(found.len() > 30, "{}", found.len());
    found
}

const BOY: &str = "A boy, born at thirty-eight weeks and four days. He is two days old.\n";

// --- Notes ---

#[test]
fn a_note_says_every_finding_once_and_nothing_that_was_not_said() {
    for (name, text) in narrations() {
        let whole = signed(&text);
        let whole = whole.whole(&LEXICON);
        let note = note(&Subject::from(&whole));
        assert!(!note.draft && note.status.starts_with("Signed by A. Examiner, registrar on "), "{name}");
        let lines: Vec<String> = note
            .sections
            .iter()
            .flat_map(|section| &section.lines)
            .map(|line| format!("{}: {}", line.lead, line.words))
            .collect();
        let all = format!(
            "{}\n{}",
            note.heading.iter().map(|(_, words)| words.as_str()).collect::<Vec<_>>().join("\n"),
            lines.join("\n")
        );
        for finding in whole.signed.findings() {
            assert!(all.contains(&finding.name), "{name}: {} is missing\n{all}", finding.name);
        }
        let normal = |text: &str| text.split(|c: char| !c.is_alphanumeric()).filter(|word| *word == "normal").count();
        let of_values = whole.signed.findings().iter().filter(|finding| finding.value == "normal").count();
        let usual: usize = whole.computed.usual.iter().map(|usual| normal(&usual.expected)).sum();
        let said: usize = note
            .sections
            .iter()
            .filter(|section| section.title != "Sources")
            .flat_map(|section| &section.lines)
            .map(|line| normal(&line.words))
            .sum();
        assert!(said <= of_values + usual, "{name}: normal is said {said} times, and was {of_values} times");
        // What is not mentioned has no finding, and what has one is mentioned.
        let silent = note.sections.iter().find(|section| section.title.starts_with("Not mentioned"));
        let silent: Vec<&str> =
            silent.iter().flat_map(|section| &section.lines).flat_map(|line| line.words.split(", ")).collect();
        for finding in whole.signed.findings() {
            assert!(!silent.contains(&finding.name.as_str()), "{name}: {} is told as not mentioned", finding.name);
        }
        let named = whole.signed.draft().not_mentioned.len();
        assert_eq!(silent.len(), named, "{name}");
    }
}

#[test]
fn what_stands_out_comes_first_with_what_is_usual_and_a_source() {
    let text = format!(
        "{BOY}The popliteal angle on the left is a hundred and fifty degrees, on the right ninety degrees.\nThe suck is strong. Moro not tested. Head circumference 34.6 centimetres."
    );
    let whole = signed(&text);
    let whole = whole.whole(&LEXICON);
    let note = note(&Subject::from(&whole));
    let titles: Vec<&str> = note.sections.iter().map(|section| section.title.as_str()).collect();
    assert_eq!(
        titles,
        [
            "Abnormal, outside what is usual at 38+6 weeks, or differing left from right",
            "Measurements, with computed z-scores",
            "Other findings, as said",
            "Without a result",
            "Not mentioned, which is not the same as normal",
            "Sources",
        ]
    );
    let line = &note.sections[0].lines[0];
    assert_eq!(
        (line.lead.as_str(), line.words.as_str()),
        ("popliteal angle", "left 150°, right 90°; sides differ by 60°; usual: 70 to 110° [2]")
    );
    let sources = note.sections.last().expect("sources");
    assert!(
        sources.lines[1].words.contains("Ballard 1991") && sources.lines[1].words.ends_with("(inferred)"),
        "{sources:?}"
    );
    let head = &note.sections[1].lines[0];
    assert!(head.words.starts_with("34.6 cm, z -0.05, 48th centile ["), "{head:?}");
    assert!(
        head.small.starts_with("WHO Child Growth Standards, 2006; boy, 2 days old; born at 37+0 or later"),
        "{head:?}"
    );
    let text = to_text(&note);
    assert!(text.lines().all(|line| line.chars().count() <= 96), "{text}");
    assert!(text.contains("infant: cot 7\nexamined: 2026-11-29 10:05\n"), "{text}");
    assert!(text.contains("  without a result") || text.contains("WITHOUT A RESULT\n  not tested: Moro"), "{text}");
}

#[test]
fn no_total_of_maturity_is_shown_anywhere() {
    // Half the criteria of such a score are never recorded: a total would be made of what nobody looked at.
    for (name, text) in narrations() {
        let whole = signed(&text);
        let whole = whole.whole(&LEXICON);
        let note = to_text(&note(&Subject::from(&whole))).to_lowercase();
        for word in ["maturity score", "total score", "ballard score", "weeks by score"] {
            assert!(!note.contains(word), "{name}: {word}");
        }
    }
}

#[test]
fn a_draft_says_on_top_that_it_is_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let id = keep(&mut store, BOY, "", "");
    let kept = store.record(&id).expect("it is there");
    let computed = spoken_exam::computed::computed(&LEXICON, &kept.review, &kept.remarks);
    let note = note(&kept.as_draft(&LEXICON, &computed));
    assert!(note.draft && note.status.starts_with("DRAFT"));
    assert!(to_text(&note).lines().nth(1).is_some_and(|line| line.starts_with("DRAFT")));
    assert!(matches!(store.whole(&LEXICON, &id), Err(StoreError::NotSigned(_))));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn whatever_people_write_stays_text(label in "[^\\p{C}]{1,60}") {
        let folder = tempfile::tempdir().expect("a folder");
        let mut store = Store::open(folder.path()).expect("it opens");
        prop_assume!(!label.trim().is_empty());
        let id = keep(&mut store, BOY, &label, "2026-11-29");
        sign(&mut store, &id);
        let whole = store.whole(&LEXICON, &id).expect("signed");
        let whole = whole.whole(&LEXICON);
        let markdown = to_markdown(&note(&Subject::from(&whole)));
        let line = markdown.lines().find(|line| line.starts_with("- infant: ")).expect("it is told");
        for (at, sign) in line.char_indices().filter(|(_, sign)| matches!(sign, '<' | '`' | '*' | '[' | '|')) {
            prop_assert!(line[..at].ends_with('\\'), "{sign} in {line}");
        }
        let rows = rows(&to_csv(&[whole], None).expect("rows"));
        let infant = &rows[0]["infant"];
        let quoted = format!("'{}", label.trim());
        prop_assert!(infant == label.trim() || *infant == quoted, "{}", infant);
    }
}

#[test]
fn a_well_infant_is_not_asked_about_again_and_again() {
    // Narrations of the corpus whose examiners find nothing amiss.
    for name in ["big-brother-visiting", "term-girl-quick-round", "teaching-well-term-morning"] {
        let text = fs::read_to_string(format!("tests/corpus/{name}.txt")).expect("text");
        let whole = signed(&text);
        let prompts = &whole.whole(&LEXICON).computed.prompts;
        assert!(prompts.len() <= 1, "{name}: {:?}", prompts.iter().map(|prompt| &prompt.words).collect::<Vec<_>>());
    }
}

// --- Paper ---

#[test]
fn fifty_findings_are_one_printed_page_and_any_record_with_its_drawings_two() {
    let mut of_fifty = 0;
    for (name, text) in narrations() {
        let whole = signed(&text);
        let whole = whole.whole(&LEXICON);
        let note = note(&Subject::from(&whole));
        let found = whole.signed.findings().len();
        if (45..=60).contains(&found) {
            of_fifty += 1;
            for paper in [Paper::A4, Paper::Letter] {
                let printed = pages(&pdf(&note, &[], &[], paper));
                assert_eq!(printed.len(), 1, "{name}: {found} findings on {paper:?}");
                check_all_is_there(&note, &printed);
            }
        }
        let printed = signed_in_a_store(&text, |store, id| {
            store.exported(&LEXICON, id, (Form::Pdf, Paper::A4), false).expect("a PDF")
        });
        let with_drawings = pages(&printed);
        assert!(with_drawings.len() <= 2, "{name}: {found} findings, {} pages", with_drawings.len());
    }
    assert!(of_fifty > 5, "{of_fifty}");
}

#[test]
fn a_second_examination_stands_on_the_chart_of_the_first() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let mut last = String::new();
    for (days, head, examined) in [("two", "34.6", "2026-11-02"), ("sixteen", "36.1", "2026-11-16")] {
        let text = format!("{}Head circumference {head} centimetres.", BOY.replace("two", days));
        last = keep(&mut store, &text, "cot 7", examined);
        sign(&mut store, &last);
    }
    let charts = growth_charts(&store.examinations(&LEXICON, &last).expect("they are read"));
    let [(measure, chart)] = &charts[..] else { panic!("{}", charts.len()) };
    assert_eq!(*measure, Measure::Head);
    let svg = to_svg(&chart.drawing);
    let parsed = roxmltree::Document::parse(&svg).expect("it is XML");
    let told = parsed.descendants().find(|node| node.has_tag_name("desc")).and_then(|node| node.text()).expect("words");
    for words in ["2026-11-02", "34.6", "this examination", "36.1", "WHO Child Growth Standards, 2006"] {
        assert!(told.contains(words), "{words}: {told}");
    }
}

// --- CSV ---

fn rows(table: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let columns = reader.headers().expect("a header").clone();
    assert_eq!(columns.iter().collect::<Vec<_>>(), COLUMNS);
    let rows = reader.records().map(|row| {
        let row = row.expect("a row");
        columns.iter().map(str::to_owned).zip(row.iter().map(str::to_owned)).collect()
    });
    rows.collect()
}

#[test]
fn a_table_has_a_row_a_finding_and_its_columns_stay() {
    let text = format!(
        "{BOY}I think the scarf sign on the left goes past the midline. Head circumference about 34.6 centimetres."
    );
    let whole = signed(&text);
    let table = to_csv(&[whole.whole(&LEXICON)], None).expect("rows");
    assert!(
        table.starts_with("format,record,version,infant,examined,signed,signer,signer_role,item,region,side,value,")
    );
    let rows = rows(&table);
    assert_eq!(rows.len(), 5);
    let of = |item: &str| rows.iter().find(|row| row["item"] == item).expect("its row");
    let head = of("head-circumference");
    let cells = [
        "value",
        "number_from",
        "unit",
        "approx",
        "z",
        "standard",
        "postnatal_days",
        "post_menstrual_days",
        "infant",
        "signer",
    ];
    assert_eq!(
        cells.map(|cell| head[cell].as_str()),
        [
            "34.6cm",
            "34.6",
            "cm",
            "yes",
            "-0.05",
            "WHO Child Growth Standards, 2006",
            "2",
            "272",
            "cot 7",
            "A. Examiner"
        ]
    );
    let scarf = of("scarf-sign");
    let cells = ["side", "value", "hedged", "decision", "needed_the_eye", "usual_fits", "usual_rule"];
    assert_eq!(
        cells.map(|cell| scarf[cell].as_str()),
        ["left", "past-midline", "yes", "confirmed", "yes", "no", "e023"]
    );
    assert!(scarf["quote"].contains("scarf sign"), "{scarf:?}");
}

#[test]
fn de_identified_nobody_is_named_and_days_between_examinations_stay() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let ids: Vec<String> = [("cot 7", "2026-11-02T10:00"), ("cot 7", "2026-11-16"), ("cot 9", "2026-11-02")]
        .into_iter()
        .map(|(infant, examined)| {
            let id = keep(&mut store, &format!("{BOY}The suck is strong."), infant, examined);
            sign(&mut store, &id);
            id
        })
        .collect();
    let wholes: Vec<SignedWhole> = ids.iter().map(|id| store.whole(&LEXICON, id).expect("signed")).collect();
    let wholes: Vec<_> = wholes.iter().map(|whole| whole.whole(&LEXICON)).collect();
    let table = to_csv(&wholes, Some(&Secret::new(b"a secret of sixteen"))).expect("rows");
    for named in
        ["cot 7", "cot 9", "A. Examiner", "suck is strong", "visit.txt", "2026-11-02", "10:00", &ids[0], &ids[1]]
    {
        assert!(!table.contains(named), "{named} is still there");
    }
    assert_eq!(table, to_csv(&wholes, Some(&Secret::new(b"a secret of sixteen"))).expect("rows"), "the same secret");
    assert_ne!(table, to_csv(&wholes, Some(&Secret::new(b"another one of sixteen"))).expect("rows"));
    let rows = rows(&table);
    let first = |record: usize| &rows[record * rows.len() / 3];
    let day = |record: usize| first(record)["examined"].parse::<jiff::civil::Date>().expect("a date");
    assert_eq!((day(1) - day(0)).get_days(), 14, "of one infant, alike");
    assert_ne!(day(2), day(0), "of another, otherwise");
    assert_eq!(first(0)["infant"], first(1)["infant"]);
    assert_ne!(first(0)["infant"], first(2)["infant"]);
    assert_eq!(first(0)["signer_role"], "registrar");
    assert!(rows.iter().any(|row| row["value"] == "strong") && rows.iter().all(|row| row["quote"].is_empty()));
}

// --- Remarks ---

#[test]
fn whose_a_record_is_can_be_put_right_until_it_is_signed() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let id = keep(&mut store, BOY, "cot 7", "");
    store.remark(&id, &[remark(About::Infant, "cot 17")]).expect("it is taken");
    let words = |store: &Store| {
        let remarks = store.record(&id).expect("it is there").remarks;
        (remarks.infant().map(|remark| remark.words.clone()), remarks.0.len())
    };
    assert_eq!(words(&store), (Some("cot 17".to_owned()), 2), "both stay readable");
    assert_eq!(store.of_infant("cot 17").expect("ids"), std::slice::from_ref(&id));
    assert!(store.of_infant("cot 7").expect("ids").is_empty());
    sign(&mut store, &id);
    let refused = store.remark(&id, &[remark(About::Examined, "2026-11-29"), remark(About::Infant, "cot 8")]);
    assert!(
        matches!(refused, Err(StoreError::NoRemark(NoRemark::Signed(ref words))) if words == "cot 17"),
        "{refused:?}"
    );
    assert_eq!(words(&store).1, 2, "all or nothing");
    // What was left open may still be filled in, and a prompt put aside.
    store.remark(&id, &[remark(About::Examined, "2026-11-29"), remark(About::Infant, "cot 17")]).expect("it is taken");
    assert_eq!(words(&store).1, 3);
    assert!(matches!(store.remark("018b", &[remark(About::Infant, "x")]), Err(StoreError::NoRecord(_))));
    check_sound(&store);
}

// --- Side by side ---

#[test]
fn earlier_signed_examinations_of_the_same_infant_stand_beside_this_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let day =
        |days: &str, head: &str| format!("{}Head circumference {head} centimetres.", BOY.replace("two days", days));
    let later = keep(&mut store, &day("sixteen days", "36.1"), "cot 7", "2026-11-16");
    let first = keep(&mut store, &day("two days", "34.6"), "cot 7", "2026-11-02");
    let unsigned = keep(&mut store, &day("nine days", "35.4"), "cot 7", "2026-11-09");
    let other = keep(&mut store, &day("nine days", "35.4"), "cot 9", "2026-11-09");
    sign(&mut store, &first);
    sign(&mut store, &other);
    let ids = |store: &Store| -> Vec<String> {
        store.examinations(&LEXICON, &later).expect("they are read").into_iter().map(|one| one.id).collect()
    };
    assert_eq!(ids(&store), [first.clone(), later.clone()], "by the time of the examination, signed ones only");
    sign(&mut store, &unsigned);
    assert_eq!(ids(&store), [first.clone(), unsigned, later.clone()]);
    let serial = spoken_exam::computed::serial::serial(&store.examinations(&LEXICON, &later).expect("they are read"));
    let growth: Vec<&str> = serial.growth.iter().map(|growth| growth.words.as_str()).collect();
    assert_eq!(growth, ["+0.80 cm a week", "+0.70 cm a week"]);
    assert_eq!(
        store.examinations(&LEXICON, &first).expect("they are read").len(),
        1,
        "later ones do not stand beside the first"
    );
    assert_eq!(serial.examinations[1].1, "2026-11-09");
}

// --- The command ---

fn export(store: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.arg("export").args(arguments).env("SPOKEN_EXAM_STORE", store).output().expect("it starts")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn records_are_exported_one_or_many_and_never_over_a_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    let mut store = Store::open(&place).expect("it opens");
    let nothing = export(&place, &["--all", "--as", "note"]);
    assert_eq!(
        (nothing.status.code(), said(&nothing).starts_with("error: several records do not go")),
        (Some(2), true)
    );
    let none = export(&place, &["--all", "--as", "csv"]);
    assert!(none.status.code() == Some(2) && said(&none).contains("no record is signed"), "{}", said(&none));
    let ids: Vec<String> = (0..3).map(|number| keep(&mut store, BOY, &format!("cot {number}"), "2026-11-29")).collect();
    ids[..2].iter().for_each(|id| sign(&mut store, id));

    let text = export(&place, &[&ids[0], "--as", "note"]);
    assert!(
        text.status.success() && String::from_utf8_lossy(&text.stdout).contains("infant: cot 0"),
        "{}",
        said(&text)
    );
    let out = folder.path().join("out");
    fs::create_dir(&out).expect("a folder");
    let into = out.to_string_lossy().into_owned();
    // The third is not signed: it is named, and the others are written.
    let many = export(&place, &[&ids[0], &ids[1], &ids[2], "--as", "markdown", "-o", &into]);
    assert_eq!(many.status.code(), Some(1), "{}", said(&many));
    assert!(said(&many).contains(&format!("not exported: {}: ", ids[2])), "{}", said(&many));
    let file = out.join(format!("{}.md", ids[0]));
    let before = fs::read_to_string(&file).expect("it is there");
    assert!(before.starts_with("# Newborn neurological examination"));
    assert_eq!(fs::read_dir(&out).expect("a folder").count(), 2, "nothing else");
    let again = export(&place, &[&ids[0], "--as", "markdown", "-o", &into]);
    assert!(
        again.status.code() == Some(2) && said(&again).contains("it exists already; add --force"),
        "{}",
        said(&again)
    );
    let forced = export(&place, &[&ids[0], "--as", "markdown", "-o", &into, "--force"]);
    assert!(forced.status.success(), "{}", said(&forced));

    let printed = export(&place, &[&ids[2], "--as", "pdf", "--draft", "-o", &into]);
    assert!(printed.status.success(), "{}", said(&printed));
    let printed = pages(&fs::read(out.join(format!("{}.pdf", ids[2]))).expect("it is there"));
    assert!(printed.iter().all(|page| page.contains("DRAFT")), "{printed:?}");
    assert_eq!(export(&place, &[&ids[2], "--as", "pdf"]).status.code(), Some(2), "without --draft it is not exported");

    let table = out.join("findings.csv");
    let rows = export(&place, &["--all", "--as", "csv", "--de-identified", "-o", &table.to_string_lossy()]);
    assert!(rows.status.success() && said(&rows).contains("dropped: names"), "{}", said(&rows));
    assert!(!fs::read_to_string(&table).expect("it is there").contains("cot"));
    for (arguments, wrong) in [
        (vec![ids[0].as_str(), "--as", "note", "--de-identified"], "--de-identified is for --as csv only"),
        (vec![ids[0].as_str(), "--as", "csv", "--draft"], "--draft is for --as pdf only"),
        (vec!["ffff", "--as", "note"], "no record"),
        (vec![ids[0].as_str(), ids[1].as_str(), "--as", "fhir", "-o", "no/such/folder"], "is no folder"),
    ] {
        let output = export(&place, &arguments);
        assert!(output.status.code() == Some(2) && said(&output).contains(wrong), "{arguments:?}: {}", said(&output));
    }
}
