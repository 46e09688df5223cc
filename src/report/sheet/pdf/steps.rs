//! Instructions with their numbers, remarks and boxes.

use super::ink::{BODY, Ink, InkShape, Role};
use super::pages::Atom;
use super::setter::PageSetter;
use super::setting::{set, ticks};
use crate::drawing::Weight;
use crate::sheet::SheetStep;

const TICK: f64 = 10.0;
const DEEPER: f64 = 20.0;
/// More remarks are not kept on one page with their step.
const MOST_TOGETHER: usize = 4;

fn text_at(step: &SheetStep) -> f64 {
    step.depth as f64 * DEEPER + TICK + 5.0 + 21.0
}

impl PageSetter<'_> {
    pub(super) fn steps(&mut self, steps: &[SheetStep]) {
        // Where each step begins among the atoms.
        let mut starts: Vec<usize> = Vec::new();
        let top = self.element(Role::List(true), None);
        // The list of each depth, and its last item's body.
        let mut lists: Vec<(usize, Option<usize>)> = vec![(top, None)];
        for (i, step) in steps.iter().enumerate() {
            lists.truncate(step.depth + 1);
            while lists.len() <= step.depth {
                let parent = lists.last().and_then(|(list, body)| body.or(Some(*list)));
                let list = self.element(Role::List(true), parent);
                lists.push((list, None));
            }
            let (list, _) = lists[step.depth];
            let item = self.element(Role::Item, Some(list));
            let label = self.element(Role::Label, Some(item));
            let body = self.element(Role::Body, Some(item));
            lists[step.depth].1 = Some(body);
            starts.push(self.set.atoms.len());
            let (height, ink) = self.step(step, label, body);
            // A repeat stands with its first step; a remark with what it remarks on.
            let keep = !step.ticks.is_empty()
                || steps
                    .get(i + 1)
                    .is_some_and(|next| next.label.is_empty() || (next.depth > step.depth));
            let long = step.remarks.len() > MOST_TOGETHER;
            let keep = keep || long;
            self.set.atoms.push(Atom { before: 4.5, height, ink, keep, ..Atom::default() });
            if long {
                self.long_remarks(step, body);
            }
        }
        starts.push(self.set.atoms.len());
        self.keep_short_rounds(steps, &starts);
    }

    /// What is listed for many sizes may go over to the next page, but no line of it stands alone.
    fn long_remarks(&mut self, step: &SheetStep, body: usize) {
        let last = step.remarks.len() - 1;
        for (nth, text) in step.remarks.iter().enumerate() {
            let (height, ink) = self.remark(step, text, body);
            let keep = nth == 0 || nth + 1 == last;
            self.set.atoms.push(Atom { before: 0.0, height, ink, keep, ..Atom::default() });
        }
    }

    fn remark<'i>(&self, step: &SheetStep, text: &str, body: usize) -> (f64, Vec<Ink<'i>>) {
        let at = text_at(step) + 8.0;
        set(&[(text, Weight::Regular)], BODY, self.width - at, at, 0.0, body)
    }

    /// A step as ink: box, number, text, remarks, rows of boxes.
    fn step<'i>(&self, step: &SheetStep, label: usize, body: usize) -> (f64, Vec<Ink<'i>>) {
        let left = step.depth as f64 * DEEPER;
        let text_at = text_at(step);
        let width = self.width - text_at;
        let mut ink = Vec::new();
        if step.once {
            let shape = InkShape::Tick { side: TICK };
            ink.push(Ink { x: left, y: 2.2, shape, element: None });
        }
        let number = [(step.label.as_str(), Weight::Regular)];
        let (_, number) = set(&number, BODY, f64::INFINITY, left + TICK + 5.0, 0.0, label);
        ink.extend(number);
        let texts = [
            (step.only.as_str(), Weight::Bold),
            (step.lead.as_str(), Weight::Bold),
            (step.text.as_str(), Weight::Regular),
        ];
        let (mut height, text) = set(&texts, BODY, width, text_at, 0.0, body);
        ink.extend(text);
        let remarks = step.remarks.iter().filter(|_| step.remarks.len() <= MOST_TOGETHER);
        for remark in remarks {
            let (more, text) = self.remark(step, remark, body);
            ink.extend(text.into_iter().map(|ink| Ink { y: ink.y + height, ..ink }));
            height += more;
        }
        for row in &step.ticks {
            let (more, row) = ticks(row, text_at, width);
            ink.extend(row.into_iter().map(|ink| Ink { y: ink.y + height, ..ink }));
            height += more;
        }
        (height, ink)
    }

    /// A page is not turned within a short round.
    fn keep_short_rounds(&mut self, steps: &[SheetStep], starts: &[usize]) {
        let most = self.set.height * 0.45;
        let mut at = 0;
        while at < steps.len() {
            let inner = steps[at + 1..].iter().take_while(|step| step.depth > 0).count();
            let round = &mut self.set.atoms[starts[at]..starts[at + inner + 1]];
            if round.iter().map(|atom| atom.before + atom.height).sum::<f64>() <= most {
                let before_last = round.len() - 1;
                round[..before_last].iter_mut().for_each(|atom| atom.keep = true);
            }
            at += inner + 1;
        }
    }
}
