//! Results to text and bytes: tables, CSV, JSON, the written pattern, pictures. No files, no
//! terminal, no arithmetic of its own: every figure is read off a run.

mod batch_answer;
mod body_chart;
mod carry_page;
mod case_text;
mod check_text;
mod colour_notes;
mod decisions;
mod dial_page;
pub mod drawing;
mod garment_page;
pub mod gift_words;
mod grade_json;
mod grade_tables;
mod grid;
pub mod group_words;
mod instructions;
mod knitting_json;
mod learnt_page;
pub mod learnt_words;
mod letters;
mod minutes_told;
mod pattern;
mod picture;
mod plan_page;
pub mod plan_words;
mod print_look;
mod qr;
mod reach_table;
mod record_page;
mod round_glb;
mod round_mesh;
mod round_packed;
pub mod sheet;
mod shopping_page;
mod techniques;
mod told;
mod vocabulary;
mod walk;
mod walk_changes;
mod walk_folded;
mod walk_json;
mod workspace_lists;

pub use batch_answer::batch_answer;
pub use body_chart::{BodyChart, body_chart};
pub use carry_page::{CarryLines, carry_json, carry_lines, carry_text};
pub use case_text::case_text;
pub use check_text::{MachineTally, TraceLine, check_text, trace_text};
pub use colour_notes::ColourNote;
pub use decisions::{decisions_text, fixed_of};
pub use dial_page::dial_page;
pub use garment_page::{garment_list, garment_page};
pub use grade_json::{fault_value, gauge_value, grade_json, grade_value};
pub use grade_tables::{finished_chart, grade_notes, grade_page, grade_tables};
pub use grid::{Format, Grid};
pub use knitting_json::PATTERN_SCHEMA;
pub use learnt_page::{
    WEIGHING, learnt_lines, learnt_page, learnt_value, odd_lines, pace_lines, piece_table,
};
pub use pattern::{pattern_json, pattern_text, techniques_text};
pub use picture::garment_picture;
pub use plan_page::{plan_page, plan_value};
pub use print_look::PrintLook;
pub use qr::{qr_modules, qr_path, qr_text};
pub use reach_table::{ReachRow, reach_grid};
pub use record_page::{
    record_lines, record_lines_on_page, record_list, record_page, record_tables, record_value,
};
pub use round_glb::round_glb;
pub use round_packed::{YarnPlace, round_packed};
pub use shopping_page::{
    shopping_cautions, shopping_lines, shopping_page, shopping_rows, shopping_value,
};
pub use techniques::{Technique, used_in as techniques_used};
pub use vocabulary::said;
pub use walk::{Pass, Stop, StopDeed, Walk, WalkPiece, walk};
pub use walk_changes::{Change, ChangeOf};
pub use walk_folded::walk_folded;
pub use walk_json::walk_json;
pub use workspace_lists::{
    gift_list, knitter_list, people_list, stash_list, swatch_list, swatch_page, yarn_list,
};
