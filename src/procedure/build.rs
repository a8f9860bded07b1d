//! Small builders, so that the stages read as what they say.

use super::step::{Action, Answer, Caution, Choice, Drawing, DrawingKind, Field, Happening, Pick, PickOption};
use super::step::{Progress, ReadingNote, Stage, Step, TickItem};
use crate::math::order::by_name;
use crate::signal::notice::{Code, Notice};

impl Step {
    /// A step with its large sentence and its action; the rest is added by the methods below.
    pub(super) fn new(stage: Stage, id: &str, sentence: &str, action: Action) -> Self {
        Step {
            stage,
            id: id.to_owned(),
            sentence: sentence.to_owned(),
            note: String::new(),
            cautions: Vec::new(),
            drawing: None,
            action,
            progress: None,
            choices: Vec::new(),
            notices: Vec::new(),
            readings: Vec::new(),
        }
    }

    /// A refusal that ends the road until one of `choices` is pressed.
    pub(super) fn refused(stage: Stage, id: &str, notice: Notice, choices: Vec<Choice>) -> Self {
        let sentence = notice.message.clone();
        let note = notice.remedy.clone();
        Step::new(stage, id, &sentence, Action::Refuse { notice }).note(&note).choices(choices)
    }

    pub(super) fn note(mut self, text: &str) -> Self {
        self.note = text.to_owned();
        self
    }

    pub(super) fn cautions(mut self, cautions: Vec<Caution>) -> Self {
        self.cautions = cautions;
        self
    }

    pub(super) fn drawing(mut self, drawing: Drawing) -> Self {
        self.drawing = Some(drawing);
        self
    }

    pub(super) fn progress(mut self, done: usize, of: usize, seconds: Option<f64>) -> Self {
        self.progress = Some(Progress { done: done as u32, of: of as u32, seconds });
        self
    }

    pub(super) fn choices(mut self, choices: Vec<Choice>) -> Self {
        self.choices = choices;
        self
    }

    pub(super) fn notices(mut self, notices: Vec<Notice>) -> Self {
        self.notices = notices;
        self
    }
}

impl Happening {
    /// The step during which it happened, where it belongs to one.
    pub(super) fn step_id(&self) -> Option<&str> {
        match self {
            Happening::Confirmed { step, .. }
            | Happening::Chosen { step, .. }
            | Happening::Heard { step, .. }
            | Happening::Took { step, .. }
            | Happening::Voided { step, .. } => Some(step),
            Happening::SetAside { .. } | Happening::Read { .. } | Happening::SteppedBack | Happening::Finished => None,
        }
    }
}

impl ReadingNote {
    /// One of these stands among its warnings or is its refusal.
    pub(super) fn speaks_of(&self, wanted: &[Code]) -> bool {
        let refused = self.refusal.iter().map(|notice| &notice.code);
        self.warnings.iter().chain(refused).any(|code| wanted.contains(code))
    }
}

impl Answer {
    /// The number, where it is one and finite.
    pub(super) fn number(&self) -> Option<f64> {
        match self {
            Answer::Number(x) if x.is_finite() => Some(*x),
            _ => None,
        }
    }
}

pub(super) fn choice(id: &str, label: &str, help: &str) -> Choice {
    Choice { id: id.to_owned(), label: label.to_owned(), help: help.to_owned() }
}

pub(super) fn tick(id: &str, label: &str, help: &str, required: bool) -> TickItem {
    TickItem { id: id.to_owned(), label: label.to_owned(), help: help.to_owned(), required }
}

/// How the driver lies or stands: gravity shifts the coil, so the reading keeps it.
pub(super) fn attitude() -> Pick {
    let option = |id: &str, label: &str| PickOption { id: id.to_owned(), label: label.to_owned() };
    Pick {
        id: "attitude".to_owned(),
        label: "How the driver is held".to_owned(),
        options: vec![
            option("vertical", "upright, as mounted"),
            option("face_up", "face up"),
            option("face_down", "face down"),
        ],
        default: "vertical".to_owned(),
    }
}

pub(super) fn drawing(kind: DrawingKind, labels: &[(&str, String)]) -> Drawing {
    Drawing { kind, labels: by_name(labels.iter().map(|(place, text)| (*place, text.clone()))) }
}

/// A number wanted, in SI.
pub(super) fn ohm_field(id: &str, label: &str, range: (f64, f64), default: Option<f64>, help: &str) -> Field {
    Field {
        id: id.to_owned(),
        label: label.to_owned(),
        unit: "Ω".to_owned(),
        scale: 1.0,
        low: range.0,
        high: range.1,
        default,
        optional: false,
        help: help.to_owned(),
    }
}

/// A length wanted, shown in mm.
pub(super) fn metre_field(id: &str, label: &str, range: (f64, f64), help: &str) -> Field {
    Field { unit: "mm".to_owned(), scale: 0.001, ..ohm_field(id, label, range, None, help) }
}

/// A mass wanted, shown in g.
pub(super) fn kilogram_field(id: &str, label: &str, range: (f64, f64), help: &str) -> Field {
    Field { unit: "g".to_owned(), scale: 0.001, ..ohm_field(id, label, range, None, help) }
}

/// A volume wanted, shown in litres.
pub(super) fn litre_field(id: &str, label: &str, range: (f64, f64), help: &str) -> Field {
    Field { unit: "l".to_owned(), scale: 0.001, ..ohm_field(id, label, range, None, help) }
}

/// The channel as people call it.
pub(super) fn channel_words(channel: usize) -> String {
    match channel {
        1 => "input 1 (left)".to_owned(),
        2 => "input 2 (right)".to_owned(),
        n => format!("input {n}"),
    }
}

/// Ohms with three digits and a no-break space.
pub(super) fn ohm_words(ohm: f64) -> String {
    format!("{}\u{a0}Ω", crate::signal::wording::three_digits(ohm))
}
