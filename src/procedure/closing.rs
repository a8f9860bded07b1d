//! The end of every road: the takes are analysed, then the reading stands there as it came out, and what could be done next.

use super::past::Past;
use super::step::{Action, Choice, ReadingNote, Stage, Step, TakeUse};
use crate::signal::notice::Notice;
use crate::signal::reading::Outcome;
use std::collections::BTreeMap;

/// What a road hands to its analysis.
pub(super) struct Material {
    /// Takes, in the order of the road.
    pub takes: Vec<TakeUse>,
    /// Answers on the way that the analysis wants.
    pub fields: BTreeMap<String, f64>,
    /// What is read, as people say it: `takes`, `knocks`.
    pub what: &'static str,
    /// How many of them.
    pub count: usize,
}

/// What a road says about its reading.
pub(super) struct Ending {
    /// What could be done next.
    pub next: Vec<Choice>,
    /// Circumstances, or what the figures leave open. Not shown with a refusal, which has its remedy.
    pub note: String,
    /// Remarks of the road itself, beside those of the reading.
    pub notices: Vec<Notice>,
}

impl Material {
    /// Material of takes alone.
    pub(super) fn of(takes: Vec<TakeUse>) -> Self {
        Material { count: takes.len(), takes, fields: BTreeMap::new(), what: "takes" }
    }
}

/// A step in the middle of a road that has takes looked at; what comes of it leads the road and is no reading.
pub(super) fn analysing_for(id: &str, sentence: &str, takes: Vec<TakeUse>, fields: BTreeMap<String, f64>) -> Step {
    Step::new(Stage::Measure, id, sentence, Action::Analyse { takes, fields }).note("Nothing sounds now.")
}

/// The step that has the material analysed.
pub(super) fn analysing(material: Material) -> Step {
    let Material { takes, fields, what, count } = material;
    Step::new(Stage::Read, "analyse", &format!("Reading the {what}."), Action::Analyse { takes, fields })
        .note("Nothing sounds now.")
        .progress(0, count, None)
}

/// Station: this material was not read yet.
pub(super) fn analyse(past: &Past, material: Material) -> Option<Step> {
    past.reading_of(&material.takes).is_none().then(|| analysing(material))
}

/// End of the road with the reading of this material.
pub(super) fn read(past: &Past, material: Material, ending: impl FnOnce(&ReadingNote) -> Ending) -> Step {
    let reading = past.reading_of(&material.takes);
    close(past, reading, material, ending)
}

/// The same where the road itself knows which reading still holds.
pub(super) fn close(
    past: &Past,
    reading: Option<&ReadingNote>,
    material: Material,
    ending: impl FnOnce(&ReadingNote) -> Ending,
) -> Step {
    // Not reached: `analyse` stands before this on every road. A step all the same, never a panic.
    let Some(reading) = reading else { return analysing(material) };
    if past.finished() {
        return Step::new(Stage::Read, "finished", "Put on the card.", Action::Done { next: Vec::new() })
            .note(&format!("The {} and the reading are kept.", material.what));
    }
    let Ending { next, note, notices } = ending(reading);
    if let Some(notice) = &reading.refusal {
        return Step::refused(Stage::Read, "read_refused", notice.clone(), next);
    }
    let (id, sentence) = match reading.outcome {
        Outcome::Doubtful => ("read_doubtful", "A reading, with a doubt."),
        _ => ("read", "The reading."),
    };
    Step::new(Stage::Read, id, sentence, Action::Done { next }).note(&note).notices(notices)
}
