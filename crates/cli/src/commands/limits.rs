//! `loamline limits`: how much of everything the program takes.

use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_limits::{LEASTS, TABLE, Unit};
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
        let most = TABLE.iter().map(|b| {
            json!({ "of": b.of, "most": b.most, "unit": unit(b.unit), "reason": b.reason,
                "sentence": b.sentence.replace("{most}", &b.shown()) })
        });
        let least = LEASTS.iter().map(|b| {
            json!({ "of": b.of, "least": b.least, "unit": unit(b.unit), "reason": b.reason,
                "sentence": b.sentence.replace("{least}", &b.shown()) })
        });
        let rows: Vec<Value> = most.chain(least).collect();
        output::json(&json!({ "limits": rows }))?;
    } else {
        let mut table =
            Table::new([Column::wrapped("what"), Column::right("at most"), Column::wrapped("why")]);
        for bound in TABLE {
            table.row([bound.of, &bound.shown(), bound.reason]);
        }
        for bound in LEASTS {
            table.row([bound.of, &format!("at least {}", bound.shown()), bound.reason]);
        }
        output::data(&table.to_string())?;
    }
    Ok(Verdict::Fine)
}
