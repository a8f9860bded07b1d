//! Plain data between JavaScript and the typed requests and answers: what JSON can hold. One tree for everything, because
//! each further format would put a second reader and writer of every type into the page's first load.

use std::fmt::Display;

/// Deepest nesting that is read.
const DEEPEST: usize = 64;

/// A JSON value. Fields stand in the order in which they came.
#[derive(Clone, Debug, PartialEq)]
pub enum Tree {
    Null,
    Bool(bool),
    Number(f64),
    Text(String),
    List(Vec<Tree>),
    Object(Vec<(String, Tree)>),
}

impl Tree {
    /// Reads JSON. An object that names a field twice is refused: which of the two was meant, nobody can tell.
    ///
    /// # Errors
    /// What is wrong, with line and column.
    pub fn parse(json: &str) -> Result<Tree, String> {
        let mut text = Text { json, at: 0 };
        let found = text.value(0).and_then(|value| {
            text.space();
            if text.at < json.len() {
                return Err("nothing more is wanted".to_owned());
            }
            Ok(value)
        });
        found.map_err(|what| {
            let before = &json.as_bytes()[..text.at.min(json.len())];
            let line = before.iter().filter(|b| **b == b'\n').count() + 1;
            let column = before.iter().rev().take_while(|b| **b != b'\n').count() + 1;
            format!("{what} at line {line} column {column}")
        })
    }
}

struct Text<'a> {
    json: &'a str,
    at: usize,
}

/// The number that stands in the text, to the last bit. JavaScript has a reader of its own; Rust's brings tables of 10 kB.
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
fn nearest(text: &str) -> f64 {
    js_sys::Number::parse_float(text)
}

#[cfg(not(all(target_arch = "wasm32", target_os = "unknown")))]
fn nearest(text: &str) -> f64 {
    text.parse().unwrap_or(f64::NAN)
}

fn wanted<T>(what: impl Display) -> Result<T, String> {
    Err(format!("{what} is wanted"))
}

impl Text<'_> {
    fn peek(&self) -> u8 {
        self.json.as_bytes().get(self.at).copied().unwrap_or(0)
    }

    /// What was read since `begin`; both ends are ASCII or the text's own.
    fn since(&self, begin: usize) -> &str {
        self.json.get(begin..self.at).unwrap_or_default()
    }

    fn space(&mut self) {
        while matches!(self.peek(), b' ' | b'\t' | b'\n' | b'\r') {
            self.at += 1;
        }
    }

    /// Goes past `byte` if it comes next, white space left out.
    fn next_is(&mut self, byte: u8) -> bool {
        self.space();
        let found = self.peek() == byte;
        self.at += usize::from(found);
        found
    }

    fn value(&mut self, depth: usize) -> Result<Tree, String> {
        if depth > DEEPEST {
            return wanted("less depth");
        }
        self.space();
        match self.peek() {
            b'{' => self.object(depth),
            b'[' => self.list(depth),
            b'"' => self.string().map(Tree::Text),
            b'-' | b'0'..=b'9' => self.number(),
            _ => self.word(),
        }
    }

    fn word(&mut self) -> Result<Tree, String> {
        let words = [("null", Tree::Null), ("true", Tree::Bool(true)), ("false", Tree::Bool(false))];
        for (word, value) in words {
            if self.json.as_bytes()[self.at..].starts_with(word.as_bytes()) {
                self.at += word.len();
                return Ok(value);
            }
        }
        wanted("a JSON value")
    }

    fn list(&mut self, depth: usize) -> Result<Tree, String> {
        self.at += 1;
        let mut items = Vec::new();
        if self.next_is(b']') {
            return Ok(Tree::List(items));
        }
        loop {
            items.push(self.value(depth + 1)?);
            if self.next_is(b']') {
                return Ok(Tree::List(items));
            }
            if !self.next_is(b',') {
                return wanted("`,` or `]`");
            }
        }
    }

    fn object(&mut self, depth: usize) -> Result<Tree, String> {
        self.at += 1;
        let mut fields: Vec<(String, Tree)> = Vec::new();
        if self.next_is(b'}') {
            return Ok(Tree::Object(fields));
        }
        loop {
            self.space();
            let name = self.string()?;
            if fields.iter().any(|(other, _)| *other == name) {
                return Err(format!("the field `{name}` stands twice"));
            }
            if !self.next_is(b':') {
                return wanted("`:`");
            }
            fields.push((name, self.value(depth + 1)?));
            if self.next_is(b'}') {
                return Ok(Tree::Object(fields));
            }
            if !self.next_is(b',') {
                return wanted("`,` or `}`");
            }
        }
    }

    fn digits(&mut self) -> bool {
        let begin = self.at;
        while self.peek().is_ascii_digit() {
            self.at += 1;
        }
        self.at > begin
    }

    fn number(&mut self) -> Result<Tree, String> {
        let begin = self.at;
        self.at += usize::from(self.peek() == b'-');
        let first = self.at;
        let mut good = self.digits() && (self.at == first + 1 || self.json.as_bytes()[first] != b'0');
        if self.peek() == b'.' {
            self.at += 1;
            good &= self.digits();
        }
        if matches!(self.peek(), b'e' | b'E') {
            self.at += 1;
            self.at += usize::from(matches!(self.peek(), b'+' | b'-'));
            good &= self.digits();
        }
        if !good {
            return wanted("a number as JSON writes it");
        }
        match nearest(self.since(begin)) {
            number if number.is_finite() => Ok(Tree::Number(number)),
            _ => Err("number out of range".to_owned()),
        }
    }

    fn string(&mut self) -> Result<String, String> {
        if self.peek() != b'"' {
            return wanted("text between double quotes");
        }
        self.at += 1;
        let mut out = String::new();
        loop {
            let begin = self.at;
            while !matches!(self.peek(), b'"' | b'\\' | 0..=31) {
                self.at += 1;
            }
            out.push_str(self.since(begin));
            match self.peek() {
                b'"' => {
                    self.at += 1;
                    return Ok(out);
                }
                b'\\' => out.push(self.escaped()?),
                _ => return wanted("the end of the text, a double quote,"),
            }
        }
    }

    fn escaped(&mut self) -> Result<char, String> {
        self.at += 2;
        Ok(match self.json.as_bytes().get(self.at - 1) {
            Some(plain @ (b'"' | b'\\' | b'/')) => char::from(*plain),
            Some(b'b') => '\u{8}',
            Some(b'f') => '\u{c}',
            Some(b'n') => '\n',
            Some(b'r') => '\r',
            Some(b't') => '\t',
            Some(b'u') => return self.unicode(),
            _ => return wanted("one of the escapes of JSON"),
        })
    }

    /// Four hexadecimal digits; two such for what lies beyond the first plane.
    fn unicode(&mut self) -> Result<char, String> {
        let mut code = self.four_digits()?;
        if (0xD800..0xDC00).contains(&code) && self.json.as_bytes()[self.at..].starts_with(b"\\u") {
            self.at += 2;
            let low = self.four_digits()?;
            if !(0xDC00..0xE000).contains(&low) {
                return wanted("a whole pair of \\u");
            }
            code = 0x1_0000 + ((code - 0xD800) << 10) + (low - 0xDC00);
        }
        char::from_u32(code).map_or_else(|| wanted("a whole pair of \\u"), Ok)
    }

    fn four_digits(&mut self) -> Result<u32, String> {
        let digits = self.json.get(self.at..self.at + 4).filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()));
        self.at += 4;
        digits.and_then(|d| u32::from_str_radix(d, 16).ok()).map_or_else(|| wanted("four hexadecimal digits"), Ok)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::Value;

    fn same(tree: &Tree, value: &Value) -> bool {
        match (tree, value) {
            (Tree::Null, Value::Null) => true,
            (Tree::Bool(a), Value::Bool(b)) => a == b,
            (Tree::Number(a), b) => b.as_f64() == Some(*a),
            (Tree::Text(a), Value::String(b)) => a == b,
            (Tree::List(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b)),
            (Tree::Object(a), Value::Object(b)) => {
                a.len() == b.len() && a.iter().all(|(name, a)| b.get(name).is_some_and(|b| same(a, b)))
            }
            _ => false,
        }
    }

    /// The reader of a general library takes what this one takes, and reads the same from it; only a field that stands
    /// twice is for us alone to refuse.
    fn agrees(json: &str) -> bool {
        match (Tree::parse(json), serde_json::from_str::<Value>(json)) {
            (Ok(ours), Ok(theirs)) => same(&ours, &theirs),
            (Err(what), Ok(_)) => what.contains("twice"),
            (ours, Err(_)) => ours.is_err(),
        }
    }

    #[test]
    fn reads_as_a_general_library_does() {
        for json in [
            "0",
            "-0",
            "01",
            "1.",
            ".5",
            "-",
            "+1",
            "1e5",
            "1E-7",
            "1e+",
            "1e999",
            "0x1",
            "nul",
            "true",
            "falsey",
            "[]",
            "[1,]",
            "[1 2]",
            "{}",
            "{\"a\":1,}",
            "{\"a\" 1}",
            "{a:1}",
            "\"\\u00e9\\n\\/\"",
            "\"\\ud83d\\ude00\"",
            "\"\\ud83d\"",
            "\"\\ud83dx\"",
            "\"\\ud83d\\u0041\"",
            "\"\\ude00\"",
            "\"\\u12\"",
            "\"\\u+123\"",
            "\"\\x\"",
            "\"a\nb\"",
            "\"",
            "\"\\",
            " 1 ",
            "1 1",
            "{\"a\":1,\"a\":2}",
            "4.9e-324",
            "1.7976931348623157e308",
            "\u{feff}1",
            "123456789012345678901234567890",
        ] {
            assert!(agrees(json), "{json}: {:?}", Tree::parse(json));
        }
        assert!(Tree::parse(&"[".repeat(100_000)).is_err());
    }

    proptest! {
        #[test]
        fn reads_any_text_as_a_general_library_does(text in "[\\[\\]{},:\"\\\\u0-9eE.+\\-a-f \\ntrl]{0,24}|.*") {
            prop_assert!(agrees(&text), "{text}");
        }
    }
}
