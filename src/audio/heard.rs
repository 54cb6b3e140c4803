//! What a microphone gives, and why it gives nothing.
//! Takes nothing; gives values, and one line for each fault: which microphone, what is wrong, what to do. Leaves alone how one is
//! listened to (`microphone`).
//! "there is no microphone `usb`; there are: default (Default Audio Device)"

/// What comes from a microphone.
#[derive(Debug, PartialEq)]
pub enum Heard<'a> {
    /// Samples of one channel at 16 kHz.
    Samples(&'a [i16]),
    /// The microphone is gone, and nothing more comes: why, in a sentence. Opening it again may help.
    Lost(String),
}

/// Why a microphone cannot be listened to.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MicrophoneError {
    /// There is none at all.
    #[error("no microphone was found: connect one, choose one by its name, or give the sound on standard input")]
    NoDevice,
    /// None has this name.
    #[error("there is no microphone `{asked}`; there are: {}", .there.join("; "))]
    NoSuchDevice {
        /// What was asked for.
        asked: String,
        /// The names of those there are.
        there: Vec<String>,
    },
    /// Several have this name.
    #[error("`{asked}` may be any of these microphones, give more of its name: {}", .like.join("; "))]
    Several {
        /// What was asked for.
        asked: String,
        /// Their names.
        like: Vec<String>,
    },
    /// Another program has it.
    #[error("{device} is in use by another program: close that, or choose another microphone")]
    Busy {
        /// Its name.
        device: String,
    },
    /// The system does not let this program listen.
    #[error(
        "this program may not listen to {device}: allow it in the system's settings (on Linux, join the group `audio`)"
    )]
    NotAllowed {
        /// Its name.
        device: String,
    },
    /// It is there no more, or was never connected.
    #[error("{device} is not connected, or is no microphone: connect it, or choose another")]
    Gone {
        /// Its name.
        device: String,
    },
    /// The system says something else.
    #[error("{device} cannot be listened to ({said}): choose another microphone")]
    Failed {
        /// Its name.
        device: String,
        /// What the system says.
        said: String,
    },
    /// This program was built without.
    #[error(
        "this program was built without microphones: build it with `cargo build --release`, without \
         --no-default-features, or give the sound on standard input"
    )]
    NotBuiltIn,
}
