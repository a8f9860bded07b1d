//! Takes of the practice bench: speed, determinism, and the signature of each fault.
use conewright::sim::bench::{knock, play};
use conewright::sim::jig::Position;
use conewright::sim::knock::KnockScene;
use conewright::sim::practice::{drivers, good_bench};

fn tone(seconds: f64, f: f64, amplitude: f64) -> Vec<f64> {
    (0..(seconds * 48e3) as usize).map(|n| amplitude * (std::f64::consts::TAU * f * n as f64 / 48e3).sin()).collect()
}

#[test]
fn the_same_seed_gives_the_same_take() {
    let part = &drivers()[0];
    let bench = good_bench(&part.driver);
    let dac = tone(0.5, 1000.0, 0.5);
    let start = std::time::Instant::now();
    let long = play(&bench, &tone(10.0, 30.0, 0.5), 48e3, Position::Driver, 7).unwrap();
    println!(
        "10 s take: {:?}, peak {}",
        start.elapsed(),
        long.channels()[1].iter().fold(0.0f64, |a, b| a.max(b.abs()))
    );
    let take = |seed| play(&bench, &dac, 48e3, Position::Driver, seed).unwrap();
    assert_eq!(take(3), take(3));
    assert_ne!(take(3), take(4));
}

#[test]
fn a_knock_rings_at_resonance_with_the_open_q() {
    for part in drivers() {
        let bench = good_bench(&part.driver);
        let start = std::time::Instant::now();
        let take = knock(&bench, &KnockScene::taps(&part.driver, 6, 48e3, 5), 1).unwrap();
        let c = &take.channels()[0];
        let peak = c.iter().fold(0.0f64, |a, b| a.max(b.abs()));
        println!("{} {:?}: peak {peak}", part.id, start.elapsed());
        assert!((0.02..0.9).contains(&peak), "{} peaks at {peak}", part.id);
    }
}
