/// Something that was weighed or timed, against what was expected of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Id of the record.
    pub record: String,
    /// Name of the section, where it was a piece on the scale.
    pub section: Option<String>,
    /// What it took: grams, or minutes.
    pub taken: f64,
    /// What was expected of it from everything but this record. `None` where it makes no sense.
    pub expected: Option<f64>,
    /// Standard deviation of that expectation, as a share: its own, the piece's and the scale's.
    pub spread: Option<f64>,
    /// How many of these standard deviations it is off.
    pub off: f64,
    /// What became of it.
    pub standing: Standing,
}

/// What became of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It was learnt from.
    Taken,
    /// It is too far off to be believed unasked: the knitter should say whether it is right.
    Asked,
    /// It can't be: nothing knitted, less on the scale than its ends weigh, no time at all, or a hundred
    /// times what it should be.
    Senseless,
}

impl Judged {
    /// One that can't be.
    pub(super) fn senseless(record: &str, section: Option<&str>, taken: f64) -> Judged {
        Judged {
            record: record.to_owned(),
            section: section.map(str::to_owned),
            taken,
            expected: None,
            spread: None,
            off: 0.0,
            standing: Standing::Senseless,
        }
    }
}
