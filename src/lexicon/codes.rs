//! Codes of items for interchange, as `codes.toml` files declare them.
//! Takes those files and the items; gives codes, and every fault. Leaves alone the form of an exchange (`export`).
//!
//! `[items.head-circumference]` with `loinc = [{ code = "9843-4", … }]` gives that code for that item

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source, parse, place};
use crate::lexicon::quantities::Unit;

/// Codes of items, regions, units and of the document.
#[derive(Debug, Clone, Default)]
pub struct Codes {
    document: DocumentCodes,
    regions: BTreeMap<String, Vec<Loinc>>,
    units: BTreeMap<String, Option<String>>,
    items: BTreeMap<String, ItemCodes>,
}

/// A LOINC code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loinc {
    /// The code: `9843-4`.
    pub code: String,
    /// Its name as LOINC has it.
    pub display: String,
    /// Where it was seen with this meaning; `None` where it is from memory.
    pub seen_in: Option<String>,
}

/// What the document is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DocumentCodes {
    /// Its title; may be empty.
    pub title: String,
    /// Its type.
    pub loinc: Vec<Loinc>,
}

/// Codes of an item.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ItemCodes {
    /// The item's own; empty where none was verified.
    pub loinc: Vec<Loinc>,
    /// That of its centile.
    pub centile: Vec<Loinc>,
    /// Whether it is a vital sign; otherwise it is a finding of the examination.
    pub is_vital_sign: bool,
    /// Whether it is of the moment of birth, not of the examination.
    pub at_birth: bool,
    /// Where on the body, `{side}` standing for left or right.
    pub body_site: Option<String>,
    /// Which of its values say which administrative gender.
    pub gender: BTreeMap<String, String>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
struct CodesFile {
    document: Option<DocumentEntry>,
    regions: BTreeMap<Spanned<String>, RegionEntry>,
    units: BTreeMap<Spanned<String>, UnitEntry>,
    items: BTreeMap<Spanned<String>, ItemEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct LoincEntry {
    code: Spanned<String>,
    display: String,
    status: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct DocumentEntry {
    title: String,
    #[serde(default)]
    loinc: Vec<LoincEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct RegionEntry {
    loinc: Vec<LoincEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct UnitEntry {
    ucum: Option<String>,
    status: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct ItemEntry {
    #[serde(default)]
    loinc: Vec<LoincEntry>,
    #[serde(default)]
    centile: Vec<LoincEntry>,
    #[serde(default)]
    category: Category,
    #[serde(default)]
    at_birth: bool,
    body_site: Option<String>,
    #[serde(default)]
    gender: BTreeMap<Spanned<String>, Spanned<String>>,
}

#[derive(Default, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Category {
    #[default]
    Exam,
    VitalSigns,
}

/// What FHIR's administrative gender can be.
const GENDERS: [&str; 4] = ["male", "female", "other", "unknown"];

impl Codes {
    /// Of these files, a later one taking precedence; faults are added to `faults`.
    pub(super) fn new<'a>(files: impl Iterator<Item = &'a Source>, items: &[Item], faults: &mut Vec<Fault>) -> Self {
        let mut codes = Self::default();
        for source in files {
            match parse::<CodesFile>(source) {
                Ok(file) => codes.add(file, &mut Reader { source, items, faults }),
                Err(fault) => faults.push(fault),
            }
        }
        codes
    }

    fn add(&mut self, file: CodesFile, reader: &mut Reader<'_>) {
        if let Some(document) = file.document {
            self.document = DocumentCodes { title: document.title, loinc: reader.loinc(document.loinc) };
        }
        for (name, region) in file.regions {
            reader.check(&name, reader.items.iter().any(|item| item.region == *name.get_ref()), "a region of any item");
            self.regions.insert(name.into_inner(), reader.loinc(region.loinc));
        }
        for (name, unit) in file.units {
            let known = Unit::from_written(name.get_ref()).is_some();
            reader.check(
                &name,
                known,
                "a unit that values are written in; there are cm, deg, g, kg, wk, d, h, beats, grade",
            );
            reader.status(&unit.status);
            self.units.insert(name.into_inner(), unit.ucum);
        }
        for (id, entry) in file.items {
            let codes = reader.item(&id, entry);
            self.items.insert(id.into_inner(), codes);
        }
    }

    /// What the document is.
    #[must_use]
    pub fn document(&self) -> &DocumentCodes {
        &self.document
    }

    /// Of the section that a region is; none where none was verified.
    #[must_use]
    pub fn region(&self, name: &str) -> &[Loinc] {
        self.regions.get(name).map_or(&[], Vec::as_slice)
    }

    /// A unit's UCUM code.
    #[must_use]
    pub fn ucum(&self, unit: &str) -> Option<&str> {
        self.units.get(unit).and_then(Option::as_deref)
    }

    /// Whether a unit is none: its numbers are plain ones, like a grade.
    #[must_use]
    pub fn is_plain_number(&self, unit: &str) -> bool {
        self.units.get(unit).is_some_and(Option::is_none)
    }

    /// Of an item; `None` where it has none.
    #[must_use]
    pub fn item(&self, id: &str) -> Option<&ItemCodes> {
        self.items.get(id)
    }

    /// Every item that has codes, in order of ids.
    pub fn items(&self) -> impl Iterator<Item = (&str, &ItemCodes)> {
        self.items.iter().map(|(id, codes)| (id.as_str(), codes))
    }
}

/// Reads the entries of a file, and notes their faults.
struct Reader<'a> {
    source: &'a Source,
    items: &'a [Item],
    faults: &'a mut Vec<Fault>,
}

impl Reader<'_> {
    fn fault<T>(&mut self, at: &Spanned<T>, what: String) {
        self.faults.push(place(self.source, at.span().start).fault(what));
    }

    fn check(&mut self, name: &Spanned<String>, holds: bool, what: &str) {
        if !holds {
            self.fault(name, format!("`{}` is not {what}", name.get_ref()));
        }
    }

    // "verified: where", or "from memory": whoever exchanges a code must know which.
    fn status(&mut self, status: &Spanned<String>) -> Option<String> {
        let seen_in = status.get_ref().strip_prefix("verified: ").map(str::trim).filter(|seen| !seen.is_empty());
        if seen_in.is_none() && status.get_ref() != "from memory" {
            let what = format!("`{}` is no status; write \"verified: WHERE\" or \"from memory\"", status.get_ref());
            self.fault(status, what);
        }
        seen_in.map(str::to_owned)
    }

    fn loinc(&mut self, entries: Vec<LoincEntry>) -> Vec<Loinc> {
        let mut codes = Vec::new();
        for entry in entries {
            if !is_loinc(entry.code.get_ref()) {
                let what =
                    format!("`{}` is no LOINC code: the digit behind the hyphen does not fit", entry.code.get_ref());
                self.fault(&entry.code, what);
            }
            let seen_in = self.status(&entry.status);
            codes.push(Loinc { code: entry.code.into_inner(), display: entry.display, seen_in });
        }
        codes
    }

    fn item(&mut self, id: &Spanned<String>, entry: ItemEntry) -> ItemCodes {
        let items = self.items;
        let item = items.iter().find(|item| item.id == *id.get_ref());
        self.check(id, item.is_some(), "an item; see the ids in the other files");
        if item.is_some_and(|item| !item.members.is_empty()) {
            self.fault(id, format!("`{}` is a group; give codes to its members", id.get_ref()));
        }
        let mut gender = BTreeMap::new();
        for (value, code) in entry.gender {
            let known = item.is_none_or(|item| item.value(value.get_ref()).is_some());
            self.check(&value, known, &format!("a value of {}", id.get_ref()));
            self.check(&code, GENDERS.contains(&code.get_ref().as_str()), "one of male, female, other, unknown");
            gender.insert(value.into_inner(), code.into_inner());
        }
        ItemCodes {
            loinc: self.loinc(entry.loinc),
            centile: self.loinc(entry.centile),
            is_vital_sign: entry.category == Category::VitalSigns,
            at_birth: entry.at_birth,
            body_site: entry.body_site,
            gender,
        }
    }
}

// The digit behind the hyphen is a mod 10 check digit: from the right, every other digit counts twice, by its cross
// sum.
fn is_loinc(code: &str) -> bool {
    let Some((number, check)) = code.split_once('-') else { return false };
    let digits = |text: &str| text.bytes().map(|byte| byte.is_ascii_digit().then(|| u32::from(byte - b'0'))).collect();
    let (Some(number), Some(check)): (Option<Vec<u32>>, Option<Vec<u32>>) = (digits(number), digits(check)) else {
        return false;
    };
    let doubled = |(at, digit): (usize, &u32)| if at % 2 == 0 { digit * 2 / 10 + digit * 2 % 10 } else { *digit };
    let sum: u32 = number.iter().rev().enumerate().map(doubled).sum();
    !number.is_empty() && number.len() <= 7 && check == [(10 - sum % 10) % 10]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lexicon::{Lexicon, LexiconError, load};

    fn with(text: &str) -> Result<Lexicon, LexiconError> {
        let mut sources = load::built_in();
        sources.push(Source { file: "mine/codes.toml".into(), text: text.into() });
        Lexicon::from_sources(&sources)
    }

    #[track_caller]
    fn check(text: &str, faults: &str) {
        assert_eq!(with(text).unwrap_err().to_string(), faults);
    }

    #[test]
    fn the_last_digit_of_a_code_tells_slips() {
        for right in ["9843-4", "8289-1", "29463-7", "8339-4", "8302-2", "8306-3", "76516-4", "10202-0", "34117-2"] {
            assert!(is_loinc(right), "{right}");
        }
        for wrong in ["9843-5", "9834-4", "98434", "9843-", "-4", "9843-44", "98a3-4", "", "123456789-0"] {
            assert!(!is_loinc(wrong), "{wrong}");
        }
    }

    #[test]
    fn faults_are_told_with_file_and_line() {
        check("[items.horn]\n", "mine/codes.toml:1: `horn` is not an item; see the ids in the other files");
        check(
            "[items.moro]\nlion = 1\n",
            "mine/codes.toml:2: unknown field `lion`, expected one of `loinc`, `centile`, \
            `category`, `at-birth`, `body-site`, `gender`",
        );
        check(
            "\n[items.moro]\nloinc = [\n  { code = \"9843-5\", display = \"x\", status = \"from memory\" },\n]\n",
            "mine/codes.toml:4: `9843-5` is no LOINC code: the digit behind the hyphen does not fit",
        );
        check(
            "[units.cm]\nucum = \"cm\"\nstatus = \"surely\"\n",
            "mine/codes.toml:3: `surely` is no status; write \"verified: WHERE\" or \"from memory\"",
        );
        check("[regions.wings]\nloinc = []\n", "mine/codes.toml:1: `wings` is not a region of any item");
        check(
            "[units.mile]\nstatus = \"from memory\"\n[items.tendon-reflexes]\n",
            "mine/codes.toml:1: `mile` is not a unit \
            that values are written in; there are cm, deg, g, kg, wk, d, h, beats, grade\nmine/codes.toml:3: \
            `tendon-reflexes` is a group; give codes to its members",
        );
        check(
            "[items.sex]\ngender = { girl = \"female\", male = \"boy\" }\n",
            "mine/codes.toml:2: `boy` is not one of male, female, other, unknown\nmine/codes.toml:2: `girl` is not a value of \
             sex",
        );
    }

    #[test]
    fn a_later_file_takes_the_place_of_an_item() {
        let lexicon = with("[items.weight]\nbody-site = \"all of it\"\n").unwrap();
        let codes = &lexicon.beside.codes;
        let weight = codes.item("weight").unwrap();
        assert_eq!(
            (weight.body_site.as_deref(), weight.loinc.len(), weight.is_vital_sign),
            (Some("all of it"), 0, false)
        );
        let head = codes.item("head-circumference").unwrap();
        assert_eq!((head.loinc[0].code.as_str(), head.is_vital_sign), ("9843-4", true));
        assert!(head.loinc[0].seen_in.is_some());
        assert_eq!((codes.ucum("deg"), codes.ucum("grade"), codes.is_plain_number("grade")), (Some("deg"), None, true));
    }

    #[test]
    fn every_paired_item_has_a_place_with_a_side() {
        let lexicon = Lexicon::load(None).unwrap();
        for item in lexicon.items.iter().filter(|item| item.paired && item.members.is_empty()) {
            let site = lexicon.beside.codes.item(&item.id).and_then(|codes| codes.body_site.as_deref());
            assert!(site.is_some_and(|site| site.contains("{side}")), "{}: {site:?}", item.id);
        }
    }
}
