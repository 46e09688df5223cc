//! The stitches of a cloth one above another, needle by needle.

use std::ops::Range;

use super::heights::Heights;
use knit::cloth::{Cloth, Column};
use knit::thread::Paint;
use knit::view::Strand;

/// The stitches one above another at one place: those of a needle, and of the needle over which
/// its loop was transferred to the other bed.
pub(super) type Stack<'c> = Vec<&'c Column>;

/// The stitches of a stack that a patch takes, oldest first: row of the piece and colour.
pub(super) fn cells(stack: &[&Column], rows: &Range<u32>) -> Vec<(u32, Paint)> {
    let mut all = Vec::new();
    for column in stack {
        let (from, to) = within(column, rows);
        all.extend(
            column.rows[from..to].iter().copied().zip(column.paints[from..to].iter().copied()),
        );
    }
    all
}

/// The same, each with the height it lies at.
pub(super) fn placed_cells(
    stack: &[&Column],
    rows: &Range<u32>,
    heights: &Heights,
) -> Vec<(u32, f64, Paint)> {
    let mut all = Vec::new();
    for column in stack {
        let (from, to) = within(column, rows);
        let cells = column.rows[from..to].iter().zip(&column.paints[from..to]);
        all.extend(cells.filter_map(|(row, paint)| {
            Some((*row, heights.at(*row, column.ribber, column.needle.0)?, *paint))
        }));
    }
    all
}

fn within(column: &Column, rows: &Range<u32>) -> (usize, usize) {
    let from = column.rows.partition_point(|r| *r < rows.start);
    (from, column.rows.partition_point(|r| *r < rows.end).max(from))
}

/// The stacks of a strand that have a stitch in these rows, in the order in which they are seen.
pub(super) fn stacks<'c>(strand: &Strand, cloth: &'c Cloth, rows: &Range<u32>) -> Vec<Stack<'c>> {
    let mut all: Vec<Stack<'c>> = Vec::new();
    for column in strand.columns(cloth) {
        let (from, to) = within(column, rows);
        if from == to {
            continue;
        }
        if let Some(stack) = all.last_mut()
            && stack[0].needle == column.needle
        {
            // One bed after the other: a transferred loop. Both in turn: a tube's two sides.
            let span = |c: &Column| (c.rows[0], c.rows[c.rows.len() - 1]);
            let (one, other) = (span(stack[0]), span(column));
            if one.1 < other.0 {
                stack.push(column);
                continue;
            }
            if other.1 < one.0 {
                stack.insert(0, column);
                continue;
            }
        }
        all.push(vec![column]);
    }
    all
}

/// So much of a stack's stitches.
pub(super) fn share_of(
    stack: &[&Column],
    rows: &Range<u32>,
    share: (f64, f64),
) -> Vec<(u32, Paint)> {
    let all = cells(stack, rows);
    let at = |share: f64| ((share * all.len() as f64).round() as usize).min(all.len());
    all[at(share.0)..at(share.1)].to_vec()
}
