//! Ranking the faults of one reading on a line of thirty loudspeakers, against 50 ms, and pairs of faults, against 2 s.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::error::Error;
use std::time::Instant;

use loamline_electrics::{
    Cable, Change, ConductorSize, Connection, Line, Load, Loudspeaker, Network, Probe, Run, Service,
    TappedTransformer, Windings,
};
use loamline_faults::{
    Asked, Diagnosis, Effort, Fault, FaultError, MeterReading, Priors, Shown, Tolerances, locate,
};

const LOUDSPEAKERS: usize = 30;
const REPEATS: usize = 20;

fn main() -> Result<(), Box<dyn Error>> {
    let line = chain()?;
    let frequencies = [0.0, 1000.0];
    let probe = Probe::new(&Network::build(&line)?, &frequencies)?;
    let open = Fault::Open { run: "R12".to_owned() };
    let readings: Vec<MeterReading> = probe
        .read(&[Change::Cut { run: 11, fraction: 0.5 }])
        .into_iter()
        .zip(frequencies)
        .map(|(z, frequency_hz)| {
            MeterReading::at_rack(frequency_hz, z.map_or(Shown::Open, |z| Shown::Ohm(z.norm())))
        })
        .collect();
    let mut best = f64::MAX;
    for _ in 0..REPEATS {
        let start = Instant::now();
        let found = located(&line, &readings, false)?;
        best = best.min(start.elapsed().as_secs_f64());
        if !found.explanations.iter().take(3).any(|explanation| explanation.fault == open) {
            return Err("the open run is not among the first three".into());
        }
    }
    println!(
        "{LOUDSPEAKERS} loudspeakers, two readings, ranking and next tests: {:.1} ms against 50 ms wanted",
        best * 1e3
    );
    pairs(&line)
}

/// What explains readings of a line, as it is asked by whoever sets nothing.
fn located(line: &Line, readings: &[MeterReading], pairs: bool) -> Result<Diagnosis, FaultError> {
    locate(&Asked {
        line,
        others: &[],
        readings,
        opened: &[],
        tolerances: &Tolerances::default(),
        priors: &Priors::default(),
        effort: &Effort::default(),
        meter_hz: &[0.0, 100.0, 315.0, 1000.0, 10_000.0],
        pairs,
        insulation: None,
    })
}

/// A cut and a missing loudspeaker before it, read at five frequencies.
fn pairs(line: &Line) -> Result<(), Box<dyn Error>> {
    let frequencies = [0.0, 100.0, 315.0, 1000.0, 10_000.0];
    let probe = Probe::new(&Network::build(line)?, &frequencies)?;
    let read = probe.read(&[Change::Cut { run: 17, fraction: 0.5 }, Change::Missing { load: 4 }]);
    let readings: Vec<MeterReading> = read
        .into_iter()
        .zip(frequencies)
        .map(|(z, f)| MeterReading::at_rack(f, z.map_or(Shown::Open, |z| Shown::Ohm(z.norm()))))
        .collect();
    let mut best = f64::MAX;
    for _ in 0..3 {
        let start = Instant::now();
        let found = located(line, &readings, true)?;
        best = best.min(start.elapsed().as_secs_f64());
        let count = found.pairs.ok_or("pairs were not weighed")?;
        if count.weighed < 30_000 {
            return Err(format!("only {} pairs were weighed", count.weighed).into());
        }
        println!("{} pairs weighed, {} kept, {:.3} left out", count.weighed, count.kept, count.left_out);
    }
    println!("{LOUDSPEAKERS} loudspeakers, five readings, pairs: {best:.2} s against 2 s wanted");
    Ok(())
}

fn chain() -> Result<Line, Box<dyn Error>> {
    let joint = |k: usize| if k == 0 { "amp".to_owned() } else { format!("J{k}") };
    let pair = Cable::typical("14 AWG", ConductorSize::Awg(14), 2).pair(20.0)?;
    let transformer = TappedTransformer {
        rated_v: 100.0,
        taps_w: vec![2.5, 5.0, 10.0, 20.0],
        insertion_loss_db: 0.5,
        rated_low_hz: 60.0,
        magnetising_inductance_h: None,
        windings: Windings::default(),
        loudspeaker_nominal_ohm: 8.0,
    };
    let runs = (1..=LOUDSPEAKERS).map(|k| Run {
        name: format!("R{k}"),
        from: joint(k - 1),
        to: joint(k),
        length_m: 6.0 + (k % 5) as f64,
        pair,
        in_series: false,
        laid: None,
    });
    let loads = (1..=LOUDSPEAKERS).map(|k| Load {
        name: format!("L{k}"),
        at: joint(k),
        connection: Connection::Tapped { transformer: transformer.clone(), tap_w: 10.0 },
        loudspeaker: Loudspeaker::resistance(8.0),
        nominal_ohm: 8.0,
        series_capacitor_f: None,
        in_series: false,
    });
    Ok(Line {
        name: "A".to_owned(),
        service: Service::ConstantVoltage { rated_v: 100.0 },
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs: runs.collect(),
        loads: loads.collect(),
    })
}
