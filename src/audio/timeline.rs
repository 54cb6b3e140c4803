//! What is missing, and how long it lasted.
//! Takes the time of each packet and how much sound there is before it; gives the silence to put in between, and a warning
//! for each gap. Leaves alone the sound itself.
//! a packet at 5.0 s behind 3.0 s of sound → 2.0 s of silence

/// Times nearer than this are the same: containers round to the millisecond, coders start a few of them early.
const SAME_SECONDS: f64 = 0.1;
/// Longer gaps, all together, are a wrong clock, not a loss, and get no silence: a small crafted file could ask for hours.
const MAX_GAP_SECONDS: f64 = 600.0;
/// What a damaged packet states beyond this is not believed.
const MAX_PACKET_SECONDS: f64 = 2.0;
/// So many gaps get a warning of their own.
const MAX_GAPS_NAMED: usize = 5;

/// Keeps the sound at its time.
#[derive(Default)]
pub(crate) struct Timeline {
    /// The container's clock at the start of the recording.
    origin: Option<f64>,
    gaps: Vec<Gap>,
    n_damaged: usize,
    damaged_seconds: f64,
    clock_is_wrong: bool,
}

struct Gap {
    at: f64,
    lasts: f64,
}

impl Timeline {
    /// A timeline whose clock starts at `origin`, or at its first packet.
    pub(crate) fn starting_at(origin: Option<f64>) -> Self {
        Self { origin, ..Self::default() }
    }

    /// Seconds of silence that belong before a packet at `at` on the container's clock, behind `so_far` seconds of sound.
    pub(crate) fn gap_before(&mut self, at: f64, so_far: f64) -> f64 {
        let origin = *self.origin.get_or_insert(at - so_far);
        let lasts = at - origin - so_far;
        if lasts.abs() < SAME_SECONDS {
            return 0.0;
        }
        let before: f64 = self.gaps.iter().map(|gap| gap.lasts).sum();
        if (0.0..=MAX_GAP_SECONDS - before).contains(&lasts) {
            self.gaps.push(Gap { at: so_far, lasts });
            return lasts;
        }
        self.clock_is_wrong = true;
        self.origin = Some(at - so_far);
        0.0
    }

    /// Seconds of silence for a packet that could not be decoded and states to last `lasts`.
    pub(crate) fn damaged(&mut self, lasts: f64) -> f64 {
        let lasts = lasts.clamp(0.0, MAX_PACKET_SECONDS);
        self.n_damaged += 1;
        self.damaged_seconds += lasts;
        lasts
    }

    /// Another clock starts with the next packet.
    pub(crate) fn next_part(&mut self) {
        self.origin = None;
    }

    /// A sentence for each thing that was mended.
    pub(crate) fn warnings(&self) -> Vec<String> {
        let named = self.gaps.iter().take(MAX_GAPS_NAMED).map(|gap| {
            format!("a piece is missing at {:.1} s: {:.1} s of silence stand in its place", gap.at, gap.lasts)
        });
        let mut warnings: Vec<String> = named.collect();
        if let Some(others) = self.gaps.get(MAX_GAPS_NAMED..).filter(|others| !others.is_empty()) {
            let seconds: f64 = others.iter().map(|gap| gap.lasts).sum();
            warnings
                .push(format!("{} more pieces are missing, {seconds:.1} s in all, replaced by silence", others.len()));
        }
        if self.n_damaged > 0 {
            let (n, seconds) = (self.n_damaged, self.damaged_seconds);
            warnings.push(format!("{seconds:.2} s could not be decoded and became silence (damaged packets: {n})"));
        }
        if self.clock_is_wrong {
            warnings.push("the file's clock jumps: times may be off where pieces are missing".to_owned());
        }
        warnings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_becomes_silence_and_a_warning() {
        let mut timeline = Timeline::default();
        assert_eq!(timeline.gap_before(7.0, 0.0), 0.0, "the clock starts with the first packet");
        assert_eq!(timeline.gap_before(10.0, 3.0), 0.0);
        assert_eq!(timeline.gap_before(12.0, 3.0), 2.0);
        assert_eq!(timeline.gap_before(13.0, 6.0), 0.0, "the silence counts as sound");
        assert_eq!(timeline.warnings(), ["a piece is missing at 3.0 s: 2.0 s of silence stand in its place"]);
    }

    #[test]
    fn small_losses_add_up() {
        let mut timeline = Timeline::starting_at(Some(0.0));
        let (mut so_far, mut silence) = (0.0, 0.0);
        for n in 0..100 {
            let gap = timeline.gap_before(f64::from(n) * 0.02, so_far);
            silence += gap;
            so_far += gap + if n % 10 == 9 { 0.0 } else { 0.02 };
        }
        assert!((so_far - 2.0).abs() <= SAME_SECONDS + 0.02, "{so_far} s");
        assert!(silence > 0.09, "{silence} s of silence");
    }

    #[test]
    fn a_jump_beyond_ten_minutes_or_back_is_a_wrong_clock() {
        for jump in [601.0, 1e9, -5.0, -1e12] {
            let mut timeline = Timeline::starting_at(Some(0.0));
            assert_eq!(timeline.gap_before(1.0 + jump, 1.0), 0.0);
            assert_eq!(timeline.gap_before(2.0 + jump, 2.0), 0.0, "the new clock holds");
            assert_eq!(timeline.warnings(), ["the file's clock jumps: times may be off where pieces are missing"]);
        }
    }

    #[test]
    fn ten_minutes_of_silence_are_the_most() {
        let mut timeline = Timeline::starting_at(Some(0.0));
        assert_eq!(timeline.gap_before(400.0, 0.0), 400.0);
        assert_eq!(timeline.gap_before(700.0, 400.0), 0.0);
        assert_eq!(timeline.gap_before(900.0, 400.0), 200.0);
    }

    #[test]
    fn many_gaps_are_summed_up() {
        let mut timeline = Timeline::starting_at(Some(0.0));
        let mut so_far = 0.0;
        for n in 1..=8 {
            so_far += timeline.gap_before(f64::from(n), so_far);
        }
        let warnings = timeline.warnings();
        assert_eq!(warnings.len(), 6);
        assert_eq!(warnings[5], "3 more pieces are missing, 3.0 s in all, replaced by silence");
    }
}
