//! A spoken number → an amount in a measure.
//! Takes a quantity and what its item is measured in; gives the amount, a question, or that the number is of another
//! kind. Leaves alone whether the item was meant at all.
//!
//! "thirty-four six" read as a length is 34.6cm, read as a gestation 34+6wk, read as an angle nothing

mod lengths_and_angles;
mod times;
mod weights;

use super::amounts::{Amount, Figure, Kind, Measure, Point, Reading};
use super::decimal::Decimal;
use super::shapes::{Bound, Join, Link, Origin, Part, Quantity, Said, SpokenNumber};
use super::units::Unit;

/// What the parts of one number come to.
#[derive(Debug, Clone, Copy)]
struct Settled {
    point: Point,
    unit: Unit,
    /// The end of a range that was said as two neighbours: "eighty ninety".
    to: Option<Point>,
    /// What it could be as well, in its own unit.
    other: Option<(Point, Unit)>,
    /// A careful listener would ask.
    ask: bool,
    approx: bool,
}

impl Settled {
    fn sure(point: Point, unit: Unit) -> Self {
        Self { point, unit, to: None, other: None, ask: false, approx: false }
    }

    fn plain(value: Decimal, unit: Unit) -> Self {
        Self::sure(Point::Plain(value.trimmed()), unit)
    }

    fn asked(self, other: Option<Point>) -> Self {
        let unit = self.unit;
        Self { ask: true, other: other.map(|point| (point, unit)), ..self }
    }
}

/// What a kind makes of the parts.
#[derive(Debug, Clone, Copy)]
enum Attempt {
    Settled(Settled),
    Unsettled,
    Not,
}

impl Quantity {
    /// What the quantity comes to in `measure`.
    #[must_use]
    pub fn read_as(&self, measure: &Measure) -> Reading {
        let Some(kind) = measure.kind() else { return Reading::Not };
        if !fits_origin(&self.spoken, kind) {
            return Reading::Not;
        }
        match &self.spoken.then {
            None => read_one(&self.spoken, kind, measure),
            Some((link, second)) => read_pair(&self.spoken, *link, second, kind, measure),
        }
    }
}

impl Quantity {
    /// The plausible amount that the ear takes this one for: "fifteen" where "fifty" was read, and the other way round.
    /// `None` if there is none, so that only what can really be mistaken is listened to again or shown large.
    #[must_use]
    pub fn sounds_like(&self, measure: &Measure) -> Option<Amount> {
        let Reading::Is(amount @ Amount { figure: Figure::One(Point::Plain(value)), .. }) = self.read_as(measure)
        else {
            return None;
        };
        let twin = Point::Plain(Decimal::whole(value.as_whole().and_then(sounds_like)?));
        let outside = measure.is_outside(twin, amount.unit);
        (!outside).then_some(Amount { figure: Figure::One(twin), ..amount })
    }
}

// "two plus" is no weight, "two out of four" no angle, "a right angle" nothing but an angle.
fn fits_plus(spoken: &SpokenNumber, kind: Kind) -> bool {
    let large = spoken.said.single().is_none_or(|part| !part.number.is_below(Decimal::whole(10)));
    match kind {
        Kind::Grade | Kind::Beats => true,
        Kind::Angle => large,
        _ => spoken.unit().is_some(),
    }
}

fn fits_origin(spoken: &SpokenNumber, kind: Kind) -> bool {
    let origin = match spoken.origin {
        Origin::Elsewhere => false,
        Origin::Pluses | Origin::Homophone | Origin::UnsureHomophone => kind == Kind::Grade,
        Origin::RightAngle => kind == Kind::Angle,
        Origin::Term | Origin::Overdue => kind == Kind::Gestation,
        Origin::Number | Origin::UnitFirst => true,
    };
    let share = match (spoken.out_of.and_then(Decimal::as_whole), kind) {
        (None, _) => spoken.out_of.is_none(),
        (Some(most), Kind::Grade) => most == 4,
        // The shorthand of gestations: "38+4/40", "38/40".
        (Some(most), Kind::Gestation) => most == 40,
        _ => false,
    };
    origin && share && (spoken.pluses == 0 || spoken.origin == Origin::Pluses || fits_plus(spoken, kind))
}

fn attempt(said: &Said, spoken: &SpokenNumber, unit: Option<Unit>, kind: Kind) -> Attempt {
    match kind {
        Kind::Length => lengths_and_angles::length(said, unit),
        Kind::Angle => lengths_and_angles::angle(said, unit),
        Kind::Weight => weights::weight(said, unit),
        Kind::Gestation => times::gestation(said, unit, spoken),
        Kind::Age => times::age(said, unit, spoken),
        Kind::Beats => beats(said, unit),
        Kind::Grade => grade(said, unit, spoken),
    }
}

fn read_one(spoken: &SpokenNumber, kind: Kind, measure: &Measure) -> Reading {
    let settled = match attempt(&spoken.said, spoken, spoken.said.unit(), kind) {
        Attempt::Not => return Reading::Not,
        Attempt::Unsettled => return Reading::Unsettled,
        Attempt::Settled(settled) => settled,
    };
    let amount = |point: Point, unit: Unit| {
        let to = settled.to.filter(|_| point == settled.point);
        amount_of(spoken, kind, measure, (point, to, unit), settled.approx)
    };
    let first = amount(settled.point, settled.unit);
    let other = settled.other.map(|(point, unit)| amount(point, unit));
    if settled.ask {
        return ask_inside_first(first, other);
    }
    if first.outside && settled.to.is_none() {
        return ask_beyond_limits(spoken, first, |point| amount(point, settled.unit));
    }
    Reading::Is(first)
}

/// Of two that are possible the plausible one is proposed first.
fn ask_inside_first(first: Amount, other: Option<Amount>) -> Reading {
    match other {
        Some(other) if first.outside && !other.outside => Reading::Ask(other, None),
        Some(other) if other.outside => Reading::Ask(first, None),
        other => Reading::Ask(first, other),
    }
}

/// A value beyond the limits: heard as its sound-alike ("nineteen" for ninety), or with a slipped point, it may lie within.
fn ask_beyond_limits(spoken: &SpokenNumber, first: Amount, amount: impl Fn(Point) -> Amount) -> Reading {
    let Figure::One(Point::Plain(value)) = first.figure else { return Reading::Is(first) };
    let twin = value.as_whole().and_then(sounds_like).map(Decimal::whole);
    let slipped =
        if first.unit == Unit::Centimetre { [Some(value.times(10, 0)), Some(value.times(1, 1))] } else { [None; 2] };
    for likely in [twin].into_iter().chain(slipped).flatten() {
        let likely = amount(Point::Plain(likely.trimmed()));
        if !likely.outside {
            return Reading::Ask(likely, Some(first));
        }
    }
    // "two ten" is put together by the reader, and beyond the limits as well.
    if spoken.said.parts.len() > 1 { Reading::Ask(first, None) } else { Reading::Is(first) }
}

/// The number that the ear takes for `value`: thirteen and thirty to nineteen and ninety.
pub(super) fn sounds_like(value: i64) -> Option<i64> {
    match value {
        13..=19 => Some((value - 10) * 10),
        30 | 40 | 50 | 60 | 70 | 80 | 90 => Some(value / 10 + 10),
        _ => None,
    }
}

fn amount_of(
    spoken: &SpokenNumber,
    kind: Kind,
    measure: &Measure,
    (point, to, unit): (Point, Option<Point>, Unit),
    approx: bool,
) -> Amount {
    let outside = measure.is_outside(point, unit) || to.is_some_and(|to| measure.is_outside(to, unit));
    let figure = to.map_or(Figure::One(point), |to| Figure::Range(point, to));
    let bound = match (spoken.bound, kind) {
        // "a hundred plus", "ten plus beats": more than that; in a grade or a gestation the plus adds nothing.
        (Bound::Is, Kind::Angle | Kind::Beats | Kind::Weight | Kind::Length) if spoken.pluses > 0 => Bound::Over,
        // "up to 3200" says where a weight has got to.
        (Bound::AtMost, Kind::Weight) if spoken.up_to => Bound::Is,
        (bound, _) => bound,
    };
    let bound = if to.is_some() { Bound::Is } else { bound };
    Amount { figure, unit, bound, approx: approx || spoken.about, outside }
}

fn read_pair(spoken: &SpokenNumber, link: Link, second: &Said, kind: Kind, measure: &Measure) -> Reading {
    let (first_unit, second_unit) = (spoken.said.unit(), second.unit());
    if link == Link::Hyphen
        && let Some(reading) = hyphenated(spoken, second, kind, measure)
    {
        return reading;
    }
    let first = attempt(&spoken.said, spoken, first_unit.or(second_unit), kind);
    let other = attempt(second, spoken, second_unit.or(first_unit), kind);
    let (first, other) = match (first, other) {
        (Attempt::Settled(first), Attempt::Settled(other)) => (first, other),
        (Attempt::Not, _) | (_, Attempt::Not) => return Reading::Not,
        _ => return Reading::Unsettled,
    };
    if link == Link::By {
        return across(spoken, first, other, kind, measure);
    }
    let (from, to, unit) = in_one_unit(first, other);
    let to = with_hundreds(from, to, kind);
    let approx = first.approx || other.approx;
    let one = |point: Point| amount_of(spoken, kind, measure, (point, None, unit), approx);
    let (low, high) = if key(to) < key(from) { (to, from) } else { (from, to) };
    if low == high {
        return Reading::Is(one(low));
    }
    // "fifty to sixty" is heard as 50 to 16: a range that falls back to a sound-alike most likely went on.
    let twin = to.whole().and_then(sounds_like).map(|twin| Point::Plain(Decimal::whole(twin)));
    if let Some(twin) = twin.filter(|twin| key(to) < key(from) && key(from) < key(*twin) && link != Link::Or) {
        let range = |low: Point, high: Point| amount_of(spoken, kind, measure, (low, Some(high), unit), approx);
        return Reading::Ask(range(from, twin), Some(range(low, high)));
    }
    // "thirty or forty" is a guess, "three or four" a range.
    if link == Link::Or && !is_near(low, high, unit) {
        return Reading::Ask(one(from), Some(one(to)));
    }
    let range = amount_of(spoken, kind, measure, (low, Some(high), unit), approx);
    if first.ask || other.ask { Reading::Ask(range, None) } else { Reading::Is(range) }
}

/// "38-4": of a gestation, four days; of a length, four tenths. A true range is left to the others.
fn hyphenated(spoken: &SpokenNumber, second: &Said, kind: Kind, measure: &Measure) -> Option<Reading> {
    let tail = second.single().filter(|part| part.width == 1 && part.number.places() == 0)?;
    let weeks = spoken.said.single().filter(|part| part.width == 2)?;
    let join = match kind {
        Kind::Gestation => Join::Plus,
        Kind::Length => Join::RunOn,
        _ => return None,
    };
    let mut whole = spoken.clone();
    whole.then = None;
    whole.said.parts = vec![*weeks, Part { join, ..*tail }];
    Some(read_one(&whole, kind, measure))
}

/// "two by three": the mean of length and width. Popich and Smith, J Pediatr 1972;80:749, measure fontanelles so.
fn across(spoken: &SpokenNumber, first: Settled, other: Settled, kind: Kind, measure: &Measure) -> Reading {
    match (first.point, other.point) {
        (Point::Plain(length), Point::Plain(width)) if kind == Kind::Length => {
            let mean = length.plus(width).times(5, 1);
            Reading::Is(amount_of(spoken, kind, measure, (Point::Plain(mean), None, first.unit), false))
        }
        _ => Reading::Not,
    }
}

fn in_one_unit(first: Settled, other: Settled) -> (Point, Point, Unit) {
    match (first.point, first.unit, other.point, other.unit) {
        (Point::Plain(kilos), Unit::Kilogram, to, Unit::Gram) => (Point::Plain(kilos.times(1000, 0)), to, Unit::Gram),
        (from, Unit::Gram, Point::Plain(kilos), Unit::Kilogram) => {
            (from, Point::Plain(kilos.times(1000, 0)), Unit::Gram)
        }
        (from, _, to, unit) => (from, to, unit),
    }
}

// "one ten to twenty": the hundred is said once.
fn with_hundreds(from: Point, to: Point, kind: Kind) -> Point {
    match (from.whole(), to.whole()) {
        (Some(low @ 100..200), Some(high @ 1..100)) if kind == Kind::Angle && low % 100 < high => {
            Point::Plain(Decimal::whole(100 + high))
        }
        _ => to,
    }
}

impl Point {
    fn whole(self) -> Option<i64> {
        match self {
            Self::Plain(value) => value.as_whole(),
            Self::Weeks { .. } => None,
        }
    }
}

/// Thousandths of days or of the unit: only for telling which of two is the greater.
fn key(point: Point) -> i64 {
    match point {
        Point::Plain(value) => value.times(7000, 0).rounded(),
        Point::Weeks { weeks, days } => weeks.saturating_mul(7000).saturating_add(days.saturating_mul(1000)),
    }
}

/// Whether "N or M" is a range rather than a guess. Common practice, no source.
fn is_near(low: Point, high: Point, unit: Unit) -> bool {
    let most = match unit {
        Unit::Degree => 20,
        Unit::Centimetre | Unit::Week => 2,
        Unit::Beat => 5,
        Unit::Grade | Unit::Kilogram => 1,
        Unit::Gram => 300,
        _ => return true,
    };
    let twins = low.whole().and_then(sounds_like).is_some_and(|twin| high.whole() == Some(twin));
    !twins && key(high).saturating_sub(key(low)) <= most * 7000
}

/// The digits of all parts in a row: "three two four oh" is 3240, "one nine eighty" 1980.
fn in_a_row(parts: &[Part]) -> Option<Decimal> {
    let (last, head) = parts.split_last()?;
    let mut text = String::new();
    for part in head {
        let whole =
            part.number.as_whole().filter(|_| part.number.places() == 0 && part.width <= 2 && !part.fraction)?;
        text.push_str(&format!("{whole:0width$}", width = usize::from(part.width)));
    }
    let hangs_on = parts.iter().skip(1).all(|part| part.join == Join::RunOn);
    let clean = |part: &Part| part.number == Decimal::whole(part.number.whole_part()) || part.number.places() > 0;
    text.push_str(&format!("{:0width$}", last.number.whole_part(), width = usize::from(last.width)));
    if last.number.places() > 0 {
        let width = usize::from(last.number.places());
        text.push_str(&format!(".{:0width$}", last.number.digits_behind()));
    }
    if hangs_on && clean(last) { Decimal::parse(&text) } else { None }
}

/// Two neighbours in a row: "eighty ninety", "fifty, fifty-one". At most `gap` apart.
fn neighbours(parts: &[Part], gap: i64) -> Option<(Decimal, Decimal)> {
    let [low, high] = parts else { return None };
    let (from, to) = (low.number.as_whole()?, high.number.as_whole()?);
    let joined = matches!(high.join, Join::RunOn | Join::Comma);
    (joined && from < to && to - from <= gap).then(|| (Decimal::whole(from), Decimal::whole(to)))
}

fn range_of((low, high): (Decimal, Decimal), unit: Unit) -> Attempt {
    Attempt::Settled(Settled { to: Some(Point::Plain(high)), approx: true, ..Settled::plain(low, unit) })
}

/// Whole numbers that count up by one, as somebody counting aloud does.
fn counted_up(parts: &[Part]) -> Option<Decimal> {
    let rises = parts.len() >= 3
        && parts.windows(2).all(|pair| match pair {
            [one, next] => one.number.plus(Decimal::whole(1)).compare(next.number).is_eq(),
            _ => false,
        });
    parts.last().filter(|_| rises).map(|part| part.number)
}

fn beats(said: &Said, unit: Option<Unit>) -> Attempt {
    if !matches!(unit, None | Some(Unit::Beat)) {
        return Attempt::Not;
    }
    if let Some(last) = counted_up(&said.parts) {
        return Attempt::Settled(Settled::plain(last, Unit::Beat));
    }
    if let Some(pair) = neighbours(&said.parts, 3) {
        return range_of(pair, Unit::Beat);
    }
    match said.single().map(|part| part.number) {
        Some(value) if value.as_whole().is_some() => Attempt::Settled(Settled::plain(value, Unit::Beat)),
        _ => Attempt::Unsettled,
    }
}

fn grade(said: &Said, unit: Option<Unit>, spoken: &SpokenNumber) -> Attempt {
    if !matches!(unit, None | Some(Unit::Grade)) {
        return Attempt::Not;
    }
    if let Some((low, high)) = neighbours(&said.parts, 1).filter(|(_, high)| high.is_below(Decimal::whole(5))) {
        return range_of((low, high), Unit::Grade);
    }
    let Some(value) = said.single().map(|part| part.number) else { return Attempt::Not };
    let settled = Settled::plain(value, Unit::Grade);
    match value.as_whole() {
        // Numbers of two digits are no grades at all, so they are not kept as grades beyond the limits.
        Some(10..) | None if unit.is_none() => Attempt::Not,
        None => Attempt::Unsettled,
        _ if spoken.origin == Origin::UnsureHomophone => Attempt::Settled(settled.asked(None)),
        // One plus alone: some write it for "present".
        _ if spoken.origin == Origin::Pluses && spoken.pluses == 1 => Attempt::Settled(settled.asked(None)),
        _ => Attempt::Settled(settled),
    }
}
