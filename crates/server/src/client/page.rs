//! The client's page, written as HTML: every text that came from somebody is escaped.

use super::shown::Shown;
use crate::store::ClientLink;
use loamline_papers::{OfferAmount, OfferOptions};
use std::fmt::Write as _;

/// A text as it stands in a page.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A day of an instant, as it is written down: the first ten characters of RFC 3339.
fn day(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}

fn whole(title: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\" />\n\
         <meta name=\"robots\" content=\"noindex\" />\n<title>{}</title>\n\
         <link rel=\"stylesheet\" href=\"/client.css\" />\n<script defer src=\"/client.js\"></script>\n\
         </head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        escaped(title)
    )
}

/// What stands where a link shows nothing.
pub fn gone() -> String {
    whole(
        "This link has ended",
        "<h1>This link has ended</h1>\n<p>It shows nothing any more. Ask whoever sent it for another.</p>\n",
    )
}

/// The page of a link. `address` is that of the link, `sha256` that of what is accepted.
pub fn page(link: &ClientLink, shown: &Shown, address: &str, sha256: &str) -> String {
    let offer = &shown.offer;
    let mut body = format!("<h1>{}</h1>\n", escaped(&shown.name));
    if !link.client.is_empty() {
        body += &format!("<p class=\"quiet\">For {}</p>\n", escaped(&link.client));
    }
    if !shown.summary.is_empty() {
        body += &format!("<p>{}</p>\n", escaped(&shown.summary));
    }
    let title = escaped(&offer.plan.title);
    body += &format!(
        "<section><h2>{title}</h2><a href=\"{address}/plan.svg\"><img src=\"{address}/plan.svg\" alt=\"{title}\" /></a></section>\n"
    );
    body += &levels(shown);
    body += &neighbours(shown);
    if !offer.equipment.is_empty() {
        let items: String = offer
            .equipment
            .iter()
            .map(|i| format!("<li>{} &times; {}</li>", escaped(&i.quantity), escaped(&i.description)))
            .collect();
        body += &format!("<section><h2>What is put in</h2><ul>{items}</ul></section>\n");
    }
    body += &offer.options.as_ref().map(designs).unwrap_or_default();
    if link.prices {
        body += &prices(shown);
    }
    body += &format!(
        "<section><h2>How it is used</h2><p><a class=\"button\" href=\"{address}/guide.pdf\">Open the guide (PDF)</a></p></section>\n"
    );
    body += &accepting(link, address, sha256);
    whole(&shown.name, &body)
}

fn levels(shown: &Shown) -> String {
    let row = |a: &loamline_papers::OfferArea| {
        let level = a.mean.as_deref().unwrap_or(&a.target);
        let range = a.range.as_deref().map(|r| format!(", {}", escaped(r))).unwrap_or_default();
        format!(
            "<li><strong>{}</strong>: {} <span class=\"quiet\">({}{range})</span></li>",
            escaped(&a.name),
            escaped(&a.words),
            escaped(level)
        )
    };
    let rows: String = shown.offer.areas.iter().map(row).collect();
    if rows.is_empty() {
        rows
    } else {
        format!("<section><h2>How loud it is</h2><ul>{rows}</ul></section>\n")
    }
}

fn neighbours(shown: &Shown) -> String {
    let offer = &shown.offer;
    let one = |n: &loamline_papers::OfferNeighbour| {
        format!("<li><strong>{}</strong>: {}</li>", escaped(&n.name), escaped(&n.text))
    };
    let rows: String = offer.neighbours.iter().map(one).collect();
    if rows.is_empty() {
        return rows;
    }
    let down = escaped(&offer.turned_down);
    format!("<section><h2>What neighbours hear</h2><ul>{rows}</ul><p>{down}</p></section>\n")
}

fn designs(options: &OfferOptions) -> String {
    let mut table =
        String::from("<section><h2>Designs side by side</h2><div class=\"wide\"><table><tr><th></th>");
    for head in &options.heads {
        let chosen = if head.chosen { " (this one)" } else { "" };
        // Writing to a text does not fail.
        let _ = write!(table, "<th>{}{chosen}</th>", escaped(&head.name));
    }
    table.push_str("</tr>");
    for row in &options.rows {
        let cells: String = row.cells.iter().map(|c| format!("<td>{}</td>", escaped(c))).collect();
        let _ = write!(table, "<tr><th>{}</th>{cells}</tr>", escaped(&row.name));
    }
    table + "</table></div></section>\n"
}

fn prices(shown: &Shown) -> String {
    let o = &shown.offer;
    let row = |name: &str, amount: &str, class: &str| {
        format!("<tr class=\"{class}\"><th>{}</th><td>{}</td></tr>", escaped(name), escaped(amount))
    };
    let groups: String = o.groups.iter().map(|g: &OfferAmount| row(&g.name, &g.amount, "")).collect();
    format!(
        "<section><h2>What it costs</h2><table class=\"money\">{groups}{}{}{}</table></section>\n",
        row("Before tax", &o.net, ""),
        row(&o.tax_name, &o.tax, ""),
        row("Total", &o.total, "total")
    )
}

fn accepting(link: &ClientLink, address: &str, sha256: &str) -> String {
    match &link.accepted {
        Some(a) if a.sha256 == sha256 => format!(
            "<section class=\"card\"><h2>Accepted</h2><p>By {} on {}. Exactly what stands here was accepted; its SHA-256 is <code>{}</code>.</p></section>\n",
            escaped(&a.name),
            escaped(day(&a.at)),
            escaped(&a.sha256)
        ),
        Some(a) => format!(
            "<section class=\"card\"><h2>Accepted as it was</h2><p>By {} on {}. What stands here has changed since; what was accepted is kept, with the SHA-256 <code>{}</code>.</p></section>\n",
            escaped(&a.name),
            escaped(day(&a.at)),
            escaped(&a.sha256)
        ),
        None => format!(
            "<section class=\"card\"><h2>Accept</h2><form id=\"accept\" data-to=\"{address}/accept\" data-sha256=\"{sha256}\">\n\
             <p>With your name you accept exactly what stands here. It is kept with the time and its SHA-256 <code>{sha256}</code>.</p>\n\
             <label>Your name <input name=\"name\" required maxlength=\"80\" autocomplete=\"name\" /></label>\n\
             <button type=\"submit\">Accept</button><p id=\"told\" role=\"status\"></p></form>\n\
             <p class=\"quiet\">This link is good until {}.</p></section>\n",
            escaped(day(&link.good_until))
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_papers::{Offer, OfferArea};

    fn link(prices: bool) -> ClientLink {
        ClientLink {
            id: "a".into(),
            job: "j".into(),
            client: "<b>Them</b>".into(),
            prices,
            made_at: String::new(),
            made_by: String::new(),
            good_until: "2026-06-01T00:00:00Z".into(),
            accepted: None,
        }
    }

    #[test]
    fn what_people_typed_is_text_and_prices_stand_only_where_they_are_wanted() {
        let area = OfferArea {
            name: "\"Lawn\" <script>".into(),
            target: "75 dBA".into(),
            words: "Lively".into(),
            ..OfferArea::default()
        };
        let offer = Offer { areas: vec![area], total: "EUR 9".into(), ..Offer::default() };
        let shown = Shown {
            name: "A & B".into(),
            summary: String::new(),
            revision: 1,
            offer,
            job_sha256: String::new(),
            plan_sha256: String::new(),
            plan_svg: String::new(),
        };
        let with = page(&link(true), &shown, "/client/x", "abc");
        assert!(with.contains("&quot;Lawn&quot; &lt;script&gt;") && with.contains("A &amp; B"), "{with}");
        assert!(
            !with.contains("<b>") && with.contains("EUR 9") && with.contains("until 2026-06-01"),
            "{with}"
        );
        assert!(!page(&link(false), &shown, "/client/x", "abc").contains("EUR"));
    }
}
