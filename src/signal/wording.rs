//! How a sentence takes up its numbers.
//!
//! A sentence is a list of parts. A part with places for numbers, `{name}`, is said only where all its numbers are
//! there, so that a producer who knows less says less and never something wrong. `{-name}` turns the sign (for levels
//! below full scale), `{|name}` drops it, `{%name}` makes a fraction a percentage, `{=name}` writes it as it was typed.

use std::collections::BTreeMap;

/// Three significant digits, with a true minus and no exponent between a thousandth and a million.
pub fn three_digits(x: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return if x == 0.0 { "0".to_owned() } else { "–".to_owned() };
    }
    let decimals = (2 - x.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let plain = format!("{:.*}", decimals, x.abs());
    let trimmed = if plain.contains('.') { plain.trim_end_matches('0').trim_end_matches('.') } else { &plain };
    if x < 0.0 {
        format!("\u{2212}{trimmed}")
    } else {
        trimmed.to_owned()
    }
}

/// Joins the parts that can be said.
pub(super) fn fill(parts: &[&str], numbers: &BTreeMap<String, f64>) -> String {
    let said: Vec<String> = parts.iter().filter_map(|part| fill_part(part, numbers)).collect();
    said.join(" ")
}

/// One part with its numbers; none where a number is missing.
fn fill_part(part: &str, numbers: &BTreeMap<String, f64>) -> Option<String> {
    let mut said = String::new();
    let mut rest = part;
    while let Some((before, after)) = rest.split_once('{') {
        let (place, behind) = after.split_once('}')?;
        said.push_str(before);
        said.push_str(&number_words(place, numbers)?);
        rest = behind;
    }
    said.push_str(rest);
    Some(said)
}

fn number_words(place: &str, numbers: &BTreeMap<String, f64>) -> Option<String> {
    if let Some(name) = place.strip_prefix('=') {
        return numbers.get(name).map(f64::to_string);
    }
    let (turn, name): (fn(f64) -> f64, &str) = match place.split_at(1) {
        ("-", name) => (|x| -x, name),
        ("|", name) => (f64::abs, name),
        ("%", name) => (|x| 100.0 * x, name),
        _ => (|x| x, place),
    };
    numbers.get(name).map(|x| three_digits(turn(*x)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_with_three_digits() {
        let written: Vec<String> =
            [0.0, 47.0, -0.1, 1234.4, 0.012_34, 2.0, 99.96, f64::NAN].iter().map(|x| three_digits(*x)).collect();
        assert_eq!(written, ["0", "47", "\u{2212}0.1", "1234", "0.0123", "2", "100", "–"]);
    }
}
