//! What was learnt, put together to be told.

use std::collections::{BTreeMap, BTreeSet};

use super::learning::Learning;
use super::yarn_gauge::Former;
use knit::estimate::{
    Effect, HeldAgainst, Id, Judged, Learnt, Likely, Pace, PaceEffect, Record, Standing, Stitches,
    Unevenness, Weighed,
};
use knit::program::Structure;
use knit::stash::{Contents, FinishedPiece, WeighedSection};
use knit::taught::{Counts, Habit, HabitOf, PaceHabit, PieceTold, SectionTold, Taught, TimeTold};

/// Of a piece in several sections the one that is furthest off.
fn furthest_section(own: &[&Judged]) -> Option<SectionTold> {
    let furthest = own.iter().max_by(|a, b| a.off.total_cmp(&b.off))?;
    if own.len() < 2 {
        return None;
    }
    Some(SectionTold {
        name: furthest.section.clone()?,
        took_g: furthest.taken,
        expected_g: furthest.expected?,
    })
}

/// What was learnt of somebody's pace, of that alone of which something was.
fn pace_habits(pace: &Pace) -> Vec<PaceHabit> {
    let lessons = pace.lessons().into_iter().filter(|lesson| lesson.pieces > 0);
    lessons
        .map(|lesson| PaceHabit {
            as_they_stand: pace.as_they_stand().filter(|_| lesson.effect == PaceEffect::Knitter),
            of: lesson.effect,
            factor: lesson.factor,
            pieces: lesson.pieces,
        })
        .collect()
}

impl Learning {
    /// What was learnt, by fabric, yarn and swatch, and how each piece stood to what the others say.
    pub fn told(&self, contents: &Contents, pace: &Pace) -> Taught {
        let mut judged: BTreeMap<&str, Vec<&Judged>> = BTreeMap::new();
        for own in self.learnt.judged() {
            judged.entry(own.record.as_str()).or_default().push(own);
        }
        let mut pieces: Vec<PieceTold> = self
            .learnt
            .wholes()
            .iter()
            .filter_map(|held| {
                let told = held_piece(contents, self.entries.get(&held.record)?, held);
                let own = judged.get(held.record.as_str()).map_or(&[][..], Vec::as_slice);
                Some(PieceTold { furthest: furthest_section(own), ..told })
            })
            .collect();
        for (entries, why) in self.left_aside.values() {
            pieces.push(piece(contents, entries, Counts::LeftAside(why.clone())));
        }
        let mut times = times_told(contents, pace);
        for piece in &mut pieces {
            let own = piece.entries.iter().find_map(|entry| times.remove(&(entry - 1)));
            piece.time = own;
        }
        pieces.sort_by(|a, b| a.entries.cmp(&b.entries));
        let counted = self.counted();
        let seen: BTreeSet<Structure> = all_stitches(&counted).map(|own| own.fabric).collect();
        // A tube is plain fabric.
        let fabrics = Structure::ALL.into_iter().filter(|fabric| fabric.gauged_as() == *fabric);
        Taught {
            habits: self.habits(contents, &counted),
            unknown: fabrics.filter(|fabric| !seen.contains(fabric)).collect(),
            unevenness: self.learnt.unevenness(),
            usual_unevenness: Learnt::nothing(&Unevenness::learnt()).unevenness(),
            pace: pace_habits(pace),
            pieces,
            odd_swatches: self.odd_swatches(),
        }
    }

    fn odd_swatches(&self) -> Vec<HeldAgainst> {
        let all = self.weighed.iter().zip(self.learnt.wholes());
        let odd = all.filter(|(record, held)| {
            record.what == Weighed::Swatch && held.standing != Standing::Taken
        });
        odd.map(|(_, held)| held.clone()).collect()
    }

    /// What was learnt from: all that was weighed but what was left aside.
    fn counted(&self) -> Vec<&Record> {
        let taken = |(record, held): (_, &HeldAgainst)| {
            (held.standing == Standing::Taken).then_some(record)
        };
        self.weighed.iter().zip(self.learnt.wholes()).filter_map(taken).collect()
    }

    fn habits(&self, contents: &Contents, counted: &[&Record]) -> Vec<Habit> {
        let mut habits = Vec::new();
        let mut tell = |of: HabitOf, effects: &[Effect], has: &dyn Fn(&Stitches) -> bool| {
            let of_kind = |what: Weighed| {
                let own = counted
                    .iter()
                    .filter(|record| record.what == what && all_stitches(&[*record]).any(has));
                own.count() as u32
            };
            let factor = self.learnt.factor(effects);
            let (pieces, swatches) = (of_kind(Weighed::Piece), of_kind(Weighed::Swatch));
            habits.push(Habit { of, factor, pieces, swatches });
        };
        if counted.is_empty() {
            return habits;
        }
        tell(HabitOf::All, &[Effect::Knitter], &|_| true);
        let fabrics: BTreeSet<Structure> = all_stitches(counted).map(|own| own.fabric).collect();
        for fabric in fabrics {
            let effects = [Effect::Knitter, Effect::Fabric(fabric)];
            tell(HabitOf::Fabric(fabric), &effects, &|own| own.fabric == fabric);
        }
        let yarns: BTreeSet<&Id> = all_stitches(counted).map(|own| &own.yarn).collect();
        for yarn in yarns {
            let of = self.yarns_called(contents, yarn);
            let effects = [Effect::Knitter, Effect::Yarn(yarn.clone())];
            tell(of, &effects, &|own| own.yarn == *yarn);
        }
        let gauges: BTreeSet<(&Id, &Id)> =
            all_stitches(counted).map(|own| (&own.gauge, &own.yarn)).collect();
        let mut told: BTreeSet<&Id> = BTreeSet::new();
        for (gauge, yarn) in gauges {
            if !told.insert(gauge) {
                continue;
            }
            let of = match (swatch_of(contents, gauge), Former::named(gauge)) {
                (Some(id), _) => HabitOf::Swatch(id.to_owned()),
                (_, Some(Former::Swatch(id))) => HabitOf::FormerSwatch(id),
                (_, Some(Former::Guess(yarn))) => HabitOf::FormerGuess(yarn),
                _ => HabitOf::Guess(yarn.to_string()),
            };
            tell(of, &[Effect::Gauge(gauge.clone())], &|own| own.gauge == *gauge);
        }
        habits
    }

    /// The yarns of the workspace that go by that name; else the name itself.
    fn yarns_called(&self, contents: &Contents, name: &Id) -> HabitOf {
        let own = self.yarns.iter().filter(|(_, called)| *called == name);
        let ids: Vec<&String> = own.map(|(id, _)| id).collect();
        let was_knitted = |id: &&String| contents.records.iter().any(|piece| piece.yarn == **id);
        let mut knitted: Vec<String> = ids.iter().copied().filter(was_knitted).cloned().collect();
        if knitted.is_empty() {
            knitted.push(name.to_string());
        }
        let others = ids.len().saturating_sub(knitted.len());
        HabitOf::Yarn { knitted, others }
    }
}

fn all_stitches<'r>(records: &'r [&'r Record]) -> impl Iterator<Item = &'r Stitches> {
    records.iter().flat_map(|record| &record.sections).flat_map(|section| &section.stitches)
}

/// The swatch of the workspace that goes by the gauge of that name.
fn swatch_of<'c>(contents: &'c Contents, gauge: &Id) -> Option<&'c str> {
    let own = contents.swatches.iter().find(|(_, file)| file.set.plain().reckoned.id == *gauge);
    own.map(|(id, _)| id.as_str())
}

/// Minutes of pieces, by the entry of the records that they are noted in.
fn times_told(contents: &Contents, pace: &Pace) -> BTreeMap<usize, TimeTold> {
    let told = |judged: &Judged| {
        let entry = judged.record.parse::<usize>().ok()?;
        let record = contents.records.get(entry)?;
        let expected = judged.expected.zip(judged.spread);
        let time = TimeTold {
            took: judged.taken,
            expected: expected.map(|(minutes, spread)| Likely::log_normal(minutes, spread)),
            standing: judged.standing,
            sure: record.sure.minutes,
        };
        Some((entry, time))
    };
    pace.judged().iter().filter_map(told).collect()
}

/// A size as pages call it; a person by name.
fn label(contents: &Contents, size: &str) -> String {
    contents.sizes.get(size).map_or_else(|| size.to_owned(), |size| size.label.clone())
}

fn held_piece(contents: &Contents, entries: &[usize], held: &HeldAgainst) -> PieceTold {
    let told = piece(contents, entries, Counts::Held(held.standing));
    PieceTold { took_g: held.taken, expected: held.expected, ..told }
}

/// The piece of these entries of the records, with nothing expected of it.
fn piece(contents: &Contents, entries: &[usize], counts: Counts) -> PieceTold {
    let parts: Vec<&FinishedPiece> =
        entries.iter().filter_map(|entry| contents.records.get(*entry)).collect();
    let first = parts.first();
    let took = parts.iter().flat_map(|part| &part.sections).map(WeighedSection::used_g).sum();
    PieceTold {
        entries: entries.iter().map(|entry| entry + 1).collect(),
        garment: first.map_or_else(String::new, |part| part.garment.clone()),
        label: first.map_or_else(String::new, |part| label(contents, &part.size)),
        lines: entries.iter().filter_map(|own| contents.record_lines.get(*own)).copied().collect(),
        size: first.map_or_else(String::new, |part| part.size.clone()),
        yarns: parts.iter().map(|part| part.yarn.clone()).collect(),
        date: first.and_then(|part| part.date),
        note: parts.iter().find_map(|part| part.note.clone()),
        took_g: took,
        expected: None,
        furthest: None,
        counts,
        sure: parts.iter().any(|part| part.sure.grams),
        time: None,
    }
}
