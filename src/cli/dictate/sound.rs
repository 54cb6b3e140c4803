//! Where the sound of a dictation comes from.
//! Takes a microphone, or standard input; hands blocks of sound to the dictation as they come. A microphone that goes away is
//! tried again every second. Leaves alone what becomes of the sound.
//!
//! a cable is pulled out and put in again: what is said meanwhile is missing, and the draft says so

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Weak};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use anyhow::{Context, Result};

use super::Wake;
use super::screen::Screen;
use crate::audio::{Heard, Incoming, Microphone};
use crate::cli::args::{DictateArgs, Source};
use crate::cli::{Outcome, output};
use crate::live::{Order, Session};
use crate::store::Taking;

/// How often a microphone that went away is tried again.
const AGAIN: Duration = Duration::from_secs(1);
/// A microphone that gives nothing for so long, not even silence, is opened anew.
const SILENT: Duration = Duration::from_secs(3);

/// Lists the microphones.
pub(super) fn devices() -> Result<Outcome> {
    let devices = Microphone::devices().context("cannot list the microphones")?;
    if devices.is_empty() {
        output::say("no microphone is there; plug one in, or give sound on standard input: spoken-exam dictate -");
        return Ok(Outcome::NeedsEyes);
    }
    output::print(&devices.iter().map(|name| format!("{name}\n")).collect::<String>())?;
    Ok(Outcome::Done)
}

/// A source that is there.
pub(super) enum Ears {
    Microphone(Option<String>),
    StandardInput,
}

/// Somebody who listens; dropped, they stop.
pub(super) struct Hearing {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Ears {
    /// Looks whether it can be heard.
    pub(super) fn find(args: &DictateArgs) -> Result<Self> {
        if args.source == Some(Source::StandardInput) {
            return Ok(Self::StandardInput);
        }
        let device = args.device.clone();
        Microphone::open(device.as_deref(), |_| ()).context("cannot listen")?;
        Ok(Self::Microphone(device))
    }

    /// Begins to listen.
    pub(super) fn listen(
        self,
        session: &Arc<Session<Taking>>,
        wake: Sender<Wake>,
        screen: &Arc<Screen>,
    ) -> Result<Hearing> {
        let stop = Arc::new(AtomicBool::new(false));
        let session = Arc::downgrade(session);
        let thread = match self {
            Self::StandardInput => {
                std::thread::spawn(move || {
                    let _ = wake.send(read(&session).map_or_else(Wake::Failed, |()| Wake::End));
                });
                // It may wait for more sound for ever: nobody waits for it.
                None
            }
            Self::Microphone(device) => {
                let (stop, screen) = (Arc::clone(&stop), Arc::clone(screen));
                let (begun, beginning) = channel();
                let thread = std::thread::spawn(move || hold(device.as_deref(), &session, &stop, &screen, &begun));
                beginning.recv().context("cannot listen")??;
                Some(thread)
            }
        };
        Ok(Hearing { stop, thread })
    }
}

impl Drop for Hearing {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn read(session: &Weak<Session<Taking>>) -> Result<()> {
    let mut incoming = Incoming::new(std::io::stdin()).context("cannot hear standard input")?;
    while let Some(block) = incoming.next().context("cannot hear standard input")? {
        let Some(session) = session.upgrade() else { break };
        session.hear(&block);
    }
    Ok(())
}

// The microphone stays in the thread that opened it: on some systems it may not leave it.
fn hold(
    device: Option<&str>,
    session: &Weak<Session<Taking>>,
    stop: &AtomicBool,
    screen: &Screen,
    begun: &Sender<Result<()>>,
) {
    let mut away: Option<Instant> = None;
    while !stop.load(Ordering::Relaxed) {
        let (lost, losing) = channel();
        let heard = Arc::new(AtomicBool::new(false));
        match open(device, session, lost, Arc::clone(&heard)) {
            Ok(_microphone) => {
                if let Some(away) = away.take() {
                    screen.say("the microphone is back");
                    if let Some(session) = session.upgrade() {
                        session.order(Order::Away(u64::try_from(away.elapsed().as_millis()).unwrap_or(u64::MAX)));
                    }
                }
                let _ = begun.send(Ok(()));
                let why = wait(&losing, stop, &heard);
                if let Some(why) = why {
                    screen.say(&format!("the microphone went away: {why}; it is tried again every second"));
                    away = Some(Instant::now());
                }
            }
            Err(error) => {
                // At first this ends the program; later the message is for nobody.
                let _ = begun.send(Err(error));
                std::thread::sleep(AGAIN);
            }
        }
    }
}

fn open(
    device: Option<&str>,
    session: &Weak<Session<Taking>>,
    lost: Sender<String>,
    has_heard: Arc<AtomicBool>,
) -> Result<Microphone> {
    let session = Weak::clone(session);
    let take = move |heard: Heard<'_>| match heard {
        Heard::Samples(samples) => {
            has_heard.store(true, Ordering::Relaxed);
            if let Some(session) = session.upgrade() {
                session.hear(samples);
            }
        }
        Heard::Lost(why) => {
            let _ = lost.send(why);
        }
    };
    Microphone::open(device, take).context("cannot listen")
}

// Waits until the microphone is lost, and says why; none when listening is to end. Some devices fall silent without an error.
fn wait(losing: &Receiver<String>, stop: &AtomicBool, has_heard: &AtomicBool) -> Option<String> {
    let mut last = Instant::now();
    while !stop.load(Ordering::Relaxed) {
        if let Ok(why) = losing.recv_timeout(Duration::from_millis(100)) {
            return Some(why);
        }
        if has_heard.swap(false, Ordering::Relaxed) {
            last = Instant::now();
        } else if last.elapsed() > SILENT {
            return Some("no sound comes from it".to_owned());
        }
    }
    None
}
