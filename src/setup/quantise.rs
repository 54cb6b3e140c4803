//! 16-bit floats → the number types of a ggml file.
//! Takes little-endian 16-bit floats as bytes; gives them as 32-bit floats or as blocks of 8-bit whole numbers.
//! Leaves alone: which tensor gets which type (`tensors`).
//! A block "q8_0" is 32 numbers: a 16-bit scale (the largest magnitude / 127), then 32 whole numbers, each rounded
//! half away from zero. It is what ggml calls `quantize_row_q8_0_ref`, bit for bit.

use half::f16;

/// How many numbers share a scale.
pub(super) const BLOCK: usize = 32;
/// Bytes of a block: its scale and its numbers.
pub(super) const BLOCK_BYTES: usize = 2 + BLOCK;

/// As 32-bit floats, little-endian. An odd last byte is left out.
pub(super) fn full(halves: &[u8]) -> Vec<u8> {
    numbers(halves).flat_map(f32::to_le_bytes).collect()
}

/// As blocks of 8-bit whole numbers. A last block that is not whole is left out; the caller checks the row length.
pub(super) fn q8_0(halves: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(halves.len() / (2 * BLOCK) * BLOCK_BYTES);
    for block in halves.chunks_exact(2 * BLOCK) {
        let largest = numbers(block).fold(0.0_f32, |largest, number| largest.max(number.abs()));
        let scale = largest / 127.0;
        let inverse = if scale == 0.0 { 0.0 } else { 1.0 / scale };
        out.extend(f16::from_f32(scale).to_le_bytes());
        // The cast saturates, so that a number that is not finite cannot do harm.
        out.extend(numbers(block).flat_map(|number| ((number * inverse).round() as i8).to_le_bytes()));
    }
    out
}

fn numbers(halves: &[u8]) -> impl Iterator<Item = f32> + '_ {
    halves.chunks_exact(2).map(|pair| match pair {
        &[low, high] => f16::from_le_bytes([low, high]).to_f32(),
        _ => 0.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn halves(numbers: &[f32]) -> Vec<u8> {
        numbers.iter().flat_map(|number| f16::from_f32(*number).to_le_bytes()).collect()
    }

    #[test]
    fn a_block_is_a_scale_and_32_whole_numbers() {
        let mut numbers = [0.0_f32; BLOCK];
        numbers[0] = -2.0;
        numbers[1] = 1.0;
        numbers[2] = 0.5;
        let block = q8_0(&halves(&numbers));
        assert_eq!(block.len(), BLOCK_BYTES);
        assert_eq!(f16::from_le_bytes([block[0], block[1]]), f16::from_f32(2.0 / 127.0));
        // 1.0 is 63.5 steps and 0.5 is 31.75: the first is rounded away from zero.
        assert_eq!(block[2..6].iter().map(|byte| *byte as i8).collect::<Vec<_>>(), [-127, 64, 32, 0]);
    }

    #[test]
    fn a_block_of_zeros_stays_zero() {
        assert_eq!(q8_0(&[0; 2 * BLOCK]), [0; BLOCK_BYTES]);
    }

    #[test]
    fn a_half_becomes_the_same_full_number() {
        assert_eq!(full(&halves(&[1.5, -0.25])), [1.5_f32.to_le_bytes(), (-0.25_f32).to_le_bytes()].concat());
    }

    proptest! {
        #[test]
        fn any_bytes_give_whole_blocks(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            prop_assert_eq!(q8_0(&bytes).len(), bytes.len() / 64 * BLOCK_BYTES);
            prop_assert_eq!(full(&bytes).len(), bytes.len() / 2 * 4);
        }

        #[test]
        fn no_number_moves_by_more_than_half_a_step(numbers in prop::collection::vec(-4.0f32..4.0, BLOCK)) {
            let rounded: Vec<f32> = numbers.iter().map(|number| f16::from_f32(*number).to_f32()).collect();
            let block = q8_0(&halves(&numbers));
            let scale = f16::from_le_bytes([block[0], block[1]]).to_f32();
            for (number, byte) in rounded.iter().zip(&block[2..]) {
                let back = scale * f32::from(*byte as i8);
                // The scale itself is rounded to 16 bits: one part in 2048, over up to 127 steps.
                prop_assert!((number - back).abs() <= scale * (0.5 + 127.0 / 2048.0), "{number} became {back}");
            }
        }
    }
}
