//! What stands for microphones in a program that was built without them.
//! Takes what `microphone` takes; says that it cannot be done here, and what to do. Leaves everything alone.
//!
//! "this program was built without microphones: build it with `cargo build --release`, …"

use super::heard::{Heard, MicrophoneError};

/// A microphone that is listened to: there are none here.
#[derive(Debug)]
pub enum Microphone {}

impl Microphone {
    /// Whether this program can listen to microphones.
    pub const BUILT_IN: bool = false;

    /// Names of the microphones.
    ///
    /// # Errors
    /// Always: this program was built without.
    pub fn devices() -> Result<Vec<String>, MicrophoneError> {
        Err(MicrophoneError::NotBuiltIn)
    }

    /// Listens to a microphone.
    ///
    /// # Errors
    /// Always: this program was built without.
    pub fn open(_device: Option<&str>, _take: impl FnMut(Heard<'_>) + Send + 'static) -> Result<Self, MicrophoneError> {
        Err(MicrophoneError::NotBuiltIn)
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        match *self {}
    }
}
