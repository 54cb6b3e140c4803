//! Signed records → rows for research.
//! Takes signed records; gives CSV (RFC 4180), one row a finding, with columns that stay. De-identified, names and words are
//! dropped and dates are shifted, by as many days for all records of one infant. Leaves alone whether that is enough: who joins
//! tables can know infants by what is kept.
//!
//! a gestation of 38+4 and the finding "scarf sign, left, past midline" are two rows of one record

use csv::{QuoteStyle, WriterBuilder};
use hmac::{Hmac, Mac};
use jiff::civil::Date;
use jiff::{Span, ToSpan};
use sha2::Sha256;

use crate::computed::AgeKind;
use crate::export::Whole;
use crate::record::SignedFinding;

/// The columns. New ones are added at the end; none is renamed or taken away.
pub const COLUMNS: [&str; 34] = [
    "format",
    "record",
    "version",
    "infant",
    "examined",
    "signed",
    "signer",
    "signer_role",
    "item",
    "region",
    "side",
    "value",
    "number_from",
    "number_to",
    "bound",
    "unit",
    "approx",
    "hedged",
    "by_group",
    "decision",
    "drafted_value",
    "drafted_side",
    "needed_the_eye",
    "quote",
    "postnatal_days",
    "post_menstrual_days",
    "z",
    "centile",
    "standard",
    "usual",
    "usual_fits",
    "usual_rule",
    "program",
    "lexicon",
];

const FORMAT: &str = "1";

/// Dates are shifted by up to so many days, either way.
const MOST_SHIFT: u32 = 180;

/// What is kept and what is not where rows are de-identified: for whoever asked for it.
pub const KEPT: &str = "kept: findings, measurements, sex, ages as said, roles, versions of program and lexicon. \
                        dropped: names, what the infant is known by, words of the narration, times of day. \
                        replaced: ids of records and infants. shifted: dates, by up to 180 days, alike for all records of one infant. \
                        Small numbers and rare findings can still tell who an infant is";

/// Replaces ids and shifts dates by a secret.
#[derive(Clone)]
pub struct Secret(Vec<u8>);

// A secret is no matter for a message.
impl std::fmt::Debug for Secret {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("Secret")
    }
}

impl Secret {
    /// Of these bytes: the same bytes give the same replacements and shifts.
    #[must_use]
    pub fn new(bytes: &[u8]) -> Self {
        Self(bytes.to_vec())
    }

    fn digest(&self, kind: &str, of: &str) -> Vec<u8> {
        // A key of any length will do.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(&self.0) else { return Vec::new() };
        mac.update(format!("{kind}\n{of}").as_bytes());
        mac.finalize().into_bytes().to_vec()
    }

    fn instead_of(&self, kind: &str, id: &str) -> String {
        self.digest(kind, id).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
    }

    // Never by nought: a date that looks true must not be.
    fn shift(&self, infant: &str) -> Span {
        let bytes = self.digest("dates", infant);
        let number = bytes.iter().take(4).fold(0_u32, |sum, byte| (sum << 8) | u32::from(*byte));
        let days = i64::from(number % MOST_SHIFT + 1);
        if bytes.last().is_some_and(|byte| byte % 2 == 0) { days.days() } else { (-days).days() }
    }
}

/// The rows of signed records, under one header; de-identified where a secret is given.
///
/// # Errors
/// Only if the writer fails, which it has no cause to.
pub fn to_csv(records: &[Whole<'_>], secret: Option<&Secret>) -> Result<String, csv::Error> {
    let mut rows = WriterBuilder::new().quote_style(QuoteStyle::Necessary).from_writer(Vec::new());
    rows.write_record(COLUMNS)?;
    for whole in records {
        let record = Record::of(whole, secret);
        for finding in whole.signed.findings() {
            rows.write_record(record.row(finding))?;
        }
    }
    let bytes = rows.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// What all rows of a record share.
struct Record<'a> {
    whole: &'a Whole<'a>,
    id: String,
    infant: String,
    examined: String,
    signed: String,
    signer: String,
    with_words: bool,
}

impl<'a> Record<'a> {
    fn of(whole: &'a Whole<'a>, secret: Option<&Secret>) -> Self {
        let infant = whole.remarks.infant().map(|remark| remark.words.clone());
        let examined = whole.remarks.examined().map(|remark| remark.words.clone()).unwrap_or_default();
        let Some(secret) = secret else {
            return Self {
                id: whole.id.to_owned(),
                infant: plain(&infant.unwrap_or_default()),
                examined,
                signed: whole.signed.at().to_string(),
                signer: plain(whole.signed.signer().name()),
                with_words: true,
                whole,
            };
        };
        // Nobody said whose it is: it stands for itself.
        let key = infant.as_deref().unwrap_or(whole.id);
        let by = secret.shift(key);
        let shifted = |date: &str| {
            let date = date.get(..10).and_then(|date| date.parse::<Date>().ok());
            date.and_then(|date| date.checked_add(by).ok()).map(|date| date.to_string()).unwrap_or_default()
        };
        Self {
            id: secret.instead_of("record", whole.id),
            infant: secret.instead_of("infant", key),
            examined: shifted(&examined),
            signed: shifted(&whole.signed.at().day()),
            signer: String::new(),
            with_words: false,
            whole,
        }
    }

    fn row(&self, finding: &SignedFinding) -> Vec<String> {
        let signed = self.whole.signed;
        let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
        let figures = finding.figures.as_ref();
        let drafted = finding.drafted.as_ref();
        let quote = drafted.filter(|_| self.with_words).map(|drafted| plain(&drafted.proof.quote.text));
        let mut row = vec![
            FORMAT.to_owned(),
            self.id.clone(),
            signed.version().to_string(),
            self.infant.clone(),
            self.examined.clone(),
            self.signed.clone(),
            self.signer.clone(),
            plain(signed.signer().role()),
            finding.item.clone(),
            finding.region.clone(),
            finding.side.name().to_owned(),
            finding.value.clone(),
            figures.map(|figures| figures.from.clone()).unwrap_or_default(),
            figures.and_then(|figures| figures.to.clone()).unwrap_or_default(),
            figures.map(|figures| figures.bound.to_owned()).unwrap_or_default(),
            figures.map(|figures| figures.unit.clone()).unwrap_or_default(),
            yes(finding.approx),
            yes(finding.hedged),
            yes(finding.by_group),
            finding.decided.decision.name().to_owned(),
            drafted.map(|drafted| drafted.value.clone()).unwrap_or_default(),
            drafted.map(|drafted| drafted.side.name().to_owned()).unwrap_or_default(),
            drafted.map(|drafted| yes(!drafted.is_clear())).unwrap_or_default(),
            quote.unwrap_or_default(),
        ];
        row.extend(self.computed(finding));
        row.push(signed.draft().program.clone());
        row.push(signed.draft().lexicon.clone());
        row
    }

    // Ages and what is reckoned from this finding.
    fn computed(&self, finding: &SignedFinding) -> [String; 8] {
        let computed = self.whole.computed;
        let age = |kind: AgeKind| {
            let age = computed.ages.iter().find(|age| age.kind == kind);
            age.map(|age| age.days.to_string()).unwrap_or_default()
        };
        let size = computed.sizes.iter().find(|size| size.finding == finding.finding);
        let score = size.and_then(|size| size.outcome.as_ref().ok());
        let usual = computed.usual.iter().find(|usual| usual.finding == finding.finding);
        let fits = usual.and_then(|usual| usual.fits).map(|fits| if fits { "yes" } else { "no" });
        [
            age(AgeKind::Postnatal),
            age(AgeKind::PostMenstrual),
            score.map(|score| format!("{:.2}", score.z)).unwrap_or_default(),
            score.map(|score| format!("{:.1}", score.centile)).unwrap_or_default(),
            score.map(|score| score.standard.words().to_owned()).unwrap_or_default(),
            usual.map(|usual| usual.expected.clone()).unwrap_or_default(),
            fits.unwrap_or_default().to_owned(),
            usual.map(|usual| usual.cited.rule.clone()).unwrap_or_default(),
        ]
    }
}

// A spreadsheet takes a cell that begins so for a formula; words of people must not become one.
fn plain(words: &str) -> String {
    if words.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{words}") } else { words.to_owned() }
}
