//! Size for age: z-scores and centiles of head circumference, weight and length, by published standards.
//! Takes a measurement, the sex and the age; gives the z-score with the name of its standard, or says why there is none. Nothing is
//! guessed: without a sex, or outside a standard's range, there is no figure. Leaves alone what a figure means for the infant.
//! Files, in reading order: `tables` the standards' numbers, `standards` which one is used, `distributions` the mathematics,
//! `curves` the lines of a chart.
//!
//! a boy's head of 34.5 cm on the day of birth at 40+0: z by the WHO standard 0.03, 51st centile

mod curves;
mod distributions;
mod standards;
mod tables;

pub use curves::{CENTILES, Curve, Curves, curves, value_at};
pub use standards::{Age, NoScore, Score, Standard, ordinal, score, score_by, standard_for, weeks};
pub(super) use standards::{CORRECTED_TO, TERM};
pub use tables::{Measure, Sex, TableFault, Tables};
