//! Dictation: sound that is still coming in → a draft that grows while somebody speaks.
//! Takes blocks of samples, recognisers and spoken or given orders; keeps the sound on the disk, tells what was understood and
//! what is left, and makes the draft of the whole recording at the end. Leaves alone where the sound comes from (`audio`, the
//! page) and how anything is shown.
//!
//! Files, in reading order: `event` what is told; `keeper` writes the sound; `table` is where everything comes together, `cutting`
//! and `settling` its two hands; `workers` hear; `picture`, `answers` and `orders` make of the draft what is told; `last` ends it.
//!
//! "Scarf sign to the midline on the left", a pause, and a second later there is a finding

mod answers;
mod crew;
mod cutting;
mod event;
mod keeper;
mod last;
mod orders;
mod picture;
mod recent;
mod settling;
mod table;
mod workers;

use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use crate::lexicon::Lexicon;

pub use crew::{Crew, Hearer, Keep, Models};
pub use event::{Answer, Event, Left, Order, Picture};
pub use last::{Ended, LiveError, recover};

use keeper::{In, Keeper};
use last::Aside;
use table::{Heeded, Table};
use workers::Workers;

/// A dictation that is going on.
pub struct Session<K: Keep> {
    lexicon: Arc<Lexicon>,
    inbox: Sender<In>,
    tell: Tell,
    keeper: JoinHandle<K>,
    table: JoinHandle<(Aside, Workers)>,
    heeded: Arc<Heeded>,
}

/// Who is told. Called from several threads, one at a time.
pub(crate) type Tell = Arc<dyn Fn(Event) + Send + Sync>;

impl<K: Keep + 'static> Session<K> {
    /// Begins to listen. `set` names the items of which what is left is told; one that is not known is the whole examination.
    #[must_use]
    pub fn begin(
        lexicon: Arc<Lexicon>,
        crew: Crew,
        keep: K,
        set: &str,
        tell: impl Fn(Event) + Send + Sync + 'static,
    ) -> Self {
        let tell = one_at_a_time(tell);
        let (inbox, incoming) = channel();
        let (to_table, at_table) = channel();
        let heeded = Arc::new(Heeded::default());
        let workers = Workers::begin(crew, &lexicon, to_table.clone());
        let keeper = Keeper::new(keep, to_table, Arc::clone(&tell), Arc::clone(&heeded));
        let table = Table::new(Arc::clone(&lexicon), workers, set.to_owned(), Arc::clone(&tell), Arc::clone(&heeded));
        let keeper = std::thread::spawn(move || keeper.run(&incoming));
        let table = std::thread::spawn(move || table.run(&at_table));
        Self { lexicon, inbox, tell, keeper, table, heeded }
    }

    /// Takes the next block of sound, 16 kHz mono. It never waits, and nothing is dropped.
    pub fn hear(&self, samples: &[i16]) {
        // The other end is there until the end.
        let _ = self.inbox.send(In::Sound(samples.to_vec()));
    }

    /// Gives an order that was not spoken.
    pub fn order(&self, order: Order) {
        let _ = self.inbox.send(In::Order(order));
    }

    /// Ends it with a pass over the whole recording, of which [`Event::Final`] tells how far it is.
    ///
    /// # Errors
    /// If the recording cannot be read again or a recogniser fails; the recording then stays as it is, to be recovered.
    pub fn end(self) -> Result<Ended<K>, LiveError> {
        let (lexicon, tell) = (Arc::clone(&self.lexicon), Arc::clone(&self.tell));
        let (keep, aside, workers) = self.stop();
        let (Some(keep), Some((aside, mut crew))) = (keep, aside.zip(workers.and_then(Workers::end))) else {
            return Err(LiveError::BrokenOff);
        };
        last::pass(&lexicon, &mut crew, keep, &aside, &*tell)
    }

    /// Ends it without that pass. What was recorded stays, to be recovered.
    pub fn leave(self) {
        let (_, _, workers) = self.stop();
        if let Some(workers) = workers {
            workers.end();
        }
    }

    fn stop(self) -> (Option<K>, Option<Aside>, Option<Workers>) {
        let _ = self.inbox.send(In::End);
        self.heeded.ending.store(true, Ordering::Relaxed);
        let keep = self.keeper.join().ok();
        let (aside, workers) = self.table.join().ok().unzip();
        (keep, aside, workers)
    }
}

fn one_at_a_time(tell: impl Fn(Event) + Send + Sync + 'static) -> Tell {
    let turn = Mutex::new(());
    Arc::new(move |event| {
        let _turn = turn.lock().unwrap_or_else(PoisonError::into_inner);
        tell(event);
    })
}

/// Everything that waits in a channel, one at least; `None` when nobody sends any more.
fn all_waiting<T>(receiver: &Receiver<T>) -> Option<Vec<T>> {
    let first = receiver.recv().ok()?;
    Some(std::iter::once(first).chain(receiver.try_iter()).collect())
}
