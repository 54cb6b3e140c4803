//! A place that was named → a folder or a bucket.
//! Takes a path, or `s3://BUCKET/PREFIX`; gives which it is. Leaves alone whether it is there (`storage`, `source`).
//!
//! "s3://ward/visits" is the bucket ward, below visits; "visits" is a folder

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// Where recordings come from, or drafts go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A folder of this machine, or one that it sees; a single file, for what comes in.
    Folder(PathBuf),
    /// A bucket that speaks S3, with what all names begin with (may be empty).
    Bucket {
        /// The bucket's name.
        bucket: String,
        /// Slashes between, none at either end.
        prefix: String,
    },
}

/// Why a place cannot be meant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoPlace {
    /// Another scheme.
    #[error("`{0}` is no place for a batch: name a folder, or s3://BUCKET/PREFIX")]
    Unknown(String),
    /// No bucket behind `s3://`.
    #[error("`{0}` names no bucket: write s3://BUCKET or s3://BUCKET/PREFIX")]
    NoBucket(String),
}

impl FromStr for Place {
    type Err = NoPlace;

    fn from_str(named: &str) -> Result<Self, NoPlace> {
        let Some((scheme, rest)) = named.split_once("://") else { return Ok(Self::Folder(named.into())) };
        if scheme != "s3" {
            return Err(NoPlace::Unknown(named.to_owned()));
        }
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        if bucket.is_empty() {
            return Err(NoPlace::NoBucket(named.to_owned()));
        }
        let parts: Vec<&str> = prefix.split('/').filter(|part| !part.is_empty()).collect();
        Ok(Self::Bucket { bucket: bucket.to_owned(), prefix: parts.join("/") })
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Folder(folder) => write!(f, "{}", folder.display()),
            Self::Bucket { bucket, prefix } if prefix.is_empty() => write!(f, "s3://{bucket}"),
            Self::Bucket { bucket, prefix } => write!(f, "s3://{bucket}/{prefix}"),
        }
    }
}

impl Place {
    /// The folder, if it is one.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        if let Self::Folder(folder) = self { Some(folder) } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_a_folder_or_a_bucket() {
        let bucket = |bucket: &str, prefix: &str| Place::Bucket { bucket: bucket.into(), prefix: prefix.into() };
        for (named, expected) in [
            ("visits", Place::Folder("visits".into())),
            ("s3://ward", bucket("ward", "")),
            ("s3://ward/", bucket("ward", "")),
            ("s3://ward/visits//monday/", bucket("ward", "visits/monday")),
            ("a:b", Place::Folder("a:b".into())),
        ] {
            assert_eq!(named.parse(), Ok(expected), "{named}");
        }
        assert_eq!(bucket("ward", "visits/monday").to_string(), "s3://ward/visits/monday");
        for named in ["gs://ward", "http://ward/visits", "s3://", "s3:///visits"] {
            let fault = named.parse::<Place>().unwrap_err().to_string();
            assert!(fault.contains(named) && fault.contains("s3://BUCKET"), "{fault}");
        }
    }
}
