//! The command `draft`.
//! Takes a recording or a text; writes its draft, or a stage on the way, or keeps it in the store. Leaves alone what a draft
//! says.
//!
//! `spoken-exam draft note.txt --format tsv` prints a row a finding

use anyhow::{Context, Result};

use super::args::{DraftArgs, Format};
use super::input::{Note, note};
use super::listen::Listener;
use super::{Outcome, output, show, store};
use crate::export;
use crate::flow::{self, Narration};
use crate::lexicon::Lexicon;
use crate::record::DraftRecord;

/// Makes the draft.
pub(super) fn run(args: &DraftArgs) -> Result<Outcome> {
    let file = args.output.as_deref();
    output::check(file, args.force)?;
    // A store that cannot be opened is told before a long recording is heard.
    let mut kept_in =
        args.keep.then(|| store::open_or_make(args.store.as_deref(), args.passphrase_file.as_deref())).transpose()?;
    let note = note(&args.note)?;
    let recording = store::recording(&note);
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let narration = match note {
        Note::Text { text, file_name } => flow::of_text(&lexicon, &text, &file_name),
        Note::Sound(path) => Listener::new(&args.hearing, &lexicon).narration(&path)?,
    };
    let text = match args.show {
        Some(stage) => show::stage(&lexicon, &narration, stage),
        None => written(&lexicon, &narration, args.format)?,
    };
    if args.show.is_some() || args.keep || args.format != Format::Table || file.is_some() {
        say_notices(&narration.draft);
    }
    match &mut kept_in {
        Some(kept_in) => {
            if file.is_some() {
                output::write(&text, file, args.force)?;
            }
            let id = store::keep(kept_in, &narration.draft, recording.as_deref())?;
            output::print(&format!("{id}\n"))?;
        }
        None => output::write(&text, file, args.force)?,
    }
    Ok(if narration.draft.lacks_sound() { Outcome::NeedsEyes } else { Outcome::Done })
}

fn written(lexicon: &Lexicon, narration: &Narration, format: Format) -> Result<String> {
    Ok(match format {
        Format::Table => export::to_table(&narration.draft),
        Format::Json => {
            export::to_json_computed(lexicon, &narration.draft).context("cannot write the draft as JSON")?
        }
        Format::Tsv => export::to_tsv(&narration.draft),
    })
}

// In the table they stand on top; anywhere else the person who typed the command would not see them.
fn say_notices(draft: &DraftRecord) {
    for notice in &draft.notices {
        let place = notice.sound.map_or_else(String::new, |sound| format!(" {}", export::words::span_words(sound)));
        output::say(&format!("note:{place} {}", notice.words));
    }
}
