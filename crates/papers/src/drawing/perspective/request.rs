//! What is asked of the picture.

use crate::drawing::field::LevelField;
use crate::words::Words;
use indexmap::IndexMap;
use loamline_model::Job;

/// A neighbour as it is written on the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct NeighbourMark {
    /// Its id.
    pub id: String,
    /// Its name, and below it what is expected there; empty where nothing is written.
    pub text: String,
    /// Whether its limits are kept.
    pub kept: bool,
}

/// What to draw.
#[derive(Debug, Clone, Copy)]
pub struct PerspectiveRequest<'a> {
    /// The job.
    pub job: &'a Job,
    /// Every word on it.
    pub words: &'a Words,
    /// Width and height, millimetres.
    pub size_mm: (f64, f64),
    /// Bearing one looks along, degrees clockwise from plan north.
    pub bearing_deg: f64,
    /// How far down one looks, degrees below the horizon.
    pub tilt_deg: f64,
    /// Levels on the ground.
    pub field: Option<&'a LevelField>,
    /// How far the system is turned down from them, dB.
    pub turned_down_db: f64,
    /// Top of the scale of colours, dB; that of the field when absent.
    pub top_db: Option<f64>,
    /// What is written in each area, by id.
    pub areas: &'a IndexMap<String, String>,
    /// Neighbours.
    pub neighbours: &'a [NeighbourMark],
    /// Whether there is a key under it.
    pub key: bool,
    /// Whether it is read by itself, and not on a paper that carries its letters.
    pub alone: bool,
    /// What it is called.
    pub title: &'a str,
}
