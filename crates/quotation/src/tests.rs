//! Rounding to the smallest coin, and prices of one currency only.

use crate::{PriceBook, quotation};
use loamline_adapt::laid_runs;
use loamline_model::{Catalogue, SourceFile, read_job_with, shipped_catalogue};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::MidpointAwayFromZero;
use std::sync::Arc;

fn catalogue(change: impl FnOnce(&mut Catalogue)) -> Arc<Catalogue> {
    let mut catalogue = shipped_catalogue().unwrap().as_ref().clone();
    change(&mut catalogue);
    Arc::new(catalogue)
}

/// Net, tax, rounding and total of a small job, or what is said against it.
fn quoted(job: &str, book: &str, catalogue: &Arc<Catalogue>) -> Result<[Decimal; 4], String> {
    let text = format!(
        "format = 1\n[job]\nname = \"Money\"\n{job}\n[brief]\nsupply = \"70.7 V\"\n[racks.R1]\nposition = [0, 0]\n\
         [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
         [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n[lines.A.runs]\nA1 = {{ from = \"R1\", to = \"L1\" }}\n\
         [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [10, 0]\nline = \"A\"\ntap = \"10 W\"\n"
    );
    let job = read_job_with(&SourceFile::new("job.toml", text), Arc::clone(catalogue)).unwrap();
    let q = quotation(&job, &laid_runs(&job), &PriceBook::read(book).unwrap()).map_err(|e| e.to_string())?;
    Ok([q.net, q.tax, q.rounding, q.total])
}

const BOOK: &str = "code,price\ntax,8.1 %\n";

/// The nearest twentieth in whole cents: a second way, by remainders.
fn to_five_cents(amount: Decimal) -> Decimal {
    let mut scaled = amount;
    scaled.rescale(2);
    let cents = scaled.mantissa();
    let rest = cents % 5;
    Decimal::from_i128_with_scale(if rest < 3 { cents - rest } else { cents + 5 - rest }, 2)
}

#[test]
fn the_total_is_rounded_to_the_smallest_coin_on_a_line_of_its_own() {
    let shipped = catalogue(|_| {});
    let [net, tax, none, exact] = quoted("currency = \"CHF\"", BOOK, &shipped).unwrap();
    assert_eq!((none, exact), (Decimal::ZERO, net + tax));
    // Amounts set aside so that every end of cents comes up.
    for cents in 0..10 {
        let job = format!("currency = \"CHF\"\nrounding = 0.05\nallowance = {}.{cents:02}", 7 * cents);
        let [net, tax, rounding, total] = quoted(&job, BOOK, &shipped).unwrap();
        assert_eq!(total, to_five_cents(net + tax), "{net} and {tax}");
        assert_eq!(net + tax + rounding, total);
    }
    // Said by the job, else by the book, else by the prices of the catalogue.
    let by_catalogue = catalogue(|c| c.prices.as_mut().unwrap().rounding = Some(Decimal::ONE));
    let book = format!("{BOOK}rounding,0.05\n");
    let whole = |t: Decimal| t == t.trunc();
    assert!(whole(quoted("currency = \"CHF\"", BOOK, &by_catalogue).unwrap()[3]));
    assert_eq!(quoted("currency = \"CHF\"", &book, &by_catalogue).unwrap()[3], to_five_cents(exact));
    let ten = quoted("currency = \"CHF\"\nrounding = 10", &book, &by_catalogue).unwrap()[3];
    assert_eq!(ten % Decimal::TEN, Decimal::ZERO);
}

#[test]
fn amounts_of_two_currencies_are_not_added() {
    let shipped = catalogue(|_| {});
    let said = |job: &str, book: &str, c: &Arc<Catalogue>| quoted(job, book, c).unwrap_err();
    let told = said("currency = \"EUR\"", "code,price\ncurrency,CHF\n", &shipped);
    assert_eq!(
        told,
        "the price book is in CHF and the job in EUR: take a book in EUR, or have the job count in CHF"
    );
    assert!(quoted("currency = \"chf\"", "code,price\ncurrency,CHF\n", &shipped).is_ok());
    let in_euro = catalogue(|c| c.prices.as_mut().unwrap().currency = Some("EUR".to_owned()));
    let told = said("currency = \"CHF\"", "code,price\ncurrency,CHF\nlabour/hour,98\n", &in_euro);
    assert!(
        told.starts_with(
            "the catalogue's prices are in EUR and the job in CHF; the price book has none in CHF for "
        ),
        "{told}"
    );
    assert!(told.contains("loudspeaker/stake-110-wide") && !told.contains("labour/hour"), "{told}");
    assert!(quoted("currency = \"EUR\"", "code,price\n", &in_euro).is_ok());
}

/// What a job states for its own ground and services is what is charged: metres times the price stated, without margin, by
/// hand.
#[test]
fn prices_of_ones_own_ground_are_charged_as_stated() {
    let lawn = |id: &str, from: u32, to: u32, price: &str| {
        format!(
            "[surfaces.{id}]\noutline = [[{from}, -1], [{to}, -1], [{to}, 1], [{from}, 1]]\nkind = \"lawn\"\n{price}\n"
        )
    };
    let text = format!(
        "format = 1\n[job]\nname = \"Ground\"\n[brief]\nsupply = \"70.7 V\"\nlaying = [\"slit\"]\n[racks.R1]\nposition = [0, 0]\n\
         [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
         [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n[lines.A.runs]\nA1 = {{ from = \"R1\", to = \"L1\" }}\n\
         [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [10, 0]\nline = \"A\"\ntap = \"10 W\"\n\
         {}{}[services.water]\nkind = \"water\"\nline = [[7, -1], [7, 1]]\ncrossing_charge = 55\n\
         [services.gas]\nkind = \"gas\"\nline = [[8, -1], [8, 1]]\n",
        lawn("old", 0, 6, "laying_price = 7.25"),
        lawn("new", 6, 10, ""),
    );
    let job = read_job_with(&SourceFile::new("job.toml", text), catalogue(|_| {})).unwrap();
    let q =
        quotation(&job, &laid_runs(&job), &PriceBook::read("code,price\nmargin,50 %\n").unwrap()).unwrap();
    let item = |code: &str| q.items.iter().find(|i| i.item.code == code).unwrap();
    let old = item("laying/slit/old");
    assert_eq!((old.item.quantity, old.price), (Decimal::new(60, 1), Decimal::new(725, 2)));
    assert_eq!(old.amount, Decimal::new(4350, 2));
    assert_eq!(item("laying/slit").item.quantity, Decimal::new(40, 1));
    assert_eq!(item("task/service-crossing/water").amount, Decimal::from(55));
    assert_eq!(item("task/service-crossing").item.quantity, Decimal::ONE);
    // A price book that knows the entry has the last word, and its margin.
    let book = PriceBook::read("code,price\nmargin,50 %\nlaying/slit/old,10\n").unwrap();
    let q = quotation(&job, &laid_runs(&job), &book).unwrap();
    let old = q.items.iter().find(|i| i.item.code == "laying/slit/old").unwrap();
    assert_eq!(old.price, Decimal::from(15));
}

/// A link is charged what is stated for it, once and without margin; one without a price is in no bill.
#[test]
fn a_link_is_charged_as_stated() {
    let with = |price: &str| {
        let text = format!(
            "format = 1\n[job]\nname = \"Link\"\n[racks.R1]\nposition = [0, 0]\n[racks.R2]\nposition = [40, 0]\n\
             [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R2\"\n[links.N1]\nname = \"Fibre to the pump house\"\nfrom = \"R1\"\n\
             to = \"R2\"\nlength = \"58 m\"\n{price}"
        );
        let job = read_job_with(&SourceFile::new("job.toml", text), catalogue(|_| {})).unwrap();
        let book = PriceBook::read("code,price\nmargin,50 %\n").unwrap();
        quotation(&job, &laid_runs(&job), &book).unwrap()
    };
    let (bare, priced) = (with(""), with("price = 740\n"));
    assert!(bare.items.iter().all(|i| !i.item.code.starts_with("link/")));
    let link = priced.items.iter().find(|i| i.item.code == "link/N1").unwrap();
    assert_eq!(
        (link.item.description.as_str(), link.amount),
        ("Fibre to the pump house", Decimal::from(740))
    );
    assert_eq!(priced.net - bare.net, Decimal::from(740));
}

/// A price by the foot times the whole feet that are cut is the amount, by hand: 2.05 a foot and 20 % on it are 2.46.
#[test]
fn in_feet_the_amount_is_the_feet_times_the_price_of_one() {
    let text = "format = 1\n[job]\nname = \"Feet\"\nunits = \"us\"\n[racks.R1]\nposition = [0, 0]\n\
                [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
                [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n[lines.A.runs]\nA1 = { from = \"R1\", to = \"L1\" }\n\
                [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [33.3, 0]\nline = \"A\"\ntap = \"10 W\"\n";
    let job = read_job_with(&SourceFile::new("job.toml", text.to_owned()), catalogue(|_| {})).unwrap();
    let book = "code,price,unit\nmargin,20 %,\ncable/burial-2x14awg,2.05,ft\n";
    let q = quotation(&job, &laid_runs(&job), &PriceBook::read(book).unwrap()).unwrap();
    let cable = q.items.iter().find(|i| i.item.code == "cable/burial-2x14awg").unwrap();
    let feet = cable.item.quantity / Decimal::new(3048, 4);
    assert_eq!(feet, feet.round(), "whole feet");
    assert!(feet > Decimal::from(109), "33.3 m are 109.3 ft, without its ends");
    let by_hand = feet.round() * Decimal::new(246, 2);
    assert_eq!(cable.amount, by_hand.round_dp_with_strategy(2, MidpointAwayFromZero));
}

/// Tax of the net sum at 8 % and at 8.1 %, worked out in decimals; none at 0.
#[test]
fn tax_is_that_of_the_book_else_of_the_job_else_of_the_catalogue() {
    let by_catalogue = catalogue(|c| c.prices.as_mut().unwrap().tax = 0.2);
    let of = |job: &str, book: &str| {
        let [net, tax, ..] = quoted(job, book, &by_catalogue).unwrap();
        (tax / net * Decimal::from(1000)).round()
    };
    let none = "code,price\n";
    assert_eq!(of("currency = \"USD\"", none), Decimal::from(200));
    assert_eq!(of("currency = \"USD\"\ntax = \"8 %\"", none), Decimal::from(80));
    assert_eq!(of("currency = \"USD\"\ntax = 0", none), Decimal::ZERO);
    assert_eq!(of("currency = \"USD\"\ntax = 0", BOOK), Decimal::from(81));
}
