//! Both procedures on the practice bench from the first step to the reading, as the page leads a newcomer: every take is
//! simulated, noted, and read by the very analysis that reads real ones.

use conewright::driver::impedance_setup::ImpedanceSetup;
use conewright::driver::mic_impedance_check::{self, MicImpedanceSetup};
use conewright::driver::one_channel_check::{self, OneChannelSetup};
use conewright::driver::{impedance_check, knock_check};
use conewright::procedure::bench::{ImpedanceBench, KnockBench, MicrophoneBench, OneChannelBench, Output, Sensor};
use conewright::procedure::note::{reading_note, take_note};
use conewright::procedure::step::{Action, Answer, Happening, Step, TakeUse};
use conewright::procedure::{impedance, knock, microphone, one_channel};
use conewright::signal::notice::{Code, Notice};
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::take::Take;
use conewright::signal::test_signals::render;
use conewright::sim::faults::Fault;
use conewright::sim::hands::Scene;
use conewright::sim::jig::Position;
use conewright::sim::practice::{drivers, PracticeDriver};
use conewright::sim::practice_takes::{knock_practice, play_practice, PracticeKnock, PracticePlay, PracticeSensor};
use std::collections::BTreeMap;

const RATE_HZ: f64 = 48_000.0;
/// Printed on the practice bench's resistor.
const RESISTOR_OHM: f64 = 47.0;

/// A person at the practice bench.
struct Apprentice {
    driver: PracticeDriver,
    fault: Fault,
    history: Vec<Happening>,
    takes: BTreeMap<String, Take>,
    reading: Option<Reading>,
    levels_dbfs: Vec<f64>,
    /// A microphone hears the takes.
    close: bool,
}

impl Apprentice {
    fn new(driver: &PracticeDriver, fault: Fault) -> Self {
        Apprentice {
            driver: driver.clone(),
            fault,
            history: Vec::new(),
            takes: BTreeMap::new(),
            reading: None,
            levels_dbfs: Vec::new(),
            close: false,
        }
    }

    fn choose(&mut self, step: &Step, choice: &str) {
        self.history.push(Happening::Chosen { step: step.id.clone(), choice: choice.to_owned() });
    }

    /// Does what the step asks for.
    fn act(&mut self, step: &Step, analyse: impl Fn(&BTreeMap<String, f64>, &[RoleTake]) -> Reading) {
        let id = step.id.clone();
        let happening = match &step.action {
            Action::Tick { items, .. } => {
                let answers = items.iter().map(|i| (i.id.clone(), Answer::Bool(true))).collect();
                Happening::Confirmed { step: id, answers }
            }
            Action::Confirm { .. } => Happening::Confirmed { step: id, answers: BTreeMap::new() },
            Action::Ask { fields, .. } => {
                let answers = fields.iter().map(|f| (f.id.clone(), self.value(&f.id, f.default))).collect();
                Happening::Confirmed { step: id, answers }
            }
            Action::Play { .. } | Action::Listen { .. } => {
                let name = format!("take {}", self.takes.len() + 1);
                let take = self.record(&step.action);
                let note = take_note(&name, &step.action, &take);
                self.takes.insert(name, take);
                Happening::Took { step: id, take: note }
            }
            Action::Analyse { takes, fields } => {
                let reading = analyse(fields, &self.role_takes(takes));
                let ids: Vec<String> = takes.iter().map(|t| t.id.clone()).collect();
                let note = reading_note(&ids, &reading);
                self.reading = Some(reading);
                Happening::Read { reading: note }
            }
            Action::Sound { .. } => panic!("{} wants a meter, and no check here has one", step.id),
            Action::Done { .. } | Action::Refuse { .. } => panic!("{} asks for nothing", step.id),
        };
        self.history.push(happening);
    }

    fn value(&self, field: &str, default: Option<f64>) -> Answer {
        Answer::Number(match field {
            "r_e_ohm" => self.driver.truth.r_e_ohm,
            "resistor_ohm" => 10.0,
            "effective_diameter_m" => self.driver.effective_diameter_m,
            "added_mass_kg" => 0.5 * self.driver.truth.m_ms_kg,
            _ => default.expect("a proposal"),
        })
    }

    fn scene(&self, role: &str) -> Scene {
        match role {
            _ if !self.close => Scene::Jig,
            "with" | "with_shaped" => Scene::CloseWithResistor,
            "loaded" => Scene::CloseLoaded,
            _ => Scene::Close,
        }
    }

    fn record(&mut self, action: &Action) -> Take {
        let seed = self.takes.len() as u32 + 1;
        match action {
            Action::Play { stimulus, role, tail_s, resistor_ohm, added_mass_kg, box_volume_m3, .. } => {
                self.levels_dbfs.push(stimulus.peak_dbfs);
                let mut played = render(stimulus).expect("a stimulus that can be rendered");
                played.extend(vec![0.0; (tail_s * RATE_HZ) as usize]);
                let position = match (role.as_str(), resistor_ohm) {
                    ("same_node", _) => Position::SameNode,
                    ("short", _) => Position::Short,
                    ("open", _) => Position::Open,
                    (_, Some(ohm)) => Position::KnownResistor { resistor_ohm: *ohm },
                    _ => Position::Driver,
                };
                let request = PracticePlay {
                    driver: self.driver.id.clone(),
                    fault: self.fault,
                    position,
                    scene: self.scene(role),
                    added_mass_kg: *added_mass_kg,
                    box_volume_m3: *box_volume_m3,
                    rate_hz: RATE_HZ,
                    seed,
                };
                play_practice(&request, &played).expect("a take")
            }
            Action::Listen { wanted_knocks, load_ohm, added_mass_kg, box_volume_m3, .. } => {
                let request = PracticeKnock {
                    driver: self.driver.id.clone(),
                    fault: self.fault,
                    sensor: PracticeSensor::Coil,
                    knocks: wanted_knocks + 1,
                    load_ohm: *load_ohm,
                    added_mass_kg: added_mass_kg.unwrap_or(0.0),
                    box_volume_m3: *box_volume_m3,
                    rate_hz: RATE_HZ,
                    seed,
                };
                knock_practice(&request).expect("a take")
            }
            other => panic!("nothing is recorded for {other:?}"),
        }
    }

    fn role_takes(&self, uses: &[TakeUse]) -> Vec<RoleTake> {
        let with = |u: &TakeUse| RoleTake {
            resistor_ohm: u.resistor_ohm,
            load_ohm: u.load_ohm,
            added_mass_kg: u.added_mass_kg,
            box_volume_m3: u.box_volume_m3,
            set_aside: u.set_aside.clone(),
            ..RoleTake::new(&u.role, self.takes[&u.id].clone())
        };
        uses.iter().map(with).collect()
    }
}

fn impedance_bench() -> ImpedanceBench {
    ImpedanceBench {
        series_resistor_ohm: RESISTOR_OHM,
        series_resistor_relative_uncertainty: None,
        source_channel: 1,
        driver_channel: 2,
        output: Output::Headphones,
        limit_v: None,
        rate_hz: RATE_HZ,
        new_device: true,
        practice: true,
    }
}

/// Goes on until a step of this name; fails with the road that was walked.
fn impedance_to(person: &mut Apprentice, bench: &ImpedanceBench, goal: &str) -> Step {
    let mut road = Vec::new();
    for _ in 0..40 {
        let step = impedance::step(bench, &person.history);
        road.push(step.id.clone());
        if step.id == goal {
            return step;
        }
        assert!(!matches!(step.action, Action::Refuse { .. } | Action::Done { .. }), "{road:?}: {:?}", step.action);
        person.act(&step, |_, takes| {
            impedance_check::analyse(&ImpedanceSetup::plain(RESISTOR_OHM), takes).expect("a setup that can be used")
        });
    }
    panic!("{goal} is not reached: {road:?}");
}

/// This asks whether the right takes reached the analysis with the right values, not how fine it reads: a role, load or
/// weight mixed up puts a figure off by a third and more (27 Ω against open terminals: Q 1.6 against 5), and a tenth
/// tells that apart. How fine the analyses read is asked in their own tests.
fn assert_near(reading: &Reading, name: &str, truth: f64) {
    let figure = &reading.values[name];
    assert!((figure.value / truth - 1.0).abs() < 0.1, "{name}: {}, true {truth}", figure.value);
    assert!(figure.standard_uncertainty.is_some_and(|u| u > 0.0 && u < 0.1 * truth), "{name}: {figure:?}");
}

#[test]
fn impedance_from_first_step_to_reading() {
    let driver = &drivers()[0];
    let bench = impedance_bench();
    let mut person = Apprentice::new(driver, Fault::None);
    let read = impedance_to(&mut person, &bench, "read");
    let reading = person.reading.clone().expect("a reading");
    for (name, truth) in
        [("f_s_hz", driver.truth.f_s_hz), ("q_ts", driver.truth.q_ts), ("r_e_ohm", driver.truth.r_e_ohm)]
    {
        assert_near(&reading, name, truth);
    }
    assert!(person.levels_dbfs[0] <= -50.0, "{:?}", person.levels_dbfs);
    // The calibrations afterwards, one by one, and a reading of all takes together.
    person.choose(&read, "same_node");
    let read = impedance_to(&mut person, &bench, "read");
    person.choose(&read, "short");
    let read = impedance_to(&mut person, &bench, "read");
    person.choose(&read, "known_resistor");
    let read = impedance_to(&mut person, &bench, "read");
    person.choose(&read, "open");
    let step = impedance_to(&mut person, &bench, "open");
    assert!(step.drawing.is_some() && !step.choices.is_empty(), "a drawing, and a way past it");
    impedance_to(&mut person, &bench, "read");
    let better = person.reading.expect("a reading");
    assert_near(&better, "r_e_ohm", driver.truth.r_e_ohm);
    let budget_of = |r: &Reading| r.values["r_e_ohm"].standard_uncertainty.expect("an uncertainty");
    assert!(budget_of(&better) <= budget_of(&reading), "calibrations take something out of the budget");
    // The inputs alone: 47 kΩ across the jig is measured, and what it does to the peak falls.
    let loading = |r: &Reading| {
        let of_peak = r.values["z_max_ohm"].budget.iter().find(|c| c.source == "input_loading");
        of_peak.map_or(0.0, |c| c.effect.abs())
    };
    assert!(loading(&better) < 0.2 * loading(&reading), "{} {}", loading(&better), loading(&reading));
}

#[test]
fn knock_from_first_step_to_moving_mass() {
    let driver = &drivers()[0];
    let bench = KnockBench {
        sensor: Sensor::Coil,
        channel: 1,
        socket: None,
        r_e_ohm: None,
        input_resistance_ohm: None,
        effective_diameter_m: None,
        practice: true,
    };
    let mut person = Apprentice::new(driver, Fault::None);
    for wish in ["add_resistor", "add_weight", ""] {
        let mut road = Vec::new();
        loop {
            let step = knock::step(&bench, &person.history);
            road.push(step.id.clone());
            if step.id.starts_with("read") {
                assert!(matches!(step.action, Action::Done { .. }), "{road:?}: {:?}", step.action);
                if !wish.is_empty() {
                    person.choose(&step, wish);
                }
                break;
            }
            assert!(road.len() < 12, "{road:?}");
            person.act(&step, |fields, takes| {
                let mut setup = knock_check::KnockSetup::new(knock_check::KnockSensor::Coil, 1);
                setup.r_e_ohm = fields.get("r_e_ohm").copied();
                setup.effective_diameter_m = fields.get("effective_diameter_m").copied();
                knock_check::analyse(&setup, takes).expect("a setup that can be used")
            });
        }
    }
    let reading = person.reading.expect("a reading");
    let truth = driver.truth;
    for (name, value) in
        [("f_s_hz", truth.f_s_hz), ("q_ms", truth.q_ms), ("q_ts", truth.q_ts), ("m_ms_kg", truth.m_ms_kg)]
    {
        assert_near(&reading, name, value);
    }
}

/// A bad bench ends in a refusal with a remedy, never in a figure.
#[test]
fn faults_are_refused_on_the_way() {
    for fault in [Fault::OpenCircuit, Fault::DeadChannel, Fault::SwappedChannels, Fault::MonoInput] {
        let notice = impedance_refusal(&drivers()[0], fault);
        assert!(!notice.remedy.is_empty(), "{fault:?}: {notice:?}");
    }
}

/// One input: known resistor, nothing, driver, resistor again, each take with what the step says connected.
#[test]
fn one_channel_from_first_step_to_reading() {
    let driver = &drivers()[1];
    let bench = OneChannelBench {
        series_resistor_ohm: RESISTOR_OHM,
        series_resistor_relative_uncertainty: None,
        channel: 2,
        rate_hz: RATE_HZ,
        new_device: true,
        practice: true,
    };
    let mut person = Apprentice::new(driver, Fault::None);
    let mut road = Vec::new();
    loop {
        let step = one_channel::step(&bench, &person.history);
        road.push(step.id.clone());
        if step.id == "read" {
            break;
        }
        assert!(!matches!(step.action, Action::Refuse { .. } | Action::Done { .. }), "{road:?}: {:?}", step.action);
        assert!(road.len() < 40, "{road:?}");
        person.act(&step, |_, takes| {
            let setup = OneChannelSetup { channel: 2, ..OneChannelSetup::plain(RESISTOR_OHM) };
            one_channel_check::analyse(&setup, takes).expect("a setup that can be used")
        });
    }
    let reading = person.reading.expect("a reading");
    for (name, truth) in
        [("f_s_hz", driver.truth.f_s_hz), ("q_ts", driver.truth.q_ts), ("r_e_ohm", driver.truth.r_e_ohm)]
    {
        assert_near(&reading, name, truth);
    }
}

fn microphone_bench() -> MicrophoneBench {
    MicrophoneBench {
        series_resistor_ohm: 8.2,
        series_resistor_relative_uncertainty: None,
        channel: 1,
        limit_v: None,
        rate_hz: RATE_HZ,
        practice: true,
    }
}

/// Goes the road by microphone to its end; the last step, the ids of all, and the person.
fn by_microphone(driver: &PracticeDriver, fault: Fault, find_output: bool) -> (Step, Vec<String>, Apprentice) {
    let mut person = Apprentice { close: true, ..Apprentice::new(driver, fault) };
    let mut road = Vec::new();
    loop {
        let step = microphone::step(&microphone_bench(), &person.history);
        road.push(step.id.clone());
        assert!(road.len() < 60, "{road:?}");
        if matches!(step.action, Action::Refuse { .. } | Action::Done { .. }) {
            return (step, road, person);
        }
        if step.id == "output" && find_output {
            person.choose(&step, "find_output");
            continue;
        }
        person.act(&step, |fields, takes| {
            let field = |name: &str| fields.get(name).copied();
            let setup = MicImpedanceSetup {
                output_resistance_ohm: field("output_resistance_ohm"),
                shaped_louder_db: field("shaped_louder_db"),
                shaped_at_hz: field("shaped_at_hz"),
                shaped_q_without: field("shaped_q_without"),
                shaped_q_with: field("shaped_q_with"),
                ..MicImpedanceSetup::plain(8.2)
            };
            mic_impedance_check::analyse(&setup, takes).expect("a setup that can be used")
        });
    }
}

/// By microphone: the room, without, with, with and shaped, without; the amplifier's output found on the way. Goals of the
/// equipment's table: f_s within 1 %, Q_ts 3 %, R_e 1.5 %.
#[test]
fn by_microphone_from_first_step_to_reading() {
    let driver = &drivers()[1];
    let (step, road, person) = by_microphone(driver, Fault::None, true);
    let reading = person.reading.expect("a reading");
    assert_eq!(step.id, "read", "{road:?}: {:?} {:?}", reading.warnings, reading.chosen);
    let t = &driver.truth;
    for (name, truth, goal) in [("f_s_hz", t.f_s_hz, 0.01), ("q_ts", t.q_ts, 0.03), ("r_e_ohm", t.r_e_ohm, 0.015)] {
        let figure = &reading.values[name];
        println!("{name}: {} ± {:?}, true {truth}", figure.value, figure.half_width_95);
        assert!((figure.value / truth - 1.0).abs() < goal, "{name}: {figure:?}, true {truth}");
    }
}

/// A room full of rumble is told before the resistor is looked for, or refused at the end; never read as if it were quiet.
#[test]
fn faults_by_microphone_are_refused() {
    for (fault, codes) in
        [(Fault::Silent, &[Code::Silent, Code::TooQuiet][..]), (Fault::GainRiding, &[Code::GainRiding][..])]
    {
        let (step, road, _) = by_microphone(&drivers()[0], fault, false);
        let Action::Refuse { notice } = &step.action else { panic!("{fault:?} was read: {road:?}") };
        assert!(codes.contains(&notice.code) && !notice.remedy.is_empty(), "{fault:?}: {notice:?}");
    }
}

/// A gain that rides is named as such and not as a weak signal.
#[test]
fn riding_gain_is_named_on_the_way_to_a_level() {
    for driver in drivers() {
        assert_eq!(impedance_refusal(&driver, Fault::GainRiding).code, Code::GainRiding, "{}", driver.id);
    }
}

/// The refusal in which the road of this fault ends.
fn impedance_refusal(driver: &PracticeDriver, fault: Fault) -> Notice {
    let bench = impedance_bench();
    let mut person = Apprentice::new(driver, fault);
    for _ in 0..40 {
        let step = impedance::step(&bench, &person.history);
        match &step.action {
            Action::Refuse { notice } => return notice.clone(),
            Action::Done { .. } => break,
            _ => person.act(&step, |_, takes| {
                impedance_check::analyse(&ImpedanceSetup::plain(RESISTOR_OHM), takes).expect("a usable setup")
            }),
        }
    }
    panic!("{fault:?} was read as if it were sound")
}

/// The code in which a knock by the coil on open terminals ends: of the refusal, or of a warning of its reading.
fn knock_codes(driver: &PracticeDriver, fault: Fault) -> Vec<Code> {
    let bench = KnockBench {
        sensor: Sensor::Coil,
        channel: 1,
        socket: None,
        r_e_ohm: None,
        input_resistance_ohm: None,
        effective_diameter_m: None,
        practice: true,
    };
    let mut person = Apprentice::new(driver, fault);
    for _ in 0..12 {
        let step = knock::step(&bench, &person.history);
        match &step.action {
            Action::Refuse { notice } => return vec![notice.code],
            Action::Done { .. } => break,
            _ => person.act(&step, |_, takes| {
                let setup = knock_check::KnockSetup::new(knock_check::KnockSensor::Coil, 1);
                knock_check::analyse(&setup, takes).expect("a setup that can be used")
            }),
        }
    }
    person.reading.map_or(Vec::new(), |r| r.warnings.iter().chain(&r.refusal).map(|n| n.code).collect())
}

/// What the person is told at the end of the road is the fault, on every driver.
#[test]
fn faults_of_a_knock_are_named_at_the_end_of_the_road() {
    let faults = [
        (Fault::Rub, Code::Friction),
        (Fault::GainRiding, Code::GainRiding),
        (Fault::NoKnock, Code::NoKnock),
        (Fault::Silent, Code::Silent),
    ];
    for driver in drivers() {
        for (fault, code) in faults {
            let found = knock_codes(&driver, fault);
            assert!(found.contains(&code), "{fault:?} on {}: {found:?}", driver.id);
        }
    }
}
