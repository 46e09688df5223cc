//! The integration tests, one binary.

#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

mod api_two;
mod batch;
mod bounds;
mod by_hand;
mod by_the_page;
mod carry_on;
mod chance;
#[cfg(feature = "pdf")]
mod class_sheet;
mod cli;
mod codes;
mod decisions;
mod demo;
mod docs;
mod drawings;
mod edited_files;
mod estimate;
mod families;
mod faults;
mod floors;
mod folded;
mod garments;
mod gift_life;
mod gifts;
mod group;
mod hands;
mod held;
mod help;
mod hostile;
mod hostile_api_two;
mod hostile_second;
mod in_turn;
mod learnt;
mod made_fabric;
mod minutes;
mod mistakes;
mod my_bed;
mod noise;
mod open_measures;
mod parts;
mod plan;
mod plan_solver;
mod plan_why;
mod properties;
mod reach;
mod records;
mod reference_body;
mod reference_knit;
mod reference_torso;
mod replans;
mod round;
mod scaling;
mod script_api;
mod seen;
mod server;
mod shaping;
#[cfg(feature = "pdf")]
mod sheet;
mod shop;
mod spreadsheet;
mod stitch_graph;
mod stopping;
#[cfg(unix)]
mod storm;
mod stripes;
mod support;
mod thread;
mod units;
mod visitors;
mod walk;
mod web;
mod web_workspace;
mod workshop;
mod workspace;
