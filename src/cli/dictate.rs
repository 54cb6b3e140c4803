//! The command `dictate`.
//! Takes sound from a microphone or standard input until it ends, Ctrl-C is pressed or the order to end is spoken; shows what
//! is understood, makes the draft and keeps it in the store. Leaves alone how that is done (`live`) and how it looks
//! (`dictate/screen`).
//!
//! `spoken-exam dictate` prints the id of the record that it made

mod screen;
mod sound;

use std::io::{BufRead, IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::time::Duration;

use anyhow::{Context, Result, bail};

use super::args::{DictateArgs, StoreFolder};
use super::review::{self, Served};
use super::{Outcome, lexicon, listen, output, stop, store};
use crate::lexicon::Lexicon;
use crate::live::{self, Crew, Ended, Event, Session};
use crate::store::{KeepSound, Store, Taking, now};

use screen::Screen;
use sound::Ears;

/// Listens, or does what is wanted in its place.
pub(super) fn run(args: &DictateArgs) -> Result<Outcome> {
    if args.devices {
        return sound::devices();
    }
    let lexicon = Arc::new(checked_lexicon(args)?);
    if args.recover {
        let there = StoreFolder { folder: args.store.clone(), passphrase_file: args.passphrase_file.clone() };
        return recover(args, &lexicon, &mut store::open(&there)?);
    }
    let mut store = store::open_or_make(args.store.as_deref(), args.passphrase_file.as_deref())?;
    choose_keep_sound(args, &mut store)?;
    let left = store.unfinished()?.len();
    if left > 0 {
        output::say(&format!(
            "note: {left} recordings were never ended; `spoken-exam dictate --recover` makes drafts of them"
        ));
    }
    // Before a model is loaded: a device that is not there is told at once.
    let ears = Ears::find(args)?;
    let stop_again = Arc::new(AtomicBool::new(false));
    let crew = listen::crew(&args.hearing, &lexicon, &stop_again)?;
    let ended = dictated(args, &lexicon, crew, &store, (ears, stop_again))?;
    let (id, outcome) = kept(&mut store, ended)?;
    if args.review {
        let (own_lexicon, hearing) = (args.lexicon.laid_over.clone(), args.hearing.clone());
        return review::serve(store, lexicon, &Served { own_lexicon, by: None, port: 0, record: Some(id), hearing });
    }
    output::say(&format!("Review and sign it: spoken-exam review {id}"));
    Ok(outcome)
}

fn checked_lexicon(args: &DictateArgs) -> Result<Lexicon> {
    let lexicon = lexicon::load_with(args.lexicon.laid_over.as_deref(), args.attention.as_deref())?;
    let names: Vec<&str> = lexicon.sets().iter().map(|set| set.name.as_str()).collect();
    if !names.contains(&args.set.as_str()) {
        bail!("cannot tell what is left of `{}`: there is no such set; there are {}", args.set, names.join(", "));
    }
    Ok(lexicon)
}

// The owner says once what becomes of sound. Where nobody can be asked, the store's own rule holds and is told.
fn choose_keep_sound(args: &DictateArgs, store: &mut Store) -> Result<()> {
    if let Some(policy) = args.keep_sound {
        return store.set_keep_sound(policy, now()).context("cannot set how long sound is kept");
    }
    if store.keep_sound_was_chosen()? {
        return Ok(());
    }
    if args.source.is_some() || !std::io::stdin().is_terminal() || !output::watched() {
        let policy = store.keep_sound()?;
        output::say(&format!("note: sound is kept {policy}; --keep-sound says otherwise, and is asked for only once"));
        return Ok(());
    }
    let policy = asked_keep_sound()?;
    store.set_keep_sound(policy, now()).context("cannot set how long sound is kept")
}

fn asked_keep_sound() -> Result<KeepSound> {
    output::say("How long are recordings kept in this store?");
    output::say("  1  until the record made of them is signed");
    output::say("  2  for ever");
    output::say("  3  not at all: a recording is deleted as soon as its draft is made");
    loop {
        let _ = write!(std::io::stderr(), "1, 2 or 3: ");
        let mut line = String::new();
        if std::io::stdin().lock().read_line(&mut line).context("cannot read the answer")? == 0 {
            bail!("cannot go on without an answer; --keep-sound gives it");
        }
        match line.trim() {
            "1" => return Ok(KeepSound::UntilSigned),
            "2" => return Ok(KeepSound::ForEver),
            "3" => return Ok(KeepSound::NotKept),
            _ => (),
        }
    }
}

/// Why listening ends.
enum Wake {
    /// Ctrl-C, the spoken order, or the end of standard input.
    End,
    /// The source failed for good.
    Failed(anyhow::Error),
}

fn dictated(
    args: &DictateArgs,
    lexicon: &Arc<Lexicon>,
    crew: Crew,
    store: &Store,
    (ears, stop_again): (Ears, Arc<AtomicBool>),
) -> Result<Ended<Taking>> {
    let taking = store.begin_taking(now()).context("cannot begin a recording")?;
    let began = format!("Recording as {}. Orders begin with \"{}\".", taking.id(), lexicon.attention());
    let (wake, woken) = channel();
    let screen = Arc::new(Screen::new(lexicon));
    let tell = {
        let (screen, wake) = (Arc::clone(&screen), wake.clone());
        move |event: Event| {
            if matches!(event, Event::EndAsked) {
                let _ = wake.send(Wake::End);
            }
            screen.show(&event);
        }
    };
    let session = Arc::new(Session::begin(Arc::clone(lexicon), crew, taking, &args.set, tell));
    end_at_ctrl_c(wake.clone(), stop_again)?;
    screen.begin(&began);
    let hearing = ears.listen(&session, wake, &screen)?;
    let woken = woken.recv().unwrap_or(Wake::End);
    drop(hearing);
    screen.end();
    let session = sole(session)?;
    if let Wake::Failed(error) = woken {
        session.leave();
        return Err(
            error.context("dictation broke off; `spoken-exam dictate --recover` makes a draft of what was recorded")
        );
    }
    session.end().context("the recording is kept; `spoken-exam dictate --recover` makes a draft of it")
}

// Whoever feeds the session lets go of it within moments.
fn sole(mut session: Arc<Session<Taking>>) -> Result<Session<Taking>> {
    for _ in 0..100 {
        session = match Arc::try_unwrap(session) {
            Ok(session) => return Ok(session),
            Err(session) => session,
        };
        std::thread::sleep(Duration::from_millis(20));
    }
    bail!("the microphone does not let go; the recording is kept, `spoken-exam dictate --recover` makes a draft of it")
}

// The first Ctrl-C ends the dictation, the second the final pass, the third everything.
fn end_at_ctrl_c(wake: Sender<Wake>, stop_again: Arc<AtomicBool>) -> Result<()> {
    let mut pressed = 0;
    stop::at_each(move || {
        pressed += 1;
        match pressed {
            1 => {
                let _ = wake.send(Wake::End);
            }
            2 => stop_again.store(true, Ordering::Relaxed),
            _ => stop::end(),
        }
    })
}

fn kept(store: &mut Store, ended: Ended<Taking>) -> Result<(String, Outcome)> {
    let outcome = if ended.draft.lacks_sound() { Outcome::NeedsEyes } else { Outcome::Done };
    let id = store.keep_taking(&ended.draft, ended.keep, now()).context("cannot keep the draft")?;
    output::print(&format!("{id}\n"))?;
    Ok((id, outcome))
}

fn recover(args: &DictateArgs, lexicon: &Lexicon, store: &mut Store) -> Result<Outcome> {
    let unfinished = store.unfinished()?;
    if unfinished.is_empty() {
        output::say("no recording waits: all were ended");
        return Ok(Outcome::Done);
    }
    let stop_again = stop::flag(Duration::from_secs(1))?;
    let mut crew = listen::crew(&args.hearing, lexicon, &stop_again)?;
    let screen = Screen::new(lexicon);
    let mut all = Outcome::Done;
    for one in unfinished {
        output::say(&format!("{}: begun {}, {} s", one.id, one.began, one.length_ms / 1000));
        let taking = store.take_up(&one.id)?;
        let ended = live::recover(lexicon, &mut crew, taking, &|event| screen.show(&event))?;
        screen.end();
        if kept(store, ended)?.1 == Outcome::NeedsEyes {
            all = Outcome::NeedsEyes;
        }
    }
    Ok(all)
}
