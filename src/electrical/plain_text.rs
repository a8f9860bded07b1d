//! What a person typed, made fit for formats that know only ASCII and end a line with a comment.

/// On one line and in ASCII: other signs become `?`, line ends and tabs become spaces.
pub fn one_line(text: &str) -> String {
    let sign = |c: char| match c {
        c if c.is_control() => ' ',
        c if c.is_ascii() => c,
        _ => '?',
    };
    text.chars().map(sign).collect::<String>().trim().to_owned()
}

/// A name of lower-case letters, digits and underscores that begins with a letter; `otherwise` where nothing is left.
pub fn identifier(text: &str, otherwise: &str) -> String {
    let mut name = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            name.push(c.to_ascii_lowercase());
        } else if !name.is_empty() && !name.ends_with('_') {
            name.push('_');
        }
    }
    let name = name.trim_end_matches('_');
    match name.chars().next() {
        Some(first) if first.is_ascii_alphabetic() => name.to_owned(),
        Some(_) => format!("{otherwise}_{name}"),
        None => otherwise.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_was_typed_begins_a_line_of_its_own() {
        assert_eq!(one_line("Six\r\n.end\tΩ "), "Six  .end ?");
    }

    #[test]
    fn names_are_fit_for_a_netlist() {
        assert_eq!(identifier("Fallow Twelve, 12-inch (left)", "driver"), "fallow_twelve_12_inch_left");
        assert_eq!(identifier("12 inch", "driver"), "driver_12_inch");
        assert_eq!(identifier("Ω", "driver"), "driver");
    }
}
