//! Blocks in columns.
//! Takes blocks and the height of a column; gives which lines stand where. A block is broken only where it is long, or higher than the
//! column; a title is never the last of a column. Every column takes at least one line, so that any text comes to an end. Leaves alone
//! where columns are on the page.
//!
//! Ten findings of one line each are five in each of two columns

use super::blocks::Block;

/// Up to which line a text is placed: a block, and a line of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct Cursor {
    pub(super) block: usize,
    pub(super) line: usize,
}

/// Lines of a block in a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    pub(super) block: usize,
    /// Its lines, from and up to but without.
    pub(super) lines: (usize, usize),
    /// Their upper edge, from the column's.
    pub(super) top: f32,
}

/// A block of more lines than these may be broken.
const KEPT: usize = 5;

/// A column of a height, from a place in the text on; gives what stands in it, its height, and where the text goes on.
pub(super) fn column(blocks: &[Block], from: Cursor, height: f32) -> (Vec<Placed>, f32, Cursor) {
    let (mut placed, mut used, mut at) = (Vec::new(), 0.0, from);
    while let Some(block) = blocks.get(at.block) {
        let top = if placed.is_empty() { 0.0 } else { used + block.before };
        let rest = block.lines.len() - at.line;
        let needed = top + block.height(rest) + if block.heads { first_lines(blocks.get(at.block + 1)) } else { 0.0 };
        let many = if needed <= height {
            rest
        } else if placed.is_empty() {
            (0..=rest).rev().find(|many| block.height(*many) <= height).unwrap_or(0).max(1)
        } else if rest > KEPT && !block.heads {
            (0..rest).rev().find(|many| top + block.height(*many) <= height).filter(|many| *many > 1).unwrap_or(0)
        } else {
            0
        };
        if many == 0 {
            break;
        }
        placed.push(Placed { block: at.block, lines: (at.line, at.line + many), top });
        used = top + block.height(many);
        at = if many == rest { Cursor { block: at.block + 1, line: 0 } } else { Cursor { line: at.line + many, ..at } };
        if many < rest {
            break;
        }
    }
    (placed, used, at)
}

// What must follow a title in the same column.
fn first_lines(next: Option<&Block>) -> f32 {
    next.map_or(0.0, |next| {
        let many = if next.lines.len() > KEPT { 2 } else { next.lines.len() };
        next.before + next.height(many)
    })
}

/// Two columns side by side, as low as they can be where the text ends in them.
pub(super) fn two_columns(blocks: &[Block], from: Cursor, height: f32) -> (Vec<Vec<Placed>>, f32, Cursor) {
    let filled = |height: f32| {
        let (left, left_height, middle) = column(blocks, from, height);
        let (right, right_height, end) = column(blocks, middle, height);
        (vec![left, right], left_height.max(right_height), end)
    };
    let whole = filled(height);
    if whole.2.block < blocks.len() {
        return whole;
    }
    let (mut too_low, mut enough) = (0.0, height);
    let mut best = whole;
    while enough - too_low > 0.5 {
        let middle = f32::midpoint(too_low, enough);
        let tried = filled(middle);
        // A column takes a line even where it has no room for it.
        if tried.2.block == blocks.len() && tried.1 <= middle {
            (best, enough) = (tried, middle);
        } else {
            too_low = middle;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::super::blocks::Role;
    use super::*;

    fn blocks(lines: &[usize], heads: &[usize]) -> Vec<Block> {
        let block = |(at, many): (usize, &usize)| Block {
            role: Role::Text,
            lines: vec![Vec::new(); *many],
            leading: 10.0,
            before: 0.0,
            heads: heads.contains(&at),
        };
        lines.iter().enumerate().map(block).collect()
    }

    #[test]
    fn columns_are_level_and_hold_everything_in_order() {
        let blocks = blocks(&[1; 10], &[]);
        let (columns, height, end) = two_columns(&blocks, Cursor::default(), 400.0);
        assert_eq!((columns[0].len(), columns[1].len(), height, end.block), (5, 5, 50.0, 10));
        let (columns, _, end) = two_columns(&blocks, Cursor::default(), 30.0);
        assert_eq!((columns[0].len(), columns[1].len(), end.block), (3, 3, 6));
    }

    #[test]
    fn a_title_is_never_last_and_a_short_block_is_whole() {
        let (placed, _, end) = column(&blocks(&[2, 1, 3], &[1]), Cursor::default(), 40.0);
        assert_eq!((placed.len(), end), (1, Cursor { block: 1, line: 0 }));
        let (placed, _, end) = column(&blocks(&[2, 4], &[]), Cursor::default(), 50.0);
        assert_eq!((placed.len(), end), (1, Cursor { block: 1, line: 0 }));
    }

    #[test]
    fn what_is_higher_than_a_column_is_broken() {
        let blocks = blocks(&[2, 40], &[]);
        let (_, _, end) = column(&blocks, Cursor::default(), 100.0);
        assert_eq!(end, Cursor { block: 1, line: 8 });
        let (placed, _, end) = column(&blocks, end, 100.0);
        assert_eq!((placed[0].lines, end), ((8, 18), Cursor { block: 1, line: 18 }));
        // Even where not one line has room.
        assert_eq!(column(&blocks, end, 3.0).2, Cursor { block: 1, line: 19 });
    }
}
