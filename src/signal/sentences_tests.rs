//! Every code has sentences of its own, and every number that has a place is said.

use super::*;
use crate::signal::notice::Notice;
use crate::signal::wording::three_digits;

/// Every code, read from the source, so that a new one cannot stay untested.
fn all_codes() -> Vec<Code> {
    let source = include_str!("notice.rs");
    let body = source.split("pub enum Code {").nth(1).and_then(|rest| rest.split('}').next()).expect("the enum");
    let names = body.lines().map(str::trim).filter(|l| l.ends_with(',')).map(|l| snake(l.trim_end_matches(',')));
    names.map(|n| serde_json::from_str(&format!("\"{n}\"")).expect("a code of that name")).collect()
}

fn snake(camel: &str) -> String {
    let pieces = camel.chars().map(|c| if c.is_uppercase() { format!("_{}", c.to_lowercase()) } else { c.to_string() });
    pieces.collect::<String>().trim_start_matches('_').to_owned()
}

/// Names of the places in a list of parts.
fn places(parts: &[&str]) -> Vec<String> {
    let mut names = Vec::new();
    for part in parts {
        for piece in part.split('{').skip(1) {
            let place = piece.split('}').next().unwrap_or_default();
            names.push(place.trim_start_matches(['-', '|', '%', '=']).to_owned());
        }
    }
    names
}

#[test]
fn every_code_has_sentences_of_its_own() {
    let codes = all_codes();
    assert!(codes.len() >= 31, "{} codes found", codes.len());
    let bare: Vec<(String, String)> = codes.iter().map(|c| words(*c, &BTreeMap::new())).collect();
    for (i, (message, remedy)) in bare.iter().enumerate() {
        assert!(message.ends_with('.') && remedy.ends_with('.'), "{:?}: {message} / {remedy}", codes[i]);
        assert!(message.len() > 15 && remedy.len() > 15, "{:?}", codes[i]);
        assert!(!message.contains(['!', '{', '}']) && !remedy.contains(['!', '{', '}']), "{:?}", codes[i]);
        let twin = bare.iter().position(|(m, r)| m == message || r == remedy);
        assert_eq!(twin, Some(i), "{:?} says what {:?} says", codes[i], codes[twin.unwrap_or(i)]);
    }
}

#[test]
fn every_place_shows_its_number() {
    for code in all_codes() {
        let Words { message, remedy } = of(code);
        for (at, name) in places(message).iter().chain(&places(remedy)).enumerate() {
            let all: Vec<String> = places(message).into_iter().chain(places(remedy)).collect();
            let value = 0.125 + at as f64;
            let numbers: Vec<(&str, f64)> =
                all.iter().map(|n| (n.as_str(), if n == name { value } else { 900.0 })).collect();
            let notice = Notice::new(code, &numbers);
            let said = format!("{} {}", notice.message, notice.remedy);
            let plain = three_digits(value);
            let percent = three_digits(100.0 * value);
            let typed = value.to_string();
            assert!(
                said.contains(&plain) || said.contains(&percent) || said.contains(&typed),
                "{code:?} {name}: {said}"
            );
        }
    }
}

#[test]
fn a_missing_number_leaves_its_part_unsaid() {
    let (message, _) = words(Code::GainRiding, &BTreeMap::new());
    assert_eq!(message, "The input gain was riding.");
    let numbers = BTreeMap::from([("change_db".to_owned(), -5.8), ("allowed_db".to_owned(), 0.3)]);
    let (message, _) = words(Code::GainRiding, &numbers);
    assert_eq!(message, "The input gain was riding. It moved by 5.8 dB; 0.3 dB is allowed.");
}
