//! Prices by yarn group alone: a decigram of a group costs the same whatever it is for.
//!
//! There are few of these, so that it takes next to no work to find those that bound plans best. The
//! search for plans is steered by them from its first step, and the descent begins at them.

use crate::relax::relaxation::{Prices, Relaxation};

/// Rates that bound plans as well as any that were found.
#[derive(Clone, Debug)]
pub(crate) struct Rates {
    /// By group, what a decigram costs, in tenths.
    pub rate: Vec<f64>,
    /// No plan is worth more than the gains and the yarn at these rates.
    pub bound: f64,
    /// Needs looked at.
    pub work: u64,
}

/// Steps at most.
const MOST_STEPS: usize = 300;
/// Steps without gain after which steps become shorter.
const PATIENCE: usize = 8;
/// How much a rate falls at first where none of its yarn is wanted; the factor by which steps become
/// shorter; and how short they become.
const FIRST_STEP: f64 = 0.5;
const SHORTER: f64 = 0.7;
const LAST_STEP: f64 = 0.001;
/// The share of the bound that counts as gain.
const ENOUGH: f64 = 0.0002;

/// Rates, and how much of each group is wanted at them.
struct Demand<'a, 'p> {
    relax: &'a Relaxation<'p>,
    /// By group, its decigrams.
    room: Vec<f64>,
    wanted: Vec<f64>,
    work: u64,
}

impl Relaxation<'_> {
    /// The rates that bound plans best, begun at half of what all gifts could gain for each decigram.
    pub fn rates(&self, gains: i64) -> Rates {
        let musts = self.problem.must.iter().filter(|must| **must).count();
        // Bonuses outweigh all else, and would hide it.
        let bonuses = musts as f64 * self.problem.must_bonus as f64;
        let usable = &self.problem.usable;
        let room = self.problem.groups.iter();
        let room: Vec<f64> = room.map(|own| own.iter().map(|r| usable[*r] as f64).sum()).collect();
        let first = 0.5 * (gains as f64 - bonuses).max(1.0) / room.iter().sum::<f64>().max(1.0);
        let mut at = vec![first; room.len()];
        let mut way = vec![0.0; room.len()];
        let mut demand = Demand { relax: self, wanted: vec![0.0; room.len()], room, work: 0 };
        let mut best = Rates { rate: at.clone(), bound: demand.evaluate(&at), work: 0 };
        let (mut step, mut stale) = (FIRST_STEP, 0);
        for _ in 0..MOST_STEPS {
            for (n, rate) in at.iter_mut().enumerate() {
                let (room, wanted) = (demand.room[n], demand.wanted[n]);
                let slope = (room - wanted) / (room + wanted).max(1.0);
                way[n] = 0.3 * way[n] + 0.7 * slope;
                *rate *= (1.0 - step * way[n]).max(0.2);
            }
            let bound = demand.evaluate(&at);
            stale =
                if bound < best.bound - ENOUGH * (best.bound - bonuses) { 0 } else { stale + 1 };
            if bound < best.bound {
                best.bound = bound;
                best.rate.clone_from(&at);
            }
            if stale >= PATIENCE {
                stale = 0;
                step *= SHORTER;
                if step < LAST_STEP {
                    break;
                }
                at.clone_from(&best.rate);
                way.fill(0.0);
                demand.evaluate(&at);
            }
        }
        best.work = demand.work;
        best
    }

    /// What sections cost at these rates, chunks charged so much of a join.
    pub fn at_rates(&self, rates: &[f64], charge: f64) -> Prices {
        let mut cell = Vec::with_capacity(self.cells);
        for section in &self.problem.sections {
            let own = section.needs.iter().map(|(group, need)| rates[*group] * *need as f64);
            if section.is_bound() {
                cell.extend(own);
            } else {
                cell.push(own.fold(f64::INFINITY, f64::min));
            }
        }
        cell.resize(self.cells, charge * self.problem.join_cost as f64);
        Prices { cell, minute: vec![0.0; self.problem.minutes.len()] }
    }
}

impl Demand<'_, '_> {
    /// What all gifts gain at most, each in its best option, and all yarn; what that wants is noted.
    fn evaluate(&mut self, rates: &[f64]) -> f64 {
        let problem = self.relax.problem;
        self.wanted.fill(0.0);
        let mut bound: f64 = rates.iter().zip(&self.room).map(|(rate, room)| rate * room).sum();
        for options in &problem.gifts {
            let mut best = (0.0, None);
            for o in options.clone() {
                let sections = problem.options[o].sections.clone();
                let cost: f64 = sections.map(|s| self.cheapest(s, rates).0).sum();
                let worth = problem.options[o].gain as f64 - cost;
                if worth > best.0 {
                    best = (worth, Some(o));
                }
            }
            bound += best.0;
            for s in best.1.into_iter().flat_map(|o| problem.options[o].sections.clone()) {
                let (_, group, need) = self.cheapest(s, rates);
                self.wanted[group] += need;
            }
        }
        bound
    }

    /// The least that a section costs, and which group and how much of it that is.
    fn cheapest(&mut self, section: usize, rates: &[f64]) -> (f64, usize, f64) {
        let needs = &self.relax.problem.sections[section].needs;
        self.work += needs.len() as u64;
        let mut best = (f64::INFINITY, 0, 0.0);
        for (group, need) in needs {
            let cost = rates[*group] * *need as f64;
            if cost < best.0 {
                best = (cost, *group, *need as f64);
            }
        }
        best
    }
}
