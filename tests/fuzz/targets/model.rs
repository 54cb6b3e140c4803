//! Bytes that setting up and loading read as models → what they hold, or what is wrong with them.
//! Takes one letter for what the rest is: `c` weights of CTranslate2, `v` a vocabulary, `z` the archive of voice activity, `g` a
//! ggml file. Leaves alone what a recogniser makes of them.
//!
//! weights whose shape promises more numbers than there are bytes are refused before anything is written

use std::io::Write;
use std::ops::ControlFlow;
use std::sync::LazyLock;

use spoken_exam::setup::{ConvertError, Precision, convert, convert_voice};
use spoken_exam::speech::model_file::inspect;

/// The smallest model that is taken, and a vocabulary that fits it.
const WEIGHTS: &[u8] = include_bytes!("../corpus/model/weights-of-one-layer");
const VOCABULARY: &[u8] = b"!\n\"\n\xc4\xa0reflex\n<|endoftext|>\n";

pub(super) fn target(bytes: &[u8]) {
    let Some((kind, rest)) = bytes.split_first() else { return };
    match kind {
        b'c' => converted(&expanded(rest), VOCABULARY),
        b'v' => converted(&expanded(WEIGHTS.get(1..).unwrap_or_default()), rest),
        b'z' => archived(rest),
        b'g' => inspected(rest),
        _ => {}
    }
}

/// Zeros of weights are written as 0xfd 0xfd and their number: the smallest model has 60 kB of numbers, whose values matter little.
fn expanded(bytes: &[u8]) -> Vec<u8> {
    let (mut out, mut rest) = (Vec::new(), bytes);
    while let Some((first, behind)) = rest.split_first() {
        if let [0xfd, 0xfd, low, high, behind @ ..] = rest {
            out.resize(out.len() + usize::from(u16::from_le_bytes([*low, *high])), 0);
            rest = behind;
        } else {
            out.push(*first);
            rest = behind;
        }
    }
    out
}

fn converted(weights: &[u8], vocabulary: &[u8]) {
    for precision in Precision::ALL {
        let mut out = Vec::new();
        let result = convert(weights, vocabulary, precision, &mut out, &mut |_, _| ControlFlow::Continue(()));
        match result {
            Ok(sizes) => {
                let least = 2 * sizes.state * (sizes.audio_context + sizes.text_context);
                assert!(out.len() > least, "{sizes:?} in {} bytes", out.len());
            }
            Err(ConvertError::Model(fault)) => {
                assert!(out.is_empty(), "bytes were written and then: {fault}");
                assert!(!fault.to_string().is_empty());
            }
            Err(fault) => panic!("{fault}"),
        }
    }
}

fn archived(archive: &[u8]) {
    match convert_voice(archive) {
        Ok(file) => assert_eq!(file.len() as u64, spoken_exam::speech::voice::BYTES),
        Err(fault) => assert!(!fault.is_empty()),
    }
}

fn inspected(bytes: &[u8]) {
    static FOLDER: LazyLock<tempfile::TempDir> = LazyLock::new(|| tempfile::tempdir().expect("a folder"));
    let mut file = tempfile::NamedTempFile::new_in(FOLDER.path()).expect("a file");
    file.write_all(bytes).expect("it can be written");
    match inspect(file.path()) {
        Ok(model) => assert!(model.vocabulary.iter().any(|token| token == b" "), "a recogniser looks it up"),
        Err(fault) => assert!(fault.to_string().contains(&*file.path().to_string_lossy()), "{fault}"),
    }
}
