//! What a FHIR document must be beyond what schemas say.
//! Takes a Bundle as JSON; gives every fault: references that lead nowhere or to the wrong kind of resource, narratives
//! that are no XHTML, URLs that stand twice, resources that nothing leads to, and whatever is null, empty or not clean.
//! Leaves alone elements and codes, which `tests/fhir/run` puts before two validators.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

/// What may be referred to from where, as far as this program does.
const REFERENCES: [(&str, &[&str]); 12] = [
    ("Composition.subject", &["Patient"]),
    ("Composition.author", &["Practitioner"]),
    ("Composition.attester.party", &["Practitioner"]),
    ("Composition.section.entry", &["Observation"]),
    ("Observation.subject", &["Patient"]),
    ("Observation.performer", &["Practitioner"]),
    ("Observation.device", &["Device"]),
    ("Observation.derivedFrom", &["Observation"]),
    ("Provenance.target", &["Composition", "Observation"]),
    ("Provenance.agent.who", &["Practitioner", "Device"]),
    ("Provenance.signature.who", &["Practitioner"]),
    ("Provenance.entity.what", &[]),
];

/// Elements of XHTML that FHIR's narratives may have, as far as this program writes them.
const XHTML: [&str; 4] = ["div", "p", "ul", "li"];
const XHTML_NAMES: &str = "http://www.w3.org/1999/xhtml";

/// Every fault of a document.
pub(crate) fn faults(bundle: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    if (&bundle["resourceType"], &bundle["type"]) != (&"Bundle".into(), &"document".into()) {
        faults.push("it is no document".to_owned());
    }
    for needed in ["identifier", "timestamp"] {
        if bundle[needed].is_null() {
            faults.push(format!("a document needs {needed}"));
        }
    }
    let entries: Vec<&Value> = bundle["entry"].as_array().into_iter().flatten().collect();
    if entries.first().is_none_or(|first| first["resource"]["resourceType"] != "Composition") {
        faults.push("the Composition does not come first".to_owned());
    }
    texts("Bundle", bundle, &mut faults);
    let kinds = kinds(&entries, &mut faults);
    let mut leads_to: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for entry in &entries {
        let kind = entry["resource"]["resourceType"].as_str().unwrap_or_default();
        let url = entry["fullUrl"].as_str().unwrap_or_default();
        let mut to = Vec::new();
        references(kind, &entry["resource"], &kinds, &mut to, &mut faults);
        leads_to.insert(url, to);
        narratives(kind, &entry["resource"], &mut faults);
        if kind == "Observation" {
            observation(&entry["resource"], &mut faults);
        }
    }
    reachable(&entries, &leads_to, &mut faults);
    sections(&entries, &mut faults);
    faults
}

fn kinds<'a>(entries: &[&'a Value], faults: &mut Vec<String>) -> BTreeMap<&'a str, &'a str> {
    let mut kinds = BTreeMap::new();
    for entry in entries {
        let (Some(url), Some(kind)) = (entry["fullUrl"].as_str(), entry["resource"]["resourceType"].as_str()) else {
            faults.push("an entry without URL or resource".to_owned());
            continue;
        };
        if kinds.insert(url, kind).is_some() {
            faults.push(format!("{url} stands twice"));
        }
        if url.strip_prefix("urn:uuid:") != entry["resource"]["id"].as_str() {
            faults.push(format!("{url} is not the id of its resource"));
        }
    }
    kinds
}

fn references<'a>(
    path: &str,
    value: &'a Value,
    kinds: &BTreeMap<&str, &str>,
    to: &mut Vec<&'a str>,
    faults: &mut Vec<String>,
) {
    match value {
        Value::Array(all) => all.iter().for_each(|value| references(path, value, kinds, to, faults)),
        Value::Object(all) => {
            if let Some(url) = all.get("reference").and_then(Value::as_str) {
                to.push(url);
                let allowed =
                    REFERENCES.iter().find(|(known, _)| *known == path).map_or(&[] as &[&str], |(_, kinds)| kinds);
                match kinds.get(url) {
                    None => faults.push(format!("{path}: {url} leads nowhere")),
                    Some(kind) if !allowed.contains(kind) => faults.push(format!("{path}: a reference to a {kind}")),
                    Some(kind) if all.get("type").is_some_and(|said| said != kind) => {
                        faults.push(format!("{path}: {url} is a {kind}"));
                    }
                    Some(_) => {}
                }
            }
            all.iter().for_each(|(key, value)| references(&format!("{path}.{key}"), value, kinds, to, faults));
        }
        _ => {}
    }
}

fn narratives(path: &str, value: &Value, faults: &mut Vec<String>) {
    match value {
        Value::Array(all) => all.iter().for_each(|value| narratives(path, value, faults)),
        Value::Object(all) => all.iter().for_each(|(key, value)| match value.as_str() {
            Some(text) if key == "div" => {
                faults.extend(xhtml(text).into_iter().map(|fault| format!("{path}: {fault}")))
            }
            _ => narratives(&format!("{path}.{key}"), value, faults),
        }),
        _ => {}
    }
}

fn xhtml(text: &str) -> Option<String> {
    let parsed = match roxmltree::Document::parse(text) {
        Ok(parsed) => parsed,
        Err(error) => return Some(format!("the narrative is no XML: {error}")),
    };
    let root = parsed.root_element();
    if root.tag_name().name() != "div" || root.tag_name().namespace() != Some(XHTML_NAMES) {
        return Some("the narrative is no div of XHTML".to_owned());
    }
    let odd = root.descendants().find(|node| {
        node.is_pi()
            || node.is_comment()
            || (node.is_element() && !XHTML.contains(&node.tag_name().name()))
            || node.attributes().len() > 0
    });
    if let Some(odd) = odd {
        return Some(format!("the narrative has {odd:?}"));
    }
    let has_words = root.descendants().any(|node| node.text().is_some_and(|text| !text.trim().is_empty()));
    (!has_words).then(|| "the narrative says nothing".to_owned())
}

/// Nothing is null or empty, and no text has blanks around it or characters that XML or FHIR forbid.
fn texts(path: &str, value: &Value, faults: &mut Vec<String>) {
    let empty = match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(all) => all.is_empty(),
        Value::Object(all) => all.is_empty(),
        Value::Bool(_) | Value::Number(_) => false,
    };
    if empty {
        faults.push(format!("{path} is null or empty"));
    }
    match value {
        Value::String(text) => {
            let odd =
                |sign: char| sign.is_control() || matches!(sign, '\u{feff}' | '\u{fffe}' | '\u{ffff}' | '\u{202e}');
            if text.trim() != text
                || text.contains(odd)
                || text.contains(|sign: char| sign.is_whitespace() && sign != ' ')
            {
                faults.push(format!("{path} is not clean: {text:?}"));
            }
        }
        Value::Array(all) => all.iter().for_each(|value| texts(path, value, faults)),
        Value::Object(all) => all.iter().for_each(|(key, value)| texts(&format!("{path}.{key}"), value, faults)),
        _ => {}
    }
}

fn observation(content: &Value, faults: &mut Vec<String>) {
    let values: Vec<&str> = content.as_object().into_iter().flat_map(|all| all.keys()).map(String::as_str).collect();
    let values = values.into_iter().filter(|key| key.starts_with("value") || *key == "dataAbsentReason").count();
    if values != 1 {
        faults.push(format!("an Observation with {values} values: {}", content["code"]["text"]));
    }
    if content["performer"].is_null() == content["device"].is_null() {
        faults.push(format!("an Observation by a person and software, or by nobody: {}", content["code"]["text"]));
    }
}

/// From the Composition, or from what tells of the making of something that is reached.
fn reachable(entries: &[&Value], leads_to: &BTreeMap<&str, Vec<&str>>, faults: &mut Vec<String>) {
    let urls = || entries.iter().filter_map(|entry| entry["fullUrl"].as_str());
    let makings = entries.iter().filter(|entry| entry["resource"]["resourceType"] == "Provenance");
    let mut open: Vec<&str> = urls().take(1).chain(makings.filter_map(|entry| entry["fullUrl"].as_str())).collect();
    let mut reached: BTreeSet<&str> = BTreeSet::new();
    while let Some(url) = open.pop() {
        if reached.insert(url) {
            open.extend(leads_to.get(url).into_iter().flatten());
        }
    }
    faults.extend(urls().filter(|url| !reached.contains(url)).map(|url| format!("nothing leads to {url}")));
}

/// Every Observation stands in one section.
fn sections(entries: &[&Value], faults: &mut Vec<String>) {
    let sections = entries.first().and_then(|first| first["resource"]["section"].as_array());
    let listed: Vec<&str> = sections
        .into_iter()
        .flatten()
        .flat_map(|section| section["entry"].as_array().into_iter().flatten())
        .filter_map(|entry| entry["reference"].as_str())
        .collect();
    for entry in entries.iter().filter(|entry| entry["resource"]["resourceType"] == "Observation") {
        let times = listed.iter().filter(|url| Some(**url) == entry["fullUrl"].as_str()).count();
        if times != 1 {
            faults.push(format!("{} stands in {times} sections", entry["resource"]["code"]["text"]));
        }
    }
}
