//! What the bytes of a container tell and its reader does not.
//! Takes the bytes; gives where Ogg pages are lost and whether an mp4 ends inside one of its boxes. Leaves alone the sound.
//! an mp4 whose last box states 900 bytes of which 300 are there → cut

use std::io::{self, Read, Seek, SeekFrom};

use super::pages::{Loss, lost_pages};

/// Losses that the reader leaves out without a word.
pub(crate) struct Clues {
    /// Where Ogg pages are lost.
    pub(crate) losses: Vec<Loss>,
    /// Whether the file is an mp4 that ends inside a box.
    pub(crate) is_cut: bool,
}

impl Clues {
    /// Reads what there is to know; none of it where the bytes cannot be read, as the decoder will say so.
    pub(crate) fn of<R: Read + Seek>(source: &mut R) -> Self {
        let losses = lost_pages(source);
        Self { losses, is_cut: ends_inside_a_box(source).unwrap_or(false) }
    }
}

/// Walks the outermost boxes of an mp4: a size of four bytes, a name of four, and a long size where the first is 1.
fn ends_inside_a_box<R: Read + Seek>(source: &mut R) -> io::Result<bool> {
    let end = source.seek(SeekFrom::End(0))?;
    let mut at = 0;
    while at < end {
        source.seek(SeekFrom::Start(at))?;
        let (mut size, mut name, mut long_size) = ([0; 4], [0; 4], [0; 8]);
        if end - at < 8 {
            return Ok(at > 0);
        }
        source.read_exact(&mut size)?;
        source.read_exact(&mut name)?;
        if at == 0 && name != *b"ftyp" && name != *b"styp" {
            return Ok(false);
        }
        let length = match u32::from_be_bytes(size) {
            // The last box, up to the end of the file.
            0 => return Ok(false),
            1 => {
                source.read_exact(&mut long_size)?;
                u64::from_be_bytes(long_size)
            }
            short => u64::from(short),
        };
        if length < 8 {
            return Ok(true);
        }
        at = at.saturating_add(length);
    }
    Ok(at > end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[track_caller]
    fn check(bytes: &[u8], is_cut: bool) {
        assert_eq!(Clues::of(&mut Cursor::new(bytes)).is_cut, is_cut, "{bytes:?}");
    }

    #[test]
    fn an_mp4_is_cut_where_its_last_box_is() {
        let whole = b"\0\0\0\x0cftypM4A \0\0\0\x0bmdat123\0\0\0\x01free\0\0\0\0\0\0\0\x1112";
        check(whole, true);
        check(&whole[..23], false);
        check(&whole[..22], true);
        check(&whole[..14], true);
        check(b"\0\0\0\x0cftypM4A \0\0\0\0mdat123", false);
        check(b"\0\0\0\x0cftypM4A \0\0\0\x03mdat123", true);
        check(b"RIFF\0\0\0\x0c and so on", false);
        check(b"", false);
    }
}
