use app::Pairs;

/// What of a list is shown, as the query of its page says it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct ListAsk {
    /// Words that an entry must have, all of them.
    pub words: String,
    /// The name of an order; a minus before it turns it round. Blank: as it was written down.
    pub sort: String,
    /// Filters that are set: the name of each, and what it lets through.
    pub filters: Vec<(String, String)>,
    /// The entry that is open to be changed.
    pub edit: String,
    /// How many entries are left out at the beginning.
    pub from: usize,
}

impl ListAsk {
    /// What the pairs of a query say of a list; others say nothing of it.
    pub fn of(pairs: &Pairs) -> ListAsk {
        let mut ask = ListAsk::default();
        for (key, value) in pairs {
            let value = value.trim();
            match key.as_str() {
                "q" => value.clone_into(&mut ask.words),
                "sort" => value.clone_into(&mut ask.sort),
                "edit" => value.clone_into(&mut ask.edit),
                "from" => ask.from = value.parse().unwrap_or_default(),
                name => {
                    let filter = name.strip_prefix("f.").filter(|_| !value.is_empty());
                    ask.filters.extend(filter.map(|name| (name.to_owned(), value.to_owned())));
                }
            }
        }
        ask
    }

    pub fn filter(&self, name: &str) -> &str {
        self.filters.iter().find(|(own, _)| own == name).map_or("", |(_, value)| value)
    }

    /// The query of the same list, from that entry on and with that one open.
    pub fn query(&self, from: usize, edit: &str) -> String {
        let mut pairs: Vec<(String, String)> =
            vec![("q".to_owned(), self.words.clone()), ("sort".to_owned(), self.sort.clone())];
        let filters = self.filters.iter();
        pairs.extend(filters.map(|(name, value)| (format!("f.{name}"), value.clone())));
        pairs.push(("edit".to_owned(), edit.to_owned()));
        if from > 0 {
            pairs.push(("from".to_owned(), from.to_string()));
        }
        pairs.retain(|(_, value)| !value.is_empty());
        serde_urlencoded::to_string(pairs).unwrap_or_default()
    }

    /// Whether something is left out by it.
    pub fn narrows(&self) -> bool {
        !self.words.is_empty() || !self.filters.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(query: &str) -> Pairs {
        app::pairs(query).expect("reads")
    }

    #[test]
    fn a_list_comes_back_as_it_was_asked_for() {
        let ask = ListAsk::of(&pairs("q=slate+grey&sort=-weight&f.yarn=slate&f.state=&did=add"));
        assert_eq!(ask.filter("yarn"), "slate");
        assert_eq!(ask.filter("state"), "");
        assert_eq!(ask.query(0, ""), "q=slate+grey&sort=-weight&f.yarn=slate");
        assert_eq!(ListAsk::of(&pairs(&ask.query(20, "slate-1"))).edit, "slate-1");
        assert_eq!(ListAsk::of(&pairs("from=many")).from, 0);
    }
}
