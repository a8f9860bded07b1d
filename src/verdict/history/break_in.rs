//! When to stop breaking in: how much f_s would still move if it ran as long again.
//!
//! Suspensions soften by less and less: what counts is the change a doubling of the hours. It is the slope of ln f_s against
//! log2(1 + hours) through the last readings, weighted (least squares, any textbook), with the readings' own uncertainty and
//! what f_s does from one day to the next. Enough: the whole 95 % interval lies within the threshold. Go on: the whole of it
//! lies beyond, downwards. Where four readings or more lie on an exponential towards a resting value, that value is told.
//! Hours are those of running, not of the clock; readings after rest, under like conditions.

use crate::math::quantiles::student_t;
use crate::signal::reading::Figure;
use crate::verdict::difference::own_uncertainty;
use serde::{Deserialize, Serialize};

/// Change of f_s a doubling of the hours that is still allowed. Common practice, no source: a tenth of what break-in does.
const THRESHOLD: f64 = 0.01;
/// The same of Q_ts, which is read less surely.
const THRESHOLD_Q: f64 = 0.03;
/// What f_s of one suspension does from one day to the next, one standard deviation. Common practice, no source.
const DAY_TO_DAY: f64 = 0.002;
const DAY_TO_DAY_Q: f64 = 0.005;
/// Readings that the slope goes through: the last ones.
const LAST: usize = 3;
/// Break-in takes 10 to 25 % off f_s; beyond this something gives way. Common practice, no source.
const TOO_FAR: f64 = 0.35;
/// Hours after which break-in has come to its end in most. Common practice, no source.
const LONG_H: f64 = 60.0;
/// An exponential has three parameters; one reading more holds it to account.
const FEWEST_TO_SETTLE: usize = 4;
/// Time constants that are tried, in parts of the hours, and how many of them.
const CONSTANTS: (f64, f64, usize) = (0.05, 2.0, 80);

/// One reading of the log.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct BreakInReading {
    /// Hours run before it.
    pub hours: f64,
    /// Resonance.
    pub f_s_hz: Figure,
    /// Total Q, where it was read.
    pub q_ts: Option<Figure>,
}

/// The log.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct BreakInSetup {
    /// In any order.
    pub readings: Vec<BreakInReading>,
    /// All with the same wiring, calibrations and resistor.
    pub same_jig: bool,
    /// Relative change of f_s a doubling of the hours that is allowed, in place of what is common practice.
    pub threshold: Option<f64>,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum BreakInSays {
    /// It still moves.
    GoOn,
    /// As long again would move it by less than the threshold.
    Enough,
    /// It rises, falls too far, or falls after so many hours: look for what gives way.
    NotSettling,
    /// Too few readings, too close together or too uncertain.
    CannotTell,
}

/// A change a doubling of the hours, in per cent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Trend {
    /// The change.
    pub percent: f64,
    /// Half-width of its 95 % interval.
    pub half_width_95_percent: f64,
}

/// Where it settles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Settling {
    /// f_s at the end.
    pub f_s_hz: f64,
    /// Half-width of its 95 % interval.
    pub half_width_95_hz: f64,
    /// Hours in which what is left falls to its 2.718th part.
    pub time_constant_h: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct BreakIn {
    /// What to do.
    pub says: BreakInSays,
    /// Of f_s, by the last readings.
    pub f_s: Option<Trend>,
    /// Of Q_ts.
    pub q_ts: Option<Trend>,
    /// Change of f_s from the first reading to the last, in per cent.
    pub total_percent: Option<f64>,
    /// What is allowed a doubling, in per cent.
    pub threshold_percent: f64,
    /// Where it settles, where that can be told.
    pub settles: Option<Settling>,
}

/// A point of a log: hours, logarithm of the figure, its standard uncertainty.
#[derive(Clone, Copy)]
struct Point {
    hours: f64,
    ln: f64,
    u: f64,
}

/// What the log says.
pub fn break_in(setup: &BreakInSetup) -> BreakIn {
    let threshold = setup.threshold.filter(|t| *t > 0.0).unwrap_or(THRESHOLD);
    let f_s = points(setup, DAY_TO_DAY, |r| Some(&r.f_s_hz));
    let q_ts = points(setup, DAY_TO_DAY_Q, |r| r.q_ts.as_ref());
    let (by_f_s, by_q_ts) = (trend(&f_s), trend(&q_ts));
    let total = (f_s.len() > 1).then(|| f_s[f_s.len() - 1].ln - f_s[0].ln);
    let hours = f_s.last().map_or(0.0, |p| p.hours);
    BreakIn {
        says: says(by_f_s, by_q_ts, threshold, total.unwrap_or(0.0), hours),
        f_s: by_f_s,
        q_ts: by_q_ts,
        total_percent: total.map(|t| 100.0 * t.exp_m1()),
        threshold_percent: 100.0 * threshold,
        settles: settles(&f_s),
    }
}

fn points<'a>(
    setup: &'a BreakInSetup,
    day_to_day: f64,
    of: impl Fn(&'a BreakInReading) -> Option<&'a Figure>,
) -> Vec<Point> {
    let one = |r: &'a BreakInReading| {
        let figure = of(r).filter(|f| f.value > 0.0 && f.standard_uncertainty.is_some())?;
        let u = own_uncertainty(figure, setup.same_jig).hypot(day_to_day);
        (r.hours >= 0.0 && u.is_finite()).then(|| Point { hours: r.hours, ln: figure.value.ln(), u })
    };
    crate::math::order::arranged(setup.readings.iter().filter_map(one).collect(), |p: &Point| p.hours)
}

/// Slope through the last points against doublings of the hours.
fn trend(points: &[Point]) -> Option<Trend> {
    let last = &points[points.len().saturating_sub(LAST)..];
    let x: Vec<f64> = last.iter().map(|p| p.hours.ln_1p() / std::f64::consts::LN_2).collect();
    // Readings at one time say nothing about change; less than half a doubling says nothing about the next.
    if last.len() < 2 || x[x.len() - 1] - x[0] < 0.5 {
        return None;
    }
    let line = line(last, &x);
    Some(Trend { percent: 100.0 * line.slope, half_width_95_percent: 196.0 * line.u_slope })
}

/// A weighted straight line.
struct Line {
    at_nought: f64,
    u_at_nought: f64,
    slope: f64,
    u_slope: f64,
    squares: f64,
}

fn line(points: &[Point], x: &[f64]) -> Line {
    let weighted =
        |of: &dyn Fn(&Point, f64) -> f64| -> f64 { points.iter().zip(x).map(|(p, x)| of(p, *x) / (p.u * p.u)).sum() };
    let (s, sx, sxx) = (weighted(&|_, _| 1.0), weighted(&|_, x| x), weighted(&|_, x| x * x));
    let (sy, sxy) = (weighted(&|p, _| p.ln), weighted(&|p, x| x * p.ln));
    let det = s * sxx - sx * sx;
    let (slope, at_nought) = ((s * sxy - sx * sy) / det, (sxx * sy - sx * sxy) / det);
    let squares = weighted(&|p, x| (p.ln - at_nought - slope * x).powi(2));
    Line { at_nought, u_at_nought: (sxx / det).sqrt(), slope, u_slope: (s / det).sqrt(), squares }
}

fn says(f_s: Option<Trend>, q_ts: Option<Trend>, threshold: f64, total: f64, hours: f64) -> BreakInSays {
    let Some(f_s) = f_s else { return BreakInSays::CannotTell };
    let (low, high) =
        ((f_s.percent - f_s.half_width_95_percent) / 100.0, (f_s.percent + f_s.half_width_95_percent) / 100.0);
    let falls = high < -threshold;
    let q_moves = q_ts.is_some_and(|q| q.percent.abs() - q.half_width_95_percent > 100.0 * THRESHOLD_Q);
    if low > threshold || total < -TOO_FAR || (falls && hours >= LONG_H) {
        BreakInSays::NotSettling
    } else if falls || (q_moves && hours < LONG_H) {
        BreakInSays::GoOn
    } else if low >= -threshold && high <= threshold {
        BreakInSays::Enough
    } else {
        BreakInSays::CannotTell
    }
}

/// ln f_s = a + b exp(−h/τ): for each τ a straight line in exp(−h/τ); the best τ, and what all that fit leave open.
fn settles(points: &[Point]) -> Option<Settling> {
    let hours = points.last()?.hours - points.first()?.hours;
    if points.len() < FEWEST_TO_SETTLE || hours <= 0.0 {
        return None;
    }
    let (low, high, count) = CONSTANTS;
    let constants = crate::math::axes::logarithmic(low * hours, high * hours, count);
    let tried: Vec<(f64, Line)> = constants
        .into_iter()
        .map(|tau| {
            let x: Vec<f64> = points.iter().map(|p| (-p.hours / tau).exp()).collect();
            (tau, line(points, &x))
        })
        .filter(|(_, l)| l.squares.is_finite() && l.u_at_nought.is_finite())
        .collect();
    let best = tried.iter().min_by(|a, b| a.1.squares.total_cmp(&b.1.squares))?;
    let coverage = student_t(0.975, (points.len() - 3) as f64);
    // A change of the sum of squares by the square of the quantile bounds τ; the resting value's own interval comes on top.
    let open = tried.iter().filter(|(_, l)| l.squares <= best.1.squares + coverage * coverage);
    let half =
        open.map(|(_, l)| (l.at_nought - best.1.at_nought).abs().max(coverage * l.u_at_nought)).fold(0.0, f64::max);
    let inside = best.0 > 1.01 * low * hours && best.0 < 0.99 * high * hours;
    let falls = best.1.slope > 2.0 * best.1.u_slope;
    let told = inside && falls && half < 0.05;
    let f_s_hz = best.1.at_nought.exp();
    told.then_some(Settling { f_s_hz, half_width_95_hz: f_s_hz * half, time_constant_h: best.0 })
}

#[cfg(test)]
#[path = "break_in_tests.rs"]
mod tests;
