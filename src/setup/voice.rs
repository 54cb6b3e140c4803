//! Silero's weights → the file of voice activity that whisper.cpp loads.
//! Takes the bytes of the archive (a TorchScript file, which is a zip with one entry a tensor, 32-bit floats); gives
//! the file's bytes: magic, kind, release, sizes, then the tensors, convolutions in 16 bits. Leaves alone where the
//! bytes come from (`fetch`) and go to; nothing of the archive is executed.
//! Its entry `…/data/3`, 198,144 bytes, gives `_model.encoder.0.reparam_conv.weight`, 3 × 129 × 128, 16-bit.

use std::io::{Cursor, Read, Write};

use half::f16;

use super::ggml::{MAGIC, put, put_size};

/// The folder of the tensors inside the archive.
const FOLDER: &str = "VADr_v6_10_25_noths_re/data";
/// What whisper.cpp calls this kind of network, and the release of its weights.
const KIND: &str = "silero-16k";
const RELEASE: [usize; 3] = [6, 2, 0];
/// Samples a frame, and samples that a frame looks back (whisper.cpp reads the figure and mirrors the frame instead).
const FRAME: [usize; 2] = [512, 64];
/// Channels in, channels out and width of each convolution.
const LAYERS: [[usize; 3]; 4] = [[129, 128, 3], [128, 64, 3], [64, 64, 3], [64, 128, 3]];
/// Width and state of the recurrent layer, channels in and out of the last one.
const REST: [usize; 4] = [128, 128, 128, 1];

/// The tensors in the order in which they are written: name, entry in the archive, dimensions (the slowest first,
/// those of one left out, as whisper.cpp's own converter has it), and whether it is kept in 16 bits.
const TENSORS: [(&str, usize, &[usize], bool); 15] = [
    ("_model.encoder.0.reparam_conv.weight", 3, &[128, 129, 3], true),
    ("_model.encoder.0.reparam_conv.bias", 4, &[128], false),
    ("_model.encoder.1.reparam_conv.weight", 5, &[64, 128, 3], true),
    ("_model.encoder.1.reparam_conv.bias", 6, &[64], false),
    ("_model.encoder.2.reparam_conv.weight", 7, &[64, 64, 3], true),
    ("_model.encoder.2.reparam_conv.bias", 8, &[64], false),
    ("_model.encoder.3.reparam_conv.weight", 9, &[128, 64, 3], true),
    ("_model.encoder.3.reparam_conv.bias", 10, &[128], false),
    ("_model.decoder.rnn.weight_ih", 11, &[512, 128], false),
    ("_model.decoder.rnn.weight_hh", 12, &[512, 128], false),
    ("_model.decoder.rnn.bias_ih", 13, &[512], false),
    ("_model.decoder.rnn.bias_hh", 14, &[512], false),
    ("_model.decoder.decoder.2.weight", 15, &[128], true),
    ("_model.decoder.decoder.2.bias", 16, &[], false),
    ("_model.stft.forward_basis_buffer", 2, &[258, 1, 256], true),
];

/// The bytes of the file that is loaded.
///
/// # Errors
/// What is not as expected: no such archive, or a tensor that is missing or of another size.
pub fn convert(archive: &[u8]) -> Result<Vec<u8>, String> {
    let mut archive = zip::ZipArchive::new(Cursor::new(archive)).map_err(|error| error.to_string())?;
    let mut out = Vec::new();
    write_head(&mut out).map_err(|error| error.to_string())?;
    for (name, entry, shape, half) in TENSORS {
        let numbers = numbers(&mut archive, entry, shape.iter().product())?;
        write_tensor(&mut out, name, shape, half, &numbers).map_err(|error| error.to_string())?;
    }
    Ok(out)
}

fn write_head(out: &mut Vec<u8>) -> std::io::Result<()> {
    put(out, MAGIC)?;
    put_size(out, KIND.len())?;
    out.write_all(KIND.as_bytes())?;
    let layers = LAYERS.iter().flatten();
    for &size in RELEASE.iter().chain(&FRAME).chain(&[LAYERS.len()]).chain(layers).chain(&REST) {
        put_size(out, size)?;
    }
    Ok(())
}

/// The 32-bit floats of an entry, which must be as many as expected: no more is ever unpacked.
fn numbers(archive: &mut zip::ZipArchive<Cursor<&[u8]>>, entry: usize, count: usize) -> Result<Vec<f32>, String> {
    let path = format!("{FOLDER}/{entry}");
    let packed = archive.by_name(&path).map_err(|error| format!("{path}: {error}"))?;
    let mut bytes = Vec::new();
    packed.take(4 * count as u64 + 1).read_to_end(&mut bytes).map_err(|error| format!("{path}: {error}"))?;
    if bytes.len() != 4 * count {
        return Err(format!("{path} does not have {} bytes", 4 * count));
    }
    let (floats, _) = bytes.as_chunks::<4>();
    Ok(floats.iter().map(|float| f32::from_le_bytes(*float)).collect())
}

fn write_tensor(out: &mut Vec<u8>, name: &str, shape: &[usize], half: bool, numbers: &[f32]) -> std::io::Result<()> {
    put_size(out, shape.len())?;
    put_size(out, name.len())?;
    put(out, u32::from(half))?;
    for dimension in shape.iter().rev() {
        put_size(out, *dimension)?;
    }
    out.write_all(name.as_bytes())?;
    if half {
        out.extend(numbers.iter().flat_map(|number| f16::from_f32(*number).to_le_bytes()));
    } else {
        out.extend(numbers.iter().flat_map(|number| number.to_le_bytes()));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::voice;
    use proptest::prelude::*;

    /// An archive of the right layout with made-up weights: every number says which tensor it is of.
    fn made(change: impl Fn(usize, Vec<u8>) -> Option<Vec<u8>>) -> Vec<u8> {
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (_, entry, shape, _) in TENSORS {
            let count: usize = shape.iter().product();
            let bytes = (0..count).flat_map(|_| (entry as f32).to_le_bytes()).collect();
            let Some(bytes) = change(entry, bytes) else { continue };
            zip.start_file(format!("{FOLDER}/{entry}"), zip::write::SimpleFileOptions::default()).unwrap();
            zip.write_all(&bytes).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    #[test]
    fn the_file_has_its_size_head_and_tensors_in_their_places() {
        let out = convert(&made(|_, bytes| Some(bytes))).unwrap();
        assert_eq!(out.len() as u64, voice::BYTES);
        assert_eq!(&out[..18], b"lmgg\x0a\0\0\0silero-16k");
        let number = |at: usize| u32::from_le_bytes(out[at..at + 4].try_into().unwrap());
        let head: Vec<u32> = (0..22).map(|index| number(18 + 4 * index)).collect();
        assert_eq!(head[..9], [6, 2, 0, 512, 64, 4, 129, 128, 3]);
        assert_eq!(head[18..], [128, 128, 128, 1]);
        let behind =
            |name: &str| out.windows(name.len()).position(|window| window == name.as_bytes()).unwrap() + name.len();
        let half = |name: &str| f16::from_le_bytes(out[behind(name)..][..2].try_into().unwrap()).to_f32();
        let full = |name: &str| f32::from_le_bytes(out[behind(name)..][..4].try_into().unwrap());
        assert_eq!(half("_model.encoder.0.reparam_conv.weight"), 3.0);
        assert_eq!(half("_model.stft.forward_basis_buffer"), 2.0);
        assert_eq!(half("_model.decoder.decoder.2.weight"), 15.0);
        assert_eq!(full("_model.decoder.rnn.weight_hh"), 12.0);
        assert_eq!(full("_model.decoder.decoder.2.bias"), 16.0);
    }

    #[test]
    fn another_layout_is_named() {
        let gone = made(|entry, bytes| (entry != 7).then_some(bytes));
        assert_eq!(convert(&gone).unwrap_err(), format!("{FOLDER}/7: specified file not found in archive"));
        let long = made(|entry, bytes| Some(if entry == 16 { [bytes.clone(), bytes].concat() } else { bytes }));
        assert_eq!(convert(&long).unwrap_err(), format!("{FOLDER}/16 does not have 4 bytes"));
        assert!(convert(b"no archive").is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn damaged_bytes_give_an_answer(
            damage in prop::collection::vec((0.0f64..1.0, any::<u8>()), 1..8), cut in 0.0f64..1.2,
        ) {
            let mut bytes = made(|_, bytes| Some(bytes));
            let length = bytes.len() as f64;
            for (at, value) in damage {
                bytes[(at * length) as usize] = value;
            }
            bytes.truncate((cut * length) as usize);
            let _ = convert(&bytes);
        }
    }
}
