//! Whose part of a batch it is: one worker at a time.
//! Takes the target and the part; gives a claim that lasts while it lives, or tells that somebody else has it. A folder has the
//! system's lock, which ends with its process. A bucket has objects that only one can make, renewed while the worker lives; whoever
//! finds one waits and sees whether it is renewed, so that no two clocks need agree. Leaves alone the work.
//!
//! A worker is killed and its part started again: in a folder it goes on at once, in a bucket after half a minute

use std::fs::{File, TryLockError};
use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use super::storage::{Listed, Storage};
use super::{BatchError, Shard};

/// A claim that was not renewed for so long is given up.
const LEASE: Duration = Duration::from_secs(30);
/// It is renewed so often.
const RENEWED: Duration = Duration::from_secs(8);
/// What the name of a part's lock ends with.
const LOCK: &str = ".claim";
/// How often a lock is tried that somebody may only be looking at, and how long is waited between.
const LOOKS: u32 = 10;
const NAP: Duration = Duration::from_millis(20);

/// That a part is ours, until this is dropped.
pub(super) enum Claim {
    /// By a lock of the system; none where the file system has no locks.
    Locked(#[expect(dead_code, reason = "the lock lasts as long as the file is open")] Option<File>),
    /// By an object of the bucket.
    Renewed(Renewing),
}

impl Claim {
    /// Claims a part. `say` is told when it has to wait.
    pub(super) fn take(storage: &Arc<Storage>, shard: Shard, say: &mut dyn FnMut(String)) -> Result<Self, BatchError> {
        match storage.place().folder() {
            Some(folder) => locked(folder, shard).map(Self::Locked),
            None => Renewing::take(storage, shard, say).map(Self::Renewed),
        }
    }

    /// Looks anew whether it is still ours.
    pub(super) fn look(&self) -> Result<(), BatchError> {
        match self {
            Self::Renewed(renewing) if renewing.shared.look()? => Err(BatchError::TakenOver),
            _ => Ok(()),
        }
    }

    /// Whether somebody else has taken it meanwhile, as happens to a worker that stood still for long.
    pub(super) fn is_lost(&self) -> bool {
        match self {
            Self::Locked(_) => false,
            Self::Renewed(renewing) => renewing.shared.lost.load(Ordering::Relaxed),
        }
    }
}

/// The parts that others work on must be of the same number, or two would do the same file.
fn locked(folder: &Path, shard: Shard) -> Result<Option<File>, BatchError> {
    let claims = folder.join("manifest");
    let failed = |fault: io::Error| BatchError::Claim { place: claims.display().to_string(), fault: fault.to_string() };
    let own = claims.join(format!("{}{LOCK}", shard.in_names()));
    let file = File::options().create(true).truncate(false).write(true).open(own).map_err(failed)?;
    // Somebody who only looks, below, holds it for a moment.
    let mut looks = 0;
    while let Err(fault) = file.try_lock() {
        match fault {
            TryLockError::WouldBlock if looks < LOOKS => looks += 1,
            TryLockError::WouldBlock => return Err(BatchError::Claimed(shard)),
            TryLockError::Error(fault) if fault.kind() == io::ErrorKind::Unsupported => return Ok(None),
            TryLockError::Error(fault) => return Err(failed(fault)),
        }
        std::thread::sleep(NAP);
    }
    for entry in std::fs::read_dir(&claims).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let name = entry.file_name();
        let other = name.to_string_lossy().strip_suffix(LOCK).and_then(Shard::of_name);
        let Some(other) = other.filter(|other| other.of != shard.of) else { continue };
        let is_held =
            File::open(entry.path()).is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)));
        if is_held {
            return Err(BatchError::OtherParts { own: shard, other });
        }
    }
    Ok(Some(file))
}

/// A claim in a bucket: `claims/3-of-4/000002` is the second; whoever made the one with the highest number has the part.
pub(super) struct Renewing {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    storage: Arc<Storage>,
    shard: Shard,
    number: u64,
    lost: AtomicBool,
    ended: Mutex<bool>,
    bell: Condvar,
}

/// Where the objects are.
const CLAIMS: &str = "claims";

fn object_of(shard: Shard, number: u64) -> String {
    format!("{CLAIMS}/{}/{number:06}", shard.in_names())
}

/// The claims of parts that are wanted, each with its part and number.
fn claims(storage: &Storage, wanted: impl Fn(Shard) -> bool) -> Result<Vec<(Shard, u64, Listed)>, BatchError> {
    let told = |claim: Listed| {
        let (shard, number) = claim.name.strip_prefix(CLAIMS)?.strip_prefix('/')?.split_once('/')?;
        Some((Shard::of_name(shard)?, number.parse().ok()?, claim))
    };
    let all = storage.list(CLAIMS)?.into_iter().filter_map(told);
    Ok(all.filter(|(shard, ..)| wanted(*shard)).collect())
}

/// The number of a part's newest claim.
fn last(storage: &Storage, shard: Shard) -> Result<Option<u64>, BatchError> {
    Ok(claims(storage, |of| of == shard)?.into_iter().map(|(_, number, _)| number).max())
}

impl Renewing {
    fn take(storage: &Arc<Storage>, shard: Shard, say: &mut dyn FnMut(String)) -> Result<Self, BatchError> {
        let mut number = last(storage, shard)?.map_or(1, |last| last + 1);
        if number > 1 {
            say(format!(
                "part {shard} was claimed before: waiting {} s to see whether that worker lives",
                LEASE.as_secs()
            ));
            if !is_given_up(storage, |of| of == shard)? {
                return Err(BatchError::Claimed(shard));
            }
        }
        while !storage.put_new(&object_of(shard, number), content(0))? {
            // Two found it given up, and the other was first.
            if last(storage, shard)?.is_some_and(|last| last >= number) {
                return Err(BatchError::Claimed(shard));
            }
            number += 1;
        }
        let shared = Shared {
            storage: Arc::clone(storage),
            shard,
            number,
            lost: false.into(),
            ended: false.into(),
            bell: Condvar::new(),
        };
        let shared = Arc::new(shared);
        let renewing = Arc::clone(&shared);
        let own = Self { shared, thread: Some(std::thread::spawn(move || renewing.renew())) };
        own.no_other_parts(say)?;
        Ok(own)
    }

    fn no_other_parts(&self, say: &mut dyn FnMut(String)) -> Result<(), BatchError> {
        let own = self.shared.shard;
        let others = |of: Shard| of.of != own.of;
        let claims = claims(&self.shared.storage, others)?;
        let Some(&(other, ..)) = claims.first() else { return Ok(()) };
        say(format!(
            "part {other} was claimed, which is of another number: waiting {} s to see whether that worker lives",
            LEASE.as_secs()
        ));
        if !is_given_up(&self.shared.storage, others)? {
            return Err(BatchError::OtherParts { own, other });
        }
        Ok(claims.iter().try_for_each(|(_, _, claim)| self.shared.storage.delete(&claim.name))?)
    }
}

/// Whether none of these claims is renewed or made within the time in which a living worker would have renewed it.
fn is_given_up(storage: &Storage, wanted: impl Fn(Shard) -> bool) -> Result<bool, BatchError> {
    let before = claims(storage, &wanted)?;
    let mut waited = Duration::ZERO;
    while waited < LEASE {
        std::thread::sleep(Duration::from_secs(1));
        waited += Duration::from_secs(1);
        let now = claims(storage, &wanted)?;
        // Whoever ended well took its claim away.
        if now.iter().any(|claim| !before.contains(claim)) {
            return Ok(false);
        }
        if now.is_empty() {
            return Ok(true);
        }
    }
    Ok(true)
}

fn content(turn: u64) -> Vec<u8> {
    format!("{} {turn}\n", std::process::id()).into_bytes()
}

impl Shared {
    /// Looks whether the claim is lost: another is newer, or whoever took over has ended and taken all claims away.
    fn look(&self) -> Result<bool, BatchError> {
        let own = last(&self.storage, self.shard)? == Some(self.number);
        self.lost.fetch_or(!own, Ordering::Relaxed);
        Ok(!own)
    }

    fn renew(&self) {
        for turn in 1.. {
            let ended = self.ended.lock().unwrap_or_else(PoisonError::into_inner);
            let (ended, _) =
                self.bell.wait_timeout_while(ended, RENEWED, |ended| !*ended).unwrap_or_else(PoisonError::into_inner);
            if *ended {
                return;
            }
            drop(ended);
            match self.look() {
                Ok(true) => return,
                // A bucket that is away for a moment may be back at the next turn.
                Ok(false) => drop(self.storage.put(&object_of(self.shard, self.number), content(turn))),
                Err(_) => {}
            }
        }
    }
}

impl Drop for Renewing {
    fn drop(&mut self) {
        *self.shared.ended.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.shared.bell.notify_all();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        // Left behind, it costs whoever comes next half a minute.
        if !self.shared.lost.load(Ordering::Relaxed) {
            for number in (1..=self.shared.number).rev() {
                let _ = self.shared.storage.delete(&object_of(self.shared.shard, number));
            }
        }
    }
}
