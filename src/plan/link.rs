use std::sync::Arc;

/// What two sections of an option have to do with each other's yarn groups.
#[derive(Clone, Debug)]
pub(super) enum Link {
    /// They come from one group.
    Same,
    /// They come from two.
    Other,
    /// If they are of one yarn they come from one group, which is a lot of it. By group, its yarn.
    OneLot(Arc<[usize]>),
}

impl Link {
    /// Whether one section may come from `a` while the other comes from `b`.
    pub fn allows(&self, a: usize, b: usize) -> bool {
        match self {
            Link::Same => a == b,
            Link::Other => a != b,
            Link::OneLot(yarn_of) => a == b || yarn_of[a] != yarn_of[b],
        }
    }
}
