//! One step of a driver: exact for the linear part, small corrections for what depends on displacement, and dry
//! friction solved so that sticking is a state of rest, not a chatter.
use super::driver::{Driver, Loaded};
use super::energy_system::{
    Discrete, EnergySystem, Vector, CORRECTION_TERMS, CURRENT, DISPLACEMENT, SOURCE_TERMS, STATES, VELOCITY,
};

/// What moves and flows at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Motion {
    /// Coil current in A.
    pub current_a: f64,
    /// Displacement in m.
    pub displacement_m: f64,
    /// Velocity in m/s.
    pub velocity_m_per_s: f64,
}

/// A driver in motion.
#[derive(Clone, Debug)]
pub struct Stepper {
    driver: Driver,
    root: Vector,
    circuits: Vec<Discrete>,
    state: Vector,
    /// (force factor change · velocity, force) now and at the two steps before.
    corrections: [[f64; 2]; CORRECTION_TERMS],
    stuck: bool,
}

impl Stepper {
    /// At rest; `circuits_ohm` are the series resistances between which the circuit may be switched.
    pub fn new(loaded: &Loaded, circuits_ohm: &[f64], step_s: f64) -> Stepper {
        let systems: Vec<EnergySystem> = circuits_ohm.iter().map(|r| EnergySystem::new(loaded, *r)).collect();
        Stepper {
            driver: loaded.driver.clone(),
            root: EnergySystem::new(loaded, 0.0).root,
            circuits: systems.iter().map(|s| Discrete::new(s, step_s)).collect(),
            state: [0.0; STATES],
            corrections: [[0.0; 2]; CORRECTION_TERMS],
            stuck: false,
        }
    }

    /// Present motion.
    pub fn motion(&self) -> Motion {
        let at = |k: usize| self.state[k] / self.root[k];
        Motion { current_a: at(CURRENT), displacement_m: at(DISPLACEMENT), velocity_m_per_s: at(VELOCITY) }
    }

    /// Energy stored in inductances, mass and springs (at their stiffness at rest) in J.
    pub fn stored_energy_j(&self) -> f64 {
        self.state.iter().map(|z| z * z).sum::<f64>() / 2.0
    }

    /// Places the cone, for tests of the free decay; creep forces start relaxed.
    pub fn displace(&mut self, displacement_m: f64) {
        self.state[DISPLACEMENT] = displacement_m * self.root[DISPLACEMENT];
    }

    /// Advances by one step: source voltage as polynomial in s, outer force in N at both ends of the step.
    pub fn step(&mut self, circuit: usize, source: &[f64; SOURCE_TERMS], force_n: [f64; 2]) {
        self.remember_corrections();
        let discrete = &self.circuits[circuit.min(self.circuits.len() - 1)];
        let mut next = [0.0; STATES];
        for (column, z) in discrete.transition.iter().zip(&self.state) {
            add(&mut next, column, *z);
        }
        for (column, c) in discrete.source.iter().zip(source) {
            add(&mut next, column, *c);
        }
        let extrapolated = self.extrapolated_corrections();
        for (m, [emf, force]) in extrapolated.iter().enumerate() {
            add(&mut next, &discrete.back_emf[m], *emf);
            add(&mut next, &discrete.force[m], *force);
        }
        add(&mut next, &discrete.force[0], force_n[0]);
        add(&mut next, &discrete.force[1], force_n[1] - force_n[0]);
        let per_newton = discrete.force[0];
        let friction_n = self.friction_n(next[VELOCITY], per_newton[VELOCITY]);
        if friction_n != 0.0 {
            add(&mut next, &per_newton, friction_n);
        }
        self.state = next;
    }

    /// What the linear part leaves out, at this moment.
    fn remember_corrections(&mut self) {
        let m = self.motion();
        let bl_change = self.driver.bl_at(m.displacement_m) - self.driver.motor.bl_t_m;
        let k_change = self.driver.stiffness_at(m.displacement_m) - self.driver.suspension.stiffness_n_per_m;
        let p = self.driver.shorted_part;
        let loop_current_a = self.state[1] / self.root[1];
        let ampere_turns = (1.0 - p) * m.current_a + p * loop_current_a;
        let now = [bl_change * m.velocity_m_per_s, bl_change * ampere_turns - k_change * m.displacement_m];
        self.corrections.rotate_right(1);
        self.corrections[0] = now;
    }

    /// Parabola through the last three values, as coefficients of s^0, s^1, s^2 in the step to come.
    fn extrapolated_corrections(&self) -> [[f64; 2]; CORRECTION_TERMS] {
        let [now, before, earlier] = self.corrections;
        let mut terms = [[0.0; 2]; CORRECTION_TERMS];
        for c in 0..2 {
            terms[0][c] = now[c];
            terms[1][c] = (3.0 * now[c] - 4.0 * before[c] + earlier[c]) / 2.0;
            terms[2][c] = (now[c] - 2.0 * before[c] + earlier[c]) / 2.0;
        }
        terms
    }

    /// Friction in N over the step: what stops the cone if it can, else the limit against the motion.
    ///
    /// Implicit (Moreau's time-stepping): the sign is that of the velocity at the end of the step, so rest is stable.
    fn friction_n(&mut self, free_velocity: f64, velocity_per_newton: f64) -> f64 {
        let friction = &self.driver.friction;
        if friction.sliding_n <= 0.0 {
            return 0.0;
        }
        let stopping_n = -free_velocity / velocity_per_newton;
        let limit_n = if self.stuck { friction.breakaway_n.max(friction.sliding_n) } else { friction.sliding_n };
        self.stuck = stopping_n.abs() <= limit_n;
        if self.stuck {
            stopping_n
        } else {
            friction.sliding_n * stopping_n.signum()
        }
    }
}

#[inline(always)]
fn add(sum: &mut Vector, column: &Vector, factor: f64) {
    for (s, c) in sum.iter_mut().zip(column) {
        *s += c * factor;
    }
}
