use super::technique::Technique;
use super::{pictures, words};
use crate::drawing::Drawing;

impl Technique {
    /// What a page calls it.
    pub const fn title(self) -> &'static str {
        words::of(self).title
    }

    /// When it is wanted, in a sentence.
    pub const fn when(self) -> &'static str {
        words::of(self).when
    }

    /// What is done, one thing after the other.
    pub const fn steps(self) -> &'static [&'static str] {
        words::of(self).steps
    }

    /// What goes wrong, and how it is noticed.
    pub const fn mind(self) -> &'static str {
        words::of(self).mind
    }

    pub fn picture(self) -> Drawing {
        pictures::of(self)
    }
}
