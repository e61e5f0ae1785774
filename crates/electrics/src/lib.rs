//! Lines: cable, transformers, loudspeaker impedance, networks, amplifier channels.
