/// A gift that must be made and is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unmet {
    /// Its index in the instance.
    pub gift: usize,
    /// Why it is not made.
    pub why: UnmetReason,
}

/// Why a gift that must be made is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnmetReason {
    /// No option of it can be knitted from the stash in time, even alone.
    NotEvenAlone,
    /// It is sure that it can't be made beside as many others.
    NotBesideOthers,
    /// No way was found with the work allowed; there may be one.
    NotFound,
}
