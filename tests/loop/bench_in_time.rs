//! The practice bench in real time, for the audio loop of the tests.
//!
//! `bench_in_time play DRIVER [POSITION [OHM]]` reads stereo 32-bit float samples (what the page plays) from standard
//! input and writes what the two input channels hear, sample by sample. `bench_in_time knock DRIVER COUNT [LOAD_OHM]`
//! writes one take of knocks, coil as sensor, on channel 1 of stereo samples. `bench_in_time truth DRIVER` prints the
//! true figures as JSON. All at 48 kHz, little-endian.
use std::error::Error;
use std::io::{self, Read, Write};

use conewright::sim::faults::Fault;
use conewright::sim::jig::Position;
use conewright::sim::practice::{drivers, good_bench, PracticeDriver};
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
        Some("play") => play(&part, position(word(2), word(3))?),
        Some("knock") => knocks(id, word(2).ok_or("how many knocks?")?.parse()?, word(3).map(str::parse).transpose()?),
        Some("truth") => {
            println!("{}", serde_json::to_string(&part.truth)?);
            Ok(())
        }
        _ => Err("play, knock or truth?".into()),
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

/// Runs until the input ends or the output is closed.
fn play(part: &PracticeDriver, position: Position) -> Result<(), Box<dyn Error>> {
    let mut stream = Stream::new(&good_bench(&part.driver), position, RATE_HZ, 1);
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
            let heard = stream.push(f64::from(left));
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
