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

    /// Whether it takes a key out.
    pub fn is_nothing(&self) -> bool {
        match self {
            Given::Nothing => true,
            Given::Text(text) => text.is_empty(),
            Given::Texts(texts) => texts.is_empty(),
            _ => false,
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
