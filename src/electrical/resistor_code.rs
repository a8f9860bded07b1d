//! What is printed on a resistor: colour bands and letter code.
//!
//! IEC 60062. Bands: two or three digits, a multiplier, a tolerance. Letters: the unit's letter stands for the decimal
//! mark (4R7 = 4.7 Ω, 4K7 = 4.7 kΩ), a second letter gives the tolerance. Digits, multipliers and the tolerances of
//! brown, red, green, blue, violet, gold, silver and no band are confirmed by published lists; the tolerances of orange,
//! yellow and grey differ between lists and are not read; letters of tolerance are from memory of the standard.

use super::preferred_values::{scaled, series_of, Series};
use serde::Serialize;
use thiserror::Error;

/// What the resistor says.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Resistor {
    /// Value in Ω.
    pub ohm: f64,
    /// Half-width in per cent; none where it is not told, or not to be read with certainty.
    pub tolerance_percent: Option<f64>,
    /// The coarsest series of preferred values that has it; none where no series has it.
    pub series: Option<Series>,
    /// Value in Ω when the bands are read from the other end, where that makes sense as well.
    pub other_way_ohm: Option<f64>,
}

/// Why a code cannot be read.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CodeError {
    /// Neither three, four nor five bands.
    #[error(
        "{0} bands cannot be read: count three, four or five. A sixth tells the drift with temperature: leave it out."
    )]
    Count(usize),
    /// No colour of the standard.
    #[error("{0} is no colour of the code")]
    Colour(String),
    /// Gold or silver where a digit stands.
    #[error("Band {0} is a digit, and {1} stands for none: read from the other end.")]
    Digit(usize, String),
    /// A value does not begin with a nought.
    #[error("No value begins with black: read from the other end. A single black band is a link of 0 ohms.")]
    BeginsWithNought,
    /// No tolerance has this colour.
    #[error("{0} stands for no tolerance: read from the other end, or look at the colour again.")]
    Tolerance(String),
    /// Not a number with a unit's letter.
    #[error(
        "That is no letter code. Digits with R, K, M or G for the decimal mark are wanted, as in 4R7, 47R or 4K7."
    )]
    Letters,
}

/// Colours in the order of their digits, then gold and silver.
const COLOURS: [&str; 12] =
    ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white", "gold", "silver"];
const GOLD: usize = 10;

/// Reads bands from the end that they crowd at: digits, multiplier, tolerance. Three bands have no tolerance band, which
/// means 20 %.
pub fn bands(colours: &[&str]) -> Result<Resistor, CodeError> {
    let (ohm, tolerance_percent) = read(colours)?;
    let backwards: Vec<&str> = colours.iter().rev().copied().collect();
    let sensible = |(other, tolerance): (f64, Option<f64>)| {
        (tolerance.is_some() && series_of(other).is_some() && (other / ohm - 1.0).abs() > 1e-9).then_some(other)
    };
    // With three bands the tolerance tells no end from the other, and two readings in three would make sense.
    let other_way_ohm = if colours.len() > 3 { read(&backwards).ok().and_then(sensible) } else { None };
    Ok(Resistor { ohm, tolerance_percent, series: series_of(ohm), other_way_ohm })
}

fn read(colours: &[&str]) -> Result<(f64, Option<f64>), CodeError> {
    if !(3..=5).contains(&colours.len()) {
        return Err(CodeError::Count(colours.len()));
    }
    let known = |c: &&str| COLOURS.iter().position(|k| k == c).ok_or_else(|| CodeError::Colour((*c).to_owned()));
    let codes: Vec<usize> = colours.iter().map(known).collect::<Result<_, _>>()?;
    let count = if codes.len() == 5 { 3 } else { 2 };
    let mut value = 0.0;
    for (i, &code) in codes[..count].iter().enumerate() {
        match code {
            0 if i == 0 => return Err(CodeError::BeginsWithNought),
            digit if digit < GOLD => value = value * 10.0 + digit as f64,
            _ => return Err(CodeError::Digit(i + 1, colours[i].to_owned())),
        }
    }
    let decade = match codes[count] {
        digit if digit < GOLD => digit as i32,
        metal => GOLD as i32 - 1 - metal as i32,
    };
    let tolerance = codes.get(count + 1).map_or(Ok(Some(20.0)), |&code| tolerance_of(code))?;
    Ok((scaled(value, decade), tolerance))
}

/// In per cent; `None` where lists differ.
fn tolerance_of(code: usize) -> Result<Option<f64>, CodeError> {
    Ok(Some(match COLOURS[code] {
        "brown" => 1.0,
        "red" => 2.0,
        "green" => 0.5,
        "blue" => 0.25,
        "violet" => 0.1,
        "gold" => 5.0,
        "silver" => 10.0,
        "orange" | "yellow" | "grey" => return Ok(None),
        other => return Err(CodeError::Tolerance(other.to_owned())),
    }))
}

/// Reads a letter code such as 4R7, 47RJ, 4k7 or R47F; watts in front, as in 5W4R7J, are passed over.
pub fn letters(text: &str) -> Result<Resistor, CodeError> {
    let code = text.trim().to_ascii_uppercase().replace('Ω', "R");
    let code = without_watts(&code);
    let at = code.find(|c: char| !c.is_ascii_digit()).ok_or(CodeError::Letters)?;
    let (whole, rest) = code.split_at(at);
    let mut rest = rest.chars();
    let decade = match rest.next() {
        Some('R') => 0,
        Some('K') => 3,
        Some('M') => 6,
        Some('G') => 9,
        _ => return Err(CodeError::Letters),
    };
    let rest = rest.as_str();
    let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let (part, tolerance) = rest.split_at(end);
    let digits = format!("{whole}{part}");
    let value: f64 = digits.parse().map_err(|_| CodeError::Letters)?;
    // Values have at most three digits that count, four with a nought behind.
    if value == 0.0 || digits.len() > 6 {
        return Err(CodeError::Letters);
    }
    let ohm = scaled(value, decade - part.len() as i32);
    Ok(Resistor { ohm, tolerance_percent: tolerance_letter(tolerance)?, series: series_of(ohm), other_way_ohm: None })
}

fn without_watts(code: &str) -> &str {
    match code.split_once('W') {
        Some((watts, rest)) if !watts.is_empty() && !rest.is_empty() && watts.chars().all(|c| c.is_ascii_digit()) => {
            rest
        }
        _ => code,
    }
}

/// In per cent; none without a letter.
fn tolerance_letter(text: &str) -> Result<Option<f64>, CodeError> {
    Ok(Some(match text {
        "" => return Ok(None),
        "B" => 0.1,
        "C" => 0.25,
        "D" => 0.5,
        "F" => 1.0,
        "G" => 2.0,
        "J" => 5.0,
        "K" => 10.0,
        "M" => 20.0,
        _ => return Err(CodeError::Letters),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ohm(text: &str) -> f64 {
        bands(&text.split(' ').collect::<Vec<_>>()).unwrap().ohm
    }

    /// Published lists of IEC 60062.
    #[test]
    fn bands_as_by_the_standard() {
        assert_eq!(ohm("yellow violet red"), 4700.0);
        assert_eq!(ohm("brown black black gold"), 10.0);
        assert_eq!(ohm("red red gold"), 2.2);
        assert_eq!(ohm("orange orange silver"), 0.33);
        assert_eq!(ohm("brown green black silver"), 15.0);
        assert_eq!(ohm("brown black black gold brown"), 10.0);
        let tolerances = [
            ("brown", 1.0),
            ("red", 2.0),
            ("green", 0.5),
            ("blue", 0.25),
            ("violet", 0.1),
            ("gold", 5.0),
            ("silver", 10.0),
        ];
        for (colour, percent) in tolerances {
            assert_eq!(bands(&["yellow", "violet", "black", colour]).unwrap().tolerance_percent, Some(percent));
        }
        assert_eq!(bands(&["yellow", "violet", "red"]).unwrap().tolerance_percent, Some(20.0));
    }

    #[test]
    fn a_tolerance_that_lists_differ_on_is_not_read() {
        for colour in ["orange", "yellow", "grey"] {
            let found = bands(&["yellow", "violet", "black", "black", colour]).unwrap();
            assert_eq!((found.ohm, found.tolerance_percent), (470.0, None));
        }
    }

    #[test]
    fn impossible_bands_say_why() {
        let of = |text: &str| bands(&text.split(' ').collect::<Vec<_>>()).unwrap_err();
        assert_eq!(of("black red red gold"), CodeError::BeginsWithNought);
        assert_eq!(of("gold black violet yellow"), CodeError::Digit(1, "gold".to_owned()));
        assert_eq!(of("red silver red gold"), CodeError::Digit(2, "silver".to_owned()));
        assert_eq!(of("red red red white"), CodeError::Tolerance("white".to_owned()));
        assert_eq!(of("red red red black"), CodeError::Tolerance("black".to_owned()));
        assert_eq!(of("red red"), CodeError::Count(2));
        assert_eq!(of("red pink red"), CodeError::Colour("pink".to_owned()));
    }

    /// 1 kΩ 1 %: brown black black brown brown reads as 110 Ω, 1 % from the other end: brown brown black black brown.
    #[test]
    fn a_reading_that_makes_sense_from_both_ends_says_so() {
        let found = bands(&["brown", "black", "black", "brown", "brown"]).unwrap();
        assert_eq!((found.ohm, found.other_way_ohm), (1000.0, Some(110.0)));
        assert_eq!(bands(&["yellow", "violet", "black", "gold"]).unwrap().other_way_ohm, None);
    }

    #[test]
    fn letters_as_by_the_standard() {
        let read = |t: &str| letters(t).map(|r| (r.ohm, r.tolerance_percent));
        for (text, ohm, tolerance) in [
            ("4R7", 4.7, None),
            ("4k7", 4700.0, None),
            ("R47", 0.47, None),
            ("47RJ", 47.0, Some(5.0)),
            ("K47K", 470.0, Some(10.0)),
            ("5W8R2J", 8.2, Some(5.0)),
            ("49R9F", 49.9, Some(1.0)),
            ("1M0", 1e6, None),
            ("10Ω", 10.0, None),
        ] {
            assert_eq!(read(text), Ok((ohm, tolerance)), "{text}");
        }
        for wrong in ["", "47", "R", "4R7R", "4X7", "-4R7", "4.7R", "0R", "12345678R", "10W", "4R7Z"] {
            assert_eq!(read(wrong), Err(CodeError::Letters), "{wrong}");
        }
    }

    /// Round trip of every member of E96 in six decades, as bands and as letters.
    #[test]
    fn every_value_of_e96_reads_back() {
        for digits in Series::E96.digits() {
            let digit = |n: u16| COLOURS[usize::from(n % 10)];
            for decade in -2..=4i32 {
                let multiplier =
                    if decade < 0 { COLOURS[(GOLD as i32 - 1 - decade) as usize] } else { COLOURS[decade as usize] };
                let colours = [digit(digits / 100), digit(digits / 10), digit(digits), multiplier, "brown"];
                let found = bands(&colours).unwrap();
                assert_eq!(found.ohm, scaled(f64::from(digits), decade));
                assert!(found.series.is_some_and(|s| s <= Series::E96));
            }
            let text = format!("{}R{:02}F", digits / 100, digits % 100);
            assert_eq!(letters(&text).unwrap().ohm, scaled(f64::from(digits), -2));
        }
    }
}
