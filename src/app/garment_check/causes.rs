//! What is at the root of what: findings in the order in which they are to be mended, and without those
//! that only follow from others.

use diag::{Code, Diagnostic, Diagnostics, Severity};

/// Where in the making of a garment something goes wrong. What stands lower may follow from what stands
/// higher.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Cause {
    /// The files and the manifest.
    Files,
    /// The script.
    Script,
    /// What the script has the bed do.
    Bed,
    /// What comes off it.
    Result,
    /// What is declared and not used.
    Use,
    /// What the cases say.
    Cases,
    /// What people read.
    Page,
}

impl Cause {
    fn of(fault: &Diagnostic) -> Cause {
        match fault.code {
            Code::PluginApi
            | Code::PluginManifest
            | Code::PluginMissing
            | Code::PluginPart
            | Code::PluginToml => Cause::Files,
            Code::OptionUnread
            | Code::MeasureUnread
            | Code::StructureUnused
            | Code::StructureUndeclared
            | Code::SectionUnused
            | Code::GrowsUnknown
            | Code::ModuleUnused
            | Code::DecisionUnreached
            | Code::MarkUnused => Cause::Use,
            Code::Case | Code::CaseStale | Code::CaseFails | Code::NoCases => Cause::Cases,
            Code::NoReadme | Code::OtherFolder | Code::NotRead => Cause::Page,
            Code::BareRefusal
            | Code::RefusesAll
            | Code::GrowsFalls
            | Code::NoFinished
            | Code::NoParts
            | Code::EaseOfNothing
            | Code::EaseOutOfRange
            | Code::OffTarget
            | Code::CannotBePutOn
            | Code::RatioOutOfRange
            | Code::TriesCut => Cause::Result,
            code if code.of_script() => Cause::Script,
            _ => Cause::Bed,
        }
    }
}

/// Causes first; within one, by file and line.
pub(super) fn in_order(findings: Diagnostics) -> Diagnostics {
    let mut all: Vec<Diagnostic> = findings.into_iter().collect();
    all.sort_by_cached_key(|fault| {
        let place = fault.place.as_ref().map(|p| (p.file.clone(), p.line, p.column));
        (Cause::of(fault), place)
    });
    let mut sorted = Diagnostics::new();
    sorted.extend(all);
    sorted
}

/// Leaves out what only follows: where the script fails, what it never came to use or to declare; where
/// a size can't be made at all, that its case expected it to be.
pub(super) fn without_what_follows(findings: Diagnostics) -> Diagnostics {
    let failed = |cause: Cause| {
        let grave = |f: &&Diagnostic| {
            f.severity == Severity::Error && f.context.iter().all(|c| !c.starts_with("with --set"))
        };
        findings.iter().filter(grave).any(|fault| Cause::of(fault) == cause)
    };
    let off_edge = findings.iter().any(|fault| fault.code == Code::EdgeRange);
    let (script, bed) = (failed(Cause::Script), failed(Cause::Bed));
    let follows = |fault: &Diagnostic| match Cause::of(fault) {
        // A mark that the stretch of an edge would begin at, had the bed taken it.
        Cause::Use if fault.code == Code::MarkUnused => script || off_edge,
        Cause::Use => script,
        Cause::Cases => {
            (script || bed)
                && fault.code == Code::CaseFails
                && fault.message.starts_with("knittable should be true")
        }
        _ => false,
    };
    let mut left = Diagnostics::new();
    left.extend(findings.iter().filter(|fault| !follows(fault)).cloned());
    left
}
