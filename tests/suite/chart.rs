//! Growth charts: what is drawn, and as SVG.
//! Takes invented measurements; fails where a chart shows another age than it may, covers what must be seen, or is no XML. Leaves alone
//! the values of the lines (`growth`) and charts in a PDF (`pdf`).

use proptest::prelude::*;
use roxmltree::Document;
use spoken_exam::computed::growth::{Measure, Sex, Standard, Tables};
use spoken_exam::export::chart::{Chart, ChartPoint, chart};
use spoken_exam::export::drawing::{Place, Shape, Step};
use spoken_exam::export::svg::to_svg;

use crate::growth::all_tables;

pub(crate) fn point(at_days: u32, value: f64, label: &str, current: bool) -> ChartPoint {
    ChartPoint { at_days, value, label: label.to_owned(), current }
}

/// A head on its standard, a boy's.
#[track_caller]
pub(crate) fn of_heads(standard: Standard, points: &[ChartPoint]) -> Chart {
    chart(all_tables(), standard, (Measure::Head, "Head circumference"), Sex::Male, points).expect("there is a chart")
}

fn words(chart: &Chart) -> Vec<String> {
    let words = chart.drawing.shapes.iter().filter_map(|shape| match shape {
        Shape::Words { words, .. } => Some(words.clone()),
        _ => None,
    });
    words.collect()
}

fn places(chart: &Chart) -> Vec<Place> {
    let of_shape = |shape: &Shape| match shape {
        Shape::Path { steps, .. } => steps
            .iter()
            .filter_map(|step| match step {
                Step::Move(at) | Step::Line(at) | Step::Curve(_, _, at) => Some(*at),
                Step::Close => None,
            })
            .collect(),
        Shape::Dot { at, .. } | Shape::Words { at, .. } => vec![*at],
    };
    chart.drawing.shapes.iter().flat_map(of_shape).collect()
}

/// The text of an element of an SVG, and whether the whole is one picture without anything from elsewhere.
#[track_caller]
fn parsed(svg: &str, element: &str) -> String {
    let document = Document::parse(svg).expect("it is XML");
    let root = document.root_element();
    assert_eq!((root.tag_name().name(), root.attribute("role")), ("svg", Some("img")));
    for node in document.descendants().filter(|node| node.is_element()) {
        assert!(!["script", "style", "image", "use", "a"].contains(&node.tag_name().name()), "{node:?}");
        let from_elsewhere = |value: &str| value.contains("url(") || value.contains("http");
        assert!(!node.attributes().any(|attribute| from_elsewhere(attribute.value())), "{node:?}");
    }
    let found = root.children().find(|node| node.has_tag_name(("http://www.w3.org/2000/svg", element)));
    found.and_then(|node| node.text()).unwrap_or_default().to_owned()
}

#[test]
fn a_chart_says_its_standard_whose_it_is_and_every_figure() {
    let head = of_heads(Standard::Who, &[point(1, 35.0, "27 Nov", false), point(3, 36.0, "this examination", true)]);
    let svg = to_svg(&head.drawing);
    let desc = parsed(&svg, "desc");
    assert_eq!(parsed(&svg, "title"), "Head circumference, boys, on the lines of WHO Child Growth Standards, 2006");
    for told in [
        "WHO Child Growth Standards, 2006; boys; age since birth.",
        "27 Nov: 35 cm at 1 day, z 0.",
        "this examination: 36 cm at 3 days, z 0.99, centile 83.9.",
    ] {
        assert!(desc.contains(told), "{told}: {desc}");
    }
    let words = words(&head);
    for seen in ["3rd", "10th", "50th", "90th", "97th", "days since birth", "cm", "this examination: 36 cm"] {
        assert!(words.iter().any(|word| word == seen), "{seen}: {words:?}");
    }
    assert!(words.contains(&head.caption) && head.left_out.is_empty());
}

#[test]
fn lines_can_be_told_apart_without_colour() {
    let head = of_heads(Standard::Who, &[point(3, 36.0, "", true)]);
    let svg = to_svg(&head.drawing);
    let document = Document::parse(&svg).unwrap();
    let dashes = |pattern: Option<&str>| {
        let lines = document.descendants().filter(|node| node.attribute("stroke-opacity") == Some("0.68"));
        lines.filter(|node| node.attribute("stroke-dasharray") == pattern).count()
    };
    assert_eq!([dashes(None), dashes(Some("4 2")), dashes(Some("0.9 1.7"))], [1, 2, 2]);
    assert!(!svg.contains('#') && !svg.contains("rgb"), "its ink is the text's: {svg}");
}

#[test]
fn what_the_standard_has_no_age_for_is_told_and_not_drawn() {
    let both = [point(30 * 7, 27.0, "1 Nov", true), point(70 * 7, 44.0, "much later", false)];
    let head = of_heads(Standard::Preterm, &both);
    assert_eq!(head.left_out, ["Not drawn: much later 44 cm at 70+0 weeks, outside the ages of the standard."]);
    assert!(parsed(&to_svg(&head.drawing), "desc").contains(&head.left_out[0]));
    let none = |points: &[ChartPoint], tables: &Tables| {
        chart(tables, Standard::Preterm, (Measure::Head, "Head"), Sex::Male, points).is_none()
    };
    assert!(none(&both[1..], all_tables()) && none(&[], all_tables()) && none(&both, &Tables::default()));
    assert!(none(&[point(210, f64::NAN, "", true), point(210, -3.0, "", true)], all_tables()));
}

#[test]
fn what_lies_far_out_is_shown_at_the_edge_with_its_value() {
    let head = of_heads(Standard::Who, &[point(3, 63.0, "29 Nov", true), point(9, 36.0, "5 Dec", false)]);
    let words = words(&head);
    assert!(words.contains(&"29 Nov: 63 cm".to_owned()) && !words.contains(&"63".to_owned()), "{words:?}");
    assert!(head.drawing.words.contains("29 Nov: 63 cm at 3 days, z 22.60, above the 99.9th centile."));
}

#[test]
fn every_measurement_is_told_also_where_its_words_have_no_room() {
    let labels: Vec<String> = (1..=25).map(|day| format!("{day} Nov")).collect();
    let points: Vec<ChartPoint> =
        (1..).zip(&labels).map(|(day, label)| point(day, 34.0 + f64::from(day) / 20.0, label, day == 25)).collect();
    let head = of_heads(Standard::Who, &points);
    let seen = words(&head).join(" ");
    for (label, point) in labels.iter().zip(&points) {
        assert!(seen.contains(&format!("{label}: {} cm", point.value)), "{label}: {seen}");
    }
    assert!(seen.contains("Without words beside them: "), "{seen}");
}

#[test]
fn text_stays_text() {
    let label = "<script>alert(1)</script> & \"x\" \u{0}\u{fffe}";
    let head = of_heads(Standard::Who, &[point(3, 36.0, label, true)]);
    assert!(
        parsed(&to_svg(&head.drawing), "desc").contains("<script>alert(1)</script> & \"x\" \u{fffd}\u{fffd}: 36 cm")
    );
}

proptest! {
    #[test]
    fn any_measurements_give_a_picture_within_its_edges(
        standard in prop_oneof![Just(Standard::Who), Just(Standard::Newborn), Just(Standard::Preterm)],
        measure in prop_oneof![Just(Measure::Head), Just(Measure::Weight), Just(Measure::Length)],
        points in prop::collection::vec((0u32..460, any::<f64>(), ".{0,40}", any::<bool>()), 1..12),
        near in prop::collection::vec((0u32..460, 0.5f64..60.0), 0..8),
    ) {
        let mut all: Vec<ChartPoint> =
            points.iter().map(|(at, value, label, current)| point(*at, *value, label, *current)).collect();
        all.extend(near.iter().map(|(at, value)| point(*at, *value, "n", false)));
        if let Some(chart) = chart(all_tables(), standard, (measure, "Size"), Sex::Female, &all) {
            let svg = to_svg(&chart.drawing);
            prop_assert!(Document::parse(&svg).is_ok(), "{}", svg);
            prop_assert!(svg.contains(standard.words()));
            let (width, height) = (chart.drawing.width, chart.drawing.height);
            for (x, y) in places(&chart) {
                prop_assert!((-1.0..=width + 1.0).contains(&x) && (-1.0..=height + 1.0).contains(&y), "{} {}", x, y);
            }
        }
    }
}
