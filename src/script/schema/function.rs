use super::spec::FieldSpec;

/// How a function takes its arguments.
#[derive(Clone, Copy, Debug)]
pub enum CallForm {
    /// One table: `step.knit{ rows = 2 }`.
    Named,
    /// One after another: `needles.at(47, 1)`.
    Positional,
    /// The same behind a colon; what stands before it is the first: `span:left(3)`.
    Method,
}

/// What stands behind a function.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Handler {
    /// A step: the checked table comes back with `op` and `line`.
    Step(StepOp),
    /// A piece: the checked table comes back with `line`.
    Piece,
    /// A view: the checked table comes back with `line`.
    View,
    /// `fit.best`: the prelude searches, the host checks.
    Search,
    /// `decide`: the prelude searches, the host checks and keeps what was decided.
    Decide,
    /// A function of ours, from checked arguments to results.
    Call(HostFunction),
    /// The same, whose result is needles: the prelude makes the value they are from the second API on.
    Span(HostFunction),
    /// The same, whose result is an edge.
    Edge(HostFunction),
    /// The same, whose result is a mark.
    Mark(HostFunction),
    /// The sandbox has its own.
    Require,
    /// The same: it takes any values.
    Trace,
}

/// What a step does, by name alone.
#[derive(Clone, Copy, Debug)]
pub(crate) enum StepOp {
    CastOn,
    Knit,
    CarriageAt,
    Again,
    Hold,
    BringBack,
    Wrap,
    Hang,
    TransferToMain,
    Decrease,
    Increase,
    ScrapOff,
    Rehang,
    RestRibber,
    BothBeds,
    Pitch,
    CastOff,
    Dial,
    Section,
    ResetCounter,
    Note,
    Mark,
    Transfer,
    ToRib,
    PickUp,
    BreakYarn,
    JoinYarn,
    Graft,
    GatherEdge,
    GatherSelvedge,
    Seam,
    SewOn,
    Block,
}

/// The functions of ours behind the API, by name alone: the sandbox knows what each does.
#[derive(Clone, Copy, Debug)]
pub(crate) enum HostFunction {
    Edge,
    EdgeSlice,
    EdgeFirst,
    EdgeLast,
    EdgeAfter,
    EdgeShift,
    EdgeOther,
    EdgeOf,
    Mark,
    MarkShift,
    Centred,
    Slice,
    At,
    DecideCount,
    SpanOf,
    SpanLeft,
    SpanRight,
    SpanShift,
    SpanSlice,
    SpanAt,
    ToMultiple,
    Round,
    Spread,
    Gaps,
    Schedule,
    ShortRowHeel,
    Wedges,
    Along,
    StepsAlong,
    Warn,
    Refuse,
}

/// One function of the API.
#[derive(Debug)]
pub struct FunctionSpec {
    /// `step.knit`; a name without a dot is a global function.
    pub name: &'static str,
    /// One table, or one value after another.
    pub form: CallForm,
    /// The fields of that table, or those values in order.
    pub args: &'static [FieldSpec],
    /// Type in the stubs, empty for nothing.
    pub returns: &'static str,
    /// What comes back, in sentences; empty for nothing.
    pub returns_doc: &'static str,
    /// The first paragraph stands alone in the stubs; the reference shows all.
    pub doc: &'static str,
    /// The API number it came with.
    pub since: u32,
    /// Statements that run as they stand inside a garment function.
    pub example: &'static str,
    pub(crate) handler: Handler,
}

impl FunctionSpec {
    /// Its table and its name there: `("step", "knit")`, or `(None, "warn")`.
    pub fn split(&self) -> (Option<&'static str>, &'static str) {
        match self.name.split_once(['.', ':']) {
            Some((table, member)) => (Some(table), member),
            None => (None, self.name),
        }
    }
}

pub(super) const fn step_entry(
    op: StepOp,
    name: &'static str,
    args: &'static [FieldSpec],
    doc: &'static str,
    example: &'static str,
) -> FunctionSpec {
    FunctionSpec {
        name,
        form: CallForm::Named,
        args,
        returns: "Step",
        returns_doc: "A step.",
        doc,
        since: 1,
        example,
        handler: Handler::Step(op),
    }
}

impl FunctionSpec {
    /// The same function, come with a later API.
    pub(super) const fn since(mut self, api: u32) -> FunctionSpec {
        self.since = api;
        self
    }
}
