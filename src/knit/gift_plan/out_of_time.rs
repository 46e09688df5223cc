use crate::stash::Date;

/// A gift that there are too few hours for until its day, and what would help.
#[derive(Clone, Debug, PartialEq)]
pub struct OutOfTime {
    /// Its id in the workspace.
    pub gift: String,
    /// Who could do it soonest, where several knit.
    pub knitter: Option<String>,
    /// The day it is wanted by.
    pub due: Date,
    /// Its yarn is set aside, or it is on the machine: it will be late. Otherwise the plan leaves it out.
    pub held: bool,
    /// Minutes that it takes, at the least.
    pub minutes: f64,
    /// Minutes that are left for it until then.
    pub spare: f64,
    /// So many hours a week would do.
    pub hours_a_week: f64,
    /// The first day by which it can be done beside the others.
    pub by: Date,
    /// A gift, by id, whose place it could take if that one were done later.
    pub later: Option<String>,
}
