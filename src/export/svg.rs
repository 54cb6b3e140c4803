//! Drawing → SVG.
//! Takes a drawing; gives one SVG element that stands alone: no script, no style sheet, no font and no address from elsewhere. Its ink is
//! the colour of the text around it, so that it can be read on light and on dark pages. Leaves alone what is drawn.
//!
//! A path in soft ink is `<path d="M24 20L224 20" fill="none" stroke="currentColor" stroke-width="0.5" stroke-opacity="0.68"/>`

use super::drawing::{Anchor, Drawing, Line, Place, Shape, Step, Tone};
use super::xml::escaped;

/// One element, whole and valid by itself.
#[must_use]
pub fn to_svg(drawing: &Drawing) -> String {
    let (width, height) = (number(drawing.width), number(drawing.height));
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" fill=\"currentColor\" \
         font-family=\"sans-serif\">\n<title>{}</title>\n<desc>{}</desc>\n",
        escaped(&drawing.title),
        escaped(&drawing.words)
    );
    for shape in &drawing.shapes {
        svg.push_str(&element(shape));
        svg.push('\n');
    }
    svg.push_str("</svg>\n");
    svg
}

fn element(shape: &Shape) -> String {
    match shape {
        Shape::Path { steps, line, fill } => {
            let run: String = steps.iter().map(step).collect();
            let fill = match fill {
                Some(Tone::Page) => " fill=\"Canvas\"".to_owned(),
                Some(tone) => opacity("fill", *tone),
                None => " fill=\"none\"".to_owned(),
            };
            format!("<path d=\"{run}\"{fill}{}/>", line.map(stroke).unwrap_or_default())
        }
        Shape::Dot { at, radius } => {
            format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>", number(at.0), number(at.1), number(*radius))
        }
        Shape::Words { at, anchor, size, bold, tone, words } => {
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let (x, y, size) = (number(at.0), number(at.1), number(*size));
            let bold = if *bold { " font-weight=\"bold\"" } else { "" };
            let (opacity, words) = (opacity("fill", *tone), escaped(words));
            format!("<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor}{bold}{opacity}>{words}</text>")
        }
    }
}

fn step(step: &Step) -> String {
    let place = |(x, y): Place| format!("{} {}", number(x), number(y));
    match *step {
        Step::Move(to) => format!("M{}", place(to)),
        Step::Line(to) => format!("L{}", place(to)),
        Step::Curve(one, two, to) => format!("C{} {} {}", place(one), place(two), place(to)),
        Step::Close => "Z".to_owned(),
    }
}

fn stroke(line: Line) -> String {
    let pattern: Vec<String> = line.dash.pattern().iter().map(|length| number(*length)).collect();
    let dash = if pattern.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", pattern.join(" ")) };
    format!(
        " stroke=\"currentColor\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dash}{}",
        number(line.width),
        opacity("stroke", line.tone)
    )
}

fn opacity(of: &str, tone: Tone) -> String {
    if tone == Tone::Ink { String::new() } else { format!(" {of}-opacity=\"{}\"", number(tone.ink())) }
}

/// With at most two decimals.
fn number(value: f32) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        for (value, text) in [(12.0, "12"), (0.504, "0.5"), (-0.001, "0"), (100.0, "100"), (3.126, "3.13")] {
            assert_eq!(number(value), text);
        }
    }
}
