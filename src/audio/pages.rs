//! Lost pages of an Ogg file.
//! Takes the file's bytes; gives where pages are missing or damaged, so that the sound behind them keeps its time. Needed
//! because the demuxer leaves lost pages out without a word, and times the first page behind them as if nothing were lost.
//! Leaves alone files of other formats (none found) and what is inside a page.
//! pages 1, 2, 4 → page 4 follows a loss

use std::collections::BTreeMap;
use std::io::{self, Read, Seek, SeekFrom};

use symphonia::core::checksum::Crc32;
use symphonia::core::io::Monitor;

const MARKER: [u8; 4] = *b"OggS";
const HEADER_BYTES: usize = 27;
/// Bytes of the header that hold its checksum, counted as zeros in the checksum.
const CHECKSUM: std::ops::Range<usize> = 22..26;
/// After so many damaged pages the search ends: a crafted file could make each of them cost 64 kB of reading.
const MAX_DAMAGED: usize = 2000;

/// A place where one or more pages are missing from a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Loss {
    /// The stream: the track's number.
    pub(crate) serial: u32,
    /// End of the last good page before, in the stream's own time units.
    pub(crate) before: i64,
    /// End of the first page behind that gives packets.
    pub(crate) after: i64,
    /// Packets which that page gives.
    pub(crate) n_packets: usize,
}

/// All losses in the order of the file; none where it is not Ogg, or cannot be read (the decoder will say so).
pub(crate) fn lost_pages<R: Read + Seek>(source: &mut R) -> Vec<Loss> {
    let mut losses = Vec::new();
    let mut streams: BTreeMap<u32, Stream> = BTreeMap::new();
    let mut start = [0; MARKER.len()];
    if source.read_exact(&mut start).is_err() || start != MARKER || source.rewind().is_err() {
        return losses;
    }
    let mut n_damaged = 0;
    while n_damaged < MAX_DAMAGED {
        match next_page(source) {
            Ok(Some(page)) => losses.extend(streams.entry(page.serial).or_default().take(&page)),
            Ok(None) => n_damaged += 1,
            Err(_) => break,
        }
    }
    losses
}

struct Page {
    serial: u32,
    sequence: u32,
    granule: i64,
    /// Its first packet began on the page before.
    continues: bool,
    /// Packets that end on it.
    n_packets: usize,
    /// Its last packet ends on a later page.
    is_open: bool,
}

/// What is known of a stream behind its latest page.
#[derive(Default)]
struct Stream {
    sequence: Option<u32>,
    end: i64,
    is_open: bool,
    is_after_loss: bool,
}

impl Stream {
    fn take(&mut self, page: &Page) -> Option<Loss> {
        let follows = self.sequence.is_none_or(|last| page.sequence == last.wrapping_add(1));
        self.sequence = Some(page.sequence);
        self.is_after_loss |= !follows;
        self.is_open &= follows;
        // The demuxer drops a packet whose beginning was lost, so this counts the packets it will give.
        let is_headless = page.continues && !self.is_open;
        let n_packets = page.n_packets.saturating_sub(usize::from(is_headless));
        self.is_open = page.is_open && !(is_headless && page.n_packets == 0);
        // A page on which no packet ends carries -1 for its time.
        if n_packets == 0 || page.granule < 0 {
            return None;
        }
        let before = std::mem::replace(&mut self.end, page.granule);
        let was_lost = std::mem::take(&mut self.is_after_loss);
        was_lost.then_some(Loss { serial: page.serial, before, after: page.granule, n_packets })
    }
}

/// The next page; None where its checksum is wrong, and then the search goes on behind its marker, as the demuxer's does.
fn next_page<R: Read + Seek>(source: &mut R) -> io::Result<Option<Page>> {
    find_marker(source)?;
    let behind_marker = source.stream_position()?;
    let mut header = [0; HEADER_BYTES];
    let (marker, rest) = header.split_at_mut(MARKER.len());
    marker.copy_from_slice(&MARKER);
    source.read_exact(rest)?;
    let stated = four(&header, CHECKSUM.start);
    if let Some(checksum) = header.get_mut(CHECKSUM) {
        checksum.fill(0);
    }
    let mut segments = vec![0; usize::from(header[26])];
    source.read_exact(&mut segments)?;
    let mut body = vec![0; segments.iter().map(|&n| usize::from(n)).sum()];
    source.read_exact(&mut body)?;
    let mut checksum = Crc32::new(0);
    for part in [&header[..], &segments, &body] {
        checksum.process_buf_bytes(part);
    }
    if checksum.crc() != stated {
        source.seek(SeekFrom::Start(behind_marker))?;
        return Ok(None);
    }
    let granule = u64::from(four(&header, 6)) | u64::from(four(&header, 10)) << 32;
    Ok(Some(Page {
        serial: four(&header, 14),
        sequence: four(&header, 18),
        granule: granule.cast_signed(),
        continues: header[5] & 1 != 0,
        n_packets: segments.iter().filter(|&&n| n < 255).count(),
        is_open: segments.last() == Some(&255),
    }))
}

fn find_marker<R: Read>(source: &mut R) -> io::Result<()> {
    let mut window = [0; MARKER.len()];
    let mut byte = [0; 1];
    while window != MARKER {
        source.read_exact(&mut byte)?;
        window = [window[1], window[2], window[3], byte[0]];
    }
    Ok(())
}

/// The little-endian number in the four header bytes from `at`, which is a constant below 24.
fn four(header: &[u8; HEADER_BYTES], at: usize) -> u32 {
    u32::from_le_bytes([header[at], header[at + 1], header[at + 2], header[at + 3]])
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// A page of packets of these lengths; a length of 255 is a packet that goes on.
    fn page(sequence: u32, granule: i64, continues: bool, lengths: &[u8]) -> Vec<u8> {
        let mut bytes = MARKER.to_vec();
        bytes.extend([0, u8::from(continues)]);
        bytes.extend(granule.to_le_bytes());
        bytes.extend(7_u32.to_le_bytes());
        bytes.extend(sequence.to_le_bytes());
        bytes.extend([0; 4]);
        bytes.push(u8::try_from(lengths.len()).unwrap());
        bytes.extend(lengths);
        bytes.extend(vec![9; lengths.iter().map(|&n| usize::from(n)).sum()]);
        let mut checksum = Crc32::new(0);
        checksum.process_buf_bytes(&bytes);
        bytes[CHECKSUM].copy_from_slice(&checksum.crc().to_le_bytes());
        bytes
    }

    #[track_caller]
    fn check(pages: &[Vec<u8>], losses: &[Loss]) {
        assert_eq!(lost_pages(&mut Cursor::new(pages.concat())), losses);
    }

    const LOSS: Loss = Loss { serial: 7, before: 100, after: 300, n_packets: 2 };

    #[test]
    fn a_missing_page_is_a_loss() {
        let pages = [page(0, 0, false, &[9]), page(1, 100, false, &[5, 5]), page(3, 300, false, &[5, 5])];
        check(&pages, &[LOSS]);
        check(&pages[..2], &[]);
    }

    #[test]
    fn a_damaged_page_is_a_loss() {
        let mut damaged = page(2, 200, false, &[5, 5]);
        damaged[30] ^= 1;
        check(&[page(1, 100, false, &[5]), damaged, page(3, 300, false, &[5, 5])], &[LOSS]);
    }

    #[test]
    fn a_packet_that_lost_its_beginning_is_not_counted() {
        check(&[page(1, 100, false, &[5]), page(3, 300, true, &[4, 5, 5])], &[LOSS]);
        let only_an_end = page(3, 200, true, &[4]);
        check(&[page(1, 100, false, &[5]), only_an_end, page(4, 300, false, &[5, 5])], &[LOSS]);
    }

    #[test]
    fn other_files_have_no_lost_pages() {
        for other in [&b""[..], b"Og", b"RIFF and more", b"OggS", b"OggSOggSOggS"] {
            check(&[other.to_vec()], &[]);
        }
    }
}
