//! Mains draw and heat of amplifiers, and the circuits they need.
//!
//! One-eighth of rated power is the customary stand-in for music just short of clipping (IEC 62368-1 and its forerunner
//! IEC 60065 use it for heating tests of amplifiers). Where the maker states the draw there, that figure counts;
//! otherwise it is idle draw plus output over the stage's efficiency. What does not leave as signal is heat.

use serde::{Deserialize, Serialize};

use crate::error::InputError;

/// Share of a circuit a load that runs for hours may use (NEC 210.20(A): 80 % of the breaker).
pub const CONTINUOUS_SHARE: f64 = 0.8;

/// An amplifier's appetite.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AmplifierPower {
    /// Name or id.
    pub name: String,
    /// Rated power of all channels together in W.
    pub rated_w: f64,
    /// Mains draw in W with no signal.
    pub idle_w: f64,
    /// Draw in W at one-eighth power where the maker states it.
    pub eighth_power_draw_w: Option<f64>,
    /// Signal out over the extra mains power it takes, above 0 up to 1 (about 0.85 class D, 0.5 class AB).
    pub efficiency: f64,
    /// Real over apparent power at the mains, above 0 up to 1.
    pub power_factor: f64,
}

/// A supply circuit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Supply {
    /// Mains voltage in V RMS.
    pub voltage_v: f64,
    /// Breaker or fuse in A.
    pub breaker_a: f64,
    /// Share of the breaker that may be used for hours; see [`CONTINUOUS_SHARE`].
    pub continuous_share: f64,
}

/// Draw and heat of one amplifier.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MainsDraw {
    /// Name of the amplifier.
    pub name: String,
    /// Draw in W with no signal; all of it is heat.
    pub idle_w: f64,
    /// Draw in W at one-eighth power.
    pub eighth_draw_w: f64,
    /// Heat in W at one-eighth power.
    pub eighth_heat_w: f64,
    /// Mains current in A RMS at one-eighth power.
    pub eighth_current_a: f64,
}

/// Amplifiers shared out over circuits.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CircuitPlan {
    /// Names of the amplifiers on each circuit.
    pub circuits: Vec<Vec<String>>,
    /// Current of each circuit in A RMS at one-eighth power.
    pub current_a: Vec<f64>,
    /// Draw and heat per amplifier, as given.
    pub draws: Vec<MainsDraw>,
    /// Draw of all in W at idle.
    pub idle_w: f64,
    /// Heat of all in W at one-eighth power.
    pub eighth_heat_w: f64,
}

/// Draw and heat of `amplifier` at `voltage_v` mains.
///
/// # Errors
/// A value outside its range.
pub fn mains_draw(amplifier: &AmplifierPower, voltage_v: f64) -> Result<MainsDraw, InputError> {
    let place = format!("amplifier {}", amplifier.name);
    InputError::check_positive(&place, "mains voltage", "V", voltage_v)?;
    InputError::check_positive(&place, "rated power", "W", amplifier.rated_w)?;
    InputError::check_not_negative(&place, "idle draw", "W", amplifier.idle_w)?;
    InputError::check_range(&place, "efficiency", "", amplifier.efficiency, 0.05, 1.0)?;
    InputError::check_range(&place, "power factor", "", amplifier.power_factor, 0.1, 1.0)?;
    let output_w = amplifier.rated_w / 8.0;
    let eighth_draw_w = match amplifier.eighth_power_draw_w {
        Some(stated) => {
            InputError::check_range(&place, "draw at one-eighth power", "W", stated, output_w, f64::MAX)?;
            stated
        }
        None => amplifier.idle_w + output_w / amplifier.efficiency,
    };
    Ok(MainsDraw {
        name: amplifier.name.clone(),
        idle_w: amplifier.idle_w,
        eighth_draw_w,
        eighth_heat_w: eighth_draw_w - output_w,
        eighth_current_a: eighth_draw_w / (voltage_v * amplifier.power_factor),
    })
}

/// Density of air at 20 C and 101 325 Pa, kg/m3, and its heat capacity, J/(kg K) (from memory).
const AIR_KG_PER_M3: f64 = 1.204;
const AIR_J_PER_KG_K: f64 = 1006.0;

/// Air in m3/h that carries `heat_w` out of a rack and is warmer by `rise_k` when it leaves: heat over density, heat
/// capacity and rise. At 20 C and sea level; thinner air takes more of it, a tenth for each 1000 m.
///
/// # Errors
/// A value outside its range.
pub fn airflow_m3_per_h(heat_w: f64, rise_k: f64) -> Result<f64, InputError> {
    InputError::check_not_negative("rack", "heat", "W", heat_w)?;
    InputError::check_positive("rack", "rise", "K", rise_k)?;
    Ok(heat_w / (AIR_KG_PER_M3 * AIR_J_PER_KG_K * rise_k) * 3600.0)
}

/// Shares amplifiers out over circuits of `supply`, largest first onto the first circuit with room.
///
/// # Errors
/// A value outside its range; an amplifier too big for a circuit of its own.
pub fn plan_circuits(amplifiers: &[AmplifierPower], supply: &Supply) -> Result<CircuitPlan, InputError> {
    InputError::check_positive("supply", "breaker", "A", supply.breaker_a)?;
    InputError::check_range("supply", "continuous share", "", supply.continuous_share, 0.1, 1.0)?;
    let draws = amplifiers
        .iter()
        .map(|amplifier| mains_draw(amplifier, supply.voltage_v))
        .collect::<Result<Vec<_>, _>>()?;
    let room_a = supply.breaker_a * supply.continuous_share;
    let mut order: Vec<&MainsDraw> = draws.iter().collect();
    order.sort_by(|a, b| b.eighth_current_a.total_cmp(&a.eighth_current_a));
    let mut circuits: Vec<Vec<String>> = Vec::new();
    let mut current_a: Vec<f64> = Vec::new();
    for draw in order {
        if draw.eighth_current_a > room_a {
            return Err(InputError::NoChoice {
                place: format!("amplifier {}", draw.name),
                problem: format!(
                    "it draws {:.1} A at one-eighth power; a {} A circuit gives {room_a:.1} A for hours",
                    draw.eighth_current_a, supply.breaker_a
                ),
            });
        }
        match current_a
            .iter_mut()
            .zip(&mut circuits)
            .find(|(used, _)| **used + draw.eighth_current_a <= room_a)
        {
            Some((used, names)) => {
                *used += draw.eighth_current_a;
                names.push(draw.name.clone());
            }
            None => {
                current_a.push(draw.eighth_current_a);
                circuits.push(vec![draw.name.clone()]);
            }
        }
    }
    for names in &mut circuits {
        names.sort_by_key(|name| draws.iter().position(|draw| draw.name == *name));
    }
    Ok(CircuitPlan {
        circuits,
        current_a,
        idle_w: draws.iter().map(|draw| draw.idle_w).sum(),
        eighth_heat_w: draws.iter().map(|draw| draw.eighth_heat_w).sum(),
        draws,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn amplifier(name: &str, rated_w: f64) -> AmplifierPower {
        AmplifierPower {
            name: name.to_owned(),
            rated_w,
            idle_w: 40.0,
            eighth_power_draw_w: None,
            efficiency: 0.8,
            power_factor: 0.95,
        }
    }

    /// Rule of enclosure makers near sea level, from memory: 3.1 m3/h for each watt per kelvin, rounded up from the physics.
    #[test]
    fn air_for_a_rack_follows_the_rule_of_enclosure_makers() {
        for (heat_w, rise_k) in [(71.0, 10.0), (1000.0, 10.0), (1000.0, 15.0)] {
            let ratio = airflow_m3_per_h(heat_w, rise_k).unwrap() / (3.1 * heat_w / rise_k);
            assert!((0.94..=1.0).contains(&ratio), "{ratio}");
        }
        assert!(airflow_m3_per_h(100.0, 0.0).is_err() && airflow_m3_per_h(-1.0, 10.0).is_err());
    }

    #[test]
    fn what_does_not_leave_as_signal_is_heat() {
        // By hand: 1600 W rated gives 200 W at one-eighth; 40 + 200/0.8 = 290 W in, 90 W heat, 290/(120*0.95) = 2.54 A.
        let draw = mains_draw(&amplifier("1", 1600.0), 120.0).unwrap();
        assert!((draw.eighth_draw_w - 290.0).abs() < 1e-9 && (draw.eighth_heat_w - 90.0).abs() < 1e-9);
        assert!((draw.eighth_current_a - 2.5439).abs() < 1e-4);
    }

    #[test]
    fn circuits_hold_eighty_per_cent() {
        let all: Vec<_> = (0..9).map(|k| amplifier(&k.to_string(), 1600.0)).collect();
        let supply = Supply { voltage_v: 120.0, breaker_a: 15.0, continuous_share: CONTINUOUS_SHARE };
        let plan = plan_circuits(&all, &supply).unwrap();
        assert_eq!(plan.circuits.iter().map(Vec::len).collect::<Vec<_>>(), [4, 4, 1]);
        // The larger one is placed first, and both are told in their order.
        let two = plan_circuits(&[amplifier("1", 400.0), amplifier("2", 1600.0)], &supply).unwrap();
        assert_eq!(two.circuits, [["1", "2"]]);
        let error = plan_circuits(&[amplifier("big", 16_000.0)], &supply).unwrap_err();
        assert!(
            error.to_string().starts_with("amplifier big: it draws 22.3 A at one-eighth power"),
            "{error}"
        );
    }
}
