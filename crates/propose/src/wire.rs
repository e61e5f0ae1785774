//! Lines, channels and amplifiers: loudspeakers shared out so that every channel keeps its headroom and the amplifiers
//! cost least.
//!
//! Loudspeakers go to the rack nearest to their area. What plays one programme may share a channel, subwoofers apart.
//! The cheapest set of amplifiers is the first, in order of price, into whose channels everything fits; channels left
//! over may be used to give areas gains of their own: evener, and dearer by a line from the rack for each.

use crate::choose::asked;
use crate::error::BriefProblem;
use crate::models::{room, supplies_of};
use crate::price::Prices;
use crate::site::Site;
use crate::types::Pose;
use loamline_geometry::Point2;
use loamline_limits::go_on;
use loamline_model::catalogue::AmplifierModel;
use loamline_model::document::Supply;

/// Amplifiers of one model in one rack, at most; more than 4 of a large one serve over 60 channels in a rack.
const MOST_OF_A_MODEL: usize = 8;

/// One channel with its line.
#[derive(Debug, Clone)]
pub(crate) struct Wired {
    /// Place among the amplifiers.
    pub amplifier: usize,
    /// Output, from 1.
    pub output: u32,
    /// Place of its programme.
    pub programme: usize,
    pub subwoofers: bool,
    /// Places of its loudspeakers in the layout.
    pub members: Vec<usize>,
}

/// How a layout is wired.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wiring {
    /// Catalogue id and rack of each amplifier.
    pub amplifiers: Vec<(String, String)>,
    pub channels: Vec<Wired>,
}

/// Loudspeakers that may share a channel.
struct Class {
    programme: usize,
    supply: Supply,
    subwoofers: bool,
    chosen_at: i64,
    members: Vec<usize>,
}

/// Shares a layout out. `layout` holds every loudspeaker of the job, pinned ones included.
///
/// # Errors
/// A sentence when there is no rack or no amplifier can feed a loudspeaker.
pub(crate) fn wire(
    site: &Site<'_>,
    prices: &Prices<'_>,
    layout: &[Pose],
    own_gains: bool,
) -> Result<Wiring, BriefProblem> {
    let racks = &site.job.document().racks;
    if racks.is_empty() {
        return Err(BriefProblem::NoRack);
    }
    let mut wiring = Wiring::default();
    let mut of_rack: Vec<Vec<usize>> = vec![Vec::new(); racks.len()];
    for (i, pose) in layout.iter().enumerate() {
        let middle = site.zones.get(pose.zone).map_or(pose.at, |z| z.area.outline.centroid());
        let away = |p: Point2| p.distance(middle);
        let nearest = racks
            .values()
            .enumerate()
            .min_by(|a, b| away(a.1.position).total_cmp(&away(b.1.position)))
            .map_or(0, |r| r.0);
        of_rack[nearest].push(i);
    }
    for (rack, members) in racks.keys().zip(&of_rack) {
        if !members.is_empty() {
            one_rack(site, prices, layout, (rack, members), own_gains, &mut wiring)?;
        }
    }
    Ok(wiring)
}

fn classes(site: &Site<'_>, layout: &[Pose], members: &[usize]) -> Vec<Class> {
    let mut all: Vec<Class> = Vec::new();
    for &i in members {
        let zone = site.zones.get(layout[i].zone);
        let (programme, chosen_at) = zone.map_or((0, 0), |z| (z.programme, z.chosen_at));
        let supply = site.models[layout[i].model].supply;
        let subwoofers = site.models[layout[i].model].is_subwoofer();
        match all.iter_mut().find(|c| {
            (c.programme, c.supply, c.subwoofers, c.chosen_at) == (programme, supply, subwoofers, chosen_at)
        }) {
            Some(c) => c.members.push(i),
            None => all.push(Class { programme, supply, subwoofers, chosen_at, members: vec![i] }),
        }
    }
    for c in &mut all {
        in_order(layout, &mut c.members);
    }
    all
}

/// Area by area, and along the longer side within each.
fn in_order(layout: &[Pose], members: &mut [usize]) {
    let zone = |i: usize| layout[i].zone;
    let spread = |z: usize, of: fn(Point2) -> f64| {
        let values = layout.iter().filter(|p| p.zone == z).map(|p| of(p.at));
        let (lo, hi) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        hi - lo
    };
    let key = |i: usize| {
        let p = layout[i].at;
        if spread(zone(i), |p| p.x) >= spread(zone(i), |p| p.y) { (p.x, p.y) } else { (p.y, p.x) }
    };
    members.sort_by(|&a, &b| {
        let (ka, kb) = (key(a), key(b));
        zone(a).cmp(&zone(b)).then(ka.0.total_cmp(&kb.0)).then(ka.1.total_cmp(&kb.1)).then(a.cmp(&b))
    });
}

fn one_rack(
    site: &Site<'_>,
    prices: &Prices<'_>,
    layout: &[Pose],
    (rack, members): (&str, &[usize]),
    own: bool,
    wiring: &mut Wiring,
) -> Result<(), BriefProblem> {
    let classes = classes(site, layout, members);
    let largest = |supply: Supply| {
        let on_it = members.iter().filter(|&&i| site.models[layout[i].model].supply == supply);
        on_it.map(|&i| asked(site, &layout[i])).fold(0.0, f64::max)
    };
    let mut ways = supplies_of(site.job);
    ways.retain(|s| classes.iter().any(|c| c.supply == *s));
    let needed: Vec<f64> = ways.iter().map(|s| largest(*s)).collect();
    // What one channel of each feeds at each supply; nothing where that is less than the largest loudspeaker asks.
    let of = |(id, a): (&String, &AmplifierModel)| {
        let takes: Vec<(Supply, f64)> = ways
            .iter()
            .zip(&needed)
            .map(|(s, most)| (*s, room(site.job, a, *s), most))
            .map(|(s, room, most)| (s, if room >= *most { room } else { 0.0 }))
            .collect();
        let any = a.processing && takes.iter().any(|t| t.1 > 0.0);
        any.then(|| Usable {
            id: id.clone(),
            channels: a.channels as usize,
            takes,
            price: prices.amplifier(id),
        })
    };
    let usable: Vec<Usable> = site.job.catalogue().amplifiers.iter().filter_map(of).collect();
    if ways.iter().any(|s| usable.iter().all(|u| takes(&u.takes, *s) <= 0.0)) {
        return Err(BriefProblem::NoAmplifier);
    }
    // Sets of amplifiers by rising price.
    let mut sets: Vec<(f64, Vec<usize>)> = vec![(0.0, vec![0; usable.len()])];
    for (m, a) in usable.iter().enumerate() {
        let more: Vec<_> = sets
            .iter()
            .flat_map(|(price, counts)| {
                (1..=MOST_OF_A_MODEL).map(move |n| {
                    let mut counts = counts.clone();
                    counts[m] = n;
                    (price + n as f64 * a.price, counts)
                })
            })
            .collect();
        sets.extend(more);
    }
    sets.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    for (_, counts) in sets.iter().skip(1) {
        let mut rooms: Vec<Room<'_>> = Vec::new();
        let mut number = 0;
        for (m, n) in counts.iter().enumerate() {
            for _ in 0..*n {
                let takes = &usable[m].takes;
                rooms.extend((0..usable[m].channels).map(|output| Room { number, output, takes }));
                number += 1;
            }
        }
        let Some(mut filled) = fill(site, layout, &classes, &rooms) else { continue };
        if own {
            own_gains(site, layout, &classes, &mut filled, &rooms);
        }
        let first = wiring.amplifiers.len();
        for (m, n) in counts.iter().enumerate() {
            wiring.amplifiers.extend((0..*n).map(|_| (usable[m].id.clone(), rack.to_owned())));
        }
        let mut channels: Vec<Wired> = filled
            .into_iter()
            .map(|(r, c, members)| Wired {
                amplifier: first + rooms[r].number,
                output: rooms[r].output as u32 + 1,
                programme: classes[c].programme,
                subwoofers: classes[c].subwoofers,
                members,
            })
            .collect();
        channels.sort_by_key(|c| (c.amplifier, c.output));
        wiring.channels.extend(channels);
        return Ok(());
    }
    Err(BriefProblem::RackFull { rack: rack.to_owned() })
}

/// An amplifier that can feed some of a rack's loudspeakers.
struct Usable {
    id: String,
    channels: usize,
    /// What one channel feeds at each supply, watts of tap or siemens.
    takes: Vec<(Supply, f64)>,
    price: f64,
}

/// A channel of an amplifier, to be filled.
struct Room<'u> {
    /// Amplifier, in the order they are bought.
    number: usize,
    output: usize,
    takes: &'u [(Supply, f64)],
}

/// What a channel feeds at a supply; nothing where it cannot.
fn takes(all: &[(Supply, f64)], supply: Supply) -> f64 {
    all.iter().find(|t| t.0 == supply).map_or(0.0, |t| t.1)
}

/// A room, a class, and what of it is in the room.
type Filled = (usize, usize, Vec<usize>);

/// Puts every class into rooms, largest first; `None` when they do not do.
fn fill(site: &Site<'_>, layout: &[Pose], classes: &[Class], rooms: &[Room<'_>]) -> Option<Vec<Filled>> {
    let total = |members: &[usize]| members.iter().map(|&i| asked(site, &layout[i])).sum::<f64>();
    let mut order: Vec<usize> = (0..classes.len()).collect();
    order.sort_by(|&a, &b| total(&classes[b].members).total_cmp(&total(&classes[a].members)).then(a.cmp(&b)));
    let mut free: Vec<usize> = (0..rooms.len()).collect();
    let mut filled: Vec<Filled> = Vec::new();
    for c in order {
        let mut left = classes[c].members.clone();
        let size = |r: usize| takes(rooms[r].takes, classes[c].supply);
        while !left.is_empty() {
            go_on();
            let need = total(&left);
            // The smallest room that takes all, else the largest.
            let fitting = free.iter().copied().filter(|&r| size(r) >= need - 1e-9);
            let best = fitting.min_by(|&a, &b| size(a).total_cmp(&size(b)).then(a.cmp(&b)));
            let room = best.or_else(|| {
                free.iter().copied().min_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)))
            })?;
            let (mut sum, mut taken) = (0.0, 0);
            for &i in &left {
                sum += asked(site, &layout[i]);
                if sum > size(room) + 1e-9 {
                    break;
                }
                taken += 1;
            }
            if taken == 0 {
                return None;
            }
            filled.push((room, c, left.drain(..taken).collect()));
            free.retain(|&r| r != room);
        }
    }
    Some(filled)
}

/// Uses channels that are left over to give areas gains of their own.
fn own_gains(
    site: &Site<'_>,
    layout: &[Pose],
    classes: &[Class],
    filled: &mut Vec<Filled>,
    rooms: &[Room<'_>],
) {
    let total = |members: &[usize]| members.iter().map(|&i| asked(site, &layout[i])).sum::<f64>();
    let areas = |members: &[usize]| {
        let mut z: Vec<usize> = members.iter().map(|&i| layout[i].zone).collect();
        z.sort_unstable();
        z.dedup();
        z
    };
    for (room, spare) in rooms.iter().enumerate() {
        if filled.iter().any(|f| f.0 == room) {
            continue;
        }
        let most = filled.iter().enumerate().filter(|(_, f)| areas(&f.2).len() > 1);
        let Some((k, _)) = most.max_by_key(|(k, f)| (areas(&f.2).len(), usize::MAX - k)) else { return };
        let (_, class, members) = filled[k].clone();
        let zones = areas(&members);
        let moved: Vec<usize> =
            members.iter().copied().filter(|&i| zones[zones.len() / 2..].contains(&layout[i].zone)).collect();
        if total(&moved) <= takes(spare.takes, classes[class].supply) {
            filled[k].2.retain(|i| !moved.contains(i));
            filled.push((room, class, moved));
        }
    }
}
