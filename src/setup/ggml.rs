//! A CTranslate2 Whisper and its vocabulary → a ggml file that whisper.cpp loads.
//! Takes the bytes of both; writes magic, sizes, mel filter bank, words and tensors, and gives the sizes.
//! Leaves alone: where the bytes come from and go to (`fetch`, the caller), any check against a known hash.
//! Of base, 245 tensors are written, the first being `decoder.positional_embedding`, 512 × 448, 32-bit.

use std::io::{self, Write};
use std::ops::ControlFlow;

use thiserror::Error;

use super::ctranslate2::{self, Variables};
use super::error::BadModel;
use super::tensors::{self, Kept, Sizes, Tensor};
use super::{mel, quantise, vocabulary};

/// "ggml" as a number.
pub(super) const MAGIC: u32 = 0x6767_6d6c;
/// The version of the quantised blocks, times the factor by which it is packed into the file type.
const QUANTISED_VERSION: u32 = 2 * 1000;

/// How exactly the matrices are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Precision {
    /// 16-bit floats, as published: twice the size, a little slower.
    F16,
    /// 8-bit whole numbers in blocks of 32 with a scale.
    Q8,
}

/// Why nothing, or not all, was written.
#[derive(Debug, Error)]
pub enum ConvertError {
    #[error(transparent)]
    Model(#[from] BadModel),
    #[error(transparent)]
    Write(#[from] io::Error),
    /// The caller broke off.
    #[error("the conversion was stopped")]
    Stopped,
}

/// Writes the ggml file. `each` is called before each tensor with its number from 1 and their count, and may break off.
///
/// # Errors
/// When the bytes are not a Whisper model with 16-bit weights, the vocabulary does not fit it, or writing fails.
pub fn convert(
    model: &[u8],
    vocabulary: &[u8],
    precision: Precision,
    out: &mut dyn Write,
    each: &mut dyn FnMut(usize, usize) -> ControlFlow<()>,
) -> Result<Sizes, ConvertError> {
    let variables = ctranslate2::read(model)?;
    let sizes = tensors::sizes(&variables)?;
    let words = vocabulary::read(vocabulary)?;
    if words.len() > sizes.vocabulary {
        return Err(BadModel::VocabularySize { found: words.len(), expected: sizes.vocabulary }.into());
    }
    refuse_key_biases(&variables, &sizes)?;
    let all = tensors::all(&sizes);
    // Everything is looked up once before anything is written.
    for tensor in &all {
        tensor.halves(&variables)?;
    }
    write_head(&sizes, precision, out)?;
    write_words(&words, out)?;
    for (index, tensor) in all.iter().enumerate() {
        if each(index + 1, all.len()).is_break() {
            return Err(ConvertError::Stopped);
        }
        write_tensor(tensor, &variables, precision, out)?;
    }
    out.flush()?;
    Ok(sizes)
}

/// The format has no place for a key's bias, so a model that has one would silently come out wrong.
fn refuse_key_biases(variables: &Variables<'_>, sizes: &Sizes) -> Result<(), BadModel> {
    for (name, parts, key) in tensors::key_biases(sizes) {
        let halves = variables.halves(&name, &[parts * sizes.state])?;
        let mut key = halves.iter().skip(2 * key * sizes.state).take(2 * sizes.state);
        // A zero may be negative: its only bit is then the sign, the highest of the second byte.
        if key.any(|byte| byte & 0x7f != 0) {
            return Err(BadModel::KeyBias { name });
        }
    }
    Ok(())
}

fn write_head(sizes: &Sizes, precision: Precision, out: &mut dyn Write) -> io::Result<()> {
    let file_type = match precision {
        Precision::F16 => 1,
        Precision::Q8 => 7 + QUANTISED_VERSION,
    };
    put(out, MAGIC)?;
    let (width, layers) = (sizes.state, sizes.text_layers);
    for size in [sizes.vocabulary, sizes.audio_context, width, sizes.audio_heads, sizes.audio_layers] {
        put_size(out, size)?;
    }
    for size in [sizes.text_context, width, sizes.text_heads, layers, sizes.mels] {
        put_size(out, size)?;
    }
    put(out, file_type)?;
    put_size(out, sizes.mels)?;
    put_size(out, mel::FREQUENCIES)?;
    out.write_all(&mel::bank(sizes.mels).into_iter().flat_map(f32::to_le_bytes).collect::<Vec<u8>>())
}

fn write_words(words: &[Vec<u8>], out: &mut dyn Write) -> io::Result<()> {
    put_size(out, words.len())?;
    for word in words {
        put_size(out, word.len())?;
        out.write_all(word)?;
    }
    Ok(())
}

fn write_tensor(
    tensor: &Tensor,
    variables: &Variables<'_>,
    precision: Precision,
    out: &mut dyn Write,
) -> Result<(), ConvertError> {
    let halves = tensor.halves(variables)?;
    // ggml's codes: 0 is a 32-bit float, 1 a 16-bit float, 8 a block of 8-bit whole numbers.
    let (code, bytes) = match (tensor.kept, precision) {
        (Kept::Full, _) => (0, quantise::full(halves)),
        (Kept::Half, _) | (Kept::Matrix, Precision::F16) => (1, halves.to_vec()),
        (Kept::Matrix, Precision::Q8) => (8, quantise::q8_0(halves)),
    };
    put_size(out, tensor.shape.len())?;
    put_size(out, tensor.name.len())?;
    put(out, code)?;
    for dimension in tensor.shape.iter().rev() {
        put_size(out, *dimension)?;
    }
    out.write_all(tensor.name.as_bytes())?;
    out.write_all(&bytes)?;
    Ok(())
}

pub(super) fn put(out: &mut dyn Write, number: u32) -> io::Result<()> {
    out.write_all(&number.to_le_bytes())
}

pub(super) fn put_size(out: &mut dyn Write, size: usize) -> io::Result<()> {
    put(out, u32::try_from(size).map_err(io::Error::other)?)
}

#[cfg(test)]
mod tests {
    use super::super::ctranslate2::tests::file;
    use super::super::ctranslate2::{FLOAT16, INT16};
    use super::*;
    use half::f16;
    use proptest::prelude::*;

    const WORDS: &[u8] = b"a\nb\nc\n<|endoftext|>\n";

    type Made = Vec<(String, Vec<usize>, u8, Vec<u8>)>;

    fn small_sizes() -> Sizes {
        let (audio_heads, audio_layers, text_heads, text_layers) = (2, 1, 2, 1);
        let (vocabulary, audio_context, state, text_context, mels) = (8, 3, 32, 4, 5);
        Sizes {
            vocabulary,
            audio_context,
            state,
            audio_heads,
            audio_layers,
            text_context,
            text_heads,
            text_layers,
            mels,
        }
    }

    /// A model of one layer, made up; every number says where it stands, keys' biases are zero.
    fn small() -> Made {
        let mut made: Made = vec![
            ("encoder/num_heads".into(), vec![], INT16, vec![2, 0]),
            ("decoder/num_heads".into(), vec![], INT16, vec![2, 0]),
        ];
        let keys = tensors::key_biases(&small_sizes());
        for tensor in tensors::all(&small_sizes()) {
            if made.iter().any(|(name, ..)| *name == tensor.from) {
                continue;
            }
            let count: usize = tensor.from_shape.iter().product();
            let key =
                keys.iter().find(|(name, ..)| *name == tensor.from).map_or(0..0, |key| key.2 * 32..key.2 * 32 + 32);
            let number = |at: usize| if key.contains(&at) { 0.0 } else { at as f32 / 64.0 };
            let bytes = (0..count).flat_map(|at| f16::from_f32(number(at)).to_le_bytes()).collect();
            made.push((tensor.from, tensor.from_shape, FLOAT16, bytes));
        }
        made
    }

    fn converted(model: &[u8], precision: Precision) -> Result<Vec<u8>, ConvertError> {
        let mut out = Vec::new();
        convert(model, WORDS, precision, &mut out, &mut |_, _| ControlFlow::Continue(()))?;
        Ok(out)
    }

    /// The type code, dimensions and bytes of a tensor in a written file.
    fn written<'a>(file: &'a [u8], name: &str) -> (u32, Vec<u32>, &'a [u8]) {
        let at = file.windows(name.len()).position(|window| window == name.as_bytes()).unwrap();
        let number = |at: usize| u32::from_le_bytes(file[at..at + 4].try_into().unwrap());
        // The count of dimensions is not known beforehand: take the one whose header fits.
        let fits = |count: usize| [number(at - 4 * count - 12), number(at - 4 * count - 8)];
        let count = (1..=3).find(|count| fits(*count) == [*count as u32, name.len() as u32]).unwrap();
        let dimensions = (0..count).map(|index| number(at - 4 * (count - index))).collect();
        (number(at - 4 * count - 4), dimensions, &file[at + name.len()..])
    }

    #[test]
    fn the_head_holds_the_sizes_the_bank_and_the_words() {
        let out = converted(&file(&small()), Precision::Q8).unwrap();
        let number = |at: usize| u32::from_le_bytes(out[at..at + 4].try_into().unwrap());
        let head: Vec<u32> = (0..14).map(|index| number(4 * index)).collect();
        assert_eq!(head, [MAGIC, 8, 3, 32, 2, 1, 4, 32, 2, 1, 5, 2007, 5, 201]);
        let words = 14 * 4 + 5 * 201 * 4;
        assert_eq!(number(words), 4);
        assert_eq!(&out[words + 4..words + 4 + 15], b"\x01\0\0\0a\x01\0\0\0b\x01\0\0\0c");
    }

    #[test]
    fn stacked_matrices_are_taken_apart() {
        let out = converted(&file(&small()), Precision::F16).unwrap();
        let first = |name: &str| {
            let (code, dimensions, bytes) = written(&out, name);
            (code, dimensions, f16::from_le_bytes([bytes[0], bytes[1]]).to_f32() * 64.0)
        };
        assert_eq!(first("encoder.blocks.0.attn.query.weight"), (1, vec![32, 32], 0.0));
        assert_eq!(first("encoder.blocks.0.attn.key.weight"), (1, vec![32, 32], 1024.0));
        assert_eq!(first("encoder.blocks.0.attn.value.weight"), (1, vec![32, 32], 2048.0));
        assert_eq!(first("decoder.blocks.0.cross_attn.key.weight"), (1, vec![32, 32], 0.0));
        assert_eq!(first("decoder.blocks.0.cross_attn.value.weight"), (1, vec![32, 32], 1024.0));
        let (code, dimensions, bytes) = written(&out, "decoder.blocks.0.attn.value.bias");
        assert_eq!((code, dimensions), (0, vec![32]));
        assert_eq!(f32::from_le_bytes(bytes[..4].try_into().unwrap()), 1.0, "value is the third part: 64 / 64");
        assert!(!String::from_utf8_lossy(&out).contains("key.bias"));
    }

    #[test]
    fn only_matrices_are_quantised() {
        let out = converted(&file(&small()), Precision::Q8).unwrap();
        let kind = |name: &str| (written(&out, name).0, written(&out, name).1);
        assert_eq!(kind("decoder.token_embedding.weight"), (8, vec![32, 8]));
        assert_eq!(kind("encoder.blocks.0.mlp.2.weight"), (8, vec![128, 32]));
        assert_eq!(kind("encoder.conv1.weight"), (1, vec![3, 5, 32]));
        assert_eq!(kind("encoder.conv1.bias"), (0, vec![1, 32]));
        assert_eq!(kind("encoder.positional_embedding"), (0, vec![32, 3]));
    }

    #[test]
    fn a_key_bias_is_refused_rather_than_dropped() {
        let mut made = small();
        let name = "decoder/layer_0/attention/linear_1/bias";
        made.iter_mut().find(|variable| variable.0 == name).unwrap().3[5] = 0x3c;
        let error = converted(&file(&made), Precision::F16).unwrap_err();
        assert_eq!(error.to_string(), format!("`{name}` has a key bias, which the written format cannot hold"));
    }

    #[test]
    fn a_missing_or_misshapen_variable_is_named_before_anything_is_written() {
        for (left_out, _, _, _) in small() {
            let made: Made = small().into_iter().filter(|(name, ..)| *name != left_out).collect();
            let mut out = Vec::new();
            let result = convert(&file(&made), WORDS, Precision::Q8, &mut out, &mut |_, _| ControlFlow::Continue(()));
            assert!(result.is_err(), "without {left_out}");
            assert_eq!(out, b"", "without {left_out}");
        }
        let mut made = small();
        made.last_mut().unwrap().1 = vec![4, 8];
        assert!(converted(&file(&made), Precision::F16).unwrap_err().to_string().ends_with("[32] was expected"));
    }

    #[test]
    fn the_caller_can_break_off() {
        let mut seen = Vec::new();
        let mut each = |number, of| {
            seen.push((number, of));
            if number == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let result = convert(&file(&small()), WORDS, Precision::Q8, &mut io::sink(), &mut each);
        assert!(matches!(result, Err(ConvertError::Stopped)));
        let count = tensors::all(&small_sizes()).len();
        assert_eq!(seen, [(1, count), (2, count), (3, count)]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn damaged_bytes_give_an_answer(
            damage in prop::collection::vec((0.0f64..1.0, any::<u8>()), 1..8), cut in 0.0f64..1.2, words in ".{0,40}",
        ) {
            let mut bytes = file(&small());
            let length = bytes.len() as f64;
            for (at, value) in damage {
                bytes[(at * length) as usize] = value;
            }
            bytes.truncate((cut * length) as usize);
            let mut go_on = |_, _| ControlFlow::Continue(());
            let _ = convert(&bytes, WORDS, Precision::Q8, &mut io::sink(), &mut go_on);
            let _ = convert(&file(&small()), words.as_bytes(), Precision::F16, &mut io::sink(), &mut go_on);
        }
    }
}
