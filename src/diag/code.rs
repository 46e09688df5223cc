use std::fmt;

/// What kind of trouble a fault is. An exit status or an HTTP status is chosen by this alone.
///
/// In order of weight: of several faults the gravest says what the whole is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// The command was put wrongly.
    Usage,
    /// What a file, a script or a person says can't be so, or can't be knitted.
    Input,
    /// What was asked for by its name is not there.
    Missing,
    /// It goes against what stands there, or against what has happened since.
    Conflict,
    /// It can be done at another moment.
    Busy,
    /// A file could not be read or written.
    Disk,
    /// The program itself is at fault.
    Inside,
}

macro_rules! codes {
    (common { $($common:ident = $common_text:literal, $common_class:ident;)* }
     script { $($script:ident = $script_text:literal, $script_class:ident;)* }) => {
        /// What a fault is, in a closed list. The text of a code is stable: tests and programs that
        /// read our output know faults by it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $($common,)*
            $($script,)*
        }

        impl Code {
            /// Every code there is.
            pub const ALL: &'static [Code] = &[$(Code::$common,)* $(Code::$script,)*];

            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Code::$common => $common_text,)*
                    $(Code::$script => $script_text,)*
                }
            }

            pub const fn class(self) -> Class {
                match self {
                    $(Code::$common => Class::$common_class,)*
                    $(Code::$script => Class::$script_class,)*
                }
            }

            /// Whether it is told of a script while it runs, or of what it gave.
            pub const fn of_script(self) -> bool {
                matches!(self, $(Code::$script)|*)
            }
        }
    };
}

codes! {
    common {
        BareRefusal = "bare-refusal", Input;
        BlankLine = "blank-line", Input;
        Body = "body", Input;
        Busy = "busy", Busy;
        CannotBePutOn = "cannot-be-put-on", Input;
        CarriageSide = "carriage-side", Input;
        Case = "case", Input;
        CaseFails = "case-fails", Input;
        CaseStale = "case-stale", Input;
        CastOnBeside = "cast-on-beside", Input;
        ChangedSince = "changed-since", Conflict;
        Class = "class", Input;
        CoarseScale = "coarse-scale", Input;
        ColourLength = "colour-length", Input;
        ContentType = "content-type", Input;
        Contrary = "contrary", Input;
        Count = "count", Input;
        CrossOrigin = "cross-origin", Input;
        CrowdedNeedle = "crowded-needle", Input;
        CutShort = "cut-short", Input;
        Date = "date", Input;
        DecreaseIntoGap = "decrease-into-gap", Input;
        DecreaseTooMany = "decrease-too-many", Input;
        Dial = "dial", Input;
        DialDisorder = "dial-disorder", Input;
        DialFar = "dial-far", Input;
        DialFew = "dial-few", Input;
        EaseOfNothing = "ease-of-nothing", Input;
        EaseOutOfRange = "ease-out-of-range", Input;
        EdgeEmpty = "edge-empty", Input;
        EdgeUnnamed = "edge-unnamed", Input;
        EstimatedGauge = "estimated-gauge", Input;
        EstimatedMeasure = "estimated-measure", Input;
        Exists = "exists", Conflict;
        Falls = "falls", Input;
        Finished = "finished", Input;
        Form = "form", Input;
        Format = "format", Input;
        Garment = "garment", Input;
        GarmentClash = "garment-clash", Input;
        GarmentName = "garment-name", Input;
        GarmentUnnamed = "garment-unnamed", Input;
        Gauge = "gauge", Input;
        GraftItself = "graft-itself", Input;
        GraftMismatch = "graft-mismatch", Input;
        GrowsFalls = "grows-falls", Input;
        GrowsUnknown = "grows-unknown", Input;
        HangOutOfWork = "hang-out-of-work", Input;
        HangOver = "hang-over", Input;
        Heavier = "heavier", Input;
        HeelBounds = "heel-bounds", Input;
        HoldEmpty = "hold-empty", Input;
        HoldTooMany = "hold-too-many", Input;
        HoldTwice = "hold-twice", Input;
        Host = "host", Input;
        Id = "id", Input;
        IncreaseAway = "increase-away", Input;
        IncreaseNone = "increase-none", Input;
        Internal = "internal", Inside;
        Jam = "jam", Input;
        Joins = "joins", Input;
        Journal = "journal", Disk;
        Json = "json", Input;
        Key = "key", Input;
        Kind = "kind", Input;
        LineTooLong = "line-too-long", Input;
        Listen = "listen", Conflict;
        Locked = "locked", Busy;
        LongFloat = "long-float", Input;
        LoopsLeft = "loops-left", Input;
        MachineId = "machine-id", Input;
        MarkUnused = "mark-unused", Input;
        Mass = "mass", Input;
        Measure = "measure", Input;
        MeasureUnread = "measure-unread", Input;
        Method = "method", Input;
        Missing = "missing", Input;
        ModuleUnused = "module-unused", Input;
        Name = "name", Input;
        NeedleTaken = "needle-taken", Input;
        Needles = "needles", Input;
        NoAsset = "no-asset", Missing;
        NoBed = "no-bed", Input;
        NoCases = "no-cases", Input;
        NoColours = "no-colours", Input;
        NoFinished = "no-finished", Input;
        NoGarment = "no-garment", Missing;
        NoList = "no-list", Missing;
        NoLoop = "no-loop", Input;
        NoMachine = "no-machine", Input;
        NoPage = "no-page", Missing;
        NoParts = "no-parts", Input;
        NoPlace = "no-place", Missing;
        NoPlainSwatch = "no-plain-swatch", Input;
        NoPlan = "no-plan", Missing;
        NoPlugin = "no-plugin", Input;
        NoReadings = "no-readings", Input;
        NoReadme = "no-readme", Input;
        NoRibber = "no-ribber", Input;
        NoSection = "no-section", Input;
        NoSelvedge = "no-selvedge", Input;
        NoSize = "no-size", Input;
        NoSuchEdge = "no-such-edge", Input;
        NoSuchPiece = "no-such-piece", Input;
        NoSwatch = "no-swatch", Input;
        NoTable = "no-table", Input;
        NoWidth = "no-width", Input;
        NoWorkspace = "no-workspace", Missing;
        NoYarn = "no-yarn", Input;
        NoYarnUsed = "no-yarn-used", Input;
        NotRead = "not-read", Input;
        NotText = "not-text", Input;
        Nothing = "nothing", Missing;
        NothingInWork = "nothing-in-work", Input;
        NothingToKnit = "nothing-to-knit", Input;
        Occupied = "occupied", Input;
        OddGauge = "odd-gauge", Input;
        OddPitch = "odd-pitch", Input;
        OddWeight = "odd-weight", Input;
        OffBed = "off-bed", Input;
        OffTarget = "off-target", Input;
        OffTheBed = "off-the-bed", Input;
        OnTheBed = "on-the-bed", Input;
        OneLineList = "one-line-list", Input;
        OneSize = "one-size", Input;
        Option = "option", Input;
        OptionUnread = "option-unread", Input;
        OtherFolder = "other-folder", Input;
        OtherMachine = "other-machine", Input;
        OtherThickness = "other-thickness", Input;
        Outline = "outline", Input;
        Outside = "outside", Input;
        Overdrawn = "overdrawn", Input;
        Overdue = "overdue", Input;
        Paper = "paper", Input;
        Pdf = "pdf", Inside;
        Picture = "picture", Input;
        PieceTwice = "piece-twice", Input;
        Pitch = "pitch", Input;
        Place = "place", Input;
        PlanChunk = "plan::chunk", Input;
        PlanContrast = "plan::contrast", Input;
        PlanDue = "plan::due", Input;
        PlanGifts = "plan::gifts", Input;
        PlanGroups = "plan::groups", Input;
        PlanHours = "plan::hours", Input;
        PlanJoin = "plan::join", Input;
        PlanJoins = "plan::joins", Input;
        PlanLink = "plan::link", Input;
        PlanMass = "plan::mass", Input;
        PlanMust = "plan::must", Input;
        PlanNeed = "plan::need", Input;
        PlanOption = "plan::option", Input;
        PlanOverdrawn = "plan::overdrawn", Input;
        PlanPinned = "plan::pinned", Input;
        PlanPref = "plan::pref", Input;
        PlanPriority = "plan::priority", Input;
        PlanRemnant = "plan::remnant", Input;
        PlanSame = "plan::same", Input;
        PlanSections = "plan::sections", Input;
        PlanWeight = "plan::weight", Input;
        PlanYarn = "plan::yarn", Input;
        Planning = "planning", Conflict;
        PluginApi = "plugin::api", Input;
        PluginManifest = "plugin::manifest", Input;
        PluginMissing = "plugin::missing", Input;
        PluginToml = "plugin::toml", Input;
        Priority = "priority", Input;
        Query = "query", Input;
        Range = "range", Input;
        Ratio = "ratio", Input;
        RatioOutOfRange = "ratio-out-of-range", Input;
        ReachesNothing = "reaches-nothing", Input;
        Read = "read", Disk;
        RecordUnused = "record-unused", Input;
        RefusesAll = "refuses-all", Input;
        RehangMismatch = "rehang-mismatch", Input;
        ReturnNotHeld = "return-not-held", Input;
        ReturnTooMany = "return-too-many", Input;
        RibberEmpty = "ribber-empty", Input;
        RibberLoaded = "ribber-loaded", Input;
        Risk = "risk", Input;
        SameSize = "same-size", Input;
        SeamUneven = "seam-uneven", Input;
        SectionUnused = "section-unused", Input;
        SewOnMismatch = "sew-on-mismatch", Input;
        Shade = "shade", Input;
        ShapeCrowded = "shape-crowded", Input;
        Share = "share", Input;
        Shipped = "shipped", Input;
        ShortColour = "short-colour", Input;
        SizeTable = "size-table", Input;
        Sizes = "sizes", Input;
        StashChanged = "stash-changed", Conflict;
        StitchesLeft = "stitches-left", Input;
        Stretch = "stretch", Input;
        StructureUndeclared = "structure-undeclared", Input;
        StructureUnused = "structure-unused", Input;
        Swatch = "swatch", Input;
        SwatchTwice = "swatch-twice", Input;
        Threads = "threads", Inside;
        Token = "token", Input;
        Toml = "toml", Input;
        TooLarge = "too-large", Input;
        TooLong = "too-long", Input;
        TooManyColours = "too-many-colours", Input;
        TooManyFiles = "too-many-files", Input;
        TooManyLines = "too-many-lines", Input;
        TooManyNeedles = "too-many-needles", Input;
        TooManyPlaces = "too-many-places", Input;
        TooSlow = "too-slow", Input;
        TriesCut = "tries-cut", Input;
        Twice = "twice", Input;
        Unfinished = "unfinished", Conflict;
        Unit = "unit", Input;
        Units = "units", Input;
        Unknown = "unknown", Input;
        UnknownKey = "unknown-key", Input;
        UnsafeEdit = "unsafe-edit", Conflict;
        Unswatched = "unswatched", Input;
        UnwrappedTurn = "unwrapped-turn", Input;
        Usage = "usage", Usage;
        View = "view", Input;
        Weighed = "weighed", Input;
        WeighedNothing = "weighed-nothing", Input;
        Weight = "weight", Input;
        Word = "word", Input;
        Work = "work", Input;
        WrapNothing = "wrap-nothing", Input;
        Write = "write", Disk;
    }
    script {
        ScriptArguments = "script::arguments", Input;
        ScriptBinary = "script::binary", Input;
        ScriptCompile = "script::compile", Input;
        ScriptConflict = "script::conflict", Input;
        ScriptDeadline = "script::deadline", Input;
        ScriptError = "script::error", Input;
        ScriptGauge = "script::gauge", Input;
        ScriptHost = "script::host", Inside;
        ScriptList = "script::list", Input;
        ScriptMeasure = "script::measure", Input;
        ScriptMemory = "script::memory", Input;
        ScriptMissingField = "script::missing_field", Input;
        ScriptName = "script::name", Input;
        ScriptNeedle = "script::needle", Input;
        ScriptNesting = "script::nesting", Input;
        ScriptNoFunction = "script::no_function", Input;
        ScriptNumber = "script::number", Input;
        ScriptRefused = "script::refused", Input;
        ScriptRequire = "script::require", Input;
        ScriptRows = "script::rows", Input;
        ScriptSize = "script::size", Input;
        ScriptStack = "script::stack", Input;
        ScriptSteps = "script::steps", Input;
        ScriptText = "script::text", Input;
        ScriptUnknownField = "script::unknown_field", Input;
        ScriptUnknownInput = "script::unknown_input", Input;
        ScriptUnknownName = "script::unknown_name", Input;
        ScriptUnknownSection = "script::unknown_section", Input;
        ScriptUnknownStep = "script::unknown_step", Input;
        ScriptUtf8 = "script::utf8", Input;
        ScriptWord = "script::word", Input;
        ScriptWrongType = "script::wrong_type", Input;
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl serde::Serialize for Code {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}
