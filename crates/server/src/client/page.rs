//! The client's page, written as HTML: every text that came from somebody is escaped.

use super::changed::{Changed, since_accepted};
use super::shown::Shown;
use crate::store::ClientLink;
use loamline_papers::{OfferAmount, OfferOptions, Words};
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

/// A text of the language file, as it stands in a page.
fn said(words: &Words, key: &str, values: &[(&str, &str)]) -> String {
    escaped(&words.fill(&format!("client_page.{key}"), values))
}

fn whole(language: &str, title: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\" />\n\
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
        "en",
        "This link has ended",
        "<h1>This link has ended</h1>\n<p>It shows nothing any more. Ask whoever sent it for another.</p>\n",
    )
}

/// The page of a link. `address` is that of the link, `sha256` that of what is accepted.
pub fn page(link: &ClientLink, shown: &Shown, address: &str, sha256: &str) -> String {
    let (offer, words) = (&shown.offer, &shown.words);
    let mut body = format!("<h1>{}</h1>\n", escaped(&shown.name));
    if !link.client.is_empty() {
        body += &format!("<p class=\"quiet\">{}</p>\n", said(words, "for", &[("name", &link.client)]));
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
        let title = said(words, "equipment", &[]);
        body += &format!("<section><h2>{title}</h2><ul>{items}</ul></section>\n");
    }
    body += &offer.options.as_ref().map(|o| designs(words, o)).unwrap_or_default();
    if link.prices {
        body += &prices(shown);
    }
    let (title, guide) = (said(words, "use", &[]), said(words, "guide", &[]));
    body += &format!(
        "<section><h2>{title}</h2><p><a class=\"button\" href=\"{address}/guide.pdf\">{guide}</a></p></section>\n"
    );
    body += &accepting(shown, link, address, sha256);
    whole(words.get("language"), &shown.name, &body)
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
        format!("<section><h2>{}</h2><ul>{rows}</ul></section>\n", said(&shown.words, "loud", &[]))
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
    let title = said(&shown.words, "neighbours", &[]);
    format!("<section><h2>{title}</h2><ul>{rows}</ul><p>{down}</p></section>\n")
}

fn designs(words: &Words, options: &OfferOptions) -> String {
    let title = said(words, "designs", &[]);
    let mut table = format!("<section><h2>{title}</h2><div class=\"wide\"><table><tr><th></th>");
    for head in &options.heads {
        let name = match head.chosen {
            true => said(words, "this_one", &[("name", &head.name)]),
            false => escaped(&head.name),
        };
        // Writing to a text does not fail.
        let _ = write!(table, "<th>{name}</th>");
    }
    table.push_str("</tr>");
    for row in &options.rows {
        let cells: String = row.cells.iter().map(|c| format!("<td>{}</td>", escaped(c))).collect();
        let _ = write!(table, "<tr><th>{}</th>{cells}</tr>", escaped(&row.name));
    }
    table + "</table></div></section>\n"
}

fn prices(shown: &Shown) -> String {
    let (o, words) = (&shown.offer, &shown.words);
    let word = |key: &str| words.get(&format!("client_page.{key}")).to_owned();
    let row = |name: &str, amount: &str, class: &str| {
        format!("<tr class=\"{class}\"><th>{}</th><td>{}</td></tr>", escaped(name), escaped(amount))
    };
    let groups: String = o.groups.iter().map(|g: &OfferAmount| row(&g.name, &g.amount, "")).collect();
    // The rows of the quotation's own sum: what is set aside and what rounding adds or takes belong to it.
    let some = |key: &str, amount: &Option<String>| {
        amount.as_deref().map(|amount| row(words.get(key), amount, "")).unwrap_or_default()
    };
    format!(
        "<section><h2>{}</h2><table class=\"money\">{groups}{}{}{}{}{}</table></section>\n",
        said(words, "costs", &[]),
        some("quotation.allowance", &o.allowance),
        row(&word("before_tax"), &o.net, ""),
        row(&o.tax_name, &o.tax, ""),
        some("quotation.rounding", &o.rounding),
        row(&word("total"), &o.total, "total")
    )
}

/// A text with a checksum in it, which is set apart from the words.
fn with_sum(words: &Words, key: &str, values: &[(&str, &str)], sum: &str) -> String {
    let text = said(words, key, &[values, &[("sum", "\u{0}")][..]].concat());
    text.replace('\u{0}', &format!("<code>{}</code>", escaped(sum)))
}

fn card(words: &Words, title: &str, text: &str) -> String {
    format!("<section class=\"card\"><h2>{}</h2>{text}</section>\n", said(words, title, &[]))
}

fn accepting(shown: &Shown, link: &ClientLink, address: &str, sha256: &str) -> String {
    let words = &shown.words;
    let Some(a) = &link.accepted else { return asked(words, link, address, sha256, "accept") };
    let told = |key: &str| {
        let by = [("name", a.name.as_str()), ("day", day(&a.at))];
        format!("<p>{}</p>", with_sum(words, key, &by, &a.sha256))
    };
    match since_accepted(&a.content, shown) {
        None => card(words, "accepted", &told("accepted_text")),
        Some(changed) => {
            let then = told("changed_text") + &as_accepted(words, &changed);
            card(words, "changed", &then) + &asked(words, link, address, sha256, "accept_anew")
        }
    }
}

/// What was accepted, beside what stands in its place now.
fn as_accepted(words: &Words, changed: &[Changed]) -> String {
    let cell = |text: &Option<String>| escaped(text.as_deref().unwrap_or("\u{2013}"));
    let row = |c: &Changed| {
        let name = c.word.map_or_else(|| escaped(&c.name), |key| escaped(words.get(key)));
        format!("<tr><th>{name}</th><td>{}</td><td>{}</td></tr>", cell(&c.was), cell(&c.now))
    };
    if changed.is_empty() {
        return format!("<p>{}</p>", said(words, "changed_picture", &[]));
    }
    let rows: String = changed.iter().map(row).collect();
    format!(
        "<div class=\"wide\"><table class=\"changed\"><tr><th></th><th>{}</th><th>{}</th></tr>{rows}</table></div>",
        said(words, "changed_was", &[]),
        said(words, "changed_now", &[])
    )
}

/// The form by which what stands is accepted, under a title.
fn asked(words: &Words, link: &ClientLink, address: &str, sha256: &str, title: &str) -> String {
    format!(
        "<section class=\"card\"><h2>{accept}</h2><form id=\"accept\" data-to=\"{address}/accept\" data-sha256=\"{sha256}\" \
         data-unsent=\"{unsent}\">\n\
         <p>{text}</p>\n\
         <label>{your_name} <input name=\"name\" required maxlength=\"80\" autocomplete=\"name\" /></label>\n\
         <button type=\"submit\">{accept}</button><p id=\"told\" role=\"status\"></p></form>\n\
         <p class=\"quiet\">{until}</p></section>\n",
        accept = said(words, title, &[]),
        unsent = said(words, "unsent", &[]),
        text = with_sum(words, "accept_text", &[], sha256),
        your_name = said(words, "your_name", &[]),
        until = said(words, "good_until", &[("day", day(&link.good_until))]),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Acceptance;
    use loamline_model::document::Language;
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
            words: Words::english().unwrap(),
        };
        let with = page(&link(true), &shown, "/client/x", "abc");
        assert!(with.contains("&quot;Lawn&quot; &lt;script&gt;") && with.contains("A &amp; B"), "{with}");
        assert!(
            !with.contains("<b>") && with.contains("EUR 9") && with.contains("until 2026-06-01"),
            "{with}"
        );
        assert!(!page(&link(false), &shown, "/client/x", "abc").contains("EUR"));
        assert!(!with.contains("Rounding") && !with.contains("Set aside"), "neither is there: {with}");
        assert!(with.contains("its SHA-256 <code>abc</code>."), "{with}");
        // The rows of the sum are those of the quotation: 3 516.24 and 241.74 and 2.02 make 3 760.00.
        let sum = Offer {
            net: "USD 3 516.24".into(),
            tax: "USD 241.74".into(),
            rounding: Some("USD 2.02".into()),
            allowance: Some("USD 100.00".into()),
            total: "USD 3 760.00".into(),
            ..shown.offer.clone()
        };
        let with = page(&link(true), &Shown { offer: sum, ..shown.clone() }, "/client/x", "abc");
        assert!(with.contains("<th>Rounding</th><td>USD 2.02</td>") && with.contains("USD 100.00"), "{with}");
        let spanish = Shown { words: Words::of(Language::Spanish).unwrap(), ..shown };
        let with = page(&link(true), &spanish, "/client/x", "abc");
        assert!(with.contains("<html lang=\"es\">") && with.contains("hasta 2026-06-01"), "{with}");
        for english in ["How loud", "Before tax", "Accept<", "This link", "Your name"] {
            assert!(!with.contains(english), "{english}: {with}");
        }
    }

    /// What was accepted stays on the page beside what stands now, with a form to accept that.
    #[test]
    fn what_was_accepted_stands_beside_what_changed_since() {
        let shown = |total: &str| Shown {
            name: "Garden".into(),
            summary: String::new(),
            revision: 1,
            offer: Offer { total: total.into(), ..Offer::default() },
            job_sha256: String::new(),
            plan_sha256: String::new(),
            plan_svg: String::new(),
            words: Words::english().unwrap(),
        };
        let before = shown("USD 3 760.00");
        let accepted = Acceptance {
            name: "Cleo".into(),
            at: "2026-05-02T08:00:00Z".into(),
            revision: 1,
            content: before.content().unwrap(),
            sha256: before.sha256().unwrap(),
        };
        let link = ClientLink { accepted: Some(accepted), ..link(true) };
        let same = page(&link, &before, "/client/x", &before.sha256().unwrap());
        assert!(!same.contains("<form") && !same.contains("As it is now"), "{same}");
        let now = page(&link, &shown("USD 3 930.00"), "/client/x", "def");
        assert!(now.contains("<tr><th>Total</th><td>USD 3 760.00</td><td>USD 3 930.00</td></tr>"), "{now}");
        assert!(now.contains("data-sha256=\"def\"") && now.contains("Accept as it is now"), "{now}");
        assert!(now.contains("By Cleo on 2026-05-02"), "{now}");
    }
}
