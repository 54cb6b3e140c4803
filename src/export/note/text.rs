//! A note as plain text and as Markdown.
//! Takes what a note says; gives text of at most 96 columns, or Markdown. Leaves alone what it says (`content`).
//!
//! `  popliteal angle left: 150° (usual at 38+6 weeks: 70 to 110°)`

use super::{Note, NoteLine};
use crate::export::lines::{line_of, wrapped};

/// As plain text, with a line feed at the end.
#[must_use]
pub fn to_text(note: &Note) -> String {
    let mut text = String::new();
    line_of(&mut text, &note.title.to_uppercase());
    wrapped(&mut text, "", &note.status, "");
    for (name, words) in &note.heading {
        wrapped(&mut text, &format!("{name}: "), words, "    ");
    }
    for section in &note.sections {
        text.push('\n');
        wrapped(&mut text, "", &section.title.to_uppercase(), "");
        for line in &section.lines {
            wrapped(&mut text, "  ", &said(line), "      ");
            if !line.small.is_empty() {
                wrapped(&mut text, "      ", &format!("[{}]", line.small), "      ");
            }
        }
    }
    text.push('\n');
    for line in &note.foot {
        wrapped(&mut text, "", line, "");
    }
    text
}

fn said(line: &NoteLine) -> String {
    match line.lead.as_str() {
        "" => line.words.clone(),
        number if number.starts_with('[') => format!("{number} {}", line.words),
        lead => format!("{lead}: {}", line.words),
    }
}

/// As Markdown (CommonMark), with a line feed at the end. What people wrote cannot become markup.
#[must_use]
pub fn to_markdown(note: &Note) -> String {
    let mut text = format!("# {}\n\n**{}**\n\n", escaped(&note.title), escaped(&note.status));
    for (name, words) in &note.heading {
        text.push_str(&format!("- {}: {}\n", escaped(name), escaped(words)));
    }
    for section in &note.sections {
        text.push_str(&format!("\n## {}\n\n", escaped(&section.title)));
        for line in &section.lines {
            let lead = if line.lead.is_empty() { String::new() } else { format!("**{}**: ", escaped(&line.lead)) };
            let small = if line.small.is_empty() { String::new() } else { format!("  \n  *{}*", escaped(&line.small)) };
            text.push_str(&format!("- {lead}{}{small}\n", escaped(&line.words)));
        }
    }
    text.push_str("\n---\n\n");
    for line in &note.foot {
        text.push_str(&format!("{}  \n", escaped(line)));
    }
    text
}

// Every sign that can begin markup in CommonMark, in one line without line breaks.
fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for sign in words.split_whitespace().collect::<Vec<_>>().join(" ").chars().filter(|sign| !sign.is_control()) {
        if matches!(sign, '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' | '!') {
            text.push('\\');
        }
        text.push(sign);
    }
    text
}
