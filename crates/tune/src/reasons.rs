//! Why a channel's settings are what they are: the working with its numbers, and the source.

use crate::report::ChannelTuned;
use loamline_processing::{HighPassReason, LimiterRule};
use loamline_terms::Polarity;
use serde::Serialize;

/// Why a group of settings is what it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SettingReason {
    /// The settings: "Maker's settings", "Filters", "Equaliser", "Delay", "Gain", "Limiter".
    pub about: &'static str,
    /// How they came about, with the numbers.
    pub steps: Vec<String>,
    /// What the rule rests on.
    pub source: &'static str,
}

impl ChannelTuned {
    /// Why the settings are what they are, in the order they are entered.
    pub fn reasons(&self) -> Vec<SettingReason> {
        [self.makers_settings(), self.filters(), self.equaliser(), self.delay(), self.gain(), self.limiter()]
            .into_iter()
            .flatten()
            .collect()
    }

    /// How they start from what makers ask for, and what was added; `None` where no maker asks for anything.
    pub fn makers_settings(&self) -> Option<SettingReason> {
        if self.makers.is_empty() {
            return None;
        }
        let mut steps: Vec<String> = self
            .makers
            .iter()
            .map(|m| format!("The maker's settings for {} of {} are where these start.", m.model, m.date))
            .collect();
        if let (Some(asked_hz), Some(set_hz)) = (self.makers_corner_hz, self.plan.high_pass_hz()) {
            steps.push(if set_hz > asked_hz {
                format!(
                    "The high-pass is raised from the maker's {asked_hz} Hz to {set_hz} Hz, for what else this channel feeds and plays with.",
                    asked_hz = loamline_terms::fixed(asked_hz, 0),
                    set_hz = loamline_terms::fixed(set_hz, 0)
                )
            } else {
                format!(
                    "The high-pass stands at the maker's {asked_hz} Hz.",
                    asked_hz = loamline_terms::fixed(asked_hz, 0)
                )
            });
        }
        if let Some(tag) = &self.makers_limit {
            steps.push(format!("The maker's limiter holds, at {tag}."));
        }
        let (own, all) = (self.makers_sections, self.plan.chain.equaliser.len());
        steps.push(format!(
            "{own} of the {all} equaliser sections are the maker's; {} were added for the places these loudspeakers serve.",
            all - own
        ));
        let source = "the maker's own settings, as the catalogue states them; high-pass and limiter are never weaker than these";
        Some(SettingReason { about: "Maker's settings", steps, source })
    }

    fn filters(&self) -> Option<SettingReason> {
        let mut steps = Vec::new();
        if let Some(h) = &self.high_pass {
            let needed = h.needed_hz;
            steps.push(match &h.reason {
                HighPassReason::Transformer(tag) => format!(
                    "{tag} decides: its transformer's core saturates at the line's highest voltage unless the high-pass stands at {needed} Hz or above.",
                    needed = loamline_terms::fixed(needed, 1)
                ),
                HighPassReason::Driver(tag) => {
                    format!(
                        "{tag} decides: its driver is rated down to {needed} Hz and no lower.",
                        needed = loamline_terms::fixed(needed, 1)
                    )
                }
                HighPassReason::Maker(model) => {
                    format!(
                        "The maker of {model} asks for a high-pass at {needed} Hz or above.",
                        needed = loamline_terms::fixed(needed, 1)
                    )
                }
                HighPassReason::Programme(name) => {
                    format!(
                        "Programme {name} is to be played from {needed} Hz up.",
                        needed = loamline_terms::fixed(needed, 1)
                    )
                }
                HighPassReason::Amplifier => {
                    format!(
                        "The amplifier's maker asks for a high-pass at {needed} Hz or above.",
                        needed = loamline_terms::fixed(needed, 1)
                    )
                }
            });
            steps.push(format!(
                "Rounded up to a value that can be typed in: {} Hz.",
                loamline_terms::fixed(h.filter.corner_hz(), 0)
            ));
            if h.core_use > 0.0 {
                steps.push(format!(
                    "Behind it no transformer's core is used to more than {} % of what it is rated for.",
                    loamline_terms::fixed(100.0 * h.core_use, 0)
                ));
            }
        }
        if let Some(hz) = self.crossover_hz {
            steps.push(format!(
                "Subwoofers and the other loudspeakers of this programme cross over at {hz} Hz: as low as both can give their level there.",
                hz = loamline_terms::fixed(hz, 0)
            ));
        }
        let source = "flux over frequency in a transformer's core (Faraday's law); Butterworth 1930, Linkwitz 1976; half an octave of room at the crossover is common practice, no source";
        (!steps.is_empty()).then_some(SettingReason { about: "Filters", steps, source })
    }

    fn equaliser(&self) -> Option<SettingReason> {
        let (before, after) = self.equalised_rms_db?;
        let sections = self.plan.chain.equaliser.len() - self.makers_sections;
        let steps = vec![format!(
            "Averaged over the areas it serves, the bands deviate from the programme's spectrum by {before} dB RMS without and by {after} dB with {sections} {}; one more would hardly change that.",
            if sections == 1 { "section" } else { "sections" },
            before = loamline_terms::fixed(before, 1),
            after = loamline_terms::fixed(after, 1)
        )];
        let source = "least squares on third octaves, narrow dips left alone; sections by the audio equaliser cookbook (W3C note 2021)";
        Some(SettingReason { about: "Equaliser", steps, source })
    }

    fn delay(&self) -> Option<SettingReason> {
        let ms = 1e3 * self.plan.chain.delay_s;
        let mut steps = vec![if ms > 0.0 {
            format!(
                "With {ms} ms fewer places hear an echo between this channel and another, and no area has more of them.",
                ms = loamline_terms::fixed(ms, 2)
            )
        } else {
            "0 ms: no delay of this channel leaves fewer places with an echo without making more of them elsewhere."
                .to_owned()
        }];
        if self.plan.chain.polarity == Polarity::Reversed {
            steps.push("The polarity is reversed so that both sides add up at the crossover.".to_owned());
        }
        let source =
            "arrivals more than 30 ms apart and within 10 dB begin to be heard as an echo (Haas 1951)";
        Some(SettingReason { about: "Delay", steps, source })
    }

    fn gain(&self) -> Option<SettingReason> {
        let mut steps = vec![format!(
            "A gain of {:+.1} dB brings the areas this channel is heard in nearest to the levels wanted, all channels together, with every neighbour below the limit less the margin asked.",
            self.plan.chain.gain_db
        )];
        if self.highest_gain_db < 0.0 {
            let limits = self.limiter_cost.as_ref().is_some_and(|cost| cost.reduction_db > 0.0);
            let why = if limits {
                "the limiter would work all the time"
            } else {
                "the amplifier gives no more into what hangs on it"
            };
            steps.push(format!("No gain above {:+.1} dB is set: {why}.", self.highest_gain_db));
        }
        let source =
            "bounded least squares on the areas' mean levels; neighbours by ISO 9613-2:1996; steps of 0.5 dB";
        Some(SettingReason { about: "Gain", steps, source })
    }

    fn limiter(&self) -> Option<SettingReason> {
        let set = self.plan.limiter.as_ref()?;
        let mut steps = Vec::new();
        if let Some((rms, peak)) = &self.weakest {
            steps.push(format!(
                "{rms} is the first to take its rated power, or its transformer the rated voltage: {} V RMS at the amplifier, loss in the cable counted in.",
                loamline_terms::fixed(set.v_rms, 1)
            ));
            steps.push(format!(
                "{peak} sets the peak: {} V, by its rated peak power (6 dB over the continuous one where none is stated), or by the peak of a sine at its transformer's rated voltage.",
                loamline_terms::fixed(set.v_peak, 1)
            ));
        }
        if let Some(cost) = &self.limiter_cost {
            let which = match cost.rule {
                LimiterRule::Neither => "neither threshold takes anything",
                LimiterRule::Rms => "the RMS threshold rules",
                LimiterRule::Peak => "the peak threshold rules",
            };
            steps.push(format!(
                "With the amplifier fully driven by this programme {which}: {} dB is lost, {} V RMS is left.",
                loamline_terms::fixed(cost.reduction_db, 1),
                loamline_terms::fixed(cost.programme_v_rms, 1)
            ));
        }
        let source = "V = sqrt(P |Z|) (Joule's law); a sine's peak is sqrt(2) times its RMS; 6 dB from the continuous to the peak rating, attack and release are common practice, no source";
        Some(SettingReason { about: "Limiter", steps, source })
    }
}
