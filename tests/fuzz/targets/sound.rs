//! Bytes of a sound file → a recording that keeps its promises, or one short line.
//! Takes the bytes as a file of any format. Leaves alone what is said in it.
//!
//! a wav of 65,535 channels is refused, and does not end the program

use std::io::Cursor;

use spoken_exam::audio::{self, Incoming, PIECE, Sound};

/// A recording is read up to so many seconds, and so much more for what a resampler holds back.
const LONGEST_MS: u64 = 4 * 3600 * 1000 + 700_000;

/// Samples of a stream that are given at once.
const BLOCK: usize = 1600;

pub(super) fn target(bytes: &[u8]) {
    match audio::decode(bytes.to_vec(), "visit.wav") {
        Ok(recording) => {
            assert!(!recording.samples.is_empty(), "a recording without samples");
            let sound: &dyn Sound = &recording.samples;
            let within = |piece: &[f32]| piece.iter().all(|sample| (-1.0..=1.0).contains(sample));
            assert!(
                sound.pieces(PIECE).all(|piece| within(&piece.expect("it can be read"))),
                "a sample beyond full scale"
            );
            assert!(recording.length_ms() <= LONGEST_MS, "{} ms", recording.length_ms());
            assert!(recording.warnings.iter().all(|warning| is_a_line(warning)), "{:?}", recording.warnings);
        }
        Err(fault) => assert!(is_a_line(&fault.to_string()), "{fault}"),
    }
    streamed(bytes);
}

/// The same bytes as they come in through a pipe.
fn streamed(bytes: &[u8]) {
    let mut incoming = match Incoming::new(Cursor::new(bytes.to_vec())) {
        Ok(incoming) => incoming,
        Err(fault) => return assert!(is_a_line(&fault.to_string()), "{fault}"),
    };
    loop {
        match incoming.next() {
            Ok(Some(block)) => assert!((1..=BLOCK).contains(&block.len()), "a block of {} samples", block.len()),
            Ok(None) => break,
            Err(fault) => return assert!(is_a_line(&fault.to_string()), "{fault}"),
        }
    }
    assert_eq!(incoming.next().expect("it ended without a fault"), None, "there is nothing behind the end");
}

fn is_a_line(text: &str) -> bool {
    !text.is_empty() && text.len() < 600 && !text.contains('\n')
}
