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
    (common {
        $($common:ident = $common_text:literal, $common_class:ident, $common_meaning:literal;)*
     }
     script {
        $($script:ident = $script_text:literal, $script_class:ident, $script_meaning:literal;)*
     }) => {
        /// What a fault is, in a closed list. The text of a code is stable: tests and programs that
        /// read our output know faults by it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $common_meaning] $common,)*
            $(#[doc = $script_meaning] $script,)*
        }

        impl Code {
            /// Every code there is.
            pub const ALL: &'static [Code] = &[$(Code::$common,)* $(Code::$script,)*];

            /// Its stable text, as it is printed.
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Code::$common => $common_text,)*
                    $(Code::$script => $script_text,)*
                }
            }

            /// Its kind of trouble.
            pub const fn class(self) -> Class {
                match self {
                    $(Code::$common => Class::$common_class,)*
                    $(Code::$script => Class::$script_class,)*
                }
            }

            /// What it means, in one sentence.
            pub const fn meaning(self) -> &'static str {
                match self {
                    $(Code::$common => $common_meaning,)*
                    $(Code::$script => $script_meaning,)*
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
        BareRefusal = "bare-refusal", Input,
            "A garment refuses a size and gives no hint what to change.";
        BedPitch = "bed-pitch", Input,
            "The two beds stand otherwise to each other than a step needs.";
        BlankLine = "blank-line", Input, "A line of a batch asks for nothing, and was to be answered all the same.";
        Body = "body", Input,
            "The body of a request has another shape than it must, or a person's measures are missing, given twice or can't be so.";
        Busy = "busy", Busy, "The server has too much to do at this moment.";
        CannotBePutOn = "cannot-be-put-on", Input,
            "A girth does not stretch far enough to pass over the part of the body it must.";
        CarriageSide = "carriage-side", Input,
            "A step expects the carriage on the other side than it is.";
        CannotCarryOn = "cannot-carry-on", Input,
            "A garment that is half knitted can't go on as was asked: no number takes it up.";
        Case = "case", Input,
            "What a case of a garment expects makes no sense, or its file is no text.";
        CaseFails = "case-fails", Input, "A garment comes out otherwise than its case expects.";
        CaseStale = "case-stale", Input,
            "A case names a size, option, count or measure that the garment does not give.";
        CastOnBeside = "cast-on-beside", Input,
            "Beside fabric on the bed anything but plain stitches, wound by hand, is cast on.";
        ChangedSince = "changed-since", Conflict,
            "A file is no longer what the change, or the undo, was made for.";
        Class = "class", Input, "A yarn's weight class is none of 0 to 7.";
        CoarseScale = "coarse-scale", Input,
            "The scale's steps are too coarse for the weight of a swatch.";
        ColourLength = "colour-length", Input,
            "A yarn of several colours does not say how long one of them runs.";
        ContentType = "content-type", Input,
            "A request is sent as another type than the one taken here.";
        Contrary = "contrary", Input, "Two entries contradict each other.";
        Count = "count", Input,
            "A garment counts what the run does not have, or a swatch's count is no number.";
        CrossOrigin = "cross-origin", Input,
            "A request that changes something was sent by a page of another site.";
        CrowdedNeedle = "crowded-needle", Input,
            "A needle carries more loops than knit off by themselves.";
        CrossedJoin = "crossed-join", Input,
            "Edges are joined in an order that crosses: the cloth has a handle, as a ring has, and an open edge besides.";
        CrossedLoops = "crossed-loops", Input,
            "A loop is moved across others that stay where they are.";
        CutShort = "cut-short", Input, "The rest of a batch did not come.";
        Date = "date", Input, "A text is no day of the calendar.";
        DecreaseIntoGap = "decrease-into-gap", Input,
            "A decrease would go into a neighbour without a stitch.";
        DecreaseTooMany = "decrease-too-many", Input,
            "A decrease takes in as many stitches as are in work, or more.";
        Decision = "decision", Input,
            "A number is fixed that the garment does not decide, or to what it can't be.";
        DecisionUnreached = "decision-unreached", Input,
            "A script would decide a number and never comes to it.";
        Dial = "dial", Input, "A swatch names a number that no tension dial has.";
        DialDisorder = "dial-disorder", Input,
            "The swatches contradict each other on how the dial widens the stitches.";
        DialFar = "dial-far", Input,
            "The stitch wished for lies far from the swatches, or off the dial.";
        DialFew = "dial-few", Input, "The dial can't be worked out from swatches at one number.";
        Doubtful = "doubtful", Input,
            "A number can be read in more ways than one: its comma may part decimals, thousands or readings.";
        EaseOfNothing = "ease-of-nothing", Input,
            "A finished measure has an ease and names no body measure it is the ease on.";
        EaseOutOfRange = "ease-out-of-range", Input,
            "A girth comes out tighter or looser than its garment calls usual.";
        EdgeEmpty = "edge-empty", Input,
            "An edge has no loops left for what is to be done with it.";
        EdgeRange = "edge-range", Input, "A stretch of an edge begins or ends where the edge is not.";
        EdgeTwice = "edge-twice", Input, "A stretch of an edge is joined twice.";
        EdgeUnnamed = "edge-unnamed", Input, "A cast-on leaves open loops and gives them no name.";
        EstimatedGauge = "estimated-gauge", Input,
            "A structure has no swatch, and its gauge is estimated from the plain one.";
        EstimatedMeasure = "estimated-measure", Input,
            "A body measure was not taken and is estimated from another.";
        Exists = "exists", Conflict, "A garment is to be made where something stands already.";
        Falls = "falls", Input, "A count that grows with the sizes falls between two of them.";
        FillRule = "fill-rule", Input,
            "A line that fills a body measure from another can't be so.";
        Finished = "finished", Input,
            "A change that was cut short is finished now, or a finished measure measures what the run does not have.";
        Form = "form", Input, "A form can't be read, or asks for nothing that can be done.";
        Format = "format", Input, "A result is not to be had in the format asked for.";
        Garment = "garment", Input, "A garment's own script warns the knitter.";
        GarmentClash = "garment-clash", Conflict, "A garment hides another of the same name.";
        GarmentName = "garment-name", Input, "A name can't be a garment's.";
        GarmentUnnamed = "garment-unnamed", Input, "No garment is named where one must be.";
        Gauge = "gauge", Input, "A swatch's readings come to a gauge that nothing is knitted at.";
        GaugeNow = "gauge-now", Input, "What a work in hand is said to measure now can't be read.";
        GiftOver = "gift-over", Conflict,
            "A gift is done or given up, and something is wanted of it that only a gift still to be knitted has.";
        GraftEased = "graft-eased", Input, "Two edges are grafted whose loops don't meet one to one.";
        GraftItself = "graft-itself", Input, "An edge is to be grafted to itself.";
        GraftMismatch = "graft-mismatch", Input,
            "Two edges to be grafted have different numbers of loops.";
        GrowsFalls = "grows-falls", Input,
            "A garment says a count grows with the sizes, and it falls.";
        GrowsUnknown = "grows-unknown", Input,
            "A garment says that something grows which it does not count.";
        Guesses = "guesses", Busy, "Too many wrong tokens came from one address.";
        HangOutOfWork = "hang-out-of-work", Input,
            "A loop is to be hung on a needle that is not in work.";
        HangOver = "hang-over", Input,
            "A hanging step is reached more often than its edge was to be spread over.";
        Heavier = "heavier", Input, "A remnant would weigh more after knitting than before.";
        HeelBounds = "heel-bounds", Input,
            "A short-row heel would leave no needle at work, or hold none.";
        HoldEmpty = "hold-empty", Input, "A needle is to be held that carries nothing.";
        HoldTooMany = "hold-too-many", Input,
            "More needles are to be held than are in working position.";
        HoldTwice = "hold-twice", Input, "Needles are to be held that all are held already.";
        Host = "host", Input,
            "A request names no host, several, or one that this server is not called.";
        Id = "id", Input, "A text can't be an id.";
        InTurn = "in-turn", Input,
            "A section can't be knitted from balls in turn as it is asked for.";
        InTheWay = "in-the-way", Conflict,
            "A change can't be taken back or done again: another stands in the way, or it is so already.";
        InUse = "in-use", Conflict,
            "Yarn is set aside for, or of, what is to be changed or removed, or for a gift that needs none; or records, yarns or settings name what is to be removed.";
        IncreaseAway = "increase-away", Input,
            "Several needles are wound on the side where the carriage and its yarn are not.";
        IncreaseNone = "increase-none", Input, "An increase adds no stitches.";
        IncreaseTooMany = "increase-too-many", Input,
            "More stitches are made side by side within the fabric than can be lifted from their neighbours.";
        Internal = "internal", Inside, "Something broke in the program while it worked.";
        Jam = "jam", Input, "A needle carries so many loops that the carriage would jam.";
        Joins = "joins", Input, "A number of joins is below nought.";
        Journal = "journal", Disk,
            "The journal of changes is damaged: what it said there can't be undone.";
        Json = "json", Input, "A text is no JSON.";
        KeptBeside = "kept-beside", Conflict,
            "A file was saved by hand while a command wrote it: that text is kept beside it.";
        Key = "key", Input, "A file has a key that is not known there.";
        Kind = "kind", Input, "A value in a file is of another type than the key takes.";
        LineTooLong = "line-too-long", Input, "A line of a batch has more bytes than are taken.";
        Listen = "listen", Conflict, "The server can't listen where it should.";
        Locked = "locked", Busy, "Another program has been writing to the workspace for long.";
        LongFloat = "long-float", Input, "The yarn floats over many needles before it is knitted.";
        LoopsLeft = "loops-left", Input, "Loops of an edge are left over at the end.";
        MachineId = "machine-id", Input, "A machine profile's id is empty or taken.";
        MarkUnused = "mark-unused", Input, "A garment sets a mark and never counts it.";
        Mass = "mass", Input, "Something is said to weigh nothing.";
        Measure = "measure", Input, "A name is no body measure.";
        MeasureClash = "measure-clash", Input,
            "A body measure is declared that means something else already, or is declared twice.";
        MeasureUnread = "measure-unread", Input,
            "A garment asks for a body measure and never reads it.";
        Method = "method", Input, "A request's method can't be used at its path.";
        Missing = "missing", Input, "A key that a file or an entry must have is not there.";
        ModuleUnused = "module-unused", Input, "A garment's module is never required.";
        Name = "name", Input, "A text can't be a name.";
        NeedleTaken = "needle-taken", Input, "Needles that should be empty are in work already.";
        Needles = "needles", Input, "A bed has a number of needles that no hand machine has.";
        NoAsset = "no-asset", Missing, "The server has no such file of style, script or picture.";
        NoBed = "no-bed", Input, "No machine at hand takes the yarn.";
        NoCases = "no-cases", Input, "A garment has no cases.";
        NoColours = "no-colours", Input, "A yarn's sequence has no colour.";
        NoFinished = "no-finished", Input, "A garment measures nothing of what it makes.";
        NoGarment = "no-garment", Missing, "There is no garment of that name.";
        NoList = "no-list", Missing, "The workspace has no list of that name.";
        NoLoop = "no-loop", Input, "A needle that must carry a loop has none.";
        NoMachine = "no-machine", Missing,
            "There is no machine profile of that id, or a file of them has none.";
        NoPage = "no-page", Missing, "The server has nothing at that path.";
        NoParts = "no-parts", Input, "A finished measure has no parts, so it is always nothing.";
        NoPieceNoted = "no-piece-noted", Missing,
            "The records have no piece of that name, or it is another garment.";
        NoPlace = "no-place", Missing, "No place in a piece is kept under that id.";
        NoPlainSwatch = "no-plain-swatch", Input, "A swatch file has no plain swatch.";
        NoPlan = "no-plan", Missing, "The server knows no plan of that id.";
        NoPlugin = "no-plugin", Missing, "A folder holds no garment.";
        NoReadings = "no-readings", Input, "A swatch has no counted stitches or rows.";
        NoReadme = "no-readme", Input, "A garment has no README.";
        NoRibber = "no-ribber", Input,
            "The machine has no second bed, and what is to be knitted needs one.";
        NoSection = "no-section", Input, "A garment has no yarn section of that name.";
        NoSelvedge = "no-selvedge", Input, "A piece has no rows on the side that is to be sewn.";
        NoSize = "no-size", Input,
            "Nothing says how large a person is, or what was finished can't be knitted at its size.";
        NoSuchEdge = "no-such-edge", Input, "No open edge has that name.";
        NoSuchPiece = "no-such-piece", Input, "No piece has that name.";
        NoSwatch = "no-swatch", Missing, "There is no swatch of that id, or none for that machine.";
        NoTable = "no-table", Inside, "The program has no size table built in.";
        NoTime = "no-time", Inside, "The program has no time built in for an operation.";
        NoTimeCounted = "no-time-counted", Missing,
            "No time was counted at the machine for a finished piece, or for several that it may be.";
        NoWidth = "no-width", Input, "A swatch's stitches or rows were counted over no length.";
        NoWorkspace = "no-workspace", Missing, "There is no workspace where one is needed.";
        NoYarn = "no-yarn", Missing, "There is no yarn of that name.";
        NoYarnUsed = "no-yarn-used", Input,
            "A section of a finished piece took no yarn by its weighings.";
        NotDrawn = "not-drawn", Input, "A garment can't be shown in the round.";
        NotRead = "not-read", Input,
            "A file in a garment's folder looks like a module and is never read.";
        NotText = "not-text", Input, "A file is no UTF-8 text.";
        Nothing = "nothing", Missing,
            "An entry or a file that is to be changed is not there, or there is nothing to undo.";
        NothingInWork = "nothing-in-work", Input,
            "A step needs stitches, and no needle is in work.";
        NothingToKnit = "nothing-to-knit", Input,
            "A row is to be knitted with no needle in working position.";
        Occupied = "occupied", Conflict, "A workspace is to be made in a folder that is not empty.";
        OddGauge = "odd-gauge", Input, "A swatch measures oddly: rows to a stitch, or one reading far from the others.";
        OddPitch = "odd-pitch", Input, "A swatch's stitches are unusual on needles so far apart.";
        OddWeight = "odd-weight", Input,
            "A swatch's weight does not fit its stitches and its yarn.";
        OffBed = "off-bed", Input, "Needles lie beyond the end of the bed.";
        OffTarget = "off-target", Input, "A finished measure came out well off what was aimed at.";
        OffTheBed = "off-the-bed", Input,
            "A step of the finishing stands among those at the machine.";
        OnTheBed = "on-the-bed", Input,
            "A step at the machine stands among those of the finishing.";
        OneLineList = "one-line-list", Input,
            "A file lists its entries in one line, where they can't be changed one by one.";
        OneSize = "one-size", Input, "Several sizes are asked for where one is knitted at a time.";
        OpenHole = "open-hole", Input, "Rows end side by side in the cloth and nothing closes the hole.";
        Option = "option", Input,
            "A garment has no option of that name, or a value is none that the option takes.";
        OptionUnread = "option-unread", Input, "A garment offers an option and never reads it.";
        OtherFolder = "other-folder", Input,
            "A garment lies in a folder of another name than its id.";
        OtherGift = "other-gift", Input,
            "What was knitted is not what the gift it is recorded for asks for.";
        OtherMachine = "other-machine", Input,
            "A swatch was knitted on another machine than the one it is used for.";
        OtherThickness = "other-thickness", Input,
            "A yarn is thicker or thinner than the one the swatch was knitted in.";
        Outdated = "outdated", Conflict,
            "What a change rests on has changed since it was seen.";
        Outline = "outline", Input,
            "An outline to shape along is no outline, or beyond anything that is knitted.";
        Outside = "outside", Input, "A file of the workspace is a link that leads out of it.";
        Overdrawn = "overdrawn", Input, "More of a remnant is reserved than it weighs.";
        Overdue = "overdue", Input, "A gift's day has come or passed.";
        Paper = "paper", Input, "There is no paper of that name.";
        Pdf = "pdf", Inside, "The PDF of a sheet can't be made.";
        Picture = "picture", Input, "There is no picture of that name.";
        PickUpShort = "pick-up-short", Input,
            "An edge is too short to give a loop to each needle.";
        PieceTwice = "piece-twice", Input, "Two pieces have the same name.";
        Pitch = "pitch", Input, "A bed's needles are as far apart as on no hand machine.";
        Place = "place", Input, "A place lies outside its piece, or its numbers can't be so.";
        PlanChunk = "plan::chunk", Input,
            "A chunk of joined yarn is below the least useful one, or there is no least.";
        PlanContrast = "plan::contrast", Input,
            "Two sections that must differ are of one yarn group.";
        PlanDue = "plan::due", Input, "A gift is due by a deadline that is not listed.";
        PlanGifts = "plan::gifts", Input,
            "A plan is for another number of gifts, or a gift is asked about that is not there.";
        PlanGroups = "plan::groups", Input,
            "A section mixes yarn groups, or takes one that does not suit it.";
        PlanHours = "plan::hours", Input,
            "Gifts take more hours than there are until their day, or the days are out of order.";
        PlanJoin = "plan::join", Input,
            "A section is joined that can't be, or from too many remnants.";
        PlanJoins = "plan::joins", Input, "The limit of remnants in a section is out of range.";
        PlanKept = "plan::kept", Input,
            "Yarn is kept for a gift that is not there, or knitted for one that it is not kept for.";
        PlanKnitter = "plan::knitter", Input, "A gift is knitted by somebody whose hours are not listed.";
        PlanLink = "plan::link", Input, "A section refers to itself or to one that is not there.";
        PlanMass = "plan::mass", Input, "A remnant holds more than can be reckoned with.";
        PlanMust = "plan::must", Input, "A gift that has to be made is not, or can't be.";
        PlanNeed = "plan::need", Input,
            "A section needs no yarn, or more than can be reckoned with.";
        PlanOption = "plan::option", Input, "A gift is made in an option it does not have.";
        PlanOverdrawn = "plan::overdrawn", Input, "A plan draws more from a remnant than there is.";
        PlanPinned = "plan::pinned", Input,
            "A gift is pinned to an option it does not have, or made in another.";
        PlanPref = "plan::pref", Input, "A liking is out of range.";
        PlanPriority = "plan::priority", Input, "A priority is out of range.";
        PlanRemnant = "plan::remnant", Input,
            "A plan draws from a remnant that is not there, twice for one section, or from another than it may.";
        PlanSame = "plan::same", Input,
            "Two sections that must be alike are of different yarn groups.";
        PlanSections = "plan::sections", Input,
            "A plan fills another number of sections than the option has.";
        PlanVariety = "plan::variety", Input,
            "A gift that ought to differ from others is not there, or is named twice.";
        PlanWeight = "plan::weight", Input,
            "A weight is out of range, or all points together are too many.";
        PlanYarn = "plan::yarn", Input, "A section has more or less yarn than it needs.";
        Planning = "planning", Conflict, "A plan is being made at this moment.";
        PluginApi = "plugin::api", Input,
            "A garment is written for a script interface that this program does not have.";
        PluginManifest = "plugin::manifest", Input, "A garment's manifest says what can't be.";
        PluginMissing = "plugin::missing", Input, "A garment's folder lacks one of its two files.";
        PluginPart = "plugin::part", Input,
            "A part that a garment asks for is not there, or is another than it asks for.";
        PluginToml = "plugin::toml", Input, "A garment's manifest is no TOML.";
        Price = "price", Input, "A price is no sum of money, or no yarn has one.";
        Priority = "priority", Input, "A gift's priority is none of 1 to 5.";
        Query = "query", Input, "A query string can't be read, or asks too much at once.";
        Range = "range", Input, "A number in a file or a request is out of its range.";
        Ratio = "ratio", Input, "A garment's ratio is of measures that it does not have.";
        RatioOutOfRange = "ratio-out-of-range", Input,
            "A garment's ratio comes out beyond the range it gives.";
        ReachesNothing = "reaches-nothing", Input,
            "A remnant is too small for everything that was asked about.";
        Read = "read", Disk, "A file or a folder can't be read.";
        RecordOdd = "record-odd", Input,
            "What a finished piece took is too far off to be learnt from unasked.";
        RecordUnused = "record-unused", Input, "The record of a finished piece is left aside.";
        RefusesAll = "refuses-all", Input, "A garment refuses every size on every machine.";
        RehangMismatch = "rehang-mismatch", Input,
            "An edge is to be hung on a number of needles other than its loops.";
        Repeated = "repeated", Conflict,
            "What is asked for was done already, with the same one-time key.";
        Rests = "rests", Input,
            "What a request says that its change rests on can't be read: a tag, a number, a one-time key.";
        ReturnNotHeld = "return-not-held", Input,
            "A needle is to be brought back that is not held.";
        ReturnTooMany = "return-too-many", Input,
            "More needles are to be brought back than are held there.";
        RibberEmpty = "ribber-empty", Input, "The second bed is to be worked and carries no loops.";
        RibberLoaded = "ribber-loaded", Input,
            "The second bed still carries loops where it must be free.";
        Risk = "risk", Input, "A text is no chance to accept.";
        SameSize = "same-size", Input, "Two sizes come out the same.";
        SeamUneven = "seam-uneven", Input, "A seam joins selvedges of too different lengths.";
        SectionUnused = "section-unused", Input,
            "A garment names a yarn section and counts no yarn towards it.";
        SewOnMismatch = "sew-on-mismatch", Input,
            "More loops are to be sewn along a selvedge than it can take.";
        Shade = "shade", Input, "A text is no colour.";
        ShapeCrowded = "shape-crowded", Input,
            "More shapings are asked for than the rows have room for.";
        ShapeOutside = "shape-outside", Input,
            "Stitches are to be shaped where no working needle is.";
        Share = "share", Input, "A text is no share, or beyond what the share may be.";
        Shipped = "shipped", Input, "A garment that is built in is to be rewritten.";
        ShortColour = "short-colour", Input, "A stretch of colour is shorter than a stitch.";
        SizeTable = "size-table", Input, "A size table can't be so, or a figure in it looks wrong.";
        Sizes = "sizes", Input, "No size has that name, or a range of sizes runs backwards.";
        StashChanged = "stash-changed", Conflict,
            "A plan sets more of a remnant aside than it weighs by now.";
        StitchesLeft = "stitches-left", Input,
            "Stitches are still on the bed at the end of a piece.";
        Stretch = "stretch", Input, "A garment asks for the stretch of what it does not measure.";
        StructureUndeclared = "structure-undeclared", Input,
            "A garment knits a structure that its manifest does not list.";
        StructureUnused = "structure-unused", Input,
            "A garment lists a structure and neither knits it nor reads its gauge.";
        Swatch = "swatch", Input,
            "A swatch in a request has too much in it, or is sent where none is taken.";
        SwatchOpen = "swatch-open", Input,
            "A machine has several swatches, and nothing says which of them is meant.";
        SwatchTwice = "swatch-twice", Input, "A swatch file has two swatches of one structure.";
        Threads = "threads", Inside, "The threads to work on can't be started.";
        Token = "token", Input, "The server's token is not shown.";
        Toml = "toml", Input, "A file is no TOML.";
        TooLarge = "too-large", Input, "A file has more bytes than are read.";
        TooLong = "too-long", Input, "A program is longer than anything that is knitted.";
        TooManyColours = "too-many-colours", Input,
            "A yarn's sequence has more stretches of colour than are taken.";
        TooManyFiles = "too-many-files", Input,
            "A garment's folder holds more files than a garment needs.";
        TooManyLines = "too-many-lines", Input, "A batch has more lines than are taken.";
        TooManyNeedles = "too-many-needles", Input,
            "A step asks for more needles than are in work.";
        TooManyPlaces = "too-many-places", Input, "There are as many pieces begun as are kept.";
        TooSlow = "too-slow", Input, "A request took longer than it may.";
        TransferFar = "transfer-far", Input, "A loop is moved over more needles than it reaches.";
        TransferMismatch = "transfer-mismatch", Input,
            "Loops are to be moved to more or fewer needles, or to where they are.";
        TriesCut = "tries-cut", Input, "A garment has more option values than are tried.";
        Twice = "twice", Input, "Two entries have the same id or name.";
        Unfinished = "unfinished", Conflict, "A change was cut short and could not be finished.";
        Unit = "unit", Input, "A length, weight or yarn count can't be read, or is out of range.";
        Units = "units", Input, "A word is no unit of length to print in.";
        Unknown = "unknown", Input, "A file or a request refers to something that is not there.";
        UnknownKey = "unknown-key", Input,
            "A request asks for something that can't be asked for there.";
        UnsafeEdit = "unsafe-edit", Conflict,
            "A file is written so that it can't be changed without altering the rest.";
        Unswatched = "unswatched", Input,
            "A yarn has no swatch, and its gauge is estimated from its thickness.";
        UnwrappedTurn = "unwrapped-turn", Input,
            "A turn beside a held needle has no wrap and leaves a slit.";
        Usage = "usage", Usage, "The command was put wrongly.";
        View = "view", Input, "A garment's view shows what the run does not have.";
        Weighed = "weighed", Input, "A weighed swatch lacks its weight or its size.";
        WeighedNothing = "weighed-nothing", Input, "A weighed swatch has no stitches.";
        Weight = "weight", Input, "A form to weigh a remnant again holds no weight.";
        WideEyelet = "wide-eyelet", Input,
            "Empty needles side by side stay in work, and make one long loop.";
        Word = "word", Input, "A word is none of those that the key takes.";
        Work = "work", Input, "The work a plan may take is out of range.";
        WrapNothing = "wrap-nothing", Input, "There is no held needle to wrap beside the carriage.";
        Write = "write", Disk, "A file, a folder or the result can't be written.";
        YarnAcross = "yarn-across", Input,
            "Needles come back under the yarn, on the carriage's side, and the script doesn't say so.";
        YarnBroken = "yarn-broken", Input, "The yarn is broken where it is needed.";
        YarnJoined = "yarn-joined", Input, "Yarn is to be joined where it was not broken.";
    }
    script {
        ScriptApi = "script::api", Input,
            "A script uses something that came with a later script interface than its own.";
        ScriptArguments = "script::arguments", Input,
            "A function is called with the wrong number or shape of arguments.";
        ScriptBinary = "script::binary", Input,
            "A source holds control bytes and may be a compiled chunk.";
        ScriptCompile = "script::compile", Input, "A source is no Luau.";
        ScriptConflict = "script::conflict", Input,
            "Two things exclude each other, or two must stand together.";
        ScriptDeadline = "script::deadline", Input, "A script ran longer than it may.";
        ScriptError = "script::error", Input, "A script failed, or raised an error of its own.";
        ScriptGauge = "script::gauge", Input,
            "There is no gauge for a structure that the garment lists.";
        ScriptHost = "script::host", Inside, "The part of the program that runs scripts failed.";
        ScriptList = "script::list", Input, "A list has gaps or names in it.";
        ScriptMeasure = "script::measure", Input,
            "The body lacks a measure that the garment lists.";
        ScriptMemory = "script::memory", Input, "A script uses more memory than it may.";
        ScriptMissingField = "script::missing_field", Input, "A field that must be there is not.";
        ScriptName = "script::name", Input,
            "A text can't be the name of a piece, an edge or a mark.";
        ScriptNeedle = "script::needle", Input, "A text is no needle, no needles or no side.";
        ScriptNesting = "script::nesting", Input, "Steps are nested too deep.";
        ScriptNoFunction = "script::no_function", Input, "The main script returns no function.";
        ScriptNumber = "script::number", Input,
            "A value is no number, no whole number, or out of its range.";
        ScriptRefused = "script::refused", Input, "A garment refuses the size, with its reason.";
        ScriptRequire = "script::require", Input, "A module can't be required.";
        ScriptRows = "script::rows", Input, "A program knits more rows than it may.";
        ScriptSize = "script::size", Input, "Something is larger or more than a script may have.";
        ScriptStack = "script::stack", Input, "A script calls itself without an end.";
        ScriptSteps = "script::steps", Input, "A program has more steps than it may.";
        ScriptText = "script::text", Input,
            "A text is too long, no UTF-8, or holds control characters.";
        ScriptUnknownField = "script::unknown_field", Input,
            "A table has a field that is not known there.";
        ScriptUnknownInput = "script::unknown_input", Input,
            "A script reads something of its input that is not there.";
        ScriptUnknownName = "script::unknown_name", Input, "A script uses a name that nothing has.";
        ScriptUnknownSection = "script::unknown_section", Input,
            "The manifest has no yarn section of that name.";
        ScriptUnknownStep = "script::unknown_step", Input, "There is no step of that name.";
        ScriptUtf8 = "script::utf8", Input, "A source is no UTF-8 text.";
        ScriptWord = "script::word", Input, "A word is none of those that the field takes.";
        ScriptWrongType = "script::wrong_type", Input,
            "A value is of another type than it must be.";
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
