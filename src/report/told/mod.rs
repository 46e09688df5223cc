//! The pattern in words, before it is laid out: what the text, the data and the printed sheet all
//! read. Sizes that read alike but for their figures are told together, the figures in brackets;
//! each figure carries the size it is for.

mod alike;
mod by_size;
mod figures;
mod front;
mod merged;
mod only;
mod step;

pub(crate) use alike::{
    AlikeSizes, ToldChapter, ToldInstruction, ToldToken, groups, groups_apart, groups_for_class,
    groups_from,
};
pub(crate) use figures::{Figures, MOST_IN_BRACKETS};
pub(crate) use front::{BRACKETS, Front, care, front, in_unit, title};
pub(crate) use only::{only, spans};
pub(crate) use step::{shown, steps};
