//! The practice bench in real time, for the audio loop of the tests.
//!
//! `bench_in_time play DRIVER [POSITION [OHM]]` reads stereo 32-bit float samples (what the page plays) from standard
//! input and writes what the two input channels hear, sample by sample. `bench_in_time close DRIVER [with]` does the same
//! with an amplifier at the driver, with its resistor or without, and a microphone close to the cone on both channels.
//! `bench_in_time knock DRIVER COUNT [LOAD_OHM]`
//! writes one take of knocks, coil as sensor, on channel 1 of stereo samples. `bench_in_time truth DRIVER` prints the
//! true figures as JSON. All at 48 kHz, little-endian.
use std::error::Error;
use std::io::{self, Read, Write};

use conewright::sim::faults::Fault;
use conewright::sim::input::RunningInput;
use conewright::sim::jig::Position;
use conewright::sim::microphone::RunningMicrophone;
use conewright::sim::practice::{amplifier_bench, drivers, good_bench, good_microphone, PracticeDriver};
use conewright::sim::practice_takes::{knock_practice, PracticeKnock, PracticeSensor};
use conewright::sim::stream::Stream;

const RATE_HZ: f64 = 48_000.0;
/// Two channels of four bytes.
const FRAME_BYTES: usize = 8;
/// Read at most so many frames at once: what is read waits for its turn, so it is latency.
const BLOCK_FRAMES: usize = 256;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let word = |k: usize| arguments.get(k).map(String::as_str);
    let id = word(1).ok_or("which driver?")?;
    let part = drivers().into_iter().find(|d| d.id == id).ok_or("no such driver")?;
    match word(0) {
        Some("play") => {
            let mut stream = Stream::new(&good_bench(&part.driver), position(word(2), word(3))?, RATE_HZ, 1);
            run(|sample| stream.push(sample))
        }
        Some("close") => close(&part, word(2) == Some("with")),
        Some("knock") => knocks(id, word(2).ok_or("how many knocks?")?.parse()?, word(3).map(str::parse).transpose()?),
        Some("truth") => {
            println!("{}", serde_json::to_string(&part.truth)?);
            Ok(())
        }
        _ => Err("play, close, knock or truth?".into()),
    }
}

fn position(name: Option<&str>, ohm: Option<&str>) -> Result<Position, Box<dyn Error>> {
    Ok(match name {
        None | Some("driver") => Position::Driver,
        Some("same_node") => Position::SameNode,
        Some("short") => Position::Short,
        Some("open") => Position::Open,
        Some("known_resistor") => Position::KnownResistor { resistor_ohm: ohm.ok_or("how many ohms?")?.parse()? },
        Some(other) => return Err(format!("no position {other}").into()),
    })
}

fn close(part: &PracticeDriver, with: bool) -> Result<(), Box<dyn Error>> {
    let mut bench = amplifier_bench(&part.driver);
    if !with {
        bench.jig.series_resistor_nominal_ohm = 1e-6;
    }
    let mut stream = Stream::new(&bench, Position::Driver, RATE_HZ, 1);
    let mut microphone = RunningMicrophone::new(&good_microphone(), RATE_HZ, 1);
    let mut input = RunningInput::new(&bench.microphone_input(), RATE_HZ, 1);
    run(|sample| {
        stream.push_volts(sample);
        let velocity = stream.motion().map_or(0.0, |m| m.velocity_m_per_s);
        [input.push([microphone.push(velocity, part.driver.s_d_m2), 0.0])[0]; 2]
    })
}

/// Runs until the input ends or the output is closed.
fn run(mut heard_of: impl FnMut(f64) -> [f64; 2]) -> Result<(), Box<dyn Error>> {
    let (mut input, mut output) = (io::stdin().lock(), io::stdout().lock());
    let mut buffer = [0u8; FRAME_BYTES * BLOCK_FRAMES];
    let mut held = 0;
    loop {
        let read = input.read(&mut buffer[held..])?;
        if read == 0 {
            return Ok(());
        }
        held += read;
        let whole = held - held % FRAME_BYTES;
        for frame in buffer[..whole].chunks_exact_mut(FRAME_BYTES) {
            let left = f32::from_le_bytes([frame[0], frame[1], frame[2], frame[3]]);
            let heard = heard_of(f64::from(left));
            frame[..4].copy_from_slice(&(heard[0] as f32).to_le_bytes());
            frame[4..].copy_from_slice(&(heard[1] as f32).to_le_bytes());
        }
        output.write_all(&buffer[..whole])?;
        output.flush()?;
        buffer.copy_within(whole..held, 0);
        held -= whole;
    }
}

fn knocks(driver: &str, knocks: u32, load_ohm: Option<f64>) -> Result<(), Box<dyn Error>> {
    let request = PracticeKnock {
        driver: driver.into(),
        fault: Fault::None,
        sensor: PracticeSensor::Coil,
        knocks,
        load_ohm,
        added_mass_kg: 0.0,
        box_volume_m3: None,
        rate_hz: RATE_HZ,
        seed: 20,
    };
    let take = knock_practice(&request)?;
    let mut output = io::BufWriter::new(io::stdout().lock());
    for sample in &take.channels()[0] {
        output.write_all(&(*sample as f32).to_le_bytes())?;
        output.write_all(&0f32.to_le_bytes())?;
    }
    Ok(output.flush()?)
}
