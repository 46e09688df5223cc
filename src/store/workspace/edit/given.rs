/// A value to write.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    Text(String),
    Whole(i64),
    Number(f64),
    Flag(bool),
    Texts(Vec<String>),
    /// Keys of a table inside the entry; those not named stay, an empty list takes one out.
    Merge(Vec<(String, Given)>),
    /// In braces on one line.
    Table(Vec<(String, Given)>),
    /// A `[[name]]` each.
    Tables(Vec<Vec<(String, Given)>>),
    /// Takes the key out.
    Nothing,
}

impl Given {
    pub fn text(text: impl Into<String>) -> Given {
        Given::Text(text.into())
    }

    /// Names typed with commas between; none takes the key out.
    pub fn listed(text: &str) -> Given {
        let names = text.split(',').map(str::trim).filter(|name| !name.is_empty());
        match names.map(str::to_owned).collect::<Vec<_>>() {
            names if names.is_empty() => Given::Nothing,
            names => Given::Texts(names),
        }
    }

    /// Whether it takes a key out.
    pub fn is_nothing(&self) -> bool {
        match self {
            Given::Nothing => true,
            Given::Text(text) => text.is_empty(),
            Given::Texts(texts) => texts.is_empty(),
            _ => false,
        }
    }

    /// What is chosen of a garment, by name: `fix.NAME` becomes a key of the table `fix`.
    pub fn choices(all: &[(String, String)]) -> Fields {
        let mut fields = Fields::new();
        let mut fixed = Fields::new();
        for (name, text) in all {
            // Blank takes one out again.
            let given = if text.is_empty() { Given::Nothing } else { Given::typed(text) };
            match name.split_once('.') {
                Some((FIXED, name)) => fixed.push((name.to_owned(), given)),
                _ => fields.push((name.clone(), given)),
            }
        }
        if !fixed.is_empty() {
            fields.push((FIXED.to_owned(), Given::Merge(fixed)));
        }
        fields
    }

    /// What would be typed for it, where it is one value.
    pub fn as_typed(&self) -> Option<String> {
        match self {
            Given::Text(text) => Some(text.clone()),
            Given::Whole(number) => Some(number.to_string()),
            Given::Number(number) => Some(number.to_string()),
            Given::Flag(flag) => Some(flag.to_string()),
            _ => None,
        }
    }

    /// As it would be typed after `--set NAME=`: numbers and true or false bare.
    pub fn typed(text: &str) -> Given {
        match (text.parse::<i64>(), text.parse::<f64>(), text.parse::<bool>()) {
            (Ok(number), ..) if number.to_string() == text => Given::Whole(number),
            (_, Ok(number), _) if number.is_finite() && number.to_string() == text => {
                Given::Number(number)
            }
            (.., Ok(flag)) => Given::Flag(flag),
            _ => Given::text(text),
        }
    }
}

/// Keys and values of an entry, in order.
pub type Fields = Vec<(String, Given)>;

/// The table of numbers that are fixed, among the options.
pub(super) const FIXED: &str = "fix";

/// The keys of options, those in a table within them as `TABLE.KEY`.
pub fn flat(fields: &Fields) -> Vec<(String, &Given)> {
    let mut all = Vec::new();
    for (name, given) in fields {
        match given {
            Given::Merge(inner) | Given::Table(inner) => {
                let own = inner.iter().map(|(key, given)| (format!("{name}.{key}"), given));
                all.extend(own);
            }
            given => all.push((name.clone(), given)),
        }
    }
    all
}
