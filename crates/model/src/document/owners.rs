//! Whose a thing is: the zone it belongs to and the phase it is built in.
//!
//! A zone owns areas, racks and lines that say so; what hangs on a line or stands in a rack goes along. A line that names no
//! zone belongs to that of the rack it starts at. What a thing's own zone says of its phase holds unless the thing says it.

use super::JobDocument;
use super::system::Line;
use super::zones::{Owner, Spare};
use loamline_geometry::Point2;

impl JobDocument {
    fn owned<'d>(&'d self, zone: Option<&'d str>, phase: Option<&'d str>) -> Owner<'d> {
        let of_zone = || self.zones.get(zone?)?.phase.as_deref();
        Owner { zone, phase: phase.or_else(of_zone) }
    }

    /// Whose an area is.
    pub fn owner_of_area(&self, id: &str) -> Owner<'_> {
        let area = self.areas.get(id);
        area.map_or_else(Owner::default, |a| self.owned(a.zone.as_deref(), a.phase.as_deref()))
    }

    /// Whose a rack is.
    pub fn owner_of_rack(&self, id: &str) -> Owner<'_> {
        let rack = self.racks.get(id);
        rack.map_or_else(Owner::default, |r| self.owned(r.zone.as_deref(), r.phase.as_deref()))
    }

    /// Whose an amplifier is: its rack's, built in its own phase where it says one.
    pub fn owner_of_amplifier(&self, id: &str) -> Owner<'_> {
        let Some(amplifier) = self.amplifiers.get(id) else { return Owner::default() };
        let of_rack = self.owner_of_rack(&amplifier.rack);
        Owner { phase: amplifier.phase.as_deref().or(of_rack.phase), ..of_rack }
    }

    /// The rack a line comes from: where it starts, where its stub-out leads, or where its channel's amplifier stands.
    pub fn rack_of_line<'d>(&'d self, line: &'d Line) -> Option<&'d str> {
        match line.start.as_deref() {
            Some(start) => match self.stubs.get(start) {
                Some(stub) => self.rack_of_stub(stub),
                None => Some(start),
            },
            None => {
                let channel = self.channels.get(line.channel.as_ref()?)?;
                Some(self.amplifiers.get(&channel.amplifier)?.rack.as_str())
            }
        }
    }

    /// Whose a line is: its own zone's, else that of the rack it comes from.
    pub fn owner_of_line(&self, id: &str) -> Owner<'_> {
        let Some(line) = self.lines.get(id) else { return Owner::default() };
        let phase = line.phase.as_deref();
        if line.zone.is_some() {
            return self.owned(line.zone.as_deref(), phase);
        }
        let of_rack = self.rack_of_line(line).map_or_else(Owner::default, |rack| self.owner_of_rack(rack));
        Owner { phase: phase.or(of_rack.phase), ..of_rack }
    }

    /// Whose a loudspeaker is: its line's; without a line, that of the first area it stands in.
    pub fn owner_of_loudspeaker(&self, id: &str) -> Owner<'_> {
        let Some(loudspeaker) = self.loudspeakers.get(id) else { return Owner::default() };
        match &loudspeaker.line {
            Some(line) => self.owner_of_line(line),
            None => self.owner_of_place(loudspeaker.position),
        }
    }

    /// Whose a channel is: that of the first line it feeds, else its amplifier's.
    pub fn owner_of_channel(&self, id: &str) -> Owner<'_> {
        let fed = self.lines.iter().find(|(_, line)| line.channel.as_deref() == Some(id));
        let amplifier = || self.channels.get(id).map(|c| self.owner_of_amplifier(&c.amplifier));
        match fed {
            Some((line, _)) => self.owner_of_line(line),
            None => amplifier().unwrap_or_default(),
        }
    }

    fn owner_of_place(&self, place: Point2) -> Owner<'_> {
        let holding = self.areas.iter().find(|(_, area)| area.outline.contains(place));
        holding.map_or_else(Owner::default, |(id, _)| self.owner_of_area(id))
    }

    /// Whether a zone has an area, a rack or a line.
    pub fn zone_has_any(&self, zone: &str) -> bool {
        let own = |of: Option<&str>| of == Some(zone);
        self.areas.values().any(|a| own(a.zone.as_deref()))
            || self.racks.values().any(|r| own(r.zone.as_deref()))
            || self.lines.keys().any(|id| own(self.owner_of_line(id).zone))
    }

    /// What is to be left spare in a zone, or where nothing is in a zone.
    pub fn spare_of(&self, zone: Option<&str>) -> Spare {
        let asked = zone.and_then(|id| self.zones.get(id));
        asked.map_or_else(|| self.brief.spare.clone(), |zone| zone.spare.or(&self.brief.spare))
    }

    /// Place of a phase in the order they are built in: what is in none is there from the beginning.
    pub fn turn_of_phase(&self, phase: Option<&str>) -> usize {
        phase.and_then(|id| self.phases.get_index_of(id)).map_or(0, |place| place + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::read_job;
    use crate::source::SourceFile;

    fn read(text: &str) -> crate::Job {
        let text = format!("format = 1\n[job]\nname = \"Zones\"\n{text}");
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap()
    }

    #[test]
    fn a_line_is_its_racks_unless_it_says_whose_it_is() {
        let job = read(
            r#"
[phases.first]
[phases.second]
[zones.house]
phase = "first"
[zones.garden]
phase = "second"
[racks.R1]
position = [0, 0]
zone = "house"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[amplifiers.P2]
model = "line-4x280"
rack = "R1"
phase = "second"
[channels.C1]
amplifier = "P1"
output = 1
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
[lines.B]
start = "R1"
cable = "burial-2x2.5mm2"
zone = "garden"
[lines.C]
start = "R1"
cable = "burial-2x2.5mm2"
phase = "second"
[lines.D]
cable = "burial-2x2.5mm2"
"#,
        );
        let d = job.document();
        let whose = |line: &str| (d.owner_of_line(line).zone, d.owner_of_line(line).phase);
        assert_eq!(whose("A"), (Some("house"), Some("first")));
        assert_eq!(whose("B"), (Some("garden"), Some("second")));
        assert_eq!(whose("C"), (Some("house"), Some("second")));
        assert_eq!(whose("D"), (None, None));
        assert_eq!(d.owner_of_amplifier("P1").phase, Some("first"));
        assert_eq!(d.owner_of_amplifier("P2"), Owner { zone: Some("house"), phase: Some("second") });
        assert_eq!(d.owner_of_channel("C1").zone, Some("house"));
        assert_eq!([None, Some("first"), Some("second")].map(|p| d.turn_of_phase(p)), [0, 1, 2]);
    }

    #[test]
    fn what_a_zone_does_not_ask_to_be_spare_the_brief_asks() {
        let job = read(
            "[brief.spare]\nchannels = 1\npower = \"20 %\"\n[zones.house]\n[zones.house.spare]\nchannels = 3\nducts = \"40 %\"\n",
        );
        let spare = job.document().spare_of(Some("house"));
        assert_eq!((spare.channels, spare.power, spare.ducts), (Some(3), Some(0.2), Some(0.4)));
        assert_eq!(job.document().spare_of(None).channels, Some(1));
    }

    #[test]
    fn a_zone_that_is_not_there_is_told_with_what_it_may_have_meant() {
        let text = "format = 1\n[job]\nname = \"Zones\"\n[zones.garden]\nphase = \"firts\"\n[phases.first]\n[areas.a]\noutline = [[0, 0], [4, 0], [4, 4]]\ntarget = 70\nzone = \"gardn\"\n";
        let told = read_job(&SourceFile::new("job.toml", text), &[]).unwrap_err().to_string();
        for part in ["areas.a.zone", "garden", "zones.garden.phase", "first"] {
            assert!(told.contains(part), "{part} in {told}");
        }
    }
}
