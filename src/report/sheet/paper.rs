/// The sheet of paper it is printed on, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216.
    A4,
    /// ANSI/ASME Y14.1, size A.
    Letter,
}

impl Paper {
    /// Width and height in millimetres.
    pub const fn mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }

    /// As CSS names it.
    pub const fn css(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "letter",
        }
    }
}
