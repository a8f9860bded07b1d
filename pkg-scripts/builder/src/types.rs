//! TypeScript declarations of every serde type that crosses the boundary, dependencies included.
//! A new boundary type is added to [`roots`]; what it is made of follows by itself.
use conewright::acoustic::polarity::PolaritySetup;
use conewright::browser::wire::{Check, CoreFault, PageTake, TakeEntry};
use conewright::driver::meter_setup::MeterSetup;
use conewright::driver::pair_check::PairSetup;
use conewright::driver::{
    impedance_check::ImpedanceSetup, knock_check::KnockSetup, mic_impedance_check::MicImpedanceSetup,
    one_channel_check::OneChannelSetup,
};
use conewright::electrical::{loose_joint::LooseJointSetup, preferred_values::Made, resistor_code::Resistor};
use conewright::job::overview::{Overview, OverviewRequest};
use conewright::job::record::Job;
use conewright::job::summary::Summary;
use conewright::procedure::{bench, step};
use conewright::signal::{health::Health, reading::Reading, stimulus::Stimulus, wav::Format};
use conewright::sim::practice_meter::{PracticeMeter, PracticeVolts};
use conewright::sim::practice_pair::PracticePair;
use conewright::sim::practice_takes::{PracticeKnock, PracticePlay};
use conewright::sim::{faults::PracticeFault, practice::PracticeDriver};
use conewright::verdict::coil_meter::{CoilAnswer, CoilQuestion};
use conewright::verdict::diagnosis::{Diagnosis, DiagnosisSetup};
use conewright::verdict::history::{BreakIn, BreakInSetup, HistoryCompared, HistorySetup};
use conewright::verdict::matching::{MatchSetup, Matched};
use conewright::verdict::part_limits::Tolerance;
use std::{
    any::TypeId,
    collections::{BTreeMap, HashSet},
};
use ts_rs::{Config, TypeVisitor, TS};

struct Collector {
    config: Config,
    seen: HashSet<TypeId>,
    declarations: BTreeMap<String, String>,
}

impl TypeVisitor for Collector {
    fn visit<T: TS + 'static + ?Sized>(&mut self) {
        // Only types of our own have a place of their own; numbers, lists and maps are written in line.
        if !self.seen.insert(TypeId::of::<T>()) {
            return;
        }
        if T::output_path().is_some() {
            let docs = T::docs().unwrap_or_default();
            let declaration = format!("{docs}export {}\n", T::decl(&self.config));
            let name = T::ident(&self.config);
            let earlier = self.declarations.insert(name.clone(), declaration.clone());
            // Two Rust types of one name would silently become one type of the page.
            assert!(earlier.is_none_or(|e| e == declaration), "two different types are called {name}");
        }
        T::visit_dependencies(self);
        T::visit_generics(self);
    }
}

fn roots(to: &mut Collector) {
    to.visit::<Reading>();
    to.visit::<Stimulus>();
    to.visit::<Format>();
    to.visit::<ImpedanceSetup>();
    to.visit::<OneChannelSetup>();
    to.visit::<MicImpedanceSetup>();
    to.visit::<KnockSetup>();
    to.visit::<PairSetup>();
    to.visit::<MeterSetup>();
    to.visit::<PolaritySetup>();
    to.visit::<LooseJointSetup>();
    to.visit::<Health>();
    to.visit::<CoreFault>();
    to.visit::<Check>();
    to.visit::<PageTake>();
    to.visit::<TakeEntry>();
    to.visit::<bench::ImpedanceBench>();
    to.visit::<bench::OneChannelBench>();
    to.visit::<bench::MicrophoneBench>();
    to.visit::<bench::KnockBench>();
    to.visit::<bench::PairBench>();
    to.visit::<bench::MeterBench>();
    to.visit::<bench::PolarityBench>();
    to.visit::<step::Happening>();
    to.visit::<step::Step>();
    to.visit::<PracticePlay>();
    to.visit::<PracticeKnock>();
    to.visit::<PracticePair>();
    to.visit::<PracticeMeter>();
    to.visit::<PracticeVolts>();
    to.visit::<PracticeDriver>();
    to.visit::<PracticeFault>();
    to.visit::<Resistor>();
    to.visit::<Made>();
    to.visit::<MatchSetup>();
    to.visit::<Matched>();
    to.visit::<Job>();
    to.visit::<OverviewRequest>();
    to.visit::<Overview>();
    to.visit::<Summary>();
    to.visit::<Tolerance>();
    to.visit::<DiagnosisSetup>();
    to.visit::<Diagnosis>();
    to.visit::<HistorySetup>();
    to.visit::<HistoryCompared>();
    to.visit::<BreakInSetup>();
    to.visit::<BreakIn>();
    to.visit::<CoilQuestion>();
    to.visit::<CoilAnswer>();
}

/// The whole module as text; `bindings` are the declarations that come with the bindings.
pub fn module(bindings: &str) -> String {
    // Counts stay far below 2^53: a plain number is exact and easier to use than a BigInt.
    let config = Config::new().with_large_int("number");
    let mut collector = Collector { config, seen: HashSet::new(), declarations: BTreeMap::new() };
    roots(&mut collector);
    let body: Vec<String> = collector.declarations.into_values().collect();
    let head = "// Written by pkg-scripts/builder from the Rust types; do not edit.\n";
    format!("{head}\n{}\n{}", body.join("\n"), functions(bindings))
}

/// The exported functions as one interface, so that page and worker know their arguments and results.
fn functions(bindings: &str) -> String {
    let lines: Vec<&str> = bindings.lines().map(str::trim).collect();
    let methods: Vec<String> = lines
        .iter()
        .take_while(|line| !line.starts_with("declare type InitInput"))
        .filter_map(|line| line.strip_prefix("export function "))
        .map(|signature| format!("  {signature}\n"))
        .collect();
    format!(
        "/** What the core can be asked; see `src/browser/exports.rs`. */\nexport interface Core {{\n{}}}\n",
        methods.concat()
    )
}
