//! Texts for a piece of sound → how well each fits it.
//! Takes the texts as tokens and a recogniser that tells the chance of tokens behind others; gives for each text the sum of the
//! logarithms of its tokens' chances. What texts begin with alike is asked for once. Leaves alone which text is believed.
//!
//! "Arm recoil present" and "Moro reflex present" for the same sound give -31 and -8: the second was said

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::span::SoundSpan;
use crate::speech::transcriber::SpeechError;

/// Texts of which one was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contest {
    /// Where in the recording.
    pub sound: SoundSpan,
    /// The texts, as the recogniser would write them.
    pub texts: Vec<String>,
}

/// Each text's sum of logarithms. `decode` is given a token, how many were written before it, and tokens to tell the logarithms
/// of the chances of behind it; `after` is the last token of the prompt, with `past` before it.
///
/// # Errors
/// As `decode` gives them.
pub fn scores<D>(texts: &[Vec<i32>], (after, past): (i32, usize), decode: D) -> Result<Vec<f32>, String>
where
    D: FnMut(i32, usize, &[i32]) -> Result<Vec<f32>, String>,
{
    let mut walk = Walk { texts, sums: vec![0.0; texts.len()], prompt: past, decode };
    let all: Vec<usize> = (0..texts.len()).collect();
    walk.go(&all, 0, after, 0.0)?;
    Ok(walk.sums)
}

struct Walk<'a, D> {
    texts: &'a [Vec<i32>],
    sums: Vec<f32>,
    prompt: usize,
    decode: D,
}

impl<D> Walk<'_, D>
where
    D: FnMut(i32, usize, &[i32]) -> Result<Vec<f32>, String>,
{
    // Goes on with texts that are the same for the first `depth` tokens, of which `token` is the last.
    fn go(&mut self, group: &[usize], depth: usize, token: i32, sum: f32) -> Result<(), String> {
        let texts = self.texts;
        let next = |text: usize| texts.get(text).and_then(|tokens| tokens.get(depth)).copied();
        let mut wanted: Vec<i32> = Vec::new();
        for token in group.iter().filter_map(|text| next(*text)) {
            if !wanted.contains(&token) {
                wanted.push(token);
            }
        }
        if wanted.is_empty() {
            return Ok(());
        }
        let chances = (self.decode)(token, self.prompt + depth, &wanted)?;
        for (token, chance) in wanted.into_iter().zip(chances) {
            let alike: Vec<usize> = group.iter().copied().filter(|text| next(*text) == Some(token)).collect();
            let sum = sum + chance;
            for text in &alike {
                self.sums.iter_mut().skip(*text).take(1).for_each(|known| *known = sum);
            }
            self.go(&alike, depth + 1, token, sum)?;
        }
        Ok(())
    }
}

/// Works through contests with several recognisers at once, in order.
///
/// # Errors
/// The first that `one` gave.
pub fn all<F>(contests: &[Contest], recognisers: usize, one: F) -> Result<Vec<Vec<f32>>, SpeechError>
where
    F: Fn(&Contest) -> Result<Vec<f32>, SpeechError> + Sync,
{
    let (next, count) = (AtomicUsize::new(0), recognisers.clamp(1, contests.len().max(1)));
    let share = || -> Result<Vec<(usize, Vec<f32>)>, SpeechError> {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(contest) = contests.get(index) else { return Ok(done) };
            done.push((index, one(contest)?));
        }
    };
    let shares: Vec<_> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..count).map(|_| scope.spawn(share)).collect();
        // A share that panicked gave nothing: its contests stay undecided.
        threads.into_iter().filter_map(|thread| thread.join().ok()).collect()
    });
    let mut scores = vec![Vec::new(); contests.len()];
    for share in shares {
        for (index, found) in share? {
            scores.iter_mut().skip(index).take(1).for_each(|place| place.clone_from(&found));
        }
    }
    Ok(scores)
}

/// The logarithms of the chances of some tokens, from what the recogniser makes of all of them.
#[must_use]
pub fn log_chances(logits: &[f32], wanted: &[i32]) -> Vec<f32> {
    let best = logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let sum: f32 = logits.iter().map(|logit| (logit - best).exp()).sum();
    let of = |token: &i32| usize::try_from(*token).ok().and_then(|token| logits.get(token));
    wanted.iter().map(|token| of(token).map_or(f32::NEG_INFINITY, |logit| logit - best - sum.ln())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_texts_begin_with_alike_is_asked_for_once() {
        let mut asked = Vec::new();
        let texts = [vec![1, 2, 3], vec![1, 4, 3, 5], vec![1, 2], vec![], vec![6]];
        let found = scores(&texts, (9, 2), |token, past, wanted| {
            asked.push((token, past, wanted.to_vec()));
            Ok(wanted.iter().map(|token| -(*token as f32)).collect())
        });
        assert_eq!(found.unwrap(), [-6.0, -13.0, -3.0, 0.0, -6.0]);
        let expected = [(9, 2, vec![1, 6]), (1, 3, vec![2, 4]), (2, 4, vec![3]), (4, 4, vec![3]), (3, 5, vec![5])];
        assert_eq!(asked, expected);
        let failed = scores(&texts, (9, 2), |_, _, _| Err("no memory".to_owned()));
        assert_eq!(failed, Err("no memory".to_owned()));
    }

    #[test]
    fn chances_are_shares_of_the_whole_vocabulary() {
        let found = log_chances(&[1.0, 1.0, 1.0, 1.0 + 5.0_f32.ln()], &[0, 3, 4, -1]);
        assert!((found[0] - 0.125_f32.ln()).abs() < 1e-5 && (found[1] - 0.625_f32.ln()).abs() < 1e-5);
        assert_eq!(found[2..], [f32::NEG_INFINITY; 2]);
    }

    #[test]
    fn several_recognisers_give_what_one_gives() {
        let contest = |start_ms| Contest { sound: SoundSpan { start_ms, end_ms: start_ms + 1 }, texts: Vec::new() };
        let contests: Vec<Contest> = (0..9).map(contest).collect();
        let one = |contest: &Contest| match contest.sound.start_ms {
            99 => Err(SpeechError::Cancelled),
            start => Ok(vec![start as f32]),
        };
        let expected: Vec<Vec<f32>> = (0..9).map(|start| vec![start as f32]).collect();
        for recognisers in [0, 1, 3, 20] {
            assert_eq!(all(&contests, recognisers, one).unwrap(), expected);
        }
        assert!(matches!(all(&[contest(99)], 2, one), Err(SpeechError::Cancelled)));
        assert_eq!(all(&[], 2, one).unwrap(), Vec::<Vec<f32>>::new());
    }
}
