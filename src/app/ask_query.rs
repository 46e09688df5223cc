//! What is asked for, as a query string: the same shape for pages and programs.

use super::Ask;
use super::key_words::Named;
use super::request_keys::{Bears, Draft, RequestKey};
use super::swatch_keys::{STRUCTURES, SwatchEntry};
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// Texts of a request, and how many of them.
const LONGEST: usize = 400;
const MOST_PAIRS: usize = 120;

pub type Pairs = Vec<(String, String)>;

/// Splits a query string or a form.
///
/// # Errors
/// More pairs, or longer ones, than any page sends.
pub fn pairs(query: &str) -> Result<Pairs, Diagnostic> {
    let pairs: Pairs = serde_urlencoded::from_str(query).map_err(|error| {
        Diagnostic::error(Code::Query, format!("can't read the query: {error}"))
    })?;
    if pairs.len() > MOST_PAIRS {
        return Err(Diagnostic::error(Code::Query, "too many things are asked for at once")
            .hint(format!("{MOST_PAIRS} at most")));
    }
    if pairs.iter().any(|(key, value)| key.len() > LONGEST || value.len() > LONGEST) {
        return Err(Diagnostic::error(Code::Query, "something in the query is too long")
            .hint(format!("{LONGEST} bytes at most")));
    }
    Ok(pairs)
}

impl Draft {
    /// The request, with the swatch put together of what was read of it.
    fn finished(mut self, faults: &mut Diagnostics) -> Ask {
        // A yarn or a state alone is no swatch yet: someone is still typing, or a form sent what
        // stands in it anyway.
        self.readings.retain(|_, fields| fields.iter().any(|(field, _)| field != "state"));
        if !self.readings.is_empty() {
            let of = |(at, fields): (usize, Named)| {
                SwatchEntry::of_fields(STRUCTURES[at].1, &fields, &self.unit, faults)
            };
            self.swatch.swatches = self.readings.into_iter().map(of).collect();
            self.ask.swatch = Some(self.swatch);
        }
        self.ask
    }
}

impl Ask {
    /// Reads a query string. What is blank counts as left out, as forms send it.
    ///
    /// # Errors
    /// All keys that mean nothing, and figures that are none.
    pub fn from_pairs(pairs: &[(String, String)]) -> Result<Ask, Diagnostics> {
        let mut faults = Diagnostics::new();
        let unit = pairs.iter().find(|(k, _)| k == "units").map_or("cm", |(_, v)| v.as_str());
        let mut draft = Draft { unit: unit.to_owned(), ..Draft::default() };
        for (key, value) in pairs {
            match RequestKey::find(key) {
                None => faults.push(unknown(key)),
                Some((known, rest)) => {
                    let value = value.trim();
                    if !value.is_empty() {
                        known.put(&mut draft, rest, value);
                    }
                }
            }
        }
        let ask = draft.finished(&mut faults);
        faults.into_result(ask)
    }

    /// The query string that asks for the same, in a fixed order: equal requests have equal ones.
    /// How the answer is written out is left to whoever adds to it.
    pub fn query(&self) -> String {
        written(&RequestKey::pairs_of(self, &[Bears::Work, Bears::Look]))
    }

    /// As [`query`](Self::query), with keys of the page's own behind it.
    pub fn query_with(&self, own: &[(&str, &str)]) -> String {
        let mut pairs = RequestKey::pairs_of(self, &[Bears::Work, Bears::Look]);
        pairs.extend(own.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())));
        written(&pairs)
    }

    /// As [`query`](Self::query), of what is done at the machine alone.
    pub fn query_of_work(&self) -> String {
        written(&RequestKey::pairs_of(self, &[Bears::Work]))
    }
}

fn written(pairs: &[(String, String)]) -> String {
    serde_urlencoded::to_string(pairs).unwrap_or_default()
}

fn unknown(key: &str) -> Diagnostic {
    let key: String = key.chars().take(60).collect();
    Diagnostic::error(Code::UnknownKey, format!("`{key}` is nothing to ask for"))
        .maybe_hint(
            nearest(&key, RequestKey::names()).map(|near| format!("did you mean `{near}`?")),
        )
        .hint("options are o.NAME, numbers to fix fix.NAME, body measures m.NAME")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(query: &str) -> Result<Ask, Diagnostics> {
        Ask::from_pairs(&pairs(query)?)
    }

    #[test]
    fn a_query_reads_back_as_what_it_was_made_of() {
        let query = "garment=tam&machine=mid&sizes=y4..y8&units=in&yarn=400+m%2F100+g&o.wedges=6\
                     &fix.steps=33&m.head_girth=58+cm&plain.stitches=40&plain.widths=5.4%2C+5.5&plain.rows=60\
                     &plain.heights=6";
        let first = ask(query).expect("reads");
        assert_eq!(
            first.swatch.as_ref().expect("a swatch").swatches[0].widths,
            ["5.4 in", "5.5 in"]
        );
        assert_eq!(ask(&first.query()).expect("reads"), first);
    }

    #[test]
    fn every_key_fills_what_it_is_written_from() {
        for key in RequestKey::all() {
            let name = match key.name {
                // The readings of a swatch are tried below.
                "" => continue,
                family if family.ends_with('.') => format!("{family}x"),
                name => name.to_owned(),
            };
            let read = Ask::from_pairs(&[(name.clone(), "yes".to_owned())]).expect("reads");
            let written = match key.name {
                // Of the answer, or of a page; a yarn or a name alone is no swatch.
                "format" | "picture" | "paper" | "each" | "flat" | "at" | "swatch_name"
                | "yarn" => String::new(),
                "range" => "sizes=yes".to_owned(),
                _ => format!("{name}=yes"),
            };
            assert_eq!(read.query(), written, "{name}");
            let blank = Ask::from_pairs(&[(name.clone(), " ".to_owned())]).expect("reads");
            assert_eq!(blank, Ask::default(), "{name}");
        }
    }

    #[test]
    fn readings_are_written_as_they_are_read() {
        let query = "yarn=400+m%2F100+g&rib.stitches=30&rib.widths=10+cm&rib.rows=40\
                     &rib.heights=12+cm&rib.state=washed&rib.dial=7&rib.weight=5+g\
                     &rib.weighed_stitches=30&rib.weighed_rows=40&rib.scale_step=0.1+g";
        assert_eq!(ask(query).expect("reads").query(), query);
        // The units of a form, and the first of what is said twice.
        let bare = query.replace("+cm", "").replace("5+g", "5").replace("0.1+g", "0.1");
        assert_eq!(ask(&format!("{bare}&rib.dial=8")).expect("reads").query(), query);
    }

    #[test]
    fn what_means_nothing_is_said_at_once() {
        let faults = ask("garmnet=tam&plain.stitches=x&plain.rows=y").expect_err("faults");
        let codes: Vec<_> = faults.iter().map(|f| f.code.as_str()).collect();
        assert_eq!(codes, ["unknown-key", "count", "count"]);
        assert!(ask("garment=a/b").expect("reads").garment().is_err());
        assert!(ask("garment=..").expect("reads").garment().is_err());
    }
}
