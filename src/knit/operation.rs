//! What takes time, each kind counted apart.

/// What takes a knitter's time, each counted by the bed as it happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Operation {
    /// All that goes before the first piece of a garment: winding, waxing, the dial, reading.
    GettingReady,
    /// A piece begun on an empty bed: needles counted out, comb and weights hung, the yarn threaded.
    PieceSetUp,
    /// A rib begun: both beds arranged, the comb hung between them.
    RibSetUp,
    /// One way of the carriage, over waste yarn too.
    Pass,
    /// Hands from the carriage to the needles and back, between two passes.
    HandsToNeedles,
    /// Weights hung anew under the needles, as the fabric grows.
    WeightsMoved,
    /// A loop wound on a needle.
    LoopWound,
    /// A needle pushed to holding or back to work.
    NeedleMoved,
    /// Yarn laid round a held needle.
    NeedleWrapped,
    /// A waiting loop found and hung on a needle that knits.
    LoopHung,
    /// A waiting loop put back on a needle, in a row of them.
    LoopRehung,
    /// A loop taken up along an edge and put on a needle.
    LoopPickedUp,
    /// A stitch dropped and worked up again by hand as a purl.
    StitchLatched,
    /// A stitch cast on or knitted by hand, on a pair of needles.
    StitchByHand,
    /// A loop carried to another needle, of either bed.
    LoopTransferred,
    /// An end stitch worked into its neighbour.
    StitchDecreased,
    /// An empty needle beside the end put to work.
    StitchIncreased,
    /// A loop closed and taken off.
    LoopCastOff,
    /// A loop taken off by hand on a strand of waste yarn, beside fabric that stays.
    LoopScrapped,
    /// Waste yarn threaded in place of the good yarn, or the good yarn again.
    WasteThreaded,
    /// Waste yarn drawn out of loops that have been used.
    WasteDrawnOut,
    /// The yarn changed for another.
    YarnChanged,
    /// The yarn changed for one that hangs at the edge.
    YarnTakenUp,
    /// A seam, a grafting or a gathering begun: laid out, pinned, an end threaded.
    SewingBegun,
    /// A pair of loops grafted.
    LoopGrafted,
    /// A loop gathered on an end.
    LoopGathered,
    /// A loop sewn to a selvedge.
    LoopSewnOn,
    /// A row of selvedge gathered.
    RowGathered,
    /// A row of selvedge seamed to another.
    RowSeamed,
    /// An end darned in.
    EndDarned,
    /// Something blocked: wetted or steamed, laid out, pinned.
    Blocked,
}

impl Operation {
    /// Every operation, in the order of the work.
    pub const ALL: [Operation; 31] = [
        Operation::GettingReady,
        Operation::PieceSetUp,
        Operation::RibSetUp,
        Operation::Pass,
        Operation::HandsToNeedles,
        Operation::WeightsMoved,
        Operation::LoopWound,
        Operation::NeedleMoved,
        Operation::NeedleWrapped,
        Operation::LoopHung,
        Operation::LoopRehung,
        Operation::LoopPickedUp,
        Operation::StitchLatched,
        Operation::StitchByHand,
        Operation::LoopTransferred,
        Operation::StitchDecreased,
        Operation::StitchIncreased,
        Operation::LoopCastOff,
        Operation::LoopScrapped,
        Operation::WasteThreaded,
        Operation::WasteDrawnOut,
        Operation::YarnChanged,
        Operation::YarnTakenUp,
        Operation::SewingBegun,
        Operation::LoopGrafted,
        Operation::LoopGathered,
        Operation::LoopSewnOn,
        Operation::RowGathered,
        Operation::RowSeamed,
        Operation::EndDarned,
        Operation::Blocked,
    ];

    /// Its name in files.
    pub const fn name(self) -> &'static str {
        match self {
            Operation::GettingReady => "getting ready",
            Operation::PieceSetUp => "piece set up",
            Operation::RibSetUp => "rib set up",
            Operation::Pass => "pass",
            Operation::HandsToNeedles => "hands to needles",
            Operation::WeightsMoved => "weights moved",
            Operation::LoopWound => "loop wound",
            Operation::NeedleMoved => "needle moved",
            Operation::NeedleWrapped => "needle wrapped",
            Operation::LoopHung => "loop hung",
            Operation::LoopRehung => "loop rehung",
            Operation::LoopPickedUp => "loop picked up",
            Operation::StitchLatched => "stitch latched",
            Operation::StitchByHand => "stitch by hand",
            Operation::LoopTransferred => "loop transferred",
            Operation::StitchDecreased => "stitch decreased",
            Operation::StitchIncreased => "stitch increased",
            Operation::LoopCastOff => "loop cast off",
            Operation::LoopScrapped => "loop scrapped",
            Operation::WasteThreaded => "waste threaded",
            Operation::WasteDrawnOut => "waste drawn out",
            Operation::YarnChanged => "yarn changed",
            Operation::YarnTakenUp => "yarn taken up",
            Operation::SewingBegun => "sewing begun",
            Operation::LoopGrafted => "loop grafted",
            Operation::LoopGathered => "loop gathered",
            Operation::LoopSewnOn => "loop sewn on",
            Operation::RowGathered => "row gathered",
            Operation::RowSeamed => "row seamed",
            Operation::EndDarned => "end darned in",
            Operation::Blocked => "blocked",
        }
    }

    /// The operation of that name.
    pub fn named(name: &str) -> Option<Operation> {
        Operation::ALL.into_iter().find(|operation| operation.name() == name)
    }
}

/// How often each operation was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OperationCounts([u32; Operation::ALL.len()]);

impl Default for OperationCounts {
    fn default() -> Self {
        OperationCounts([0; Operation::ALL.len()])
    }
}

impl OperationCounts {
    /// So many more of them.
    pub fn add(&mut self, operation: Operation, times: u32) {
        let count = &mut self.0[operation as usize];
        *count = count.saturating_add(times);
    }

    /// How often it was done.
    pub const fn of(&self, operation: Operation) -> u32 {
        self.0[operation as usize]
    }

    /// Those that were done at all, by name, as a table of times wants them.
    pub fn by_name(&self) -> Vec<(&'static str, f64)> {
        let all = Operation::ALL.into_iter().map(|operation| (operation, self.of(operation)));
        all.filter(|(_, times)| *times > 0)
            .map(|(operation, times)| (operation.name(), f64::from(times)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_operation_has_a_place_and_a_name_of_its_own() {
        for (place, operation) in Operation::ALL.into_iter().enumerate() {
            assert_eq!(operation as usize, place, "{operation:?} is out of order");
            assert_eq!(Operation::named(operation.name()), Some(operation));
        }
        let mut counts = OperationCounts::default();
        counts.add(Operation::Blocked, 1);
        counts.add(Operation::Pass, 3);
        counts.add(Operation::Pass, u32::MAX);
        assert_eq!(counts.by_name(), [("pass", f64::from(u32::MAX)), ("blocked", 1.0)]);
    }
}
