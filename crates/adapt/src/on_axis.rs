//! How loud a loudspeaker is 1 m ahead of it, band by band: the one place where volts become decibels.
//!
//! Level = sensitivity + response + 10 lg (V^2/Z), V the voltage at the loudspeaker's own terminals in that band and Z its
//! nominal impedance as its coils are wired (`loamline_acoustics::full_scale_level_db`). V is the circuit's, by nodal analysis:
//! what cable, copper, core, leakage and the driver's own impedance leave of the amplifier's voltage at that frequency, never
//! the watts of a tap less an insertion loss, which hold in the middle of the band and for a load that is its nominal
//! impedance everywhere.
//!
//! A response is measured at one voltage over the frequencies (IEC 60268-5; from memory), so that the driver's impedance is in
//! it already, and only what its impedance does to the voltage comes on top. Two coils in series make the force of both by one
//! current, in parallel each by its own: at one voltage twice the force, 6.02 dB, which V^2/Z gives with a quarter of the
//! nominal impedance (Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20 (1972)). Left out: what the voltage
//! source's own impedance does to the damping of the driver beyond its effect on the voltage at the terminals. Checked against
//! a nodal analysis of its own, band by band, in `checks/test_nameplate.py`.

use crate::electrical::{driver, transformer};
use crate::over_frequency::on_bands;
use loamline_acoustics::{Band, BandValues, Radiation, SourceError, band_values, full_scale_level_db};
use loamline_model::catalogue::{LoudspeakerModel, ReferenceSpace};
use loamline_terms::BAND_1_KHZ;

/// How loud a loudspeaker is on the voltages it gets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnAxis {
    /// Free-field level at 1 m on axis on the voltage at 1 kHz, where its response is 0 dB, dB re 20 uPa.
    pub level_db: f64,
    /// What each third octave differs from that: its response, and its voltage re that at 1 kHz, dB.
    pub response_db: BandValues,
}

/// A model of `nominal_ohm` (as its coils are wired) on voltages at its terminals by third octave, V RMS.
///
/// # Errors
/// A sensitivity, voltage or impedance that none has.
pub fn on_axis(
    model: &LoudspeakerModel,
    nominal_ohm: f64,
    terminals_v: &BandValues,
) -> Result<OnAxis, SourceError> {
    let at_1khz_v = terminals_v[BAND_1_KHZ];
    let level_db = full_scale_level_db(model.sensitivity_db, radiation(model), at_1khz_v, nominal_ohm)?;
    let response = on_bands(&model.response_db);
    let over_1khz_db = |v: f64| 20.0 * (v.max(1e-9) / at_1khz_v.max(1e-9)).log10();
    let response_db = std::array::from_fn(|b| response[b] + rounded_db(over_1khz_db(terminals_v[b])));
    Ok(OnAxis { level_db, response_db })
}

/// Voltages at a model's terminals by third octave on a tap of its transformer, where the line has its rated voltage there at
/// every frequency, V RMS; `None` without a transformer.
pub fn on_a_tap_v(model: &LoudspeakerModel, rated_v: f64, tap_w: f64) -> Option<BandValues> {
    let circuit = transformer(model, model.transformer.as_ref()?, rated_v).at_tap(tap_w);
    let driver = driver(model, None);
    let at = |hz: f64| rated_v * circuit.primary(driver.impedance_ohm(hz), hz).1.norm();
    Some(band_values(|b: Band| at(b.centre_hz())))
}

/// What a model's sensitivity was measured in.
fn radiation(model: &LoudspeakerModel) -> Radiation {
    match model.reference {
        ReferenceSpace::FreeField => Radiation::FreeField,
        ReferenceSpace::HalfSpace => Radiation::HalfSpace,
    }
}

/// Levels of a source are taken to a thousandth of a decibel: moving one loudspeaker moves the voltages of its line by ten
/// times less, and the others are then what they were. Finer, and every drag changes a whole line; coarser, and it could
/// be read off a table.
pub(crate) fn rounded_db(db: f64) -> f64 {
    (1000.0 * db).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::catalogue::ImpedanceModel;
    use loamline_model::document::Coils;
    use loamline_model::shipped_catalogue;

    /// By hand: 10 V into 8 ohm are 12.5 W, 10.97 dB; half the voltage in a band is 6.02 dB less there.
    #[test]
    fn a_band_follows_its_own_voltage() {
        let catalogue = shipped_catalogue().unwrap();
        let model = &catalogue.loudspeakers["stake-165-wide"];
        let even = on_axis(model, 8.0, &[10.0; 31]).unwrap();
        assert!((even.level_db - (model.sensitivity_db + 10.969_1)).abs() < 1e-4);
        let mut less_v = [10.0; 31];
        less_v[3] = 5.0;
        let less = on_axis(model, 8.0, &less_v).unwrap();
        assert_eq!(less.level_db, even.level_db);
        assert!((even.response_db[3] - less.response_db[3] - 6.0206).abs() < 6e-4);
        assert_eq!((less.response_db[2], less.response_db[30]), (even.response_db[2], even.response_db[30]));
    }

    /// At one voltage two coils in parallel give twice the force of two in series.
    #[test]
    fn coils_in_parallel_are_six_decibels_more_at_one_voltage() {
        let catalogue = shipped_catalogue().unwrap();
        let model = &catalogue.loudspeakers["ground-sub-320"];
        let level = |coils| on_axis(model, model.wired_ohm(Some(coils)), &[20.0; 31]).unwrap().level_db;
        assert!((level(Coils::Parallel) - level(Coils::Series) - 6.0206).abs() < 1e-4);
    }

    /// The load is wired as the level takes it, whatever is known of the impedance.
    #[test]
    fn coils_in_parallel_are_a_quarter_of_the_load() {
        let catalogue = shipped_catalogue().unwrap();
        let motor = catalogue.loudspeakers["ground-sub-320"].clone();
        let nominal = LoudspeakerModel { impedance: None, ..motor.clone() };
        let magnitude_ohm = Some(vec![(50.0, 30.0), (200.0, 9.0)]);
        let table = ImpedanceModel { thiele_small: None, magnitude_ohm, phase_deg: None };
        let table = LoudspeakerModel { impedance: Some(table), ..motor.clone() };
        for model in [&motor, &nominal, &table] {
            for hz in [0.0, 50.0, 63.0, 200.0] {
                let [series, parallel] = [Coils::Series, Coils::Parallel]
                    .map(|coils| driver(model, Some(coils)).impedance_ohm(hz));
                assert!((series / parallel - 4.0).norm() < 1e-9, "{series} and {parallel} at {hz} Hz");
            }
        }
    }

    /// The insertion loss is stated for the nominal impedance (8 ohm): a driver that has it, in the middle of the band, gets
    /// the tap's watts less that. The driver itself differs from it by what its impedance differs.
    #[test]
    fn a_tap_passes_its_watts_less_the_insertion_loss_at_the_nominal_impedance() {
        let catalogue = shipped_catalogue().unwrap();
        let mut model = catalogue.loudspeakers["stake-165-wide"].clone();
        model.impedance = None;
        let volts = on_a_tap_v(&model, 70.7, 10.0).unwrap();
        let loss_db = model.transformer.as_ref().unwrap().insertion_loss_db;
        let watts = volts[BAND_1_KHZ].powi(2) / model.nominal_ohm;
        assert!((10.0 * (10.0 / watts).log10() - loss_db).abs() < 0.01, "{watts} W");
        assert!(on_a_tap_v(&model, 70.7, 20.0).unwrap()[BAND_1_KHZ] > volts[BAND_1_KHZ]);
        model.transformer = None;
        assert_eq!(on_a_tap_v(&model, 70.7, 10.0), None);
    }
}
