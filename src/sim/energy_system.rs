//! The linear part of a driver in a circuit, in coordinates whose squared length is twice the stored energy.
//!
//! With z = √(energy coefficient) · (current, displacement, force ...) the system is ż = (J − R) z + b u with J
//! antisymmetric (what only exchanges energy: motor, springs) and R symmetric and not negative (what loses it). The
//! exact solution over a step is then a contraction, so the simulation cannot blow up for any step or any stiffness,
//! and the matrix exponential stays well scaled although the coil's poles span six decades.
use super::coil::{Ladder, SECTIONS};
use super::driver::{Loaded, CREEP_BRANCHES};
use super::matrix_exponential::exponential;

/// States: coil current, loop current, displacement, velocity, ladder currents, creep forces.
pub const STATES: usize = 4 + SECTIONS + CREEP_BRANCHES;
/// Place of the coil current.
pub const CURRENT: usize = 0;
/// Place of the current in the shorted turns.
pub const LOOP_CURRENT: usize = 1;
/// Place of the displacement.
pub const DISPLACEMENT: usize = 2;
/// Place of the velocity.
pub const VELOCITY: usize = 3;
const LADDER: usize = 4;
const CREEP: usize = 4 + SECTIONS;
/// Polynomial terms of the source voltage within a step.
pub const SOURCE_TERMS: usize = 6;
/// Polynomial terms of the nonlinear corrections within a step.
pub const CORRECTION_TERMS: usize = 3;
/// Share of the coil's series (leakage) inductance, by turns squared, that shorted turns have for themselves.
const LOOP_LEAKAGE: f64 = 1.0;

/// One vector a state.
pub type Vector = [f64; STATES];

/// ż = A z + Σ b u, and what turns z back into amperes, metres, metres a second.
#[derive(Clone, Debug)]
pub struct EnergySystem {
    /// Row-major A.
    pub a: Vec<Vec<f64>>,
    /// Square root of each state's energy coefficient: physical value = z / root.
    pub root: Vector,
    /// Column of a voltage in series with the coil.
    pub source: Vector,
    /// Column of a change of the force factor times velocity (negative: it opposes), over coil and shorted turns.
    pub back_emf: Vector,
    /// Column of a force on the cone.
    pub force: Vector,
}

impl EnergySystem {
    /// Driver with `circuit_ohm` of resistance in series (source, leads), seen from the coil.
    pub fn new(loaded: &Loaded, circuit_ohm: f64) -> EnergySystem {
        let mut b = Builder { coefficient: [1.0; STATES], a: vec![vec![0.0; STATES]; STATES] };
        b.coil(loaded, circuit_ohm);
        b.mechanics(loaded);
        let p = loaded.driver.shorted_part;
        let mut columns = [[0.0; STATES]; 3];
        columns[0][CURRENT] = 1.0;
        columns[1][CURRENT] = -(1.0 - p);
        columns[1][LOOP_CURRENT] = -p;
        columns[2][VELOCITY] = 1.0;
        b.finish(columns)
    }
}

/// Collects the skeleton in physical states, before scaling.
struct Builder {
    coefficient: Vector,
    a: Vec<Vec<f64>>,
}

impl Builder {
    /// A resistance seen by the currents `shares` (dissipation R (Σ share·i)²).
    fn resistance(&mut self, r_ohm: f64, shares: &[(usize, f64)]) {
        for &(row, share_row) in shares {
            for &(column, share_column) in shares {
                self.a[row][column] -= r_ohm * share_row * share_column;
            }
        }
    }

    /// A lossless exchange: `row` is driven by −g·column, `column` by +g·row.
    fn exchange(&mut self, row: usize, column: usize, g: f64) {
        self.a[row][column] -= g;
        self.a[column][row] += g;
    }

    fn coil(&mut self, loaded: &Loaded, circuit_ohm: f64) {
        let driver = &loaded.driver;
        let p = driver.shorted_part;
        let ladder = Ladder::following(&driver.coil);
        self.coefficient[CURRENT] = ladder.series_l_h * (1.0 - p) * (1.0 - p);
        self.resistance(circuit_ohm + driver.r_coil_ohm() * (1.0 - p), &[(CURRENT, 1.0)]);
        self.exchange(CURRENT, VELOCITY, driver.motor.bl_t_m * (1.0 - p));
        if p > 0.0 {
            self.coefficient[LOOP_CURRENT] = ladder.series_l_h * p * p * LOOP_LEAKAGE;
            self.resistance(driver.r_coil_ohm() * p, &[(LOOP_CURRENT, 1.0)]);
            self.exchange(LOOP_CURRENT, VELOCITY, driver.motor.bl_t_m * p);
        } else {
            // Nothing is shorted: the state exists, decays and touches nothing.
            self.resistance(1.0, &[(LOOP_CURRENT, 1.0)]);
        }
        for (k, section) in ladder.sections.iter().enumerate() {
            self.coefficient[LADDER + k] = section.l_h;
            self.resistance(section.r_ohm, &[(CURRENT, 1.0 - p), (LOOP_CURRENT, p), (LADDER + k, -1.0)]);
        }
    }

    fn mechanics(&mut self, loaded: &Loaded) {
        let suspension = &loaded.driver.suspension;
        self.coefficient[VELOCITY] = loaded.mass_kg();
        self.coefficient[DISPLACEMENT] = loaded.stiffness_n_per_m();
        self.a[VELOCITY][VELOCITY] -= suspension.viscous_n_s_per_m;
        self.exchange(VELOCITY, DISPLACEMENT, loaded.stiffness_n_per_m());
        for (j, branch) in loaded.driver.creep_branches().iter().enumerate() {
            if branch.stiffness_n_per_m <= 0.0 {
                self.a[CREEP + j][CREEP + j] = -1.0;
                continue;
            }
            self.coefficient[CREEP + j] = 1.0 / branch.stiffness_n_per_m;
            self.a[CREEP + j][CREEP + j] = -1.0 / (branch.stiffness_n_per_m * branch.relaxation_s);
            self.exchange(VELOCITY, CREEP + j, 1.0);
        }
    }

    fn finish(mut self, mut columns: [Vector; 3]) -> EnergySystem {
        let root = self.coefficient.map(f64::sqrt);
        for (r, row) in self.a.iter_mut().enumerate() {
            for (c, value) in row.iter_mut().enumerate() {
                *value /= root[r] * root[c];
            }
        }
        for column in &mut columns {
            for (value, scale) in column.iter_mut().zip(&root) {
                *value /= scale;
            }
        }
        let [source, back_emf, force] = columns;
        EnergySystem { a: self.a, root, source, back_emf, force }
    }
}

/// The exact step of an [`EnergySystem`] for inputs that are polynomials in s = t/step.
#[derive(Clone, Debug)]
pub struct Discrete {
    /// Column-major transition matrix.
    pub transition: [Vector; STATES],
    /// Response to s^m in the source voltage.
    pub source: [Vector; SOURCE_TERMS],
    /// Response to s^m in (change of force factor · velocity).
    pub back_emf: [Vector; CORRECTION_TERMS],
    /// Response to s^m in the force.
    pub force: [Vector; CORRECTION_TERMS],
}

impl Discrete {
    /// Exact discretisation with step `step_s`.
    ///
    /// Each input is carried by a chain of states w_j' = (j+1) w_{j+1}/step, so that w_0 = s^m if only w_m starts at
    /// one; the top right block of the exponential then holds ∫ e^{A(step−t)} b s^m dt (Van Loan 1978).
    pub fn new(system: &EnergySystem, step_s: f64) -> Discrete {
        let inputs =
            [(&system.source, SOURCE_TERMS), (&system.back_emf, CORRECTION_TERMS), (&system.force, CORRECTION_TERMS)];
        let order = STATES + inputs.iter().map(|(_, terms)| terms).sum::<usize>();
        let mut a = vec![vec![0.0; order]; order];
        for (row, wide) in system.a.iter().zip(a.iter_mut()) {
            for (value, out) in row.iter().zip(wide.iter_mut()) {
                *out = value * step_s;
            }
        }
        let mut first = STATES;
        for (column, terms) in inputs {
            for (r, value) in column.iter().enumerate() {
                a[r][first] = value * step_s;
            }
            for j in 1..terms {
                a[first + j - 1][first + j] = j as f64;
            }
            first += terms;
        }
        let e = exponential(&a);
        let column = |c: usize| -> Vector { std::array::from_fn(|r| e[r][c]) };
        Discrete {
            transition: std::array::from_fn(column),
            source: std::array::from_fn(|m| column(STATES + m)),
            back_emf: std::array::from_fn(|m| column(STATES + SOURCE_TERMS + m)),
            force: std::array::from_fn(|m| column(STATES + SOURCE_TERMS + CORRECTION_TERMS + m)),
        }
    }
}
