//! `loamline limits`: how much of everything the program takes.

use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_limits::{Side, Unit, rows};
use serde_json::{Value, json};

pub fn run(markdown: bool, format: Format) -> Result<Verdict, Failure> {
    if markdown {
        output::data(&loamline_limits::reference())?;
    } else if format.json {
        let unit = |unit| match unit {
            Unit::Bytes => "bytes",
            Unit::Count => "count",
            Unit::Seconds => "s",
            Unit::BytesPerSecond => "bytes/s",
            Unit::SquareCentimetres => "cm2",
        };
        let told: Vec<Value> = rows()
            .map(|b| {
                let side = match b.side {
                    Side::Most => "most",
                    Side::Least => "least",
                };
                json!({ "of": b.of, side: b.number, "unit": unit(b.unit), "reason": b.reason, "sentence": b.said() })
            })
            .collect();
        output::json(&json!({ "limits": told }))?;
    } else {
        let mut table =
            Table::new([Column::wrapped("what"), Column::right("at most"), Column::wrapped("why")]);
        for bound in rows() {
            table.row([bound.of, &bound.cell(), bound.reason]);
        }
        output::data(&table.to_string())?;
    }
    Ok(Verdict::Fine)
}
