//! Annotated findings, as tab-separated rows.
//! Takes the text of a file with the columns item, side, value, flags, quote; gives one row a finding, `both` written
//! out as left and right. Leaves alone whether the rows are true.
//!
//! "moro\tboth\tpresent\t\tGood Moro" gives moro left present and moro right present

/// What can be wrong with a file of annotated findings.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GoldError {
    /// The header is not the expected one.
    #[error("line 1: the header is `{0}`; it must begin with item, side, value, flags, separated by tabs")]
    Header(String),
    /// A row with too few columns.
    #[error("line {line}: {found} columns; there must be at least item, side, value and flags")]
    Columns {
        /// Line, from 1.
        line: usize,
        /// How many columns stand there.
        found: usize,
    },
    /// A side that is none.
    #[error("line {line}: `{side}` is no side; there are left, right, both, unstated, none")]
    Side {
        /// Line, from 1.
        line: usize,
        /// What stands there.
        side: String,
    },
}

/// One annotated finding on one side.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct GoldRow {
    /// Item id.
    pub item: String,
    /// left, right, unstated or none.
    pub side: String,
    /// Value id or number with its unit.
    pub value: String,
    /// Flags, sorted.
    pub flags: Vec<String>,
}

/// Reads annotated findings.
///
/// # Errors
/// The first fault, with its line.
pub fn read_gold(text: &str) -> Result<Vec<GoldRow>, GoldError> {
    let mut lines = text.lines().enumerate();
    let header = lines.next().map_or("", |(_, line)| line);
    if !header.starts_with("item\tside\tvalue\tflags") {
        return Err(GoldError::Header(header.to_owned()));
    }
    let mut rows = Vec::new();
    for (at, line) in lines.filter(|(_, line)| !line.trim().is_empty()) {
        let columns: Vec<&str> = line.split('\t').collect();
        let [item, side, value, flags, ..] = columns[..] else {
            return Err(GoldError::Columns { line: at + 1, found: columns.len() });
        };
        let sides = match side {
            "both" => vec!["left", "right"],
            "left" | "right" | "unstated" | "none" => vec![side],
            other => return Err(GoldError::Side { line: at + 1, side: other.to_owned() }),
        };
        let mut flags: Vec<String> = flags.split(',').map(|flag| flag.trim().to_owned()).collect();
        flags.retain(|flag| !flag.is_empty());
        flags.sort();
        for side in sides {
            rows.push(GoldRow {
                item: item.to_owned(),
                side: side.to_owned(),
                value: value.to_owned(),
                flags: flags.clone(),
            });
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_is_written_out_and_faults_are_named_with_their_line() {
        let rows = read_gold("item\tside\tvalue\tflags\tquote\nmoro\tboth\tpresent\t\tGood Moro\n");
        let sides: Vec<String> = rows.iter().flatten().map(|row| row.side.clone()).collect();
        assert_eq!(sides, ["left", "right"]);
        let fault = |text: &str| read_gold(text).err().map(|fault| fault.to_string());
        assert_eq!(
            fault("x"),
            Some("line 1: the header is `x`; it must begin with item, side, value, flags, separated by tabs".into())
        );
        let side = fault("item\tside\tvalue\tflags\nmoro\tup\tpresent\t\t");
        assert_eq!(side, Some("line 2: `up` is no side; there are left, right, both, unstated, none".into()));
        let columns = fault("item\tside\tvalue\tflags\n\nmoro\tleft");
        assert_eq!(columns, Some("line 3: 2 columns; there must be at least item, side, value and flags".into()));
    }
}
