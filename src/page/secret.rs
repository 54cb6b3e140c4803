//! Secrets: who holds one may ask.
//! Takes the system's randomness; gives 128 bits written in hex, and compares what is told with them in a time that does not
//! tell how much of it was right. Leaves alone where a secret travels (`guard`).
//!
//! `Secret::fresh()?.is("0")` is false

use sha2::{Digest, Sha256};

use crate::page::error::CannotServe;

/// A secret of one run of the program.
pub(super) struct Secret(String);

impl Secret {
    /// A new one.
    pub(super) fn fresh() -> Result<Self, CannotServe> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).map_err(|error| CannotServe::NoRandomness(error.to_string()))?;
        Ok(Self(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// How it is written.
    pub(super) fn written(&self) -> &str {
        &self.0
    }

    // What is compared are hashes: how far two of them agree tells nothing of how far the secrets do.
    /// Whether it was told.
    pub(super) fn is(&self, told: &str) -> bool {
        Sha256::digest(self.0.as_bytes()) == Sha256::digest(told.as_bytes())
    }
}

// A secret must not come into a message by chance.
impl std::fmt::Debug for Secret {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("Secret")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_long_new_and_itself_alone() {
        let (one, other) = (Secret::fresh().unwrap(), Secret::fresh().unwrap());
        assert_eq!(one.written().len(), 32);
        assert!(one.is(one.written()) && !one.is(other.written()));
        assert!(
            !one.is("") && !one.is(&one.written()[..31]) && !one.is(&one.written().to_uppercase().replace('0', "O"))
        );
        assert_eq!(format!("{one:?}"), "Secret");
    }
}
