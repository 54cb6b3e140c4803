//! The variables of a CTranslate2 Whisper → the tensors whisper.cpp expects, by name and in order.
//! Takes the variables; gives the model's sizes, and for each tensor which rows of which variable it is and in what
//! number type it is kept. Leaves alone: the bytes themselves (`quantise`, `ggml`).
//! CTranslate2 stacks query, key and value: rows 512 to 1023 of `encoder/layer_0/self_attention/linear_0/weight`
//! give `encoder.blocks.0.attn.key.weight`. A key has no bias: that stretch must be zero, and is left out.

use std::ops::Range;

use super::ctranslate2::Variables;
use super::error::BadModel;
use super::quantise::BLOCK;

/// The sizes of a model, as whisper.cpp's header has them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sizes {
    /// Tokens, 51,864 for English alone and 51,865 for many languages.
    pub vocabulary: usize,
    /// Positions of the encoder: 1500, 20 ms each.
    pub audio_context: usize,
    /// Width of the model.
    pub state: usize,
    pub audio_heads: usize,
    pub audio_layers: usize,
    /// Positions of the decoder, in tokens.
    pub text_context: usize,
    pub text_heads: usize,
    pub text_layers: usize,
    /// Bands of the mel filter bank.
    pub mels: usize,
}

/// The number type a tensor is kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kept {
    /// Always 32-bit: biases, norms, positions.
    Full,
    /// Always 16-bit: the two convolutions, which whisper.cpp does not quantise.
    Half,
    /// As the precision asked for: the matrices.
    Matrix,
}

/// One tensor to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Tensor {
    pub(super) name: String,
    /// The variable it comes from, and that variable's whole shape.
    pub(super) from: String,
    pub(super) from_shape: Vec<usize>,
    /// The rows (first dimension) of the variable that it is.
    pub(super) rows: Range<usize>,
    /// Its own dimensions, the slowest first.
    pub(super) shape: Vec<usize>,
    pub(super) kept: Kept,
}

impl Tensor {
    /// Its 16-bit floats, little-endian.
    pub(super) fn halves<'a>(&self, variables: &Variables<'a>) -> Result<&'a [u8], BadModel> {
        let all = variables.halves(&self.from, &self.from_shape)?;
        let row = self.from_shape.iter().skip(1).product::<usize>() * 2;
        all.get(self.rows.start * row..self.rows.end * row)
            .ok_or(BadModel::Cut { what: "a stacked matrix", at: self.rows.end })
    }
}

/// The sizes, each within what can be a Whisper.
pub(super) fn sizes(variables: &Variables<'_>) -> Result<Sizes, BadModel> {
    let [vocabulary, state] = two(variables, "decoder/embeddings/weight")?;
    let [audio_context, audio_state] = two(variables, "encoder/position_encodings/encodings")?;
    let [text_context, text_state] = two(variables, "decoder/position_encodings/encodings")?;
    let sizes = Sizes {
        vocabulary,
        audio_context,
        state,
        audio_heads: variables.number("encoder/num_heads")?,
        audio_layers: layers(variables, "encoder"),
        text_context,
        text_heads: variables.number("decoder/num_heads")?,
        text_layers: layers(variables, "decoder"),
        mels: variables.get("encoder/conv1/weight")?.shape.get(1).copied().unwrap_or(0),
    };
    within("the width of the model", state, state > 0 && state <= 4096 && state.is_multiple_of(BLOCK), "32 to 4096")?;
    within("the encoder's width", audio_state, audio_state == state, "the width of the model")?;
    within("the decoder's width", text_state, text_state == state, "the width of the model")?;
    within("the count of tokens", vocabulary, (1..=100_000).contains(&vocabulary), "1 to 100000")?;
    within("the count of mel bands", sizes.mels, (1..=256).contains(&sizes.mels), "1 to 256")?;
    for heads in [sizes.audio_heads, sizes.text_heads] {
        within("the count of heads", heads, heads > 0 && state.is_multiple_of(heads), "a divisor of the width")?;
    }
    for layers in [sizes.audio_layers, sizes.text_layers] {
        within("the count of layers", layers, (1..=64).contains(&layers), "1 to 64")?;
    }
    Ok(sizes)
}

/// All tensors of a model, in the order of the published files.
pub(super) fn all(sizes: &Sizes) -> Vec<Tensor> {
    let state = sizes.state;
    let mut list = List { state, tensors: Vec::new() };
    list.whole("decoder.positional_embedding", POSITIONS_OF_DECODER, &[sizes.text_context, state], Kept::Full);
    list.whole("encoder.positional_embedding", POSITIONS_OF_ENCODER, &[sizes.audio_context, state], Kept::Full);
    list.whole("decoder.token_embedding.weight", EMBEDDINGS, &[sizes.vocabulary, state], Kept::Matrix);
    for layer in 0..sizes.text_layers {
        list.block(&format!("decoder.blocks.{layer}"), &format!("decoder/layer_{layer}"));
        list.cross_attention(&format!("decoder.blocks.{layer}"), &format!("decoder/layer_{layer}/attention"));
    }
    list.norm("decoder.ln", "decoder/layer_norm");
    list.convolution("encoder.conv1", "encoder/conv1", sizes.mels);
    list.convolution("encoder.conv2", "encoder/conv2", state);
    for layer in 0..sizes.audio_layers {
        list.block(&format!("encoder.blocks.{layer}"), &format!("encoder/layer_{layer}"));
    }
    list.norm("encoder.ln_post", "encoder/layer_norm");
    list.tensors
}

/// The stretches of stacked biases that must be zero, as (variable, how many parts are stacked, which is the key's).
pub(super) fn key_biases(sizes: &Sizes) -> Vec<(String, usize, usize)> {
    let encoder = (0..sizes.audio_layers).map(|layer| format!("encoder/layer_{layer}/self_attention/linear_0/bias"));
    let decoder = (0..sizes.text_layers).map(|layer| format!("decoder/layer_{layer}/self_attention/linear_0/bias"));
    let cross = (0..sizes.text_layers).map(|layer| format!("decoder/layer_{layer}/attention/linear_1/bias"));
    encoder.chain(decoder).map(|name| (name, 3, 1)).chain(cross.map(|name| (name, 2, 0))).collect()
}

const POSITIONS_OF_DECODER: &str = "decoder/position_encodings/encodings";
const POSITIONS_OF_ENCODER: &str = "encoder/position_encodings/encodings";
const EMBEDDINGS: &str = "decoder/embeddings/weight";

/// The list being made.
struct List {
    state: usize,
    tensors: Vec<Tensor>,
}

impl List {
    fn push(&mut self, name: &str, from: &str, from_shape: &[usize], rows: Range<usize>, kept: Kept) {
        let shape = std::iter::once(rows.len()).chain(from_shape.iter().skip(1).copied()).collect();
        let (name, from, from_shape) = (name.to_owned(), from.to_owned(), from_shape.to_vec());
        self.tensors.push(Tensor { name, from, from_shape, rows, shape, kept });
    }

    fn whole(&mut self, name: &str, from: &str, shape: &[usize], kept: Kept) {
        self.push(name, from, shape, 0..shape.first().copied().unwrap_or(0), kept);
    }

    fn norm(&mut self, name: &str, from: &str) {
        let state = self.state;
        self.whole(&format!("{name}.weight"), &format!("{from}/gamma"), &[state], Kept::Full);
        self.whole(&format!("{name}.bias"), &format!("{from}/beta"), &[state], Kept::Full);
    }

    /// A matrix of so many outputs and inputs, with its bias.
    fn linear(&mut self, name: &str, from: &str, outputs: usize, inputs: usize) {
        self.whole(&format!("{name}.weight"), &format!("{from}/weight"), &[outputs, inputs], Kept::Matrix);
        self.whole(&format!("{name}.bias"), &format!("{from}/bias"), &[outputs], Kept::Full);
    }

    /// One of several square matrices that are stacked on each other, with its bias unless it is a key.
    fn stacked(&mut self, name: &str, from: &str, part: usize, parts: usize, bias: bool) {
        let (state, rows) = (self.state, part * self.state..(part + 1) * self.state);
        let (weight, weight_from) = (format!("{name}.weight"), format!("{from}/weight"));
        self.push(&weight, &weight_from, &[parts * state, state], rows.clone(), Kept::Matrix);
        if bias {
            self.push(&format!("{name}.bias"), &format!("{from}/bias"), &[parts * state], rows, Kept::Full);
        }
    }

    fn convolution(&mut self, name: &str, from: &str, inputs: usize) {
        let state = self.state;
        self.whole(&format!("{name}.weight"), &format!("{from}/weight"), &[state, inputs, 3], Kept::Half);
        self.whole(&format!("{name}.bias"), &format!("{from}/bias"), &[state], Kept::Full);
        // whisper.cpp adds this bias to a picture of time and width, and wants it as a column.
        if let Some(bias) = self.tensors.last_mut() {
            bias.shape = vec![state, 1];
        }
    }

    /// The feed-forward part and the self-attention of a layer.
    fn block(&mut self, name: &str, from: &str) {
        let state = self.state;
        self.norm(&format!("{name}.mlp_ln"), &format!("{from}/ffn/layer_norm"));
        self.linear(&format!("{name}.mlp.0"), &format!("{from}/ffn/linear_0"), 4 * state, state);
        self.linear(&format!("{name}.mlp.2"), &format!("{from}/ffn/linear_1"), state, 4 * state);
        self.norm(&format!("{name}.attn_ln"), &format!("{from}/self_attention/layer_norm"));
        let stack = format!("{from}/self_attention/linear_0");
        self.stacked(&format!("{name}.attn.query"), &stack, 0, 3, true);
        self.stacked(&format!("{name}.attn.key"), &stack, 1, 3, false);
        self.stacked(&format!("{name}.attn.value"), &stack, 2, 3, true);
        self.linear(&format!("{name}.attn.out"), &format!("{from}/self_attention/linear_1"), state, state);
    }

    /// The decoder's attention to the sound: only key and value are stacked.
    fn cross_attention(&mut self, name: &str, from: &str) {
        let state = self.state;
        self.norm(&format!("{name}.cross_attn_ln"), &format!("{from}/layer_norm"));
        self.linear(&format!("{name}.cross_attn.query"), &format!("{from}/linear_0"), state, state);
        self.stacked(&format!("{name}.cross_attn.key"), &format!("{from}/linear_1"), 0, 2, false);
        self.stacked(&format!("{name}.cross_attn.value"), &format!("{from}/linear_1"), 1, 2, true);
        self.linear(&format!("{name}.cross_attn.out"), &format!("{from}/linear_2"), state, state);
    }
}

fn two(variables: &Variables<'_>, name: &str) -> Result<[usize; 2], BadModel> {
    let shape = &variables.get(name)?.shape;
    shape.as_slice().try_into().map_err(|_| BadModel::Shape {
        name: name.to_owned(),
        found: shape.clone(),
        expected: vec![0, 0],
    })
}

fn layers(variables: &Variables<'_>, side: &str) -> usize {
    (0..=64).take_while(|layer| variables.has(&format!("{side}/layer_{layer}/self_attention/linear_0/weight"))).count()
}

fn within(what: &'static str, found: usize, fits: bool, allowed: &'static str) -> Result<(), BadModel> {
    if fits { Ok(()) } else { Err(BadModel::Dimension { what, found, allowed }) }
}
