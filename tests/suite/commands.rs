//! Orders to the program: what is one, what is none, and that none makes a finding.
//! Takes invented utterances, and every narration of the corpora; fails where an order is missed, taken for another, or heard
//! where nobody gave one. Leaves alone what is done upon an order.

use std::path::{Path, PathBuf};

use spoken_exam::lexicon::load::{self, Source};
use spoken_exam::lexicon::{Command, Lexicon};
use spoken_exam::reading::Side;
use spoken_exam::record::Loss;
use spoken_exam::score::{Predicted, predicted};
use spoken_exam::span::SoundSpan;
use spoken_exam::speech::{Phrases, Settings, Transcriber, Whisper};
use spoken_exam::{audio, flow, reading};

use crate::corpus::LEXICON;

/// Orders of a narration, `/` between utterances: their names, and "?" for one that was not understood.
fn orders_by(lexicon: &Lexicon, said: &str) -> Vec<&'static str> {
    let narration = flow::of_text(lexicon, &said.replace(" / ", "\n"), "t.txt");
    narration.reading.ordered.iter().map(|order| order.command.map_or("?", Command::name)).collect()
}

#[track_caller]
fn check(said: &str, orders: &[&str]) {
    assert_eq!(orders_by(&LEXICON, said), orders, "said: {said}");
}

fn found(said: &str) -> Vec<String> {
    let draft = flow::of_text(&LEXICON, &said.replace(" / ", "\n"), "t.txt").draft;
    let row = |found: Predicted| format!("{} {} {}", found.row.item, found.row.side, found.row.value);
    let mut rows: Vec<String> = predicted(&draft).into_iter().map(row).collect();
    rows.sort();
    rows
}

#[test]
fn plain_ways_of_saying_each_order_are_understood() {
    for (command, ways) in [
        ("take-back", "take that back; take back the last one; undo the last finding; strike that; that's wrong; undo"),
        (
            "what-is-left",
            "what's left?; what have I not done?; what is still to do?; what have I missed?; what's missing?",
        ),
        (
            "what-did-i-say",
            "what did I say for the left knee?; what have you got for the scarf sign?; what was the Moro?",
        ),
        ("mark", "mark this; mark this moment; flag that; bookmark this; mark"),
        ("pause", "pause; stop listening; wait a moment; hold on; don't listen"),
        ("resume", "go on; resume; carry on; continue; start listening again"),
        ("end", "end; that is the end; that's the end; end of the examination; we are finished; we're done"),
    ] {
        for way in ways.split("; ") {
            for before in
                ["Notebook, ", "notebook ", "Note book, ", "Note-book: ", "Um, notebook, ", "Okay notebook, please "]
            {
                check(&format!("{before}{way}"), &[command]);
            }
            check(&format!("Notebook. {way}"), &[command]);
            check(&format!("Notebook. / {way}"), &[command]);
            check(&format!("Suck strong. Notebook, {way} / Moro complete."), &[command]);
        }
    }
}

#[test]
fn what_recognisers_write_for_an_order_is_understood() {
    for (said, command) in [
        ("Notebook, watch left.", "what-is-left"),
        ("Notebook, what's laughed?", "what-is-left"),
        ("Notebook takes that back.", "take-back"),
        ("Notebook, and do the last finding.", "take-back"),
        ("Notebook marked this.", "mark"),
        ("Notebook boss.", "pause"),
        ("Notebook, gone.", "resume"),
        ("Notebook what did I save for the scarf sign?", "what-did-i-say"),
        ("Notebooks, pause.", "pause"),
        ("No book what's left.", "what-is-left"),
        ("Notepuk, undo the last finding.", "take-back"),
    ] {
        check(said, &[command]);
    }
}

#[test]
fn the_order_to_end_must_be_exact() {
    check("Notebook, that is the end.", &["end"]);
    check("No book, that is the end.", &[]);
    for said in ["Notebook, and.", "Notebook, bend.", "Notebook, we are finishing.", "Notebook, that is depend."] {
        check(said, &["?"]);
    }
    assert!(!orders_by(&LEXICON, "Notebook, that is the end of the first part.").contains(&"end"));
}

#[test]
fn an_order_leaves_what_is_in_progress_as_it_was() {
    for order in ["what's left?", "mark this.", "pause.", "go on.", "what did I say for the right knee jerk?", "zzz."] {
        let said = format!("Now the scarf sign on the left. / Notebook, {order} / To the midline.");
        assert_eq!(found(&said), ["scarf-sign left to-midline"], "{said}");
        let none = format!("Notebook, {order}");
        assert!(found(&none).is_empty(), "{none}");
    }
}

#[test]
fn what_is_taken_back_stays_in_the_history_and_opens_nothing() {
    assert_eq!(
        found("Suck strong. / Ankle clonus absent on the left. / Notebook, take that back."),
        ["suck none strong"]
    );
    let draft = flow::of_text(&LEXICON, "Suck strong.\nNotebook, undo the last finding.", "t.txt").draft;
    let suck = draft.not_mentioned.iter().find(|item| item.item == "suck").expect("it has no finding");
    assert_eq!(suck.spoken_of.len(), 1);
    let twice = "Suck strong. / Moro complete. / Notebook, take that back. / Notebook, take that back.";
    assert!(found(twice).is_empty());
    assert!(found("Notebook, take that back.").is_empty());
    assert_eq!(found("Suck strong. / Suck weak. / Notebook, take that back."), ["suck none strong"]);
    assert_eq!(
        found("Scarf to the midline on the left. / Notebook, take that back, scarf past the midline on the left."),
        ["scarf-sign left past-midline"]
    );
}

#[test]
fn what_is_asked_about_is_told() {
    let about = |said: &str| {
        let narration = flow::of_text(&LEXICON, &said.replace(" / ", "\n"), "t.txt");
        let [order] = &narration.reading.ordered[..] else { panic!("{said}: {:?}", narration.reading.ordered) };
        let told = order.about.iter().map(|(item, side)| (LEXICON.items[*item].id.clone(), *side));
        told.collect::<Vec<(String, Side)>>()
    };
    let of = |items: &[(&str, Side)]| items.iter().map(|(id, side)| ((*id).to_owned(), *side)).collect::<Vec<_>>();
    assert_eq!(about("Notebook, what did I say for the scarf sign?"), of(&[("scarf-sign", Side::Unstated)]));
    assert_eq!(about("Notebook, what was the right knee jerk?"), of(&[("knee-jerk", Side::Right)]));
    assert_eq!(about("Notebook, what did I say for the suck?"), of(&[("suck", Side::None)]));
    let arms = of(&[("biceps-reflex", Side::Both), ("triceps-reflex", Side::Both)]);
    assert_eq!(about("Notebook, what have you got for the arm reflexes on both sides?"), arms);
    let knee = about("Notebook, what did I say for the left knee?");
    assert!(knee.contains(&("knee-jerk".to_owned(), Side::Left)), "{knee:?}");
    assert!(knee.iter().all(|(_, side)| *side == Side::Left), "{knee:?}");
    let legs = about("Notebook, what did I say for the legs?");
    assert!(legs.len() > 5 && legs.iter().any(|(id, _)| id == "popliteal-angle"), "{legs:?}");
    assert_eq!(about("Scarf sign to the midline. / Notebook, what did I say?"), of(&[("scarf-sign", Side::Unstated)]));
    assert_eq!(
        about("Scarf sign to the midline. / Notebook, what did I say for the left?"),
        of(&[("scarf-sign", Side::Left)])
    );
    assert_eq!(about("Suck strong. / Notebook, what did I say for the weather?"), of(&[]));
}

#[test]
fn a_marked_moment_is_a_notice_without_loss() {
    let draft = flow::of_text(&LEXICON, "Suck strong.\nNotebook, mark this.\nMoro complete.", "t.txt").draft;
    let [notice] = &draft.notices[..] else { panic!("{:?}", draft.notices) };
    assert_eq!((notice.words.as_str(), notice.loss), ("marked by the examiner", Loss::None));
    assert!(!draft.lacks_sound());
    assert_eq!(draft.transcript[1].text, "Notebook, mark this.");
}

#[test]
fn phrases_of_orders_alone_are_none() {
    for said in [
        "That's the end of it.",
        "Pause there a second.",
        "What's left is the hips.",
        "Take that back.",
        "Undo that.",
        "What did I say for the left knee?",
        "Stop listening.",
        "We are finished.",
        "End of the examination.",
        "Carry on.",
        "I left my notebook on the ward.",
        "Have you seen my notebook, what's left of it?",
        "The notebook is in my bag.",
        "She said pause, and I paused.",
        "It's in the notebook. Suck strong.",
        "Mark this.",
        "Go on, little one.",
        "Suck strong, take that back.",
    ] {
        check(said, &[]);
    }
    assert!(found("Suck strong. / Take that back.").is_empty(), "it stays a withdrawal");
}

#[test]
fn nothing_of_the_examination_is_lost_behind_the_attention_word() {
    assert_eq!(found("Notebook, suck strong."), ["suck none strong"]);
    check("Notebook, suck strong.", &[]);
    check("Notebook, ankle clonus absent on the left.", &[]);
    check("Notebook, blah blah.", &["?"]);
    check("Notebook.", &["?"]);
    check("Notebook. / Suck strong.", &["?"]);
    assert_eq!(found("Notebook. / Suck strong."), ["suck none strong"]);
    assert_eq!(found("Suck strong, notebook, pause."), ["suck none strong"]);
    check("Suck strong, notebook, pause.", &["pause"]);
    check("Notebook, pause. Notebook, go on.", &["pause", "resume"]);
}

fn with(text: &str) -> Result<Lexicon, String> {
    let mut sources = load::built_in();
    sources.push(Source { file: "mine/commands.toml".to_owned(), text: text.to_owned() });
    Lexicon::from_sources(&sources).map_err(|error| error.to_string())
}

#[test]
fn a_folder_of_ones_own_changes_the_attention_word_and_adds_phrases() {
    let lexicon = with("[attention]\nword = \"clipboard\"\n[what-is-left]\nsays = [\"how far are we\"]\n").unwrap();
    assert_eq!(lexicon.attention(), "clipboard");
    assert_eq!(orders_by(&lexicon, "Clip board, how far are we?"), ["what-is-left"]);
    assert_eq!(orders_by(&lexicon, "Clipboard, what's left?"), ["what-is-left"]);
    assert!(orders_by(&lexicon, "Notebook, what's left?").is_empty());
    let faults = |text: &str| with(text).map(|_| ()).unwrap_err();
    assert_eq!(
        faults("[mark]\nsays = [\"pause\"]\n"),
        "mine/commands.toml:1: `pause` is claimed by pause and by mark; leave it to one"
    );
    assert!(faults("\n[dance]\nsays = [\"dance\"]\n").starts_with("mine/commands.toml:2: `dance` is no order;"));
    assert!(
        faults("[attention]\nword = \"moro\"\n").starts_with("mine/commands.toml:1: `moro` cannot be the attention")
    );
}

#[test]
fn another_attention_word_is_another_lexicon_and_some_words_are_refused() {
    let other = || Lexicon::load(None).unwrap();
    let clipboard = other().with_attention("Clip-board").unwrap();
    assert_eq!(clipboard.attention(), "clip board");
    assert_ne!(clipboard.identity, LEXICON.identity);
    assert_eq!(other().with_attention("notebook").unwrap().identity, LEXICON.identity);
    for said in ["Clipboard, pause.", "Clip board, pause.", "Okay, clip board. Pause."] {
        assert_eq!(orders_by(&clipboard, said), ["pause"], "{said}");
    }
    assert!(orders_by(&clipboard, "Notebook, pause.").is_empty());
    for (word, why) in [
        ("", "words"),
        ("abc", "fewer than 4 letters"),
        ("one two three", "3 words"),
        ("r2d2", "other signs"),
        ("seven", "number"),
        ("left", "an order itself"),
        ("moro", "means something"),
        ("scarf", "means something"),
        ("pause", "an order itself"),
        ("really", "in passing"),
    ] {
        let error = other().with_attention(word).map(|_| ()).unwrap_err().to_string();
        assert!(error.starts_with(&format!("`{word}` cannot be the attention word: ")), "{error}");
        assert!(error.contains(why), "{word}: {error}");
    }
}

#[test]
fn sets_are_there_and_their_faults_are_named() {
    let sets = LEXICON.sets();
    assert_eq!(sets.iter().map(|set| set.name.as_str()).collect::<Vec<_>>(), ["full", "screening"]);
    let all = LEXICON.items.iter().filter(|item| item.members.is_empty() && item.region != "infant").count();
    assert_eq!(sets[0].items.len(), all);
    assert!(sets[1].items.len() > 15 && sets[1].items.iter().all(|item| sets[0].items.contains(item)));
    let with = |text: &str| {
        let mut sources = load::built_in();
        sources.push(Source { file: "mine/sets.toml".to_owned(), text: text.to_owned() });
        Lexicon::from_sources(&sources)
    };
    let faults = |text: &str| with(text).map(|_| ()).unwrap_err().to_string();
    let own = with("[mine]\ntitle = \"mine\"\nitems = [\"moro\", \"tendon-reflexes\"]\n[screening]\ntitle = \"s\"\nitems = [\"suck\"]\n").unwrap();
    assert_eq!(own.sets().iter().map(|set| set.items.len()).collect::<Vec<_>>(), [all, 1, 5]);
    assert_eq!(
        faults("[mine]\ntitle = \"m\"\nitems = [\n\"moro\",\n\"toe-wiggle\"]\n"),
        "mine/sets.toml:5: `toe-wiggle` is not an item; see the ids in the other files"
    );
    assert_eq!(faults("[mine]\ntitle = \"m\"\nitems = []\n"), "mine/sets.toml:1: the set `mine` has no items");
    assert_eq!(
        faults("[mine]\ntitle = \"m\"\nitems = [\"moro\",\n\"moro\"]\n"),
        "mine/sets.toml:4: `moro` stands in the set `mine` twice"
    );
    assert_eq!(
        faults("[mine]\ntitle = \"m\"\nall-but = [\"nowhere\"]\n"),
        "mine/sets.toml:3: `nowhere` is no region; see `region` in the other files"
    );
}

fn texts(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("it is a folder") {
        let path = entry.expect("it can be read").path();
        if path.is_dir() {
            texts(&path, into);
        } else if path.extension().is_some_and(|e| e == "txt") {
            into.push(path);
        }
    }
}

#[test]
fn nobody_gives_an_order_in_any_narration() {
    let mut files = Vec::new();
    for folder in ["tests/corpus", "tests/corpus-extra", "samples"] {
        texts(Path::new(folder), &mut files);
    }
    assert!(files.len() > 100, "{} narrations", files.len());
    for file in files {
        let text = std::fs::read_to_string(&file).expect("it can be read");
        let ordered = flow::of_text(&LEXICON, &text, "t.txt").reading.ordered;
        assert!(ordered.is_empty(), "{}: {ordered:?}", file.display());
    }
}

#[test]
fn an_order_that_took_no_time_was_never_given() {
    for (ms_of_a_word, orders) in [(0, 0), (300, 1)] {
        let mut said = spoken_exam::speech::Utterance::from_text("Notebook, undo the last finding.");
        for (at, word) in (0u64..).zip(&mut said.words) {
            let start_ms = at * ms_of_a_word;
            word.sound = Some(SoundSpan { start_ms, end_ms: start_ms + ms_of_a_word });
        }
        assert_eq!(reading::read(&LEXICON, &[said]).ordered.len(), orders);
    }
}

#[test]
fn the_attention_word_alone_waits_for_two_seconds() {
    for (pause_ms, orders) in [(1_900, [Some(Command::Pause)]), (2_100, [None])] {
        let line = |text: &str, from_ms: u64| {
            let mut said = spoken_exam::speech::Utterance::from_text(text);
            said.words[0].sound = Some(SoundSpan { start_ms: from_ms, end_ms: from_ms + 500 });
            said
        };
        let ordered = reading::read(&LEXICON, &[line("Notebook.", 0), line("Pause.", 500 + pause_ms)]).ordered;
        assert_eq!(ordered.iter().map(|order| order.command).collect::<Vec<_>>(), orders, "{pause_ms} ms");
    }
}

/// Rows of tests/sounds/orders.tsv of a kind, without the kind.
fn expected(kind: &str) -> Vec<String> {
    let rows = include_str!("../sounds/orders.tsv").lines().filter_map(|row| row.split_once('\t'));
    rows.filter(|(of, _)| *of == kind).map(|(_, row)| row.replace('\t', " ").trim().to_owned()).collect()
}

#[test]
fn orders_among_findings_are_heard_and_make_none() {
    let favoured = Phrases(LEXICON.phrases_to_favour());
    let settings = Settings { voice: Some(crate::voice::file()), ..Settings::new(2) };
    let mut whisper = Whisper::load(&crate::hearing::model(), &favoured, settings).unwrap();
    for (file, missed_at_most) in [("orders.opus", 2), ("orders-on-the-ward.opus", 4)] {
        let sound = audio::read(&Path::new("tests/sounds").join(file)).unwrap().samples.all().unwrap();
        let utterances = whisper.transcribe(&sound, &mut |_| ()).unwrap().utterances;
        let texts: Vec<&str> = utterances.iter().map(|said| said.text.as_str()).collect();
        let reading = reading::read(&LEXICON, &utterances);
        let ordered: Vec<&str> = reading.ordered.iter().map(|order| order.command.map_or("?", Command::name)).collect();
        assert_eq!(ordered, expected("order"), "{file}: {texts:?}");
        let of_order =
            |said: &reading::Statement| reading.ordered.iter().any(|order| order.quote.overlaps(said.because.quote));
        assert!(!reading.statements.iter().any(of_order), "{file}: {texts:?}");
        let row = |finding: &reading::Finding| {
            let stands = &finding.stands;
            let value = spoken_exam::record::draft::value_text(&LEXICON, stands);
            format!("{} {} {value}", LEXICON.items[stands.item].id, stands.side.name())
        };
        let found: Vec<String> = reading.findings.iter().map(row).collect();
        let wanted = expected("finding");
        let missed: Vec<&String> = wanted.iter().filter(|row| !found.contains(row)).collect();
        let added: Vec<&String> = found.iter().filter(|row| !wanted.contains(row)).collect();
        assert!(missed.len() <= missed_at_most, "{file} missed {missed:?}: {texts:?}");
        assert!(added.len() <= missed_at_most / 2, "{file} added {added:?}: {texts:?}");
    }
}
