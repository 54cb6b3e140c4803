//! What can go wrong between a file's name and its samples.
//! Takes nothing; gives one line each: which file, what is wrong, what to do. Leaves alone what is only odd (a warning on
//! the recording).
//! "visit.wav is empty (0 bytes): copy it again from the recorder"

use std::path::PathBuf;

/// Why a file gave no recording.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// The file could not be opened, or reading it failed.
    #[error("cannot read {}: {fault}; check the name, and that you may read it", .path.display())]
    Unreadable {
        /// The path as it was given.
        path: PathBuf,
        /// What the system said.
        #[source]
        fault: std::io::Error,
    },
    /// A folder, a device, a pipe.
    #[error("{} is not a file: name one sound file", .path.display())]
    NotAFile {
        /// The path as it was given.
        path: PathBuf,
    },
    /// The file has no bytes.
    #[error("{file} is empty (0 bytes): copy it again from the recorder")]
    Empty {
        /// Name of the file.
        file: String,
    },
    /// The content is of no known format, whatever the name says.
    #[error(
        "{file} is not a sound file of a known kind, whatever its name ends in: \
         use wav, flac, mp3, m4a, ogg, opus or webm, or convert it to wav"
    )]
    NotSound {
        /// Name of the file.
        file: String,
    },
    /// A container without sound, such as a film without a sound track.
    #[error("{file} ({container}) holds no sound track: choose the file that holds the sound")]
    NoSoundTrack {
        /// Name of the file.
        file: String,
        /// Short name of the container.
        container: String,
    },
    /// The sound is coded or laid out in a way that cannot be decoded here.
    #[error("{file} cannot be decoded here ({detail}): convert it to a 16-bit wav with one channel")]
    Unsupported {
        /// Name of the file.
        file: String,
        /// What the decoder said.
        detail: String,
    },
    /// Nothing could be decoded.
    #[error("{file} is damaged and no sound could be read ({detail}): copy it again from the recorder")]
    Damaged {
        /// Name of the file.
        file: String,
        /// What the decoder said.
        detail: String,
    },
    /// The file is well formed but holds not one sample.
    #[error("{file} holds no sound (0 samples): record again, or choose another file")]
    NoSamples {
        /// Name of the file.
        file: String,
    },
    /// A sample rate at which nobody records speech.
    #[error("{file} states {rate_hz} samples a second; from 1000 to 768000 can be read: convert it to a 16 kHz wav")]
    SampleRate {
        /// Name of the file.
        file: String,
        /// The rate stated, in Hz.
        rate_hz: u32,
    },
    /// More channels than a recorder has.
    #[error("{file} has {channels} channels; 1 to 32 can be read: convert it to a wav with one channel")]
    Channels {
        /// Name of the file.
        file: String,
        /// The number of channels stated.
        channels: usize,
    },
    /// More than half of the samples are not numbers or infinite.
    #[error("{file}: {percent} % of its samples are not numbers: export it again as a 16-bit wav")]
    NotNumbers {
        /// Name of the file.
        file: String,
        /// Share of the samples, rounded down.
        percent: u64,
    },
    /// What of a long recording does not stay in memory could not be written to a disk.
    #[error(
        "cannot put the sound aside in {} while it is worked on: {fault}; make room there (ten minutes need 40 MB), or \
         name another folder in TMPDIR", .folder.display()
    )]
    NotPutAside {
        /// Where it was to lie.
        folder: PathBuf,
        /// What the system said.
        #[source]
        fault: std::io::Error,
    },
    /// What comes in is plainly something else than what is wanted.
    #[error(
        "the incoming sound is {what}; wanted are raw samples (16 kHz, one channel, 16 bits, little-endian) or a wav file"
    )]
    NotIncoming {
        /// What it is.
        what: String,
    },
    /// Reading what comes in failed.
    #[error("reading the incoming sound failed: {fault}")]
    Broken {
        /// What the system said.
        #[source]
        fault: std::io::Error,
    },
}
