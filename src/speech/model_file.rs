//! A model file → its identity and vocabulary, checked before the recogniser sees it.
//! Takes a path; gives the SHA-256, the precision and the tokens' bytes, or says what is wrong with the file.
//! Leaves alone the weights: they are measured, not read. The recogniser may abort the process on a bad file, so
//! everything it relies upon is looked at here first.
//!
//! A download that broke off gives `ModelTruncated` with the length it should have had.

use std::fs::File;
use std::io::{BufReader, ErrorKind, Read, Seek};
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::speech::transcriber::{ModelIdentity, SpeechError};

/// What a model file says about itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelFile {
    /// Its name, hash and precision.
    pub identity: ModelIdentity,
    /// The bytes of every text token, by token number; numbers behind the last are special tokens.
    pub vocabulary: Vec<Vec<u8>>,
}

/// "ggml" as the first four bytes, read as a little-endian number.
const MAGIC: u32 = 0x6767_6d6c;
/// Text tokens of every Whisper model; numbers from here on are special.
const TEXT_TOKENS: i32 = 50_256;

/// Reads and checks a model file.
///
/// # Errors
/// If the file is missing, cannot be read, is no Whisper model in ggml form, or ends early.
pub fn inspect(path: &Path) -> Result<ModelFile, SpeechError> {
    let unreadable = |source| SpeechError::ModelUnreadable { path: path.to_owned(), source };
    let file = File::open(path).map_err(|error| match error.kind() {
        ErrorKind::NotFound => SpeechError::ModelMissing(path.to_owned()),
        _ => unreadable(error),
    })?;
    let about = file.metadata().map_err(unreadable)?;
    if !about.is_file() {
        return Err(not_a_model(path, "it is not a file"));
    }
    let mut walk = Walk { path, file: BufReader::with_capacity(1 << 16, file), at: 0, has: about.len() };
    let shape = walk.shape()?;
    walk.skip_filters(shape.mels)?;
    let vocabulary = walk.vocabulary(shape.vocabulary)?;
    walk.tensors(shape.tensors())?;
    let sha256 = walk.sha256()?;
    let name = path.file_stem().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(ModelFile { identity: ModelIdentity { name, sha256, precision: precision(shape.format) }, vocabulary })
}

fn not_a_model(path: &Path, reason: &str) -> SpeechError {
    SpeechError::NotAModel { path: path.to_owned(), reason: reason.to_owned() }
}

/// The name of a file's number format, as whisper.cpp numbers them.
fn precision(format: i32) -> Option<String> {
    let name = match format % 1000 {
        0 => "f32",
        1 => "f16",
        2 => "q4_0",
        3 => "q4_1",
        7 => "q8_0",
        8 => "q5_0",
        9 => "q5_1",
        _ => return None,
    };
    Some(name.to_owned())
}

/// Bytes and numbers in a block of a tensor, by ggml's type number.
fn block(kind: i32) -> Option<(u64, u64)> {
    Some(match kind {
        0 => (4, 1),
        1 | 30 => (2, 1),
        2 => (18, 32),
        3 => (20, 32),
        6 => (22, 32),
        7 => (24, 32),
        8 => (34, 32),
        10 => (84, 256),
        11 => (110, 256),
        12 => (144, 256),
        13 => (176, 256),
        14 => (210, 256),
        _ => return None,
    })
}

/// The figures at the head of the file that decide how the rest is laid out.
struct Shape {
    vocabulary: i32,
    audio_layers: i32,
    text_layers: i32,
    mels: i32,
    format: i32,
}

impl Shape {
    /// How many tensors a model of this shape has.
    fn tensors(&self) -> usize {
        let layers = 15 * i64::from(self.audio_layers) + 24 * i64::from(self.text_layers);
        usize::try_from(11 + layers).unwrap_or(usize::MAX)
    }
}

/// A walk through the file that knows where it is.
struct Walk<'a> {
    path: &'a Path,
    file: BufReader<File>,
    at: u64,
    has: u64,
}

impl Walk<'_> {
    fn needs(&self, more: u64) -> Result<(), SpeechError> {
        let needs = self.at.saturating_add(more);
        if needs <= self.has {
            return Ok(());
        }
        Err(SpeechError::ModelTruncated { path: self.path.to_owned(), has: self.has, needs })
    }

    fn unreadable(&self, source: std::io::Error) -> SpeechError {
        SpeechError::ModelUnreadable { path: self.path.to_owned(), source }
    }

    fn wrong(&self, reason: &str) -> SpeechError {
        not_a_model(self.path, reason)
    }

    fn bytes(&mut self, count: usize) -> Result<Vec<u8>, SpeechError> {
        self.needs(count as u64)?;
        let mut bytes = vec![0; count];
        self.file.read_exact(&mut bytes).map_err(|error| self.unreadable(error))?;
        self.at += count as u64;
        Ok(bytes)
    }

    fn skip(&mut self, count: u64) -> Result<(), SpeechError> {
        self.needs(count)?;
        let by = i64::try_from(count).unwrap_or(i64::MAX);
        self.file.seek_relative(by).map_err(|error| self.unreadable(error))?;
        self.at += count;
        Ok(())
    }

    fn number(&mut self) -> Result<i32, SpeechError> {
        let mut number = [0; 4];
        number.copy_from_slice(&self.bytes(4)?);
        Ok(i32::from_le_bytes(number))
    }

    /// A number of things, refused where no model has so many.
    fn count(&mut self, most: i32, what: &str) -> Result<i32, SpeechError> {
        let count = self.number()?;
        if (1..=most).contains(&count) { Ok(count) } else { Err(self.wrong(&format!("its {what} is {count}"))) }
    }

    fn shape(&mut self) -> Result<Shape, SpeechError> {
        // Whatever the length, a file with other first bytes is something else and not a broken download.
        if self.has < 4 || self.number()?.cast_unsigned() != MAGIC {
            return Err(self.wrong("it does not start with the letters ggml"));
        }
        let vocabulary = self.count(60_000, "vocabulary size")?;
        self.count(1500, "audio context")?;
        let audio_state = self.count(4096, "audio width")?;
        self.count(64, "number of audio heads")?;
        let audio_layers = self.count(64, "number of audio layers")?;
        self.count(448, "text context")?;
        let text_state = self.count(4096, "text width")?;
        self.count(64, "number of text heads")?;
        let text_layers = self.count(64, "number of text layers")?;
        let mels = self.count(256, "number of mel bands")?;
        let format = self.number()?;
        if audio_state != text_state || vocabulary <= TEXT_TOKENS {
            return Err(self.wrong("its parts do not fit together as those of a Whisper model do"));
        }
        Ok(Shape { vocabulary, audio_layers, text_layers, mels, format })
    }

    fn skip_filters(&mut self, mels: i32) -> Result<(), SpeechError> {
        let bands = self.count(256, "number of mel filters")?;
        let width = self.count(4096, "width of the mel filters")?;
        if bands != mels {
            return Err(self.wrong("its mel filters do not fit its shape"));
        }
        self.skip(4 * u64::from(bands.unsigned_abs()) * u64::from(width.unsigned_abs()))
    }

    fn vocabulary(&mut self, most: i32) -> Result<Vec<Vec<u8>>, SpeechError> {
        let count = self.count(most, "number of tokens")?;
        let mut tokens = Vec::new();
        for _ in 0..count {
            let length = self.number()?;
            if !(0..=4096).contains(&length) {
                return Err(self.wrong("a token of its vocabulary has an impossible length"));
            }
            tokens.push(self.bytes(length.unsigned_abs() as usize)?);
        }
        tokens.truncate(TEXT_TOKENS.unsigned_abs() as usize);
        // The recogniser looks the space up and ends the process if it is not there.
        if !tokens.iter().any(|token| token == b" ") {
            return Err(self.wrong("its vocabulary has no space"));
        }
        Ok(tokens)
    }

    fn tensors(&mut self, expected: usize) -> Result<(), SpeechError> {
        for found in 0..expected {
            // A file cut exactly between two tensors ends well formed, yet too early.
            if self.at == self.has {
                let left = (expected - found) as u64;
                self.needs(left.saturating_mul(16))?;
            }
            self.skip_tensor()?;
        }
        if self.at == self.has { Ok(()) } else { Err(self.wrong("it goes on behind the last weight")) }
    }

    fn skip_tensor(&mut self) -> Result<(), SpeechError> {
        let (dimensions, name, kind) = (self.number()?, self.number()?, self.number()?);
        let Some((bytes, numbers)) = block(kind) else {
            return Err(self.wrong("a weight is stored in an unknown form"));
        };
        if !(1..=4).contains(&dimensions) || !(1..=256).contains(&name) {
            return Err(self.wrong("a weight has an impossible shape"));
        }
        let mut elements = 1u64;
        for _ in 0..dimensions {
            let size = self.count(1 << 20, "width of a weight")?;
            elements = elements.saturating_mul(u64::from(size.unsigned_abs()));
        }
        self.skip(u64::from(name.unsigned_abs()))?;
        self.skip((elements / numbers).saturating_mul(bytes))
    }

    fn sha256(&mut self) -> Result<String, SpeechError> {
        self.file.rewind().map_err(|error| self.unreadable(error))?;
        let mut hash = Sha256::new();
        let mut buffer = vec![0; 1 << 20];
        loop {
            let read = self.file.read(&mut buffer).map_err(|error| self.unreadable(error))?;
            let Some(bytes) = buffer.get(..read).filter(|bytes| !bytes.is_empty()) else { break };
            hash.update(bytes);
        }
        Ok(hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of the right form with one layer each and weights of one number.
    fn small_model() -> Vec<u8> {
        let mut file = Vec::new();
        let mut number = |n: u32| file.extend(n.to_le_bytes());
        for n in [MAGIC, 50_300, 1500, 8, 1, 1, 448, 8, 1, 1, 2, 1007, 2, 3] {
            number(n);
        }
        (0..6).for_each(|_| number(0));
        number(2);
        file.extend([1, 0, 0, 0, b' ', 3, 0, 0, 0, b'y', b'e', b's']);
        for _ in 0..11 + 15 + 24 {
            for n in [1u32, 1, 0, 1] {
                file.extend(n.to_le_bytes());
            }
            file.extend([b'w', 0, 0, 0, 0]);
        }
        file
    }

    fn inspected(bytes: &[u8]) -> Result<ModelFile, SpeechError> {
        let folder = std::env::temp_dir().join(format!("model-file-{}-{:p}", std::process::id(), bytes));
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join("small-q8_0.bin");
        std::fs::write(&path, bytes).unwrap();
        let result = inspect(&path);
        std::fs::remove_dir_all(&folder).unwrap();
        result
    }

    #[test]
    fn a_whole_file_is_named_and_its_vocabulary_read() {
        let file = inspected(&small_model()).unwrap();
        assert_eq!(file.identity.name, "small-q8_0");
        assert_eq!(file.identity.precision.as_deref(), Some("q8_0"));
        assert_eq!(file.identity.sha256.len(), 64);
        assert_eq!(file.vocabulary, [b" ".to_vec(), b"yes".to_vec()]);
    }

    #[test]
    fn a_file_cut_anywhere_is_refused() {
        let whole = small_model();
        for length in 4..whole.len() {
            let result = inspected(&whole[..length]);
            assert!(matches!(result, Err(SpeechError::ModelTruncated { .. })), "{length}: {result:?}");
        }
    }

    #[test]
    fn other_files_are_refused() {
        let check = |bytes: &[u8]| {
            let result = inspected(bytes);
            assert!(matches!(result, Err(SpeechError::NotAModel { .. })), "{result:?}");
        };
        check(b"");
        check(b"RIFF....WAVE and so on");
        let mut longer = small_model();
        longer.push(0);
        check(&longer);
        let mut odd = small_model();
        odd[4..8].copy_from_slice(&0u32.to_le_bytes());
        check(&odd);
        let missing = inspect(Path::new("no/such/model.bin"));
        assert!(matches!(missing, Err(SpeechError::ModelMissing(_))), "{missing:?}");
        assert!(matches!(
            inspect(&std::env::temp_dir()),
            Err(SpeechError::NotAModel { .. } | SpeechError::ModelUnreadable { .. })
        ));
    }
}
