//! A value for each size, and whose each is.

use knit::body::Body;

/// One value for each of the sizes that are told together, in their order, each with the body it
/// is for. There is no joining by place in a list: a value comes in with its owner.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct BySize<'a, T> {
    first: (&'a Body, T),
    others: Vec<(&'a Body, T)>,
}

impl<'a, T> BySize<'a, T> {
    pub fn new(body: &'a Body, value: T) -> Self {
        BySize { first: (body, value), others: Vec::new() }
    }

    /// The same with the value of one more size.
    pub fn and(mut self, body: &'a Body, value: T) -> Self {
        self.others.push((body, value));
        self
    }

    /// What is made of each value, for its owner.
    pub fn map<U>(&self, of: impl Fn(&T) -> U) -> BySize<'a, U> {
        let made = |(body, value): &(&'a Body, T)| (*body, of(value));
        BySize { first: made(&self.first), others: self.others.iter().map(made).collect() }
    }

    pub fn is_one(&self) -> bool {
        self.others.is_empty()
    }

    pub fn iter(&self) -> impl Iterator<Item = (&'a Body, &T)> {
        std::iter::once(&self.first).chain(&self.others).map(|(body, value)| (*body, value))
    }

    /// The sizes, in order.
    pub fn bodies(&self) -> Vec<&'a Body> {
        self.iter().map(|(body, _)| body).collect()
    }

    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.iter().map(|(_, value)| value)
    }

    /// The value of this size, where it has one.
    pub fn of(&self, size: &Body) -> Option<&T> {
        self.iter().find_map(|(body, value)| (body.id == size.id).then_some(value))
    }

    pub fn first(&self) -> &T {
        &self.first.1
    }

    /// The value, where it is the same for every size.
    pub fn one_for_all(&self) -> Option<&T>
    where
        T: PartialEq,
    {
        self.values().all(|value| value == self.first()).then(|| self.first())
    }

    /// "47", or "39 (43, 47)" where sizes differ.
    pub fn bracketed(&self, shown: impl Fn(&T) -> String) -> String {
        let first = shown(self.first());
        let rest: Vec<String> = self.others.iter().map(|(_, value)| shown(value)).collect();
        if rest.iter().all(|other| *other == first) {
            return first;
        }
        format!("{first} ({})", rest.join(", "))
    }
}
