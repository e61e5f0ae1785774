//! Lines that no loudspeaker could change between, searched each for itself.

use super::net::{Net, Tree, dearest};

impl<'a> Net<'a> {
    /// The net of some of its feeds and terminals, ascending; they are numbered on from 0. A net with boxes has no parts.
    pub fn part(&self, vertices: &[usize]) -> Net<'a> {
        let feeds: Vec<usize> = vertices.iter().copied().filter(|&v| v < self.feeds).collect();
        let terminals: Vec<usize> = vertices[feeds.len()..].iter().map(|&v| v - self.feeds).collect();
        let size = self.size();
        let pairs = |of: &[f64]| -> Vec<f64> {
            vertices.iter().flat_map(|&a| vertices.iter().map(move |&b| of[a * size + b])).collect()
        };
        let of_feeds = |of: &[f64]| -> Vec<f64> { feeds.iter().map(|&f| of[f]).collect() };
        let price = pairs(&self.price);
        let place = |v: usize| vertices.binary_search(&v).ok();
        Net {
            feeds: feeds.len(),
            terminals: terminals.len(),
            boxes: 0,
            scale: dearest(&price),
            price,
            metres: pairs(&self.metres),
            watts: terminals.iter().map(|&t| self.watts[t]).collect(),
            allowed: terminals
                .iter()
                .flat_map(|&t| feeds.iter().map(move |&f| self.allowed[t * self.feeds + f]))
                .collect(),
            max_w: of_feeds(&self.max_w),
            opening: of_feeds(&self.opening),
            feed_ohm: of_feeds(&self.feed_ohm),
            box_price: self.box_price,
            forced: self.forced.iter().filter_map(|&(a, b)| place(a).zip(place(b))).collect(),
            loss: self.loss,
        }
    }

    /// Trees of every feed, from those of the parts, each with its vertices.
    pub fn trees_of(&self, parts: &[Vec<usize>], found: Vec<Vec<Tree>>) -> Vec<Tree> {
        let mut trees: Vec<Tree> = vec![Vec::new(); self.feeds];
        for (part, of_part) in parts.iter().zip(found) {
            for (feed, tree) in of_part.into_iter().enumerate() {
                trees[part[feed]] = tree.into_iter().map(|(a, b)| (part[a], part[b])).collect();
            }
        }
        trees
    }
}
