//! What a newcomer finds on the practice bench: three invented drivers and a good bench.
use serde::{Deserialize, Serialize};

use super::bench::{Mounting, PracticeBench};
use super::coil::FractionalInductance;
use super::driver::{Driver, Friction, Loaded, Motor, Suspension};
use super::input::{Input, InputChannel, Routing};
use super::jig::Jig;
use super::microphone::Microphone;
use super::noise::Hum;
use super::truth::{truth, Truth};

/// A driver on the practice bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PracticeDriver {
    /// Short name for requests.
    pub id: String,
    /// Invented name.
    pub name: String,
    /// The driver.
    pub driver: Driver,
    /// Diameter between the middles of the surround in m.
    pub effective_diameter_m: f64,
    /// Its true small-signal figures.
    pub truth: Truth,
}

impl PracticeDriver {
    /// What it takes of a box: magnet and frame, a sixth of the cube over its diameter.
    pub fn displacement_m3(&self) -> f64 {
        self.effective_diameter_m.powi(3) / 6.0
    }
}

/// The three drivers.
pub fn drivers() -> Vec<PracticeDriver> {
    vec![
        practice_driver("twelve", "Fallow Twelve, 12-inch woofer", 0.260, twelve()),
        practice_driver("six", "Marl Six, 6-inch bass-midrange", 0.132, six()),
        practice_driver("five", "Sedge Five, 5-inch sealed midrange", 0.104, five()),
    ]
}

fn practice_driver(id: &str, name: &str, effective_diameter_m: f64, mut driver: Driver) -> PracticeDriver {
    driver.s_d_m2 = std::f64::consts::PI * effective_diameter_m * effective_diameter_m / 4.0;
    let truth = truth(&Loaded::from(&driver));
    PracticeDriver { id: id.into(), name: name.into(), driver, effective_diameter_m, truth }
}

fn twelve() -> Driver {
    Driver {
        r_e_ohm_at_20_c: 5.62,
        excess_temperature_k: 0.0,
        coil: FractionalInductance { k_ohm_s_n: 0.035, n: 0.62 },
        shorted_part: 0.0,
        motor: Motor { bl_t_m: 12.1, asymmetry_per_m: 5.0, falloff_per_m2: 15_600.0 },
        moving_mass_kg: 0.0704,
        suspension: Suspension {
            stiffness_n_per_m: 1640.0,
            asymmetry_per_m: 15.0,
            progression_per_m2: 28_000.0,
            creep_per_decade: 0.05,
            viscous_n_s_per_m: 1.9,
        },
        friction: Friction::default(),
        s_d_m2: 0.0,
    }
}

fn six() -> Driver {
    Driver {
        r_e_ohm_at_20_c: 6.18,
        excess_temperature_k: 0.0,
        coil: FractionalInductance { k_ohm_s_n: 0.0066, n: 0.68 },
        shorted_part: 0.0,
        motor: Motor { bl_t_m: 6.35, asymmetry_per_m: 10.0, falloff_per_m2: 40_000.0 },
        moving_mass_kg: 0.0121,
        suspension: Suspension {
            stiffness_n_per_m: 960.0,
            asymmetry_per_m: 25.0,
            progression_per_m2: 80_000.0,
            creep_per_decade: 0.04,
            viscous_n_s_per_m: 0.95,
        },
        friction: Friction::default(),
        s_d_m2: 0.0,
    }
}

fn five() -> Driver {
    Driver {
        r_e_ohm_at_20_c: 5.87,
        excess_temperature_k: 0.0,
        coil: FractionalInductance { k_ohm_s_n: 0.0018, n: 0.70 },
        shorted_part: 0.0,
        motor: Motor { bl_t_m: 5.1, asymmetry_per_m: 15.0, falloff_per_m2: 160_000.0 },
        moving_mass_kg: 0.0048,
        suspension: Suspension {
            stiffness_n_per_m: 6400.0,
            asymmetry_per_m: 40.0,
            progression_per_m2: 440_000.0,
            creep_per_decade: 0.03,
            viscous_n_s_per_m: 1.3,
        },
        friction: Friction::default(),
        s_d_m2: 0.0,
    }
}

/// A good bench for a driver: honest small errors everywhere.
pub fn good_bench(driver: &Driver) -> PracticeBench {
    let channel = InputChannel {
        resistance_ohm: 47_000.0,
        full_scale_v: 1.5,
        gain_db: 0.0,
        delay_samples: 0.0,
        coupling_hz: 4.0,
        roll_off_hz: 0.0,
        noise_dbfs: -94.0,
        offset: 0.0002,
        dead: false,
    };
    PracticeBench {
        driver: driver.clone(),
        jig: Jig {
            series_resistor_nominal_ohm: 47.0,
            series_resistor_relative_error: 0.003,
            lead_ohm: 0.04,
            output_ohm: 0.8,
            source_full_scale_v: 1.4,
        },
        input: Input {
            channels: [channel, InputChannel { gain_db: 0.03, ..channel }],
            hum: Some(Hum { mains_hz: 50.0, fundamental_dbfs: -92.0 }),
            gain_riding: None,
            bits: Some(16),
            buffer_faults: Vec::new(),
            routing: Routing::Straight,
        },
        loose_joint: None,
        lead_fault: None,
        mounting: Mounting::default(),
    }
}

/// What is printed on the resistor that belongs to the amplifier's bench, in Ω.
pub const AMPLIFIER_SERIES_OHM: f64 = 8.2;

/// The same bench with an amplifier at the driver; the resistor in series is in its place.
pub fn amplifier_bench(driver: &Driver) -> PracticeBench {
    let jig = Jig {
        series_resistor_nominal_ohm: AMPLIFIER_SERIES_OHM,
        series_resistor_relative_error: 0.003,
        lead_ohm: 0.04,
        output_ohm: 0.15,
        source_full_scale_v: 4.0,
    };
    PracticeBench { jig, ..good_bench(driver) }
}

/// A quiet room and an ordinary microphone.
pub fn good_microphone() -> Microphone {
    Microphone {
        distance_m: 0.01,
        full_scale_db_spl: 118.0,
        roll_off_hz: 45.0,
        roll_off_q: 0.707,
        room_noise_db_spl: 38.0,
        rumble_db_spl: 30.0,
        room_mode: None,
        handling_per_s: 0.0,
        handling_db_spl: 70.0,
        speech_db_spl: None,
    }
}
