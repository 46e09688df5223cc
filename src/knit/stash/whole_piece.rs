use std::collections::{BTreeMap, BTreeSet};

use super::FinishedPiece;

/// A garment as it was finished. Each yarn of it has a record of its own; work is done once.
#[derive(Clone, Debug, PartialEq)]
pub struct WholePiece<'a> {
    /// At least one: what is in them of garment, size and day is the same.
    pub records: Vec<&'a FinishedPiece>,
    /// The how many-th of its garment, from 1.
    pub nth: u32,
}

impl<'a> WholePiece<'a> {
    /// All that was finished, by day and then in the order of the records; those without a day come
    /// first. Records that name the same piece are one. Those that name none are one piece where garment,
    /// size and day are the same, until a section is met in the same yarn again; one without a day stands
    /// alone.
    pub fn all(records: &'a [FinishedPiece]) -> Vec<WholePiece<'a>> {
        let mut in_order: Vec<&FinishedPiece> = records.iter().collect();
        in_order.sort_by_key(|record| record.date);
        let mut pieces: Vec<WholePiece<'a>> = Vec::new();
        let mut made: BTreeMap<&str, u32> = BTreeMap::new();
        for record in in_order {
            // The latest is tried first: what is full stays full.
            let open = pieces.iter_mut().rev().find(|piece| piece.is_of(record));
            match open.filter(|piece| piece.lacks(record)) {
                Some(piece) => piece.records.push(record),
                None => {
                    let nth = made.entry(record.garment.as_str()).or_default();
                    *nth += 1;
                    pieces.push(WholePiece { records: vec![record], nth: *nth });
                }
            }
        }
        pieces
    }

    /// How many of each garment were finished, by id.
    pub fn made(records: &[FinishedPiece]) -> BTreeMap<String, u32> {
        let all = WholePiece::all(records);
        // In order: the latest of a garment has the highest number.
        all.iter().map(|piece| (piece.first().garment.clone(), piece.nth)).collect()
    }

    /// Any of its records, for what they have in common.
    pub fn first(&self) -> &'a FinishedPiece {
        self.records[0]
    }

    /// Minutes of work on it, where noted: of the sections in [`timed`](Self::timed).
    pub fn minutes(&self) -> Option<f64> {
        self.records.iter().filter_map(|record| record.minutes).reduce(|sum, more| sum + more)
    }

    /// The sections that its minutes are of, each with the record that speaks for it and the share of the
    /// section: what was weighed on other days without minutes is no part of them.
    pub fn timed(&self) -> Vec<(&'a str, &'a FinishedPiece, f64)> {
        let mut timed: Vec<(&str, &FinishedPiece, f64)> = Vec::new();
        let mut seen = BTreeSet::new();
        for (record, section) in self.timed_sections() {
            // One day's part of a section counts once, however many yarns it took.
            if !seen.insert((section, record.date)) {
                continue;
            }
            let share = self.share_of(section, record.date);
            match timed.iter_mut().find(|(own, ..)| *own == section) {
                Some(own) => own.2 += share,
                None => timed.push((section, record, share)),
            }
        }
        timed
    }

    /// Records with minutes say themselves what they are of; the minutes of others are of all that was
    /// weighed on their day.
    fn timed_sections(&self) -> Vec<(&'a FinishedPiece, &'a str)> {
        let mut found = Vec::new();
        for record in self.records.iter().filter(|record| record.minutes.is_some()) {
            if !record.work.is_empty() {
                found.extend(record.work.iter().map(|(section, _)| (*record, section.as_str())));
                continue;
            }
            for other in self.records.iter().filter(|other| other.date == record.date) {
                found.extend(other.sections.iter().map(|own| (*other, own.name.as_str())));
            }
        }
        found
    }

    /// What of a section was weighed on that day, as a share of all of it.
    fn share_of(&self, section: &str, date: Option<super::Date>) -> f64 {
        let used = |records: &mut dyn Iterator<Item = &&FinishedPiece>| -> f64 {
            records.map(|record| record.used_g(section)).sum()
        };
        let all = used(&mut self.records.iter());
        let own = used(&mut self.records.iter().filter(|record| record.date == date));
        if all > 0.0 && own > 0.0 { own / all } else { 1.0 }
    }

    fn is_of(&self, record: &FinishedPiece) -> bool {
        let own = self.first();
        if own.piece.is_some() || record.piece.is_some() {
            return own.piece == record.piece && own.garment == record.garment;
        }
        record.date.is_some()
            && (&own.garment, &own.size, own.date) == (&record.garment, &record.size, record.date)
    }

    fn lacks(&self, record: &FinishedPiece) -> bool {
        let named = |piece: &FinishedPiece, section: &str| {
            piece.yarn == record.yarn && piece.sections.iter().any(|s| s.name == section)
        };
        let mut sections = record.sections.iter();
        sections.all(|section| !self.records.iter().any(|own| named(own, &section.name)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::WeighedSection;

    fn record(
        yarn: &str,
        section: &str,
        date: Option<&str>,
        minutes: Option<f64>,
    ) -> FinishedPiece {
        let weighed = WeighedSection {
            name: section.into(),
            before: "50 g".parse().expect("a weight"),
            after: "20 g".parse().expect("a weight"),
        };
        FinishedPiece {
            garment: "hat".into(),
            size: "women-m".into(),
            yarn: yarn.into(),
            sections: vec![weighed],
            minutes,
            date: date.map(|day| day.parse().expect("a day")),
            ..FinishedPiece::default()
        }
    }

    #[test]
    fn records_that_name_a_piece_are_that_piece_alone() {
        let named = |yarn: &str, piece: &str| FinishedPiece {
            piece: Some(piece.into()),
            ..record(yarn, "hat", Some("2026-03-01"), None)
        };
        // A whole hat, then one in two yarns, on the same day.
        let records = [named("slate", "1"), named("moss", "2"), named("slate", "2")];
        let pieces: Vec<usize> =
            WholePiece::all(&records).iter().map(|piece| piece.records.len()).collect();
        assert_eq!(pieces, [1, 2]);
    }

    /// The band was timed, the crown on another day was not: its minutes are no part of what was noted.
    #[test]
    fn minutes_are_of_the_sections_that_were_weighed_with_them() {
        let named = |section: &str, day: &str, minutes: Option<f64>| FinishedPiece {
            piece: Some("1".into()),
            ..record("slate", section, Some(day), minutes)
        };
        let band = named("band", "2026-03-01", Some(40.0));
        let records = [band.clone(), named("hat", "2026-03-05", None)];
        let sections = |records: &[FinishedPiece]| -> Vec<(String, f64)> {
            let all = WholePiece::all(records);
            assert_eq!(all.len(), 1);
            all[0].timed().into_iter().map(|(s, _, share)| (s.to_owned(), share)).collect()
        };
        assert_eq!(sections(&records), [("band".to_owned(), 1.0)]);
        let both = [band, named("hat", "2026-03-05", Some(80.0))];
        assert_eq!(sections(&both), [("band".to_owned(), 1.0), ("hat".to_owned(), 1.0)]);
        // Half of the crown, by weight, was knitted another day in another yarn.
        let more = FinishedPiece { yarn: "moss".into(), minutes: None, ..both[1].clone() };
        let later = FinishedPiece { date: "2026-03-09".parse().ok(), ..more };
        let halved = [both[0].clone(), both[1].clone(), later];
        assert_eq!(sections(&halved), [("band".to_owned(), 1.0), ("hat".to_owned(), 0.5)]);
    }

    #[test]
    fn a_striped_hat_is_one_piece_and_two_hats_of_a_day_are_two() {
        let day = Some("2026-03-01");
        let records = [
            record("slate", "hat", day, Some(95.0)),
            record("beacon", "hat", day, None),
            record("slate", "hat", day, Some(80.0)),
            record("beacon", "hat", day, None),
            record("slate", "hat", Some("2026-02-01"), None),
            record("slate", "hat", None, None),
            record("beacon", "hat", None, Some(60.0)),
        ];
        let pieces: Vec<(usize, u32, Option<f64>)> = WholePiece::all(&records)
            .iter()
            .map(|piece| (piece.records.len(), piece.nth, piece.minutes()))
            .collect();
        let expected = [
            (1, 1, None),
            (1, 2, Some(60.0)),
            (1, 3, None),
            (2, 4, Some(95.0)),
            (2, 5, Some(80.0)),
        ];
        assert_eq!(pieces, expected);
        assert_eq!(WholePiece::made(&records), BTreeMap::from([("hat".to_owned(), 5)]));
    }
}
